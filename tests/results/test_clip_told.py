"""What is told of pictures that are not as the others: a line for all of one kind, by their numbers and shoots."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from controller.words.errors import BadInput
from controller.words.layout import preview_path
from controller.words.phrases import runs
from tests.results.films import frames, jpeg
from tests.results.nights import row
from tests.results.test_clip import clip, fetched, file_of

SECOND = "2026-12-09-second"


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ([], ""),
        ([4], "4"),
        ([4, 5], "4–5"),
        ([1, 3, 4, 5, 9], "1, 3–5, 9"),
        (list(range(1, 25, 2)), "1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23"),
        ([*range(1, 25, 2), 30, 31, 40], "1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 and 3 more"),
    ],
)
def test_numbers_are_told_as_runs(numbers: list[int], told: str) -> None:
    assert runs(numbers) == told


def test_pictures_of_one_size_are_one_line(tmp_path: Path) -> None:
    slots = fetched(tmp_path, list(range(1, 13)))
    for seq in (3, 4, 5, 9):
        jpeg(file_of(tmp_path, slots[seq - 1]), (192, 128))
    jpeg(file_of(tmp_path, slots[6]), (64, 64))
    assert clip(tmp_path, slots).remarks == [
        "frames 3–5, 9: 192×128 pixels instead of 96×64; fitted",
        "frame 7, 000007.jpg: 64×64 pixels instead of 96×64; fitted",
    ]


def test_of_two_shoots_each_line_says_which(tmp_path: Path) -> None:
    slots = fetched(tmp_path, list(range(1, 13)))
    first = slots[0].shoot
    slots[6:] = [frame.model_copy(update={"shoot": SECOND, "seq": frame.seq - 6}) for frame in slots[6:]]
    for place in (1, 2, 7, 8):
        jpeg(file_of(tmp_path, slots[place]), (192, 128))
    file_of(tmp_path, slots[9]).write_text("no picture")
    assert clip(tmp_path, slots).remarks == [
        f"frame 4 of {SECOND}, 000010.jpg: the file is no JPEG; left out",
        f"frames 2–3 of {first}: 192×128 pixels instead of 96×64; fitted",
        f"frames 2–3 of {SECOND}: 192×128 pixels instead of 96×64; fitted",
    ]


def test_pixels_that_lie_otherwise_and_stand_upright_alike_are_no_other_size(tmp_path: Path) -> None:
    """As after the camera's 'rotate' by a program: the pixels lie on their side, and the flag says so."""
    slots = fetched(tmp_path, list(range(1, 8)))
    picture = np.full((64, 96, 3), 40, np.uint8)
    picture[:32] = 200
    for slot in slots:
        Image.fromarray(picture).save(file_of(tmp_path, slot), quality=95)
    exif = Image.Exif()
    exif[274] = 6  # Exif 2.32: to be turned by 90° clockwise
    turned = Image.fromarray(picture).transpose(Image.Transpose.ROTATE_90)
    turned.save(file_of(tmp_path, slots[3]), quality=95, exif=exif)
    assert clip(tmp_path, slots).remarks == []
    assert all(frame[:30].mean() > 180 for frame in frames(tmp_path / "clip.mp4"))


def test_of_several_cameras_the_one_without_pictures_is_named(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [1, 2])
    slots.append(slots[0].model_copy(update={"camera": "camera-2"}))
    with pytest.raises(BadInput) as refused:
        clip(tmp_path, slots, source="developed")
    assert str(refused.value).endswith(
        "of 2 frames of camera-1 none has a picture on the rig that the clip can show (has no RAW file)."
        " Choose another source or camera, or leave it out"
    )
    with pytest.raises(BadInput, match=r"of 2 frames none .* Choose another source, or leave it out"):
        clip(tmp_path, slots[:2], source="developed")


def test_a_file_that_is_gone_is_told_though_its_preview_is_shown(tmp_path: Path) -> None:
    slots = [frame.model_copy(update={"preview": True}) for frame in fetched(tmp_path, list(range(1, 9)))]
    for slot in slots:
        jpeg(tmp_path / preview_path(slot.shoot, slot.seq, slot.camera), (48, 32))
    for seq in (3, 4):
        file_of(tmp_path, slots[seq - 1]).unlink()
    slots[6] = slots[6].model_copy(update={"local_file": None})  # never fetched: nothing is gone
    file_of(tmp_path, slots[7]).unlink()
    slots[7] = slots[7].model_copy(update={"rig_freed_utc": 1.0, "copies": "shed"})  # by the plan's rule
    made = clip(tmp_path, slots)
    assert made.remarks == ["frames 3–4: the file is missing; its preview is shown"]
    assert (made.frames, made.from_previews) == (8, 4)


def test_where_most_files_are_gone_that_is_told_too(tmp_path: Path) -> None:
    slots = [frame.model_copy(update={"preview": True}) for frame in fetched(tmp_path, list(range(1, 9)))]
    slots.append(row(9, preview=True))
    for slot in slots:
        jpeg(tmp_path / preview_path(slot.shoot, slot.seq, slot.camera), (48, 32))
    for slot in slots[1:8]:
        file_of(tmp_path, slot).unlink()
    made = clip(tmp_path, slots)
    assert made.remarks == ["frames 2–8: the file is missing; its preview is shown"]
    assert made.from_previews == 9
