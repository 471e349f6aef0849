"""Pieces of a page of HTML. Every text that comes in is text: what it holds of HTML is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape


def tag(name: str, text: str, **attributes: str) -> str:
    """An element with a text."""
    given = "".join(f' {key.rstrip("_")}="{escape(value)}"' for key, value in attributes.items())
    return f"<{name}{given}>{escape(text)}</{name}>"


def paragraph(text: str, **attributes: str) -> str:
    return tag("p", text, **attributes) if text else ""


def section(title: str, *parts: str) -> str:
    """A section under its heading; nothing where it would be empty."""
    inner = "".join(parts)
    return f"<section>{tag('h2', title)}{inner}</section>" if inner else ""


def terms(rows: Iterable[tuple[str, str | None]]) -> str:
    """A list of terms; one that is not known is left out."""
    inner = "".join(f"{tag('dt', name)}{tag('dd', text)}" for name, text in rows if text)
    return f"<dl>{inner}</dl>" if inner else ""


def listed(lines: Iterable[str]) -> str:
    inner = "".join(tag("li", line) for line in lines)
    return f"<ul>{inner}</ul>" if inner else ""


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], words: Sequence[int] = ()) -> str:
    """A table whose first column names its rows; columns in `words` hold words and not figures."""
    kinds = [{"class_": "words"} if place in words else {} for place in range(len(head))]
    body = "".join(
        f"<tr>{tag('th', row[0], scope='row')}"
        + "".join(tag("td", cell, **kind) for cell, kind in zip(row[1:], kinds[1:], strict=True))
        + "</tr>"
        for row in rows
    )
    if not body:
        return ""
    heads = "".join(tag("th", name, scope="col", **kind) for name, kind in zip(head, kinds, strict=True))
    return f"<table>{tag('caption', caption)}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"


def figure(svg: str, caption: str) -> str:
    return f"<figure>{svg}{tag('figcaption', caption)}</figure>" if svg else ""
