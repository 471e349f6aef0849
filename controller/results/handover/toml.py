"""A plan as the TOML that a person would write (TOML 1.0); Python reads it and has nothing that writes it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def plan_toml(plan: Mapping[str, Any]) -> str:
    """Values first, then tables; what is null is left out, as TOML has no word for it."""
    return "\n".join(_table(plan, ())) + "\n"


def _table(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    for name, value in table.items():
        if value is not None and not isinstance(value, Mapping):
            yield f"{_key(name)} = {_value(value)}"
    for name, value in table.items():
        if isinstance(value, Mapping):
            here = (*path, name)
            yield f"\n[{'.'.join(map(_key, here))}]"
            yield from _table(value, here)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(name)} = {_value(each)}" for name, each in value.items() if each is not None)
        return f"{{ {inside} }}" if inside else "{}"
    return f"[{', '.join(_value(each) for each in value if each is not None)}]"


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(text: str) -> str:
    # a basic string of TOML is a string of JSON, but that DEL is escaped too
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
