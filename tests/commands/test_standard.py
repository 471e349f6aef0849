"""Commands whose output nobody reads, that goes onto a full disk, nowhere, or where letters are few."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from controller.commands import COMMANDS
from controller.commands.progress import Progress
from controller.commands.standard import prepare
from tests.decide import PLANS
from tests.whole.test_disk_full import small_disk

QUAY = str(next(path for path in PLANS if path.stem == "quay_at_dusk"))
PRINTING = (
    ("--help",),
    ("--version",),
    ("plan", QUAY, "--date", "2026-10-03"),
    ("plan", "--schema"),
    ("rehearse", QUAY, "--date", "2026-10-03"),
    ("rehearse", QUAY, "--date", "2026-10-03", "--csv", "-"),
    ("rehearse", QUAY, "--date", "2026-10-03", "--json"),
    ("sky", "--lat", "57.7", "--lon", "11.95"),
)
FEW = ("plan", "--help")  # argparse itself keeps still of what it could not print at once


def command(*words: str) -> list[str]:
    return [sys.executable, "-m", "controller", *words]


def surroundings(**more: str) -> dict[str, str]:
    """Standard output as it is for most users, who have not set PYTHONUNBUFFERED, or with `more`."""
    return {name: text for name, text in os.environ.items() if not name.startswith("PYTHON")} | more


def unread(words: tuple[str, ...], **more: str) -> subprocess.CompletedProcess[str]:
    """Into a pipe whose reader has gone."""
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "w") as out:
        return subprocess.run(
            command(*words), stdout=out, stderr=subprocess.PIPE, text=True, env=surroundings(**more), check=False
        )


@pytest.mark.parametrize("words", [*PRINTING, FEW], ids=" ".join)
def test_who_has_read_enough_is_told_nothing(words: tuple[str, ...]) -> None:
    """Exit code: 128 and SIGPIPE's number 13 (POSIX.1-2017, `kill`, and 2.8.2 of its shell), as for other programs."""
    done = unread(words)
    assert (done.returncode, done.stderr) == (141, "")


@pytest.mark.parametrize("words", PRINTING[1:6], ids=" ".join)
def test_nor_where_each_write_goes_out_at_once(words: tuple[str, ...]) -> None:
    done = unread(words, PYTHONUNBUFFERED="1")
    assert (done.returncode, done.stderr) == (141, "")


@pytest.mark.parametrize("words", [*PRINTING, FEW], ids=" ".join)
def test_a_full_disk_is_one_line(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            command(*words), stdout=full, stderr=subprocess.PIPE, text=True, env=surroundings(), check=False
        )
    named = f"duskhand {words[0]}" if words[0] in COMMANDS else "duskhand"
    what = f"{named}: standard output: cannot be written: No space left on device. Free some space there, or "
    assert (done.returncode, done.stderr) == (1, what + "look at the disk\n")


@pytest.mark.parametrize("words", PRINTING, ids=" ".join)
def test_who_closed_it_gets_nothing_and_no_trouble(words: tuple[str, ...]) -> None:
    done = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *command(*words)],
        stderr=subprocess.PIPE,
        text=True,
        env=surroundings(),
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("stderr", ["/dev/full", "closed"])
@pytest.mark.parametrize(("words", "code"), [(("plan", QUAY), 0), (("plan", "nothing.toml"), 2), (("no-such",), 2)])
def test_what_cannot_be_told_does_not_change_the_exit_code(words: tuple[str, ...], code: int, stderr: str) -> None:
    to = "2>&-" if stderr == "closed" else f"2>{stderr}"
    done = subprocess.run(
        ["sh", "-c", f'"$@" {to} >/dev/null', "sh", *command(*words)], env=surroundings(), check=False
    )
    assert done.returncode == code


def test_work_goes_on_where_its_progress_cannot_be_told() -> None:
    with Path("/dev/full").open("w") as full, Progress("clip", full) as progress:
        progress.step(1, 2)
        progress.step(2, 2)
        with Path(os.devnull).open("w") as nowhere:  # what stays in it is tried once more when it is closed
            os.dup2(nowhere.fileno(), full.fileno())


def test_and_ends_where_who_has_read_it_went_away() -> None:
    reader, writer = os.pipe()
    with os.fdopen(writer, "w") as out, Progress("clip", out) as progress:
        os.close(reader)
        with pytest.raises(BrokenPipeError):
            progress.step(1, 2)
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), out.fileno())


def test_a_plan_from_a_closed_standard_input_is_an_empty_one() -> None:
    done = subprocess.run(
        ["sh", "-c", '"$@" <&-', "sh", *command("plan", "-")],
        stderr=subprocess.PIPE,
        text=True,
        env=surroundings(),
        check=False,
    )
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert done.stderr.startswith("duskhand plan: -: name: is missing")


def test_a_pipe_that_has_a_name_is_written_to_and_may_be_closed(tmp_path: Path) -> None:
    """/dev/stdout is a link to what has no place in any directory (proc(5), /proc/self/fd)."""
    words = ("rehearse", QUAY, "--date", "2026-10-03", "--csv", "/dev/stdout")
    done = unread(words)
    assert (done.returncode, done.stderr) == (141, "")
    whole = subprocess.run(command(*words), capture_output=True, text=True, env=surroundings(), check=False)
    assert (whole.returncode, whole.stderr) == (0, "")
    assert whole.stdout.startswith("shoot,seq,")


@pytest.mark.parametrize(
    ("words", "file"),
    [
        (("rehearse", QUAY, "--date", "2026-10-03", "--csv"), "out.csv"),
        (("rehearse", QUAY, "--date", "2026-10-03", "--plot"), "out.png"),
        (("support", "--rig", "http://127.0.0.1:9", "--dir", str(Path(QUAY).parent), "--out"), "out.zip"),
    ],
    ids=("csv", "plot", "support"),
)
def test_a_full_disk_keeps_nothing_that_is_half_written(words: tuple[str, ...], file: str, tmp_path: Path) -> None:
    script = 'head -c 2M /dev/zero > "$0/filler" 2> "$0.said"; "$@"; echo $?; ls -A "$0"'
    done = subprocess.run(
        [*small_disk(tmp_path, 1), "sh", "-c", script, str(tmp_path), *command(*words, str(tmp_path / file))],
        capture_output=True,
        text=True,
        env=surroundings(),
        check=False,
    )
    assert done.stdout.split() == ["1", "filler"]
    assert done.stderr == (
        f"duskhand {words[0]}: {tmp_path / file}: cannot be written: No space left on device. "
        "Free some space there, or look at the disk\n"
    )


def printed(letters: str, *words: str) -> str:
    done = subprocess.run(
        command(*words), capture_output=True, env=surroundings(PYTHONIOENCODING=letters), check=False, timeout=60
    )
    assert (done.returncode, done.stderr) == (0, b"")
    return done.stdout.decode(letters)


def test_a_minus_is_kept_where_there_is_only_a_hyphen() -> None:
    words = ("plan", QUAY, "--date", "2026-10-03")
    whole, few = printed("utf-8", *words), printed("latin-1", *words)
    assert "−12.0°" in whole
    assert "-12.0°" in few
    assert "?" not in few


def test_names_that_cannot_be_spelt_stay_told_apart() -> None:
    """As JSON writes them in ASCII (RFC 8259, section 7), so that a document of them stays one."""
    prepare()
    name = "åλ𝄞\udcff"  # the last is what a file name has that is not UTF-8
    told = name.encode("ascii", "duskhand-spelt").decode("ascii")
    assert json.loads(f'"{told}"') == name
    assert "−5° …".encode("latin-1", "duskhand-spelt") == b"-5\xb0 ."


def test_the_service_needs_nobody_who_reads(tmp_path: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    words = ("serve", "--dir", str(tmp_path), "--port", "0", "--camera", "ptpip:127.0.0.1:1:1")
    with (
        os.fdopen(writer, "w") as out,
        subprocess.Popen(command(*words), stdout=out, stderr=subprocess.PIPE, text=True, env=surroundings()) as serving,
    ):
        assert serving.stderr is not None
        first = serving.stderr.readline()
        assert "does not answer" in first  # its camera is looked after all the same
        serving.terminate()
        _, rest = serving.communicate(timeout=60)
    assert serving.returncode == 0
    assert "Duskhand ends" in rest
    assert "Traceback" not in first + rest
