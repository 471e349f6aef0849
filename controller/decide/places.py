"""The document places.toml: second places for a rig's files, and how they are reached. It may hold secrets."""

from __future__ import annotations

import re
import tomllib
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, Strict, ValidationError, model_validator

from controller.decide import plan_hints
from controller.decide.plan.tables import Number, Table
from controller.decide.plan_errors import Sense, plain, refuse, shown
from controller.decide.plan_lines import line_of
from controller.decide.retention import RIG
from controller.words.errors import BadInput

MOST = 8
"""Places of one rig at most: each takes a process while there is something to copy."""

_NAME = re.compile(r"[a-z][a-z0-9-]{0,30}")
Text = Annotated[str, Field(min_length=1, max_length=1000)]
Rate = Annotated[Number, Field(ge=1, le=10_000_000, description="kB a second at most, both ways; none: no cap")]


class Place(Table):
    """What every kind of place has."""

    secret: ClassVar[tuple[str, ...]] = ()  # keys that nobody is shown

    rate_kb_s: Rate | None = None

    def settings(self) -> dict[str, Any]:
        """For the process that reaches it, JSON-able, secrets and all."""
        return self.model_dump()


class DirectoryPlace(Place):
    """A disk that is mounted, or a share."""

    kind: Literal["directory"]
    path: Annotated[Text, Field(pattern="^/", description="a directory that is there once the disk is mounted")]
    own_disk: Annotated[bool, Strict(), Field(description="also where it lies on the rig's own disk")] = False

    @property
    def target(self) -> str:
        return f"directory {self.path}"


class SftpPlace(Place):
    """A server that speaks SFTP."""

    secret = ("password",)

    kind: Literal["sftp"]
    host: Annotated[str, Field(pattern=r"^[A-Za-z0-9_.:-]+$", max_length=253)]
    port: Annotated[int, Strict(), Field(ge=1, le=65535)] = 22
    user: Text
    path: Annotated[Text, Field(description="a directory there; without / at its beginning, below the user's own")] = (
        "."
    )
    host_key: Annotated[str, Field(description="the server's public key, as one line of known_hosts has it")] = ""
    key_file: Annotated[Text, Field(pattern="^/", description="a private key without a passphrase")] | None = None
    password: Text | None = None

    @model_validator(mode="after")
    def _sense(self) -> SftpPlace:
        if (self.key_file is None) == (self.password is None):
            what = "neither is there" if self.key_file is None else "both are there"
            refuse("key_file", f"key_file or password: {what}", "Give one of the two; a key is safer")
        return self

    @property
    def target(self) -> str:
        return f"sftp {self.user}@{self.host}:{self.port} {self.path}"


class S3Place(Place):
    """A bucket of a store that speaks S3."""

    secret = ("access_key", "secret_key")

    kind: Literal["s3"]
    endpoint: Annotated[str, Field(pattern=r"^https?://[^/\s]+$", max_length=300, description="without a path")]
    bucket: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]$")]
    prefix: Annotated[str, Field(pattern=r"^([^/\s]+/)*$", max_length=300, description="ends in /")] = ""
    region: Text = "us-east-1"
    access_key: Text
    secret_key: Text

    @property
    def target(self) -> str:
        return f"s3 {self.endpoint} {self.bucket} {self.prefix}"


AnyPlace = DirectoryPlace | SftpPlace | S3Place
KINDS: dict[str, type[AnyPlace]] = {"directory": DirectoryPlace, "sftp": SftpPlace, "s3": S3Place}


def read_places(text: str) -> dict[str, AnyPlace]:
    """Places by name, from TOML. Raises BadInput (bad-places) with the first error, which quotes no secret."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _bad(f"not TOML: {error}", "", "Put texts in quotes, one key a line") from None  # nothing is quoted here
    except (ValueError, RecursionError) as error:
        raise _bad(f"not TOML that can be read: {error}", "", "Write plain tables") from None
    if len(document) > MOST:
        raise _bad(f"{len(document)} places", "", f"Use {MOST} at most")
    places: dict[str, AnyPlace] = {}
    for name, table in document.items():
        places[name] = place = _place(name, table, text)
        twin = next((other for other in places if other != name and places[other].target == place.target), None)
        if twin is not None:
            raise _bad(f"is the same place as [{twin}]", f"[{name}]", "A second copy there is no second copy")
    return places


def _place(name: str, table: object, text: str) -> AnyPlace:
    where = f"[{name}]"
    if not _NAME.fullmatch(name) or name == RIG:
        what = f"{shown(name)} cannot be a place's name"
        raise _bad(what, "", f"Use small letters, digits and '-', 31 at most, and not '{RIG}'")
    if not isinstance(table, dict):
        raise _bad(f"{name} is no table", "", f"Write [{name}], and its keys below it")
    kind = KINDS.get(str(table.get("kind")))
    if kind is None:
        what = "is missing" if "kind" not in table else f"{shown(table['kind'])} is no kind of place"
        raise _bad(what, f"{where} kind", 'Use "directory", "sftp" or "s3"')
    try:
        return kind.model_validate(table)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        raise _refused(
            name, kind, next((e for e in errors if e["type"] == "extra_forbidden"), errors[0]), text
        ) from None


def _refused(name: str, kind: type[AnyPlace], error: Any, text: str) -> BadInput:
    place: tuple[str | int, ...] = (name, *error["loc"])
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, Sense):
        what, remedy, place = cause.what, cause.remedy, (name, cause.key)
    elif error["type"] == "extra_forbidden":
        known = list(kind.model_fields)
        near = plan_hints.nearest(str(place[-1]), known)
        what, remedy = "unknown key", f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}"
    elif error["type"] == "missing":
        what, remedy = "is missing", "Add it; docs/storage.md lists every key"
    elif place[-1] in kind.secret:
        what, remedy = "cannot be used", "Write a text in quotes"
    elif error["type"] == "string_pattern_mismatch":
        what, remedy = f"{shown(error['input'])} cannot be used", "See docs/storage.md for its form"
    else:
        what, remedy = plain(error)
    line = line_of(text, place)
    where = " ".join([f"[{name}]", *(str(part) for part in place[1:])])
    return _bad(what, where if line is None else f"line {line}, {where}", remedy)


def _bad(what: str, where: str, remedy: str) -> BadInput:
    return BadInput("bad-places", what, where, remedy)
