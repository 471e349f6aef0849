"""How long a body takes over the frames of its shoots, from what its camera process reports."""

from __future__ import annotations

from dataclasses import dataclass, field

from controller.camera.messages import Fetched, Preview, Released, Report, Settled, Written
from controller.words.bodies import kinds_of
from controller.words.distribution import Distribution

Times = dict[str, dict[str, Distribution]]
"""By kind of files, then by measure (`words.bodies.MEASURES`)."""

_KEPT = 20  # frames in hand, of which something may still come


@dataclass(slots=True)
class _Frame:
    settled: Settled | None = None
    released: Released | None = None
    written: Written | None = None
    fetched: dict[str, int] = field(default_factory=dict)


class Measuring:
    """One body's times since they were last taken away. Times of frames that belong to no slot are left out.

    A test frame, or one of a steady beat, is not shot as frames of a shoot are.
    """

    def __init__(self) -> None:
        self._frames: dict[int, _Frame] = {}
        self._free_mono = 0.0  # since when no other frame was being fetched
        self._times: Times = {}

    @property
    def news(self) -> bool:
        """Something was measured since then."""
        return bool(self._times)

    def taken(self) -> Times:
        """What was measured since the last call."""
        times, self._times = self._times, {}
        return times

    def put_back(self, times: Times) -> None:
        """What could not be kept."""
        for files, measures in self._times.items():
            for measure, later in measures.items():
                _of(times, files, measure).merge(later)
        self._times = times
        for measures in times.values():
            for each in measures.values():
                each.thin()

    def heard(self, report: Report) -> None:
        """Take in one report, of a rig whose clock runs as fast as the wall's."""
        seq = getattr(report, "seq", None)
        if seq is None or seq < 0:
            return
        frame = self._frame(seq)
        match report:
            case Settled():
                if frame.released is not None:  # of another shoot, which began to count anew
                    frame = self._frames[seq] = _Frame()
                frame.settled = report
            case Released():
                frame.released = report
            case Written() if report.camera_files:
                first, frame.written = frame.written is None, report
                if first:
                    self._written(frame, report)
            case Preview() if frame.written is not None and report.at_mono:
                self._add(frame.written, "preview", report.at_mono - frame.written.at_mono)
            case Fetched() if frame.written is not None and report.at_mono:
                self._fetched(frame, frame.written, report)

    def _frame(self, seq: int) -> _Frame:
        frame = self._frames.setdefault(seq, _Frame())
        while len(self._frames) > _KEPT:
            del self._frames[next(iter(self._frames))]
        return frame

    def _written(self, frame: _Frame, written: Written) -> None:
        settled, released = frame.settled, frame.released
        if settled is None or released is None:  # of an earlier start of the rig
            return
        self._add(written, "set", settled.took_s)
        self._add(written, "call", released.call_s)
        self._add(written, "late", released.late_s)
        if released.ready and released.call_s >= settled.shutter_s:
            self._add(written, "readout", released.call_s - settled.shutter_s)
        self._add(written, "write", written.at_mono - released.at_mono - settled.shutter_s)

    def _fetched(self, frame: _Frame, written: Written, report: Fetched) -> None:
        frame.fetched[report.camera_file] = report.size
        if len(frame.fetched) < len(written.camera_files):
            return
        began, self._free_mono = max(written.at_mono, self._free_mono), report.at_mono
        megabytes = sum(frame.fetched.values()) / 1e6
        if megabytes > 0:
            self._add(written, "fetch", (report.at_mono - began) / megabytes)

    def _add(self, written: Written, measure: str, value: float) -> None:
        _of(self._times, kinds_of(written.camera_files), measure).add(value)


def _of(times: Times, files: str, measure: str) -> Distribution:
    return times.setdefault(files, {}).setdefault(measure, Distribution())
