"""The page's scripts as they go out: without comments, and a part of the page in one file.

What is written as many small modules would be as many requests, each a journey of its own on a weak link, and each
compressed by itself. So a part is sent as one script: its modules in order, each a function that gives what it exports.
There is no build step: a part is put together when it is asked for, and again when a file has changed.

`js/page.js` has all of `js/` in it and the words of the device's language, `js/sheets/sheets.js` all sheets,
`js/rooms/NAME.js` whatever is named `NAME-…` beside it; what is in `js/late/` goes out by itself. What belongs to
another part is imported from there, so that each module runs once. Of the language's forms only those that the modules
use are known here; any other is refused, not guessed.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

WORDS = "js/words.js"
"""By this name modules import the words; they are in `words/`, a file for each language."""

_COMMENTS = re.compile(r"^[ \t]*//[^\n]*\n|^[ \t]*/\*\*.*?\*/[ \t]*\n", re.MULTILINE | re.DOTALL)
_REMARKS = re.compile(  # after code whose quotes are all closed: what is told in a text stays
    r"""^((?:[^"'`\n/]|"[^"\n]*"|'[^'\n]*'|`[^`\n]*`|/(?!/))*?)[ \t]+//[ ][^\n]*$""", re.MULTILINE
)
_INDENT = re.compile(r"^[ \t\n]+", re.MULTILINE)  # and empty lines
_BREAK = re.compile(r"^((?:(?!//)[^\n])*[;{,(\[])\n", re.MULTILINE)  # where none is needed; no text runs over lines
_IMPORT = re.compile(r'^import (?:\* as (\w+)|\{([^}]*)\}) from "(\.[^"]+)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?function\*? ?|const |class )([\w$]+)", re.MULTILINE)
_ODD = re.compile(r"^(?:import\b(?!\()|export\b).*", re.MULTILINE)


class Scripts:
    """Those of a folder: the page's own, or a test's."""

    def __init__(self, web: Path) -> None:
        self._web = web
        self._joined = lru_cache(maxsize=64)(self._join)

    def is_part(self, name: str) -> bool:
        return _part_of(name) == name and (self._web / name).is_file()

    def part(self, name: str, language: str) -> tuple[bytes, str]:
        """A part in one script, and its entity tag."""
        names = sorted(file.relative_to(self._web).as_posix() for file in (self._web / name).parent.glob("*.js"))
        mine = [one for one in names if _part_of(one) == name] + ([WORDS] if name == _part_of(WORDS) else [])
        files = tuple((one, file, file.stat().st_mtime_ns) for one in mine for file in [self.file(one, language)])
        return self._joined(name, files)

    def file(self, name: str, language: str) -> Path:
        return self._web / (f"words/{language}.js" if name == WORDS else name)

    def _join(self, part: str, files: tuple[tuple[str, Path, int], ...]) -> tuple[bytes, str]:
        texts = {name: lean(file, changed_ns)[0].decode() for name, file, changed_ns in files}
        needs = {name: [_at(name, found[2]) for found in _IMPORT.findall(text)] for name, text in texts.items()}
        try:
            order = list(
                TopologicalSorter({name: [n for n in needs[name] if n in texts] for name in texts}).static_order()
            )
        except CycleError as error:
            raise RuntimeError(f"web: modules import each other in a circle: {error.args[1]}") from error
        given = {name: [found[1] for found in _EXPORT.findall(text)] for name, text in texts.items()}
        elsewhere: dict[str, set[str]] = {}
        for name in order:
            for other in needs[name]:
                if other not in texts:
                    elsewhere.setdefault(_part_of(other), set()).add(_variable(other))
        lines = [
            f'import {{ {", ".join(sorted(names))} }} from "{_way(part, other)}";' for other, names in elsewhere.items()
        ]
        lines += [_function(name, texts[name], given) for name in order]
        lines.append(f"export {{ {', '.join(map(_variable, order))} }};")
        if given[part]:
            lines.append(f"export const {{ {', '.join(given[part])} }} = {_variable(part)};")
        return _tagged("\n".join(lines) + "\n")


@lru_cache(maxsize=256)
def lean(path: Path, _changed_ns: int) -> tuple[bytes, str]:
    """A script by itself, and its entity tag. Comments and indents are taken out: nothing that runs."""
    return _tagged(_INDENT.sub("", _REMARKS.sub(r"\1", _COMMENTS.sub("", path.read_text()))))


def _tagged(text: str) -> tuple[bytes, str]:
    body = text.encode()
    return body, f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def _part_of(name: str) -> str:
    """The script with which the module `name` goes out."""
    folder, file = posixpath.split(name)
    if folder == "js/rooms":
        return f"{folder}/{file.removesuffix('.js').partition('-')[0]}.js"
    if folder == "js/late":
        return name
    return "js/sheets/sheets.js" if folder == "js/sheets" else "js/page.js"


def _at(name: str, other: str) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(name), other))


def _way(part: str, other: str) -> str:
    way = posixpath.relpath(other, posixpath.dirname(part))
    return way if way.startswith(".") else f"./{way}"


def _variable(name: str) -> str:
    return "$" + posixpath.basename(name).removesuffix(".js").replace("-", "_")


def _function(name: str, text: str, given: dict[str, list[str]]) -> str:
    """A module as a function that gives what it exports (ECMA-262, section 16.2)."""

    def brought(found: re.Match[str]) -> str:
        whole, some, other = found[1], found[2], _at(name, found[3])
        if whole:
            return f"const {whole} = {_variable(other)};\n"
        pairs = [one.split(" as ") for one in re.split(r",\s*", some.strip().rstrip(","))]
        if other in given and (missing := [pair[0] for pair in pairs if pair[0] not in given[other]]):
            raise RuntimeError(f"web/{name} imports {', '.join(missing)} from {other}, which does not export it")
        return f"const {{ {', '.join(': '.join(pair) for pair in pairs)} }} = {_variable(other)};\n"

    body = _EXPORT.sub(r"\1\2", _IMPORT.sub(brought, text))
    if odd := _ODD.search(body):
        raise RuntimeError(f"web/{name}: a form that api/scripts.py does not know: {odd[0]}")
    body = _BREAK.sub(r"\1", body)
    return f"const {_variable(name)} = (() => {{\n{body}return {{ {', '.join(given[name])} }};\n}})();"
