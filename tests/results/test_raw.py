"""RAW files as a clip's source: what LibRaw makes of a known scene, and which of their pictures is chosen."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from controller.results.clip import raw
from controller.results.clip.geometry import Canvas, Shape
from controller.results.clip.pictures import Kind, Picture, choose
from controller.results.clip.reader import Reader
from controller.results.clip.reading import Unreadable
from controller.words.documents import Frame
from tests.results.dusk import SHOOT
from tests.results.films import jpeg
from tests.results.nights import row, srgb
from tests.support.dng import BLACK, dng, neutral

SIZE = 96, 64
_Y, _X = np.mgrid[0:64, 0:96] / np.array([64, 96])[:, None, None]
SCENE = np.stack([0.05 + 0.4 * _X, 0.1 + 0.3 * _Y, 0.3 - 0.2 * _X], axis=-1)
INSIDE = Image.new("RGB", (96, 64), (200, 50, 20))


def raws(directory: Path, count: int = 1, scene: Any = SCENE, suffix: str = ".DNG", **more: Any) -> list[Frame]:
    """Rows with a fetched RAW file each."""
    slots = []
    for seq in range(1, count + 1):
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}{suffix}"
        (directory / name).parent.mkdir(parents=True, exist_ok=True)
        (directory / name).write_bytes(dng(scene, **more))
        slots.append(row(seq, local_file=name))
    return slots


def path(directory: Path, slot: Frame) -> Path:
    assert slot.local_file is not None
    return directory / slot.local_file


def test_development_is_the_scene_in_linear_light(tmp_path: Path) -> None:
    """Within 0.5 % of each channel; the last 4 lines at the edges are left out, where demosaicing lacks neighbours."""
    (slot,) = raws(tmp_path)
    how = raw.development([path(tmp_path, slot)])
    assert how is not None
    assert how.balance == pytest.approx(tuple(neutral()[1] / neutral()), rel=1e-3)
    light = raw.develop(path(tmp_path, slot), SIZE, how) / 65535
    assert np.abs(light / SCENE - 1)[4:-4, 4:-4].max() < 0.005
    small = raw.develop(path(tmp_path, slot), (48, 32), how) / 65535
    assert small.shape == (32, 48, 3)
    assert small == pytest.approx(SCENE.reshape(32, 2, 48, 2, 3).mean(axis=(1, 3)), abs=0.004)


def test_light_that_doubles_doubles(tmp_path: Path) -> None:
    """Nothing is scaled to a picture's own brightest pixel: a stop is a stop, in a dark picture and a light one."""
    how = raw.Development((2.3, 1.0, 1.3), 14_788)
    means = []
    for seq, level in enumerate((0.02, 0.04, 0.08, 0.9)):
        file = tmp_path / f"{seq}.dng"
        file.write_bytes(dng(np.full((64, 96, 3), level)))
        means.append(float(raw.develop(file, (48, 32), how)[..., 1].mean()))
    assert np.array(means) / means[0] == pytest.approx([1, 2, 4, 45], rel=0.01)


def test_a_sensor_without_colours(tmp_path: Path) -> None:
    (slot,) = raws(tmp_path, filters=False)
    how = raw.development([path(tmp_path, slot)])
    assert how is not None
    light = raw.develop(path(tmp_path, slot), SIZE, how) / 65535
    assert light == pytest.approx(np.repeat(SCENE[..., 1:2], 3, axis=2), rel=0.005)


def test_one_white_balance_and_one_scale_for_the_shoot(tmp_path: Path) -> None:
    """A body on automatic white balance, and one whose white level changes with its ISO, would both flicker."""
    slots = raws(tmp_path, 9, np.full((64, 96, 3), 0.4))
    grey = np.full((64, 96, 3), 0.4)
    path(tmp_path, slots[3]).write_bytes(dng(grey, as_shot=np.array([0.8, 1.0, 0.4])))
    path(tmp_path, slots[4]).write_bytes(dng(grey * (15_300 - BLACK) / (13_000 - BLACK), white=13_000))
    reader, pictures = Reader(), choose(slots, tmp_path, None, "developed").pictures
    canvas = Canvas.of(Shape(*SIZE, 1))
    shown = [reader.decode(picture, canvas).linear()[8:-8, 8:-8].mean(axis=(0, 1)) for picture in pictures]
    assert np.array(shown) == pytest.approx(np.tile(shown[0], (9, 1)), rel=0.002)
    assert shown[0] / shown[0][1] == pytest.approx([1, 1, 1], abs=0.002)  # the median is that of most


@pytest.mark.parametrize("bitmap", [False, True])
def test_the_picture_inside(tmp_path: Path, bitmap: bool) -> None:
    slots = raws(tmp_path, preview=INSIDE, bitmap=bitmap)
    reader, pictures = Reader(), choose(slots, tmp_path, None, "embedded").pictures
    shape, small = reader.look(pictures[0], 32)
    assert shape == Shape(96, 64, 1)
    assert np.asarray(small).mean(axis=(0, 1)) == pytest.approx([200, 50, 20], abs=2)


@pytest.mark.parametrize("turned", range(1, 9))
@pytest.mark.parametrize("source", ["embedded", "developed"])
def test_a_turned_camera_stands_upright(tmp_path: Path, turned: int, source: Any) -> None:
    """Against Pillow's own turning by Exif's tag 274."""
    scene = np.full((64, 96, 3), 0.05)
    scene[:32, :48] = (0.5, 0.2, 0.1)
    lying = Image.fromarray(np.round(srgb(scene)).astype(np.uint8))
    slots = raws(tmp_path, scene=scene, preview=lying, orientation=turned)
    reader, pictures = Reader(), choose(slots, tmp_path, None, source).pictures
    canvas = Canvas.of(reader.shape(pictures[0]))
    shown = np.asarray(reader.decode(pictures[0], canvas).image(), float)
    tagged = tmp_path / "tagged.jpg"
    exif = Image.Exif()
    exif[274] = turned
    lying.save(tagged, quality=95, exif=exif)
    with Image.open(tagged) as image:
        wanted = np.asarray(ImageOps.exif_transpose(image), float)
    assert shown.shape == wanted.shape
    assert np.abs(shown - wanted).mean() < 2


def test_a_picture_that_the_body_has_turned_is_not_turned_again(tmp_path: Path) -> None:
    slots = raws(tmp_path, preview=Image.new("RGB", (64, 96)), orientation=6)
    assert raw.embedded(path(tmp_path, slots[0]))[1] == Shape(64, 96, 1)
    slots = raws(tmp_path, preview=Image.new("RGB", (96, 64)), orientation=6)
    assert raw.embedded(path(tmp_path, slots[0]))[1] == Shape(96, 64, 6)


@pytest.mark.parametrize(
    ("keep", "source", "said"),
    [
        (0.0, "developed", "cut short or damaged"),
        (0.02, "developed", "cut short"),
        (0.6, "developed", "cut short or damaged"),
        (0.02, "embedded", "cut short"),
        (1.0, "embedded", "has no picture inside"),
    ],
)
def test_what_cannot_be_read_says_why(tmp_path: Path, keep: float, source: Any, said: str) -> None:
    slots = raws(tmp_path, 3)
    content = path(tmp_path, slots[1]).read_bytes()
    path(tmp_path, slots[1]).write_bytes(content[: round(keep * len(content))])
    reader, pictures = Reader(), choose(slots, tmp_path, None, source).pictures
    with pytest.raises(Unreadable, match=said):
        reader.look(pictures[1], 32)
    with pytest.raises(Unreadable, match=said):
        reader.decode(pictures[1], Canvas.of(Shape(*SIZE, 1)))


@pytest.mark.parametrize("white", [400, 600])  # below black, and just above it
def test_a_damaged_head_does_not_change_the_others(tmp_path: Path, white: int) -> None:
    slots = raws(tmp_path, 9)
    how = raw.development([path(tmp_path, slot) for slot in slots])
    path(tmp_path, slots[4]).write_bytes(dng(SCENE, white=15_300).replace(b"\xc4\x3b\0\0", white.to_bytes(4, "little")))
    assert raw.development([path(tmp_path, slot) for slot in slots]) == how
    assert (raw.development([path(tmp_path, slots[4])]) is None) == (white < BLACK)


def test_whatever_is_damaged_a_picture_is_read_or_named(tmp_path: Path) -> None:
    """A few bytes of head or body drawn anew, 15 times for each source."""
    dice = np.random.default_rng(20_261_127)
    whole = dng(SCENE, preview=INSIDE)
    how = raw.Development((2.3, 1.0, 1.3), 14_788)
    file, read = tmp_path / "1.dng", 0
    for kind in (Kind.EMBEDDED, Kind.DEVELOPED) * 15:
        content = bytearray(whole)
        for place in dice.integers(0, dice.choice([400, len(whole)]), 5):
            content[place] = dice.integers(0, 256)
        file.write_bytes(content)
        picture = Picture(row(1), file, kind, how)
        with contextlib.suppress(Unreadable):
            assert Reader().look(picture, 32)[1].mode == "RGB"
            assert Reader().decode(picture, Canvas.of(Shape(*SIZE, 1))).image().size == SIZE
            read += 1
    assert 5 < read < 30


def test_a_text_that_is_called_raw(tmp_path: Path) -> None:
    slots = raws(tmp_path, 2, suffix=".nef")
    path(tmp_path, slots[0]).write_text("no picture at all, " * 100)
    reader, pictures = Reader(), choose(slots, tmp_path).pictures
    with pytest.raises(Unreadable, match="of a kind that LibRaw does not know"):
        reader.look(pictures[0], 32)
    path(tmp_path, slots[0]).unlink()
    with pytest.raises(Unreadable, match="the file is missing"):
        reader.look(pictures[0], 32)


def kinds(slots: list[Frame], directory: Path, **more: Any) -> list[Kind | None]:
    chosen = choose(slots, directory, **more)
    found = {picture.frame.seq: picture.kind for picture in chosen.pictures}
    return [found.get(slot.seq) for slot in slots]


def test_raw_alone_makes_a_clip(tmp_path: Path) -> None:
    """Of the picture inside where it is large enough, and of the RAW itself where that is a stamp."""
    assert kinds(raws(tmp_path, 2, preview=INSIDE), tmp_path) == [Kind.EMBEDDED] * 2
    assert kinds(raws(tmp_path, 2, preview=INSIDE.resize((24, 16))), tmp_path) == [Kind.DEVELOPED] * 2
    assert kinds(raws(tmp_path, 2, preview=INSIDE.resize((96, 72))), tmp_path) == [Kind.DEVELOPED] * 2  # with bars
    assert kinds(raws(tmp_path, 2), tmp_path) == [Kind.DEVELOPED] * 2


def test_which_file_of_a_pair(tmp_path: Path) -> None:
    slots = raws(tmp_path, 3, suffix=".dng")
    for seq, slot in enumerate(slots[:2]):
        jpeg(path(tmp_path, slot).with_suffix(".jpg"))
        name = str(Path(slot.local_file or "").with_suffix(".jpg"))
        slots[seq] = slot.model_copy(update={"local_file": name, "companion_file": "/DCIM/100/X.dng"})
    path(tmp_path, slots[1]).with_suffix(".dng").unlink()
    full, other = Kind.FETCHED, Kind.DEVELOPED
    assert kinds(slots, tmp_path) == [full, full, other]
    assert kinds(slots, tmp_path, source="fetched") == [full, full, None]
    assert kinds(slots, tmp_path, source="developed") == [other, None, other]
    assert choose(slots, tmp_path, None, "fetched").without == {(SHOOT, 3): "fetched as RAW only"}
    assert choose(slots, tmp_path, None, "developed").without == {(SHOOT, 2): "the file is missing"}
    assert choose([row(1, local_file="a/1.jpg")], tmp_path, None, "embedded").without == {(SHOOT, 1): "has no RAW file"}
    hif = choose([row(1, local_file="a/1.HIF")], tmp_path).without
    assert hif == {(SHOOT, 1): "fetched as .HIF only, which a clip cannot show"}
