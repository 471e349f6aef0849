from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from PIL import Image

from controller.results.clip.make import ClipResult, make_clip
from controller.results.clip.options import clip_options
from controller.words.documents import Frame, FrameState
from controller.words.errors import BadInput
from tests.results.dusk import SHOOT, shoot
from tests.results.films import RGB, boxes, frames, jpeg, levels
from tests.results.nights import dusk, row, srgb, styled
from tests.results.test_steady import residual, slow


def clip(directory: Path, slots: list[Frame], steady: bool = False, **more: Any) -> ClipResult:
    """Keywords that `make_clip` has not are options of the clip."""
    own = {name: more.pop(name) for name in ("progress", "keep_work") if name in more}
    options = clip_options(**{"fps": 25.0, "steady": "level" if steady else "off", **more})
    return make_clip(shoot(slots), slots, directory, directory / "clip.mp4", options, **own)


def fetched(directory: Path, seqs: list[int], **more: Any) -> list[Frame]:
    """Rows with a fetched JPEG each."""
    slots = []
    for seq in seqs:
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        jpeg(directory / name, **more)
        slots.append(row(seq, local_file=name))
    return slots


def file_of(directory: Path, slot: Frame) -> Path:
    assert slot.local_file is not None
    return directory / slot.local_file


def test_a_film_that_plays_everywhere(tmp_path: Path) -> None:
    made = clip(tmp_path, fetched(tmp_path, list(range(1, 31))), fps=24.0)
    assert (made.frames, made.width, made.height, made.duration_s, made.source) == (
        30, 96, 64, 30 / 24, "30 fetched pictures",
    )  # fmt: skip
    out = tmp_path / "clip.mp4"
    assert made.bytes == out.stat().st_size
    kinds = boxes(out)
    assert kinds[0] == "ftyp"
    assert kinds.index("moov") < kinds.index("mdat")  # it starts before it has been loaded
    with av.open(str(out)) as film:
        stream = film.streams.video[0]
        context = stream.codec_context
        assert (context.name, context.pix_fmt, stream.average_rate) == ("h264", "yuv420p", 24)
        assert (context.colorspace, context.color_primaries, context.color_trc, context.color_range) == (1, 1, 1, 1)
        assert film.metadata["title"] == "quay-at-dusk"
        times = [frame.time for frame in film.decode(stream)]
    assert times == pytest.approx([number / 24 for number in range(30)])
    assert [path.name for path in tmp_path.glob("*.part")] + [path.name for path in tmp_path.glob(".*")] == []


@pytest.mark.parametrize("colour", [(200, 40, 40), (40, 180, 60), (50, 60, 200), (235, 235, 235), (12, 12, 12)])
def test_colours_come_back(tmp_path: Path, colour: RGB) -> None:
    """With BT.709's matrix, as the stream says: with BT.601's a red of 200 would be off by more than 10."""
    clip(tmp_path, fetched(tmp_path, [1, 2, 3], colour=colour))
    stored = np.asarray(Image.open(tmp_path / f"shoots/{SHOOT}/2026-12-01/000001.jpg").convert("RGB"))
    for frame in frames(tmp_path / "clip.mp4"):
        assert frame.mean(axis=(0, 1)) == pytest.approx(stored.mean(axis=(0, 1)), abs=2.5)


@pytest.mark.parametrize(
    ("size", "turned", "expected"),
    [
        ((97, 65), 1, (96, 64)),
        ((96, 64), 6, (64, 96)),
        ((2400, 1600), 1, (1620, 1080)),
        ((2400, 1600), 8, (1080, 1620)),
        ((4000, 900), 1, (1920, 432)),
        ((1620, 1080), 1, (1620, 1080)),
    ],
)
def test_size_of_the_clip(tmp_path: Path, size: tuple[int, int], turned: int, expected: tuple[int, int]) -> None:
    made = clip(tmp_path, fetched(tmp_path, [1, 2], size=size, turned=turned))
    assert (made.width, made.height) == expected
    assert made.remarks == []
    assert next(frames(tmp_path / "clip.mp4")).shape == (expected[1], expected[0], 3)


def test_a_turned_camera_stands_upright(tmp_path: Path) -> None:
    """Exif orientation 6: the stored top row is the right side of the scene (Exif 2.32, tag 274)."""
    slots = fetched(tmp_path, [1, 2, 3], turned=6)
    for slot in slots:
        stored = np.full((64, 96, 3), 40, np.uint8)
        stored[:32] = 200
        exif = Image.Exif()
        exif[274] = 6
        Image.fromarray(stored).save(file_of(tmp_path, slot), quality=95, exif=exif)
    clip(tmp_path, slots)
    upright = next(frames(tmp_path / "clip.mp4"))
    assert upright[:, 40:].mean() > 180
    assert upright[:, :24].mean() < 60


def test_a_flag_that_erred_does_not_turn_one_frame(tmp_path: Path) -> None:
    slots = fetched(tmp_path, list(range(1, 8)))
    picture = np.full((64, 96, 3), 40, np.uint8)
    picture[:32] = 200
    for slot in slots:
        exif = Image.Exif()
        exif[274] = 3 if slot.seq == 4 else 1
        Image.fromarray(picture).save(file_of(tmp_path, slot), quality=95, exif=exif)
    made = clip(tmp_path, slots)
    assert made.remarks == ["frame 4, 000004.jpg: its Exif says that the camera was turned; shown as the others"]
    assert all(frame[:30].mean() > 180 for frame in frames(tmp_path / "clip.mp4"))


def _truncate(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-30])


def _behead(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:200])


def _text(path: Path) -> None:
    path.write_bytes(b"no picture at all")


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _png(path: Path) -> None:
    Image.new("RGB", (96, 64)).save(path, "PNG")


def _tiny(path: Path) -> None:
    jpeg(path, (8, 8))


def _unreadable(path: Path) -> None:
    path.unlink()
    path.symlink_to(path.parent.parent)


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (_truncate, "damaged"),
        (_behead, "cannot be read"),
        (_text, "no JPEG"),
        (_empty, "no JPEG"),
        (_png, "no JPEG"),
        (_tiny, "too small"),
        (_unreadable, "missing"),
        (Path.unlink, "missing"),
    ],
)
@pytest.mark.parametrize("steady", [False, True])
def test_a_picture_that_cannot_be_used_is_left_out_and_named(
    tmp_path: Path, harm: Callable[[Path], None], said: str, steady: bool
) -> None:
    slots = fetched(tmp_path, list(range(1, 8)))
    harm(file_of(tmp_path, slots[3]))
    made = clip(tmp_path, slots, steady)
    assert made.frames == 6
    (gap,) = made.gaps
    assert (gap.slots, gap.first_seq, gap.last_seq) == (1, 4, 4)
    assert gap.text.startswith("1 frame missing between 16:00:15 and 16:00:25 (")
    assert said in gap.text
    if said != "missing":
        (line,) = made.remarks
        assert line.startswith("frame 4, 000004.jpg: ")
        assert line.endswith("; left out")
    assert sum(1 for _ in frames(tmp_path / "clip.mp4")) == 6


def test_the_preview_of_a_damaged_file_stands_in(tmp_path: Path) -> None:
    slots = [slot.model_copy(update={"preview": True}) for slot in fetched(tmp_path, list(range(1, 10)))]
    for seq in (4, 6):
        preview(tmp_path, seq)
        _truncate(file_of(tmp_path, slots[seq - 1]))
    (tmp_path / f"shoots/{SHOOT}/previews/000006.jpg").write_bytes(b"no picture")
    _truncate(file_of(tmp_path, slots[7]))  # without a preview
    made = clip(tmp_path, slots, True)
    assert (made.frames, made.from_fetched, made.from_previews) == (7, 6, 1)
    assert made.source == "6 fetched pictures and 1 preview, where there is no full picture"
    assert [gap.first_seq for gap in made.gaps] == [6, 8]
    told = {line.partition(":")[0]: line for line in made.remarks}
    assert told["frame 4, 000004.jpg"].endswith("; its preview is shown")
    assert told["frame 6, 000006.jpg"].endswith("; left out")
    assert "damaged" in told["frame 6, 000006.jpg"]  # of the full file
    (alone,) = clip(tmp_path, slots[:5], True, source="fetched").gaps
    assert alone.first_seq == 4  # a source that is named is used alone


def test_a_picture_that_breaks_between_the_passes_is_left_out(tmp_path: Path) -> None:
    slots = fetched(tmp_path, list(range(1, 13)))

    def progress(done: int, of: int) -> None:
        if done == 12:
            _truncate(file_of(tmp_path, slots[9]))

    made = clip(tmp_path, slots, True, progress=progress)
    assert made.frames == 11
    assert [gap.first_seq for gap in made.gaps] == [10]


def test_a_picture_of_another_size_is_fitted_and_named(tmp_path: Path) -> None:
    slots = fetched(tmp_path, list(range(1, 8)))
    jpeg(file_of(tmp_path, slots[2]), (192, 128))
    jpeg(file_of(tmp_path, slots[4]), (64, 96))
    made = clip(tmp_path, slots)
    assert made.remarks == [
        "frame 3, 000003.jpg: 192×128 pixels instead of 96×64; fitted",
        "frame 5, 000005.jpg: 64×96 pixels instead of 96×64; fitted",
    ]
    assert (made.frames, made.width, made.height) == (7, 96, 64)
    shown = list(frames(tmp_path / "clip.mp4"))
    assert shown[2].mean() == pytest.approx(shown[1].mean(), abs=3)
    assert shown[4][:, :20].mean() < 10  # bars at its sides, nothing cut off


def test_gaps_say_how_many_when_and_why(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [3, 4, 8, 9, 10])
    slots += [row(seq, state=FrameState.MISSED, cause="the camera did not answer") for seq in (1, 2, 5, 6)]
    slots += [row(7, state=FrameState.LOST, cause="not on the card")]
    slots += [row(11, state=FrameState.WRITTEN), row(12, local_file="a/000012.nef")]
    made = clip(tmp_path, sorted(slots, key=lambda slot: slot.seq))
    assert [gap.text for gap in made.gaps] == [
        "2 frames missing before 16:00:15 (missed, the camera did not answer)",
        "3 frames missing between 16:00:20 and 16:00:40 (missed, the camera did not answer; lost, not on the card)",
        "2 frames missing from 16:00:55 on (only on the card; the file is missing)",
    ]


def preview(directory: Path, seq: int) -> None:
    jpeg(directory / f"shoots/{SHOOT}/previews/{seq:06d}.jpg", (48, 32))


def test_previews_where_nothing_was_fetched(tmp_path: Path) -> None:
    for seq in range(1, 8):
        preview(tmp_path, seq)
    made = clip(tmp_path, [row(seq, state=FrameState.WRITTEN, preview=True) for seq in range(1, 8)])
    assert (made.width, made.height, made.from_previews) == (48, 32, 7)
    assert made.source == "7 previews, since no full picture was fetched"
    assert made.remarks == made.gaps == []


def test_a_few_fetched_pictures_do_not_pulse_between_previews(tmp_path: Path) -> None:
    """fetch = "every 10": small pictures throughout, and a full one only where there is no small one."""
    slots = []
    for seq in range(1, 21):
        (slot,) = fetched(tmp_path, [seq]) if seq % 10 == 0 else [row(seq, state=FrameState.WRITTEN)]
        if seq != 20:
            preview(tmp_path, seq)
            slot = slot.model_copy(update={"preview": True})
        slots.append(slot)
    made = clip(tmp_path, slots)
    assert (made.width, made.height, made.from_previews, made.from_fetched) == (48, 32, 19, 1)
    assert made.remarks == ["frame 20, 000020.jpg: 96×64 pixels instead of 48×32; fitted"]


def test_previews_fill_in_where_fetching_paused(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [1, 2, 3, 4, 5])
    for seq in (6, 7):
        preview(tmp_path, seq)
        slots.append(row(seq, state=FrameState.WRITTEN, preview=True))
    made = clip(tmp_path, slots)
    assert (made.width, made.from_fetched, made.from_previews) == (96, 5, 2)
    assert made.source == "5 fetched pictures and 2 previews, where there is no full picture"
    assert made.remarks == []


def test_one_camera_makes_the_clip(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [1, 2, 3])
    slots.append(row(3, camera="camera-2", local_file=slots[2].local_file))
    made = clip(tmp_path, slots)
    assert made.frames == 3
    assert made.remarks == ["frames of camera-1 only; for camera-2 make another with --camera"]


def test_nothing_to_show(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no frame has been released yet"):
        clip(tmp_path, [])
    with pytest.raises(BadInput, match="of 1 frame none has a picture on the rig that the clip can show"):
        clip(tmp_path, [row(1, state=FrameState.WRITTEN)])
    slots = fetched(tmp_path, [1, 2])
    for slot in slots:
        _text(file_of(tmp_path, slot))
    with pytest.raises(BadInput, match=r"of 2 pictures none can be read\. Look at the rig's disk"):
        clip(tmp_path, slots)
    assert not (tmp_path / "clip.mp4").exists()


def test_places_where_no_film_can_be(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [1, 2])
    (tmp_path / "dir.mp4").mkdir()
    for out, said in (("clip.avi", ".mp4"), ("no/clip.mp4", "no such directory"), ("dir.mp4", "is a directory")):
        with pytest.raises(BadInput, match=said):
            make_clip(shoot(slots), slots, tmp_path, tmp_path / out, clip_options(fps=25))


class Stop(Exception):
    pass


@pytest.mark.parametrize("at", [3, 30])
def test_work_that_is_stopped_leaves_the_old_film(tmp_path: Path, at: int) -> None:
    (tmp_path / "clip.mp4").write_bytes(b"old")

    def progress(done: int, of: int) -> None:
        assert of == 40
        if done == at:
            raise Stop

    with pytest.raises(Stop):
        clip(tmp_path, fetched(tmp_path, list(range(1, 21))), progress=progress)
    assert (tmp_path / "clip.mp4").read_bytes() == b"old"
    assert list(tmp_path.glob(".*")) == []


def test_progress_counts_both_passes(tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    clip(tmp_path, fetched(tmp_path, [1, 2, 3]), progress=lambda done, of: seen.append((done, of)))
    assert seen == [(done, 6) for done in range(1, 7)]


_LIMITED = """
import resource, sys
from pathlib import Path
from controller.words.errors import DuskhandError
from tests.results.test_clip import clip, row
from tests.results.dusk import SHOOT
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
directory = Path(sys.argv[1])
slots = [row(seq, local_file=f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg") for seq in range(1, 41)]
try:
    clip(directory, slots)
except DuskhandError as error:
    print(error.code, error)
"""


def test_a_disk_that_takes_no_more(tmp_path: Path) -> None:
    """A limit on file size stands for the full disk: the write fails in the same place, with EFBIG for ENOSPC."""
    slots = fetched(tmp_path, list(range(1, 41)), size=(480, 320))
    dice = np.random.default_rng(1)
    for slot in slots:
        noise = dice.integers(0, 255, (320, 480, 3), dtype=np.uint8)
        Image.fromarray(noise).save(file_of(tmp_path, slot), quality=90)
    (tmp_path / "clip.mp4").write_bytes(b"old")
    done = subprocess.run([sys.executable, "-c", _LIMITED, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.stdout.startswith("clip-failed ")
    assert "File too large. Free some space there" in done.stdout
    assert "Traceback" not in done.stderr
    assert (tmp_path / "clip.mp4").read_bytes() == b"old"
    assert list(tmp_path.glob(".*")) == []


@pytest.mark.parametrize("curve", [srgb, styled])
def test_a_steadied_film_does_not_flicker_once_it_is_decoded(tmp_path: Path, curve: Any) -> None:
    """A third-stop staircase and 2 % of flicker: at most 0.01 EV rms and no step above 0.03 EV in the decoded H.264."""
    night = dusk(150, flicker=0.02, curve=curve)
    slots = night.save(tmp_path, (160, 108))
    plain = clip(tmp_path, slots, steady=False)
    before = levels(tmp_path / "clip.mp4")
    made = clip(tmp_path, slots, steady=True)
    after = levels(tmp_path / "clip.mp4")
    assert (plain.steadied, made.steadied) == (False, True)
    assert residual(before)[1] > 0.2
    rms, step = residual(after)
    assert rms <= 0.01
    assert step <= 0.03
    assert np.abs((slow(after, 30) - slow(before, 30))[30:-30]).max() <= 0.1
    assert 0.1 < made.largest_gain_ev <= 1.0
    for said, truth in ((made.before, before), (made.after, after)):
        assert said is not None
        assert said.first_rms_ev == pytest.approx(np.sqrt(np.mean(np.diff(truth) ** 2)), rel=0.15, abs=0.003)
        assert said.largest_step_ev == pytest.approx(np.abs(np.diff(truth)).max(), abs=0.03)  # H.264 adds its own


def test_without_steadying_pictures_are_as_they_were(tmp_path: Path) -> None:
    night = dusk(40)
    slots = night.save(tmp_path, (160, 108))
    made = clip(tmp_path, slots)
    assert made.largest_gain_ev == 0
    for slot, shown in zip(slots, frames(tmp_path / "clip.mp4"), strict=True):
        stored = np.asarray(Image.open(file_of(tmp_path, slot)), dtype=float)
        assert 10 * np.log10(255**2 / np.mean((stored - shown) ** 2)) > 30  # PSNR in dB, chroma at half size
