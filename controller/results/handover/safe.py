"""Names that every file system and every editor's machine takes: FAT, exFAT and NTFS are the narrowest.

Sources: "Naming Files, Paths, and Namespaces" (Microsoft Learn) for characters, device names and ends;
"exFAT file system specification" 7.7.3 for characters; "FAT: General Overview of On-Disk Format" 1.03 for the length of
long names; POSIX' NAME_MAX as Linux has it, 255 bytes.
"""

from __future__ import annotations

import re
import unicodedata

FORBIDDEN = re.compile(r'[\x00-\x1f\x7f"*:<>?\\|\ud800-\udfff]')
"""Characters that some of them refuse; '/' parts folders."""

_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.I | re.S)
_LONGEST = 255 - len(".part") - len(".jpeg")  # bytes, with what a name ends in while its file is on its way
_DEEPEST = 3  # folders below that of the pictures


def spelt(value: str) -> str:
    """A text of log or plan as part of a name: composed (NFC), and '_' for whatever may not stand in one."""
    return FORBIDDEN.sub("_", unicodedata.normalize("NFC", value)).replace("/", "_")


def key(name: str) -> str:
    """The same for names that are one file where case does not count."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def refusal(name: str) -> str | None:
    """Why a relative path cannot be a picture's name everywhere; None where it can."""
    parts = name.split("/")
    if len(parts) - 1 > _DEEPEST:
        return f"it lies {len(parts) - 1} folders deep: use {_DEEPEST} at most"
    for part in parts:
        if part in ("", ".", ".."):
            return "a folder or a file in it has no name" if not part else f"{part!r} leads out of the folder"
        if found := FORBIDDEN.search(part):
            return f"{found[0]!r} is refused by FAT, exFAT or NTFS"
        if part[0] == ".":
            return "a name that begins with '.' is hidden"
        if part[0] == " " or part[-1] in " .":
            return "Windows drops a space or a dot at the end of a name, and a space at its beginning"
        if _DEVICES.fullmatch(part):
            return f"Windows keeps {part.partition('.')[0]} for a device"
        if len(part.encode()) > _LONGEST:
            return f"{len(part.encode())} bytes are too long a name: {_LONGEST} at most"
    return None
