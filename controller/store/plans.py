"""Plans kept on the rig, each with its versions, and the rig's defaults. Each function is a job for `Database`.

A version is known by the SHA-256 of the document's JSON with sorted keys. A plan kept again as it is makes none.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from typing import Any

from controller.words.documents import PlanVersion
from controller.words.errors import Changed, Conflict, NotFound

VERSIONS_KEPT = 50
"""Of each plan; the oldest go first."""

ANY = "*"
"""In place of the version that is expected: any will do, but one there must be."""

Document = dict[str, Any]


def content_hash(document: Document) -> str:
    """The SHA-256 by which a plan's content is known, hexadecimal."""
    return hashlib.sha256(_text(document).encode()).hexdigest()


def put_plan(
    connection: sqlite3.Connection, name: str, document: Document, utc: float, expected: str | None = None
) -> str:
    """Keep or replace, `expected` being the version that is replaced where that matters; the new version's hash."""
    text, sha256 = _text(document), content_hash(document)
    row = connection.execute("SELECT sha256 FROM plans WHERE name = ?", (name,)).fetchone()
    _as_expected(name, None if row is None else str(row["sha256"]), expected)
    if row is not None and row["sha256"] == sha256:
        return sha256
    connection.execute(
        "INSERT INTO plans VALUES (?, ?, ?)"
        " ON CONFLICT (name) DO UPDATE SET document = excluded.document, sha256 = excluded.sha256",
        (name, text, sha256),
    )
    connection.execute(
        "INSERT INTO plan_versions (name, sha256, document, kept_utc) VALUES (?, ?, ?, ?)", (name, sha256, text, utc)
    )
    connection.execute(
        "DELETE FROM plan_versions WHERE name = ? AND key NOT IN"
        " (SELECT key FROM plan_versions WHERE name = ? ORDER BY key DESC LIMIT ?)",
        (name, name, VERSIONS_KEPT),
    )
    return sha256


def get_plan(connection: sqlite3.Connection, name: str) -> Document:
    return _document(_row(connection, name)["document"])


def plans(connection: sqlite3.Connection) -> dict[str, Document]:
    rows = connection.execute("SELECT name, document FROM plans ORDER BY name")
    return {row["name"]: json.loads(row["document"]) for row in rows}


def delete_plan(connection: sqlite3.Connection, name: str, expected: str | None = None) -> None:
    """With its versions."""
    _as_expected(name, str(_row(connection, name)["sha256"]), expected)
    connection.execute("DELETE FROM plan_versions WHERE name = ?", (name,))
    connection.execute("DELETE FROM plans WHERE name = ?", (name,))


def copy_plan(connection: sqlite3.Connection, name: str, new: str, utc: float) -> Document:
    """The same plan once more, under another name; its versions begin with the copy."""
    document = {**get_plan(connection, name), "name": new}
    _free(connection, new)
    put_plan(connection, new, document, utc)
    return document


def rename_plan(connection: sqlite3.Connection, name: str, new: str, utc: float) -> Document:
    """The same plan under another name, which is a new version of it; earlier ones come along."""
    document = {**get_plan(connection, name), "name": new}
    if new != name:
        _free(connection, new)
        connection.execute("UPDATE plans SET name = ? WHERE name = ?", (new, name))
        connection.execute("UPDATE plan_versions SET name = ? WHERE name = ?", (new, name))
        put_plan(connection, new, document, utc)
    return document


def plan_versions(connection: sqlite3.Connection, name: str) -> list[PlanVersion]:
    """Newest first."""
    _row(connection, name)
    rows = connection.execute(
        "SELECT sha256, kept_utc FROM plan_versions WHERE name = ? ORDER BY key DESC", (name,)
    ).fetchall()
    return [PlanVersion(sha256=row["sha256"], kept_utc=row["kept_utc"]) for row in rows]


def plan_version(connection: sqlite3.Connection, name: str, sha256: str) -> Document:
    """As it was, but for a name that it had before a renaming: it can be put where it was asked for."""
    row = connection.execute(
        "SELECT document FROM plan_versions WHERE name = ? AND sha256 = ? ORDER BY key DESC", (name, sha256)
    ).fetchone()
    if row is None:
        remedy = f"List its versions with GET /api/v1/plans/{name}/versions"
        raise NotFound("no-such-version", "this plan has no version of that hash", f"{name}, {sha256[:64]}", remedy)
    return {**_document(row["document"]), "name": name}


def put_defaults(connection: sqlite3.Connection, document: Document) -> None:
    connection.execute("INSERT OR REPLACE INTO defaults VALUES (1, ?)", (_text(document),))


def defaults(connection: sqlite3.Connection) -> Document:
    row = connection.execute("SELECT document FROM defaults").fetchone()
    return {} if row is None else _document(row["document"])


def _text(document: Document) -> str:
    return json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _document(text: str) -> Document:
    document: Document = json.loads(text)
    return document


def _row(connection: sqlite3.Connection, name: str) -> sqlite3.Row:
    there = (name.encode("utf-8", "replace").decode(),)  # JSON may bring halves of characters, which SQLite refuses
    row: sqlite3.Row | None = connection.execute("SELECT * FROM plans WHERE name = ?", there).fetchone()
    if row is None:
        remedy = "List them with GET /api/v1/plans"
        raise NotFound("no-such-plan", "no plan of this name is kept on the rig", name, remedy)
    return row


def _free(connection: sqlite3.Connection, name: str) -> None:
    if connection.execute("SELECT 1 FROM plans WHERE name = ?", (name,)).fetchone() is not None:
        what = f"a plan named {name} is kept on the rig already"
        raise Conflict("plan-exists", what, "name", "Give another name, or delete that plan first")


def _as_expected(name: str, there: str | None, expected: str | None) -> None:
    if expected is not None and expected != there and (expected != ANY or there is None):
        if there is None:
            remedy = "Leave If-Match out to keep it as a new plan"
            raise Changed("plan-changed", "no plan of this name is kept, or it is gone meanwhile", name, remedy)
        remedy = f"Read it again with GET /api/v1/plans/{name}, then change that"
        raise Changed("plan-changed", "the plan was changed meanwhile", name, remedy)
