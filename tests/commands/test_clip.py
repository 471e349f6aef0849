"""`clip` on a real frame log and real JPEGs, in process and as a process of its own."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import av
import pytest

from controller.commands import main
from controller.results.clip import make
from controller.store import Store
from controller.store.files import clip_path, database_path
from controller.words.documents import Frame, FrameState
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import dusk, row


def fill(directory: Path, frames: list[Frame]) -> None:
    async def log() -> None:
        async with await Store.open(database_path(directory)) as store:
            await store.add_shoot(shoot(frames))
            await store.add_missed(frames)

    asyncio.run(log())


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    frames = dusk(40).save(tmp_path, (160, 108))
    for seq in (11, 12, 13):
        frames[seq - 1] = row(seq, state=FrameState.MISSED, cause="held")
    fill(tmp_path, frames)
    return tmp_path


def shown(path: Path) -> int:
    with av.open(str(path)) as film:
        return sum(1 for _ in film.decode(video=0))


def duskhand(*words: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "controller", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_clip_beside_the_frames_of_the_shoot(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["clip", "last", "--dir", str(rig)]) == 0
    out, err = capsys.readouterr()
    path, facts, steadied, gap = out.splitlines()
    assert path == str(rig / clip_path(SHOOT))
    assert facts.startswith("1.5 s at 25 fps, 160×108, ")
    assert facts.endswith("37 frames from 37 fetched pictures")
    assert steadied.startswith("steadied: brightness differences from ")
    assert gap == "3 frames missing between 16:00:50 and 16:01:10 (missed, held)"
    assert err.splitlines()[-1] == "clip: 100 %"
    assert json.loads((rig / clip_path(SHOOT)).with_suffix(".json").read_text())["frames"] == 37
    assert shown(rig / clip_path(SHOOT)) == 37


def test_clip_elsewhere_as_json_without_steadying(rig: Path, tmp_path: Path) -> None:
    target = tmp_path / "film.mp4"
    done = duskhand("clip", SHOOT, "--dir", rig, "--out", target, "--fps", "12.5", "--no-steady", "--json")
    assert done.returncode == 0
    made = json.loads(done.stdout)
    assert (made["frames"], made["fps"], made["steadied"], made["out"]) == (37, 12.5, False, str(target))
    assert shown(target) == 37
    assert all(line.startswith("clip: ") and line.endswith(" %") for line in done.stderr.splitlines())


def test_clip_with_all_that_can_be_asked_of_it(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Forty slots of 5 s, three of them missed, at 20 s of the scene a second: ten seconds, and the last moment."""
    target = tmp_path / "film.mp4"
    words = "--codec hevc --bits 10 --size 96x96 --crop 0,0,0.5,0.5 --pan-to 0.5,0.5,0.5,0.5 --burn time,sun"
    more = "--retime blend --scene-s-per-s 20s --fps 4 --source fetched --camera camera-1 --tones --json"
    assert main(["clip", "last", "--dir", str(rig), "--out", str(target), *words.split(), *more.split()]) == 0
    made = json.loads(capsys.readouterr().out)
    assert (made["frames"], made["width"], made["height"], made["steadied"]) == (40, 80, 54, True)
    with av.open(str(target)) as film:
        stream = film.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("hevc", "yuv420p10le")
        assert sum(1 for _ in film.decode(video=0)) == 40


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["last", "--fps", "0"], "'0' is no usable frame rate: give 1 to 120 frames a second"),
        (["last", "--fps", "200"], "give 1 to 120"),
        (["last", "--fps", "many"], "'many' is no usable frame rate: give 1 to 120 frames a second"),
        (["last", "--fsp", "3"], "duskhand clip: unknown: --fsp 3. See duskhand clip --help"),
        (["last", "--codec", "av"], "duskhand clip: --codec: 'av' cannot be used. Give h264 or hevc"),
        (["last", "--size", "big"], "'big' is no size: give width and height, such as 1920x1080"),
        (["last", "--crop", "0,0,1"], "'0,0,1' is no window: give its left and upper edge"),
        (
            ["last", "--pan-to", "0.5,0.5,0.6,0.5"],
            "duskhand clip: --pan-to: the window reaches over the picture's edge. Give",
        ),
        (
            ["last", "--no-steady", "--tones"],
            "--tones: tones are steadied along with brightness. Leave out --no-steady",
        ),
        (["last", "--pan-to", "0,0,2,1"], "duskhand clip: --pan-to: 2.0 cannot be used. Give the window"),
        (["last", "--burn", "date"], "duskhand clip: --burn: 'date' cannot be used. Give time"),
        (["last", "--retime", "blend", "--scene-s-per-s", "1e9"], "from 0.001 to 31,622,400"),
        (["last", "--retime", "blend", "--scene-s-per-s", "5e-324"], "from 0.001 to 31,622,400"),
        (
            ["last", "--scene-s-per-s", "90"],
            "duskhand clip: --scene-s-per-s: this is the speed of a retimed film. Choose retime",
        ),
        (["last", "--bits", "ten"], "'ten' is no whole number: write it like 12"),
        (["last", "--scene-s-per-s", "1,5"], "--scene-s-per-s: '1,5' has a comma. Write 1.5: decimals have a point"),
        (["last", "--scene-s-per-s", "fast"], "Write it like 8, 8s or 1min30s; a number alone is seconds"),
        (
            ["last", "--retime", "nearest", "--scene-s-per-s", "0.001"],
            "duskhand clip: --scene-s-per-s: each picture would stand for ",
        ),
        (["last", "--out", "/nowhere/at/all.mp4"], "there is no such directory. Choose another file with --out"),
        (["last", "--out", "film.avi"], "End its name with .mp4"),
        (["2020-01-01-other"], "no shoot of this id"),
    ],
)
def test_bad_input(rig: Path, words: list[str], said: str) -> None:
    done = duskhand("clip", *words, "--dir", rig)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert said in done.stderr


def test_what_only_the_pictures_tell_is_told_of_the_option_too(rig: Path) -> None:
    done = duskhand("clip", "last", "--size", "16x16", "--dir", rig)
    assert done.returncode == 2
    said = "duskhand clip: --size: the film would have 16×10 pixels, and h264 needs 16×16."
    assert done.stderr.splitlines()[-1].startswith(said)


def test_too_little_memory_is_told_of_the_size(
    rig: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(make, "free_memory", lambda: 1_000_000)
    assert main(["clip", "last", "--dir", str(rig)]) == 2
    assert "--size: a film of 160×108 pixels takes about 72 MB of memory, and 1 MB are free" in capsys.readouterr().err


def test_a_shoot_without_pictures(tmp_path: Path) -> None:
    fill(tmp_path, [row(1, state=FrameState.WRITTEN)])
    done = duskhand("clip", "last", "--dir", tmp_path)
    assert done.returncode == 2
    assert done.stderr == (
        f"duskhand clip: {SHOOT}: of 1 frame none has a picture on the rig that the clip can show (only on the card)."
        ' Have the plan fetch them: fetch = "preview" or "all" in [files]\n'
    )


def test_a_shoot_without_frames(tmp_path: Path) -> None:
    """No plan fetches what was never got."""
    fill(tmp_path, [row(1, state=FrameState.MISSED, cause="no camera found on USB"), row(2, state=FrameState.LOST)])
    done = duskhand("clip", "last", "--dir", tmp_path)
    assert done.returncode == 2
    assert done.stderr == (
        f"duskhand clip: {SHOOT}: of 2 frames none has a picture on the rig that the clip can show"
        " (missed, no camera found on USB, lost). See in its report why each is missing\n"
    )


def test_a_shoot_that_has_not_begun(tmp_path: Path) -> None:
    fill(tmp_path, [])
    done = duskhand("clip", "last", "--dir", tmp_path)
    assert done.returncode == 2
    assert done.stderr == (
        f"duskhand clip: {SHOOT}: no frame has been released yet."
        " Wait for the first one; the list of shoots tells how each stands\n"
    )


def test_frames_are_what_is_counted_on_a_terminal(tmp_path: Path) -> None:
    fill(tmp_path, dusk(7).save(tmp_path, (160, 108)))
    command = [sys.executable, "-m", "controller", "clip", "last", "--dir", str(tmp_path)]
    ours, theirs = os.openpty()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs) as process:
        os.close(theirs)
        shown = b""
        while chunk := _read(ours):
            shown += chunk
    os.close(ours)
    assert process.returncode == 0
    assert b" 7/7 " in shown
    assert b"/14" not in shown


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:  # Linux says so when the other end is closed
        return b""


def test_interrupted_by_hand(tmp_path: Path) -> None:
    """Ctrl-C in mid-work: it ends at once, and leaves no half film, but what the next call goes on from."""
    (source,) = dusk(1).save(tmp_path, (1200, 800))
    fill(tmp_path, [row(seq, local_file=source.local_file) for seq in range(1, 401)])
    # A shell that runs tests in the background has them ignore the signal, and what they start.
    duskhand = [sys.executable, "-m", "controller"]
    command = ["env", "--default-signal=INT", *duskhand, "clip", "last", "--dir", str(tmp_path)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        assert process.stderr.readline() == "clip: 10 %\n"
        os.kill(process.pid, signal.SIGINT)
        rest = process.stderr.read()
    assert process.returncode == 130
    assert "Traceback" not in rest
    assert "100 %" not in rest
    assert rest.endswith("stopped; the same command goes on from there\n")
    (left,) = (path for path in (tmp_path / "shoots" / SHOOT).iterdir() if "mp4" in path.name)
    assert left.name == f".{SHOOT}.mp4.work"
