"""A Raspberry Pi builds nothing: what Duskhand runs with is there as a wheel for 64-bit ARM.

pip resolves requirements.lock for that machine, whichever this one is, and installs nothing. The platform's tags are
those of PEP 600: glibc 2.28, older than that of any Raspberry Pi OS with Python 3.11.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import requires
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

LOCK = Path(__file__).parent.parent / "requirements.lock"
BUILT = "lgpio"
"""What no wheel is there of for Python 3.13, as docs/wiring.md says; so it is not locked."""


def extras() -> set[str]:
    """Names of all that the extras of pyproject.toml bring along, by the metadata of what is installed here."""
    project = tomllib.loads((LOCK.parent / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [Requirement(each) for extra in project["optional-dependencies"].values() for each in extra]
    found: set[str] = set()
    while wanted:
        one = wanted.pop()
        name = canonicalize_name(one.name)
        if name not in found and name != BUILT and (one.marker is None or one.marker.evaluate({"extra": ""})):
            found.add(name)
            wanted += map(Requirement, requires(name) or [])
    return found


def pins() -> list[str]:
    """The lock's requirements, of its first part and of the extras, each with its hashes."""
    to_run, _, to_check = LOCK.read_text("utf-8").partition("# ---- to check and test")
    each = re.compile(r"^\S+==(?:.*\\\n)*.*", re.MULTILINE)
    locked = {pin.partition("==")[0]: pin for pin in each.findall(to_check)}
    return [*each.findall(to_run), *(locked[name] for name in sorted(extras() & set(locked)))]


def resolved(python: str, lines: list[str], directory: Path, glibc: tuple[int, ...] = (28, 17)) -> list[dict[str, Any]]:
    """What pip would install of it on an ARM machine with that Python, and a glibc of 2.28."""
    (directory / "pins.txt").write_text("\n".join(lines) + "\n", "utf-8")
    platforms = [f"--platform=manylinux_2_{minor}_aarch64" for minor in glibc]
    # fmt: off
    command = [
        sys.executable, "-m", "pip", "install", "--quiet", "--dry-run", "--ignore-installed", "--no-deps",
        "--only-binary=:all:", "--implementation=cp", f"--python-version={python}", *platforms,
        f"--target={directory / 'nowhere'}", f"--report={directory / 'report.json'}", f"-r{directory / 'pins.txt'}",
    ]
    # fmt: on
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert not (directory / "nowhere").exists()
    return json.loads((directory / "report.json").read_text("utf-8"))["install"]


@pytest.mark.parametrize("python", ["3.11", "3.13"])
def test_every_package_has_a_wheel_for_arm(python: str, tmp_path: Path) -> None:
    lines = pins()
    wheels = [each["download_info"]["url"].rpartition("/")[2] for each in resolved(python, lines, tmp_path)]
    assert len(wheels) == len(lines)
    compiled = [name for name in wheels if not name.endswith("-any.whl")]
    assert [name for name in compiled if "aarch64" not in name] == []
    assert {"gphoto2", "numpy", "pillow", "av", "pydantic_core", "rawpy"} <= {name.split("-")[0] for name in compiled}


def test_whatever_the_extras_bring_is_locked() -> None:
    names = {pin.partition("==")[0] for pin in pins()}
    assert {"asyncssh", "botocore", "gpiozero", "pyarrow", "colorzero", "pycparser"} <= extras() <= names


def test_what_drives_the_pins_has_a_wheel_for_python_311_alone(tmp_path: Path) -> None:
    """For a glibc of 2.34, which Debian 12 has; once there is one for 3.13, docs/wiring.md is to say so."""
    project = tomllib.loads((LOCK.parent / "pyproject.toml").read_text("utf-8"))["project"]
    lines = [each for each in project["optional-dependencies"]["gpio"] if each.startswith(BUILT)]
    (found,) = resolved("3.11", lines, tmp_path, (36, 35, 34))
    assert found["download_info"]["url"].endswith("_aarch64.whl")
    with pytest.raises(AssertionError, match="No matching distribution"):
        resolved("3.13", lines, tmp_path, (41, 36, 35, 34))
    assert "lgpio has no ready-made wheel for Python 3.13" in (LOCK.parent / "docs/wiring.md").read_text("utf-8")


def test_a_package_for_other_machines_alone_is_found(tmp_path: Path) -> None:
    """Intel's mathematics for Intel's processors."""
    with pytest.raises(AssertionError, match="No matching distribution"):
        resolved("3.11", ["mkl==2024.0.0"], tmp_path)
