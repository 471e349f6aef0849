"""Files of a hand-over, each read by what the world reads it with: coreutils, Python's tomllib, the csv module."""

from __future__ import annotations

import hashlib
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.plan import read_plan
from controller.results.handover import sums
from controller.results.handover.toml import plan_toml
from tests.decide import PLANS

ODD = [
    "plain.JPG",
    "with  spaces .JPG",
    " first.JPG",
    "-rf.JPG",
    "*.JPG",
    "back\\slash.JPG",
    "line\nfeed.JPG",
    "carriage\rreturn.JPG",
    "Käse – 夕暮れ.JPG",
    "quote'\".JPG",
    "no-utf-8-\udcff.JPG",
    "sub/folder.JPG",
]


def check(folder: Path) -> subprocess.CompletedProcess[bytes]:
    command = ["sha256sum", "--check", "--strict", "SHA256SUMS"]
    return subprocess.run(command, cwd=folder, capture_output=True, check=False)


def test_sha256sum_of_coreutils_reads_names_with_odd_characters(tmp_path: Path) -> None:
    lines = b""
    for name in ODD:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(name.encode("utf-8", "surrogateescape"))
        lines += sums.line(hashlib.sha256((tmp_path / name).read_bytes()).hexdigest(), name)
    (tmp_path / sums.NAME).write_bytes(lines)
    done = check(tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.count(b": OK\n") == len(ODD)
    theirs = subprocess.run(["sha256sum", *[f"./{n}" for n in ODD]], cwd=tmp_path, capture_output=True, check=True)
    assert theirs.stdout.replace(b"./", b"") == lines
    (tmp_path / ODD[0]).write_bytes(b"other")
    assert check(tmp_path).returncode == 1


def test_lines_are_known_again_and_others_are_not(tmp_path: Path) -> None:
    path = tmp_path / sums.NAME
    path.write_bytes(b"".join(sums.line(f"{number:064x}", name) for number, name in enumerate(ODD)))
    known = sums.known(path)
    assert all(sums.was(known, f"{number:064x}", name) for number, name in enumerate(ODD))
    assert not sums.was(known, f"{1:064x}", ODD[0])
    assert not sums.was(known, f"{0:064x}", "other.JPG")
    assert len(sums.known(tmp_path / "none")) == 0


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_plan_comes_back_from_its_toml(path: Path) -> None:
    plan = read_plan(path.read_text("utf-8"))
    document = plan.document()  # as a shoot keeps it
    assert tomllib.loads(plan_toml(document)) == document
    assert read_plan(plan_toml(document)) == plan


SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(2**53), 2**53),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=["Cs"])),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=40)
@given(st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), VALUES, max_size=4))
def test_whatever_json_holds_comes_back_from_its_toml(document: dict[str, Any]) -> None:
    assert tomllib.loads(plan_toml(document)) == document


def test_null_is_left_out() -> None:
    assert tomllib.loads(plan_toml({"a": None, "b": {"c": None, "d": [1, None]}})) == {"b": {"d": [1]}}
