"""The house itself: what stands where, and that the documents say what the code does."""

from __future__ import annotations

import argparse
import os
import re
import shlex
import subprocess
import tomllib
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from controller.commands import module_of
from tests.bench.__main__ import COUNTED, ELSEWHERE, LONG, SHORT

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"

TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "requirements.lock"}
TOP |= {"controller", "api", "web", "tests", "systemd", "docs"}

LONGEST = 400
LONGER_FOR_A_REASON = {  # path -> why this file is one room and not two
    f"web/words/{language}.js": "a language is one file, so that another can follow" for language in ("de", "en")
}


def tracked() -> list[Path]:
    """Every file that git keeps, or is about to."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    out = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True).stdout
    return [path for name in out.split("\0") if name and (path := ROOT / name).is_file()]


def python_files() -> list[Path]:
    return [
        path for path in tracked() if path.suffix == ".py" and path.relative_to(ROOT).parts[0] in ("controller", "api")
    ]


def pages() -> list[Path]:
    return [path for path in tracked() if path.suffix == ".md"]


def named(paths: list[Path]) -> list[Any]:
    return [pytest.param(path, id=str(path.relative_to(ROOT))) for path in paths]


def rows(text: str) -> list[list[str]]:
    """Cells of every table row of a Markdown text, heads and rules left out."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines]
    rules = {i for i, row in enumerate(cells) if all(re.fullmatch(r":?-+:?", cell) for cell in row)}
    return [row for i, row in enumerate(cells) if i not in rules and i + 1 not in rules]


def code_lines(page: Path) -> Iterator[str]:
    """Lines of the fenced shell blocks of a page."""
    for block in re.findall(r"^ *```sh\n(.*?)^ *```", page.read_text("utf-8"), re.S | re.M):
        yield from (line.strip() for line in re.sub(r"\| *\n", "| ", block).splitlines() if line.strip())


def commands_in(line: str) -> Iterator[list[str]]:
    """The words of each command of a shell line, assignments before it left out."""
    words = shlex.shlex(line, posix=True, punctuation_chars=True)
    words.whitespace_split = True
    for is_between, part in groupby(words, lambda word: word in ("&&", "|", ";")):
        if not is_between and (command := [word for word in part if not re.match("[A-Z_]+=", word)]):
            yield command


# ---- what stands where


def test_the_top_level_holds_these_and_nothing_else() -> None:
    there = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert {name for name in there if not name.startswith(".")} == TOP


def test_ci_runs_every_check_and_nothing_else() -> None:
    lines = [line for line in (ROOT / ".ci/run").read_text().splitlines() if line and not line.startswith("#")]
    assert lines == ['exec "$(dirname "$0")/../tests/run"']


@pytest.mark.parametrize("script", [".ci/run", "tests/run", "tests/lock", "systemd/setup"])
def test_scripts_can_be_run(script: str) -> None:
    assert os.access(ROOT / script, os.X_OK)
    subprocess.run(["bash", "-n", str(ROOT / script)], check=True)


def test_no_file_is_longer_than_a_room() -> None:
    by_hand = {".py", ".js", ".css", ".html", ".sql", ""}
    long = {
        str(path.relative_to(ROOT)): lines
        for path in tracked()
        if path.suffix in by_hand and (lines := path.read_bytes().count(b"\n")) > LONGEST
    }
    assert set(long) == set(LONGER_FOR_A_REASON), long


def test_nothing_names_a_machine_or_a_registry() -> None:
    roots = "|".join(["work", "root", "farm"])
    hosts = "|".join(["pypi" + r"\.org", "python" + "hosted", "deb" + r"\.debian", "npm" + "js", "pi" + "wheels"])
    forbidden = re.compile(rf"(?<![\w.])/({roots})/|\.\./shared|{hosts}", re.I)
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line[:100]}"
        for path in tracked()
        if path.suffix not in (".png", ".jpg")
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if forbidden.search(line)
    ]
    assert not found, "\n".join(found)


def test_numbered_pages_leave_no_number_out() -> None:
    for folder in ("decisions", "changes"):
        numbers = sorted(int(path.name[:4]) for path in (DOCS / folder).glob("*.md"))
        assert numbers == list(range(1, len(numbers) + 1)), folder


# ---- the lock


def pins() -> dict[str, str]:
    text = (ROOT / "requirements.lock").read_text()
    return dict(re.findall(r"^([a-z0-9-]+)==(\S+)", text, re.M))


def test_the_lock_holds_what_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    groups = project["dependency-groups"]
    wanted = project["build-system"]["requires"] + project["project"]["dependencies"] + groups["build"] + groups["dev"]
    for requirement in map(Requirement, wanted):
        pin = pins().get(canonicalize_name(requirement.name))
        assert pin is not None, f"{requirement.name} is not locked: tests/lock"
        assert requirement.specifier.contains(pin), f"{requirement} but {pin} is locked: tests/lock"


def test_every_part_that_is_set_up_has_its_licence_told() -> None:
    text = (ROOT / "requirements.lock").read_text()
    to_run = text.partition("# ---- to run")[2].partition("# ---- to check and test")[0]
    names = re.findall(r"^([a-z0-9-]+)==", to_run, re.M)
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"].values()
    names += [canonicalize_name(Requirement(each).name) for extra in extras for each in extra]
    told = set(re.findall(r"[a-z0-9-]+", (DOCS / "licences.md").read_text().lower()))
    assert len(names) > 40
    assert [name for name in names if name not in told] == []


def test_every_pin_carries_its_hashes_and_no_address() -> None:
    text = (ROOT / "requirements.lock").read_text()
    for line in re.sub(r" \\\n", " ", text).splitlines():
        assert line.startswith("#") or re.fullmatch(r"[a-z0-9-]+==\S+( ; [^-]*?)?( +--hash=sha256:[0-9a-f]{64})+", line)


# ---- README and the other pages


def test_readme_opens_with_the_job() -> None:
    first = (ROOT / "README.md").read_text("utf-8").split("\n\n")[1]
    assert not first.startswith(("#", "!", "```"))
    for word in ("alone", "night", "frame", "exposure", "dusk", "Never losing a frame"):
        assert word in first, word


def test_readme_has_the_two_commands_first() -> None:
    lines = list(code_lines(ROOT / "README.md"))
    assert lines[:2] == ["systemd/setup && .venv/bin/duskhand demo", "tests/run"]


def anchors(text: str) -> set[str]:
    """What the headings of a Markdown text can be linked by: GitHub's rule, from memory."""
    found: list[str] = []
    prose = re.sub(r"^ *```.*?^ *```", "", text, flags=re.S | re.M)
    for heading in re.findall(r"^ {0,3}#{1,6} +(.+?)(?: +#+)? *$", prose, re.M):
        shown = re.sub(r"\[([^]]*)\]\([^)]*\)", r"\1", heading).replace("`", "").replace("*", "")
        found.append(re.sub(r"[^\w\- ]", "", shown.lower()).replace(" ", "-"))
    return {slug if found[:i].count(slug) == 0 else f"{slug}-{found[:i].count(slug)}" for i, slug in enumerate(found)}


def test_anchors_are_lower_case_words_with_hyphens() -> None:
    text = "# `A b`: C, d's\n```sh\n# none\n```\n## Why – and [how](x.md)?\n## Why\n### Why\n## Überhang 2.0 #\n"
    assert anchors(text) == {"a-b-c-ds", "why--and-how", "why", "why-1", "überhang-20"}


@pytest.mark.parametrize("page", named(pages()))
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text("utf-8")):
        if re.match(r"https?:|mailto:", target):
            continue
        name, _, anchor = target.partition("#")
        there = page.parent / name if name else page
        assert there.exists(), target
        if anchor:
            assert anchor in anchors(there.read_text("utf-8")), target


def parser_of(command: str) -> argparse.ArgumentParser:
    class Parser(argparse.ArgumentParser):
        def error(self, message: str) -> Any:
            raise AssertionError(f"duskhand {command}: {message}")

    parser = Parser(prog=f"duskhand {command}")
    module_of(command).add(parser)
    return parser


@pytest.mark.parametrize("page", named(pages()))
def test_command_lines_in_pages_can_be_given(page: Path) -> None:
    for words in (words for line in code_lines(page) for words in commands_in(line)):
        words = words[1:] if words[0] == "sudo" else words
        if words[0] == "duskhand" or words[0].endswith(".venv/bin/duskhand"):
            if words[1:] != ["--help"]:
                parser_of(words[1]).parse_args(words[2:])
        elif "/" in words[0] and not words[0].startswith(".venv/"):
            assert os.access(ROOT / words[0], os.X_OK), words


def blocks(page: Path, language: str) -> list[str]:
    """The fenced blocks of a language of a page."""
    found = re.findall(rf"^ *```{language}\n(.*?)^ *```", page.read_text("utf-8"), re.S | re.M)
    return [dedent(block) for block in found]


def plans_in(page: Path) -> dict[str, dict[str, Any]]:
    """The plans of a page that say in their first line in which file they stand, as documents, by that name."""
    named_ones = ((re.match(r"# (\S+\.toml)\n", block), block) for block in blocks(page, "toml"))
    return {match[1]: tomllib.loads(block) for match, block in named_ones if match and "[when]" in block}


# ---- what measures


def test_every_program_that_measures_is_run_by_the_one_command() -> None:
    runnable = {
        path.parent.name if path.name == "__main__.py" else path.stem
        for path in [*(ROOT / "tests/bench").glob("*.py"), *(ROOT / "tests/bench").glob("*/__main__.py")]
        if 'if __name__ == "__main__":' in path.read_text("utf-8") and path != ROOT / "tests/bench/__main__.py"
    }
    floors = {"clients", "far_end", "sleeper"}  # run by others
    assert {words.split()[0] for words in {**SHORT, **LONG}} == runnable - floors | set(ELSEWHERE)


def test_every_figure_is_printed_beside_a_floor() -> None:
    """As a ratio; or it is said why there is none. What was found is kept in docs/measurements.md."""
    programs = {
        name: "".join(path.read_text("utf-8") for path in paths)
        for name in {words.split()[0] for words in {**SHORT, **LONG}} - set(ELSEWHERE)
        if (paths := [*(ROOT / "tests/bench").glob(f"{name}.py"), *(ROOT / "tests/bench").glob(f"{name}/*.py")])
    }
    shared = {"kills", "power_cuts"}  # by tests/bench/abrupt.py
    without = {name for name, text in programs.items() if "ratio(" not in text} - shared
    assert without | set(ELSEWHERE) == set(COUNTED)
    assert "ratio(" in (ROOT / "tests/bench/abrupt.py").read_text("utf-8")
    kept = (DOCS / "measurements.md").read_text("utf-8")
    modules = [ELSEWHERE.get(name, f"tests.bench.{name}") for name in (*programs, *ELSEWHERE)]
    assert [module for module in modules if not re.search(rf"python -m {module}\b", kept)] == []
