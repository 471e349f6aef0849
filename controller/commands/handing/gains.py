"""The gains of a shoot's films, as they lie beside these: whose sidecars a hand-over writes."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

from controller.results.clip.sidecar import FrameGain, Gains, read_gains_json
from controller.words.documents import Frame, Shoot
from controller.words.errors import BadInput
from controller.words.layout import FIRST_CAMERA, clip_path, clips_directory, shoot_directory
from controller.words.phrases import with_remedy

_PATTERN = "*.gains.json"


class ShootGains:
    """By camera and slot. Where several films have a slot, that of the shoot goes before those of its windows, and
    these before films of chosen frames, in which a gain makes a frame like others than its neighbours."""

    def __init__(self, rig: Path, shoot: Shoot) -> None:
        self.remarks: list[str] = []
        self._shoot = shoot.id
        self._rows: dict[str, dict[int, FrameGain]] = {}
        for path, camera in _files(rig, shoot):
            try:
                found = read_gains_json(path)
            except BadInput as error:
                self.remarks.append(with_remedy(str(error), "Then hand over again"))
                continue
            if found.shoot == shoot.id:
                rows = self._rows.setdefault(found.camera or camera, {})
                for row in found.frames:
                    rows.setdefault(row.seq, row)
        if not self._rows and not self.remarks:
            self.remarks.append(
                "No gains and no sidecars, which a steadied clip leaves: make the clip first,"
                f" `duskhand clip {shoot.id} --dir {shlex.quote(str(rig))}`, then hand over again"
            )

    def __len__(self) -> int:
        return sum(map(len, self._rows.values()))

    def of(self, frame: Frame) -> FrameGain | None:
        return self._rows.get(frame.camera, {}).get(frame.seq)

    def tables(self) -> Iterator[tuple[str, Gains]]:
        """For each camera the stem of its tables' names, and its rows by slot."""
        for camera, rows in sorted(self._rows.items()):
            gains = Gains(shoot=self._shoot, camera=camera, frames=[rows[seq] for seq in sorted(rows)])
            yield "gains" if len(self._rows) == 1 else f"gains-{camera}", gains


def _files(rig: Path, shoot: Shoot) -> Iterator[tuple[Path, str]]:
    """Files of gains in the order in which they count, and the camera that one is of which does not say."""
    root, own = rig / shoot_directory(shoot.id), clip_path(shoot.id).with_suffix(".gains.json").name
    found = [(path, FIRST_CAMERA) for path in sorted(root.glob(_PATTERN))]
    found += [(path, path.parent.name) for path in sorted(root.glob(f"camera-*/{_PATTERN}"))]
    yield from (each for each in found if each[0].name == own)
    yield from ((path, FIRST_CAMERA) for path in sorted((rig / clips_directory(shoot.id)).glob(_PATTERN)))
    yield from (each for each in found if each[0].name != own)
