"""The pages for users: sorted, reachable, and true.

What they show is given to the code that would read it, and what they say that the program prints is printed.
"""

from __future__ import annotations

import functools
import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

import pytest

from api.app import create_app
from api.rig import Rig
from controller.decide.places import read_places
from controller.decide.plan import plan_from, read_plan
from controller.decide.wiring import read_wiring
from controller.store import Store
from controller.store.files import database_path
from tests.test_house import DOCS, ROOT, blocks, code_lines, named, pages

INDEX = DOCS / "README.md"
SECTIONS = ["To begin with: a tutorial", "How-to", "Safety", "Reference", "Explanation", "Decisions", "Changes"]
DUSKHAND = [sys.executable, "-c", "import sys; from controller.commands import main; sys.exit(main())"]
PURE = ("plan", "rehearse", "sky")  # commands that need no rig: what they print depends on what they are given alone
LEFT_OUT = "…"


# ---- the index


def linked(page: Path) -> Iterator[Path]:
    """The pages of docs that a page links to; a folder stands for the pages in it."""
    for target in re.findall(r"\]\(([^)\s#]+)(?:#[^)\s]*)?\)", page.read_text("utf-8")):
        there = (page.parent / target).resolve()
        if there.is_dir():
            yield from there.glob("*.md")
        elif there.suffix == ".md":
            yield there


def in_docs() -> set[Path]:
    return {page for page in pages() if page.is_relative_to(DOCS)}


def test_every_page_is_listed_in_the_index_once() -> None:
    listed = [page for page in linked(INDEX) if page.is_relative_to(DOCS)]
    assert sorted(listed) == sorted(in_docs() - {INDEX})


def test_the_index_has_its_sections_and_readme_leads_to_it() -> None:
    assert re.findall("^## (.+)$", INDEX.read_text("utf-8"), re.M) == SECTIONS
    assert INDEX in set(linked(ROOT / "README.md"))


def test_every_picture_is_shown_and_small() -> None:
    shown = {
        (page.parent / target).resolve()
        for page in pages()
        for target in re.findall(r"!\[[^]]+\]\(([^)\s]+)\)", page.read_text("utf-8"))
    }
    there = set((DOCS / "pictures").iterdir())
    assert shown == there
    assert {path.name: size for path in there if (size := path.stat().st_size) > 80_000} == {}


# ---- documents


def is_plan(document: dict[str, Any]) -> bool:
    return {"when", "light", "cameras", "site", "pace"} & set(document) != set()


@pytest.mark.parametrize("page", named(pages()))
def test_every_document_is_taken_by_the_code_that_reads_it(page: Path) -> None:
    """Whole plans, tables within a whole one, `rig.toml`, `places.toml`: a block that is none of them fails too."""
    whole = tomllib.loads(blocks(DOCS / "plan.md", "toml")[0])
    for text in blocks(page, "toml"):
        document = tomllib.loads(text)
        if "name" in document:
            read_plan(text)
        elif is_plan(document):
            merged = {key: whole[key] | document.get(key, {}) for key in whole if isinstance(whole[key], dict)}
            if "windows" in merged["when"]:
                merged["when"] = document["when"]
            plan_from(whole | document | merged)
        elif all("kind" in table for table in document.values()):
            read_places(text)
        else:
            read_wiring(text)


def bodies_in(page: Path) -> Iterator[tuple[str, str, Any]]:
    """Method, path and JSON body of the calls that a page shows: in its tables and lists, and as lines of curl."""
    for method, path, body in re.findall(r"`(POST|PUT) (/\S+?)` `(\{.+?\})`", page.read_text("utf-8")):
        yield method, path, body
    for line in code_lines(page):
        words = shlex.split(line)
        if words[0] == "curl" and "--json" in words:
            method = words[words.index("--request") + 1] if "--request" in words else "POST"
            path = re.sub("^https?://[^/]+", "", next(word for word in words if word.startswith("http")))
            yield method, path, words[words.index("--json") + 1]


@functools.cache
def routes() -> list[Any]:
    """Every route of the app, those of its routers with their whole paths."""
    parts = create_app(cast("Rig", None)).routes
    return [
        route
        for part in parts
        if hasattr(part, "effective_route_contexts")
        for route in part.effective_route_contexts()
    ]


def route_of(method: str, path: str) -> Any:
    shown = re.sub(r"\{\w+\}", "x", path)
    found = [route for route in routes() if method in route.methods and route.path_regex.fullmatch(shown)]
    assert len(found) == 1, (method, path)
    return found[0]


PLACEHOLDERS = {"NEW": '"another"', "NAME or document": '"quay-at-dusk"'}


@pytest.mark.parametrize("page", named([page for page in pages() if list(bodies_in(page))]))
def test_every_body_of_a_call_is_taken(page: Path) -> None:
    for method, path, shown in bodies_in(page):
        body = shown
        for word, value in PLACEHOLDERS.items():
            body = body.replace(word, value)
        field = route_of(method, path).body_field
        assert field is not None, (path, "takes no body")
        _, errors = field.validate(json.loads(body), {}, loc=("body",))
        assert not errors, (path, shown, errors)


# ---- what is printed


def outputs_in(page: Path) -> Iterator[tuple[list[str], list[str]]]:
    """Each command of a page after which it says what is printed, with those lines."""
    told = page.read_text("utf-8")
    found = re.findall(r"^```sh\n(.+)\n```\n(?:\n.*\n)?\n```text\n((?:.*\n)*?)```", told, re.M)
    assert len(found) == len(re.findall("^ *```text", told, re.M)), "what is printed follows a block of one command"
    for line, shown in found:
        yield shlex.split(line)[1:], shown.splitlines()


def prepare(page: Path, directory: Path) -> None:
    """The files that a page has one save, and the log of a rig where it has a rig."""
    for text in blocks(page, "toml"):
        if name := re.match(r"# (\S+\.toml)\n", text):
            (directory / name[1]).parent.mkdir(exist_ok=True)
            (directory / name[1]).write_text(text)
    (directory / "rig").mkdir(exist_ok=True)


def printed(command: list[str], directory: Path) -> list[str]:
    environment = {**os.environ, "COLUMNS": "80", "DUSKHAND_DIR": str(directory / "no-rig"), "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [*DUSKHAND, *command], cwd=directory, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def missing(shown: list[str], out: list[str]) -> str | None:
    """The first line shown that is not printed: they follow each other as shown, but where some are left out."""
    at, may_skip = 0, True
    for line in shown:
        if line == LEFT_OUT:
            may_skip = True
            continue
        found = next((i for i in range(at, len(out)) if out[i] == line), None) if may_skip else at
        if found is None or found >= len(out) or out[found] != line:
            return line
        at, may_skip = found + 1, False
    return None


def test_lines_left_out_are_said_to_be() -> None:
    out = ["a", "b", "", "c", "d"]
    assert missing(["b", "", "c"], out) is None
    assert missing(["a", LEFT_OUT, "d"], out) is None
    assert missing(["a", "c"], out) == "c"
    assert missing(["c", LEFT_OUT, "b"], out) == "b"
    assert missing(["d", "e"], out) == "e"


@pytest.mark.asyncio
@pytest.mark.parametrize("page", named([page for page in pages() if "```text" in page.read_text("utf-8")]))
async def test_what_pages_say_is_printed(page: Path, tmp_path: Path) -> None:
    prepare(page, tmp_path)
    async with await Store.open(database_path(tmp_path / "rig")):
        """A log without a shoot, as `duskhand serve` leaves one that was started once."""
    for command, shown in outputs_in(page):
        assert command[0] in PURE, command
        assert missing(shown, printed(command, tmp_path)) is None, command


@pytest.mark.parametrize("page", named([DOCS / "first-night.md", *sorted((DOCS / "how-to").glob("*.md"))]))
def test_every_file_of_a_lesson_is_on_its_page(page: Path) -> None:
    """A plan that a command names is one that the page has told to save."""
    saved = {name[1] for text in blocks(page, "toml") if (name := re.match(r"# (\S+\.toml)\n", text))}
    text = "\n".join(code_lines(page))
    assert set(re.findall(r"(?<![\w/])@?([\w/-]+\.toml)", text)) <= saved
    assert {text.splitlines()[0] for text in blocks(page, "toml")} == {f"# {name}" for name in saved}
