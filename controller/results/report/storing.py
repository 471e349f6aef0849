"""Where the frames lie: on the card, on the rig, in second places."""

from __future__ import annotations

from controller.results.report.documents import PlaceShare, Stored
from controller.words.documents import Frame, FrameState


class Storing:
    """Takes frames that were released."""

    def __init__(self) -> None:
        self._rig_frames = self._rig_files = self._rig_bytes = self._rig_freed = self._previews = 0
        self._card_only = self._card_frames = self._card_bytes = self._card_unsized = 0
        self._places: dict[str, tuple[int, int]] = {}

    def __call__(self, frame: Frame) -> None:
        state = frame.state
        if state is FrameState.LOST:
            return
        size = frame.bytes or 0
        if frame.rig_freed_utc is not None:
            self._rig_freed += 1
        elif frame.local_file is not None:
            self._rig_frames += 1
            self._rig_files += 1 if frame.companion_file is None else 2
            self._rig_bytes += size
        self._previews += frame.preview
        fetched = state is FrameState.FETCHED
        self._card_only += state is FrameState.WRITTEN
        if (fetched or state is FrameState.WRITTEN) and frame.card_freed_utc is None:
            self._card_frames += 1
            if fetched and size:
                self._card_bytes += size
            else:
                self._card_unsized += 1
        if frame.copies is not None:
            for place in frame.copies.split():
                frames, taken = self._places.get(place, (0, 0))
                self._places[place] = frames + 1, taken + size

    def stored(self) -> Stored:
        return Stored(
            rig_frames=self._rig_frames,
            rig_files=self._rig_files,
            rig_bytes=self._rig_bytes,
            rig_freed=self._rig_freed,
            card_only=self._card_only,
            card_frames=self._card_frames,
            card_bytes=self._card_bytes,
            card_unsized=self._card_unsized,
            previews=self._previews,
            bytes_per_frame=round(self._rig_bytes / self._rig_frames) if self._rig_frames else None,
            copies=[
                PlaceShare(place=place, frames=frames, bytes=taken)
                for place, (frames, taken) in sorted(self._places.items())
            ],
        )
