"""Where the frames lie: on the card, on the rig, in second places."""

from __future__ import annotations

from controller.results.report.documents import PlaceShare, Stored
from controller.words.documents import Frame, FrameState


class Storing:
    """Takes frames that were released."""

    def __init__(self) -> None:
        self._stored = Stored(
            rig_files=0, rig_bytes=0, rig_freed=0, card_only=0, card_frames=0, card_bytes=0, card_unsized=0, previews=0
        )
        self._places: dict[str, PlaceShare] = {}

    def __call__(self, frame: Frame) -> None:
        if frame.state is FrameState.LOST:
            return
        stored, size = self._stored, frame.bytes or 0
        if frame.local_file is not None and frame.rig_freed_utc is None:
            stored.rig_files += 1
            stored.rig_bytes += size
        stored.rig_freed += frame.rig_freed_utc is not None
        stored.card_only += frame.state is FrameState.WRITTEN
        stored.previews += frame.preview
        if frame.state in (FrameState.WRITTEN, FrameState.FETCHED) and frame.card_freed_utc is None:
            stored.card_frames += 1
            if frame.state is FrameState.FETCHED and frame.bytes is not None:
                stored.card_bytes += size
            else:
                stored.card_unsized += 1
        for place in (frame.copies or "").split():
            share = self._places.setdefault(place, PlaceShare(place=place, frames=0, bytes=0))
            share.frames += 1
            share.bytes += size

    def stored(self) -> Stored:
        stored = self._stored
        return stored.model_copy(
            update={
                "bytes_per_frame": round(stored.rig_bytes / stored.rig_files) if stored.rig_files else None,
                "copies": [self._places[name] for name in sorted(self._places)],
            }
        )
