"""Errors that a person can act on: a stable code, what happened, where, and the remedy."""

from __future__ import annotations

from dataclasses import dataclass

from controller.words.phrases import with_remedy


@dataclass(eq=False)
class DuskhandError(Exception):
    """An error with a remedy; `code` is stable and listed in docs, `retryable` says whether trying again can help."""

    code: str
    what: str
    where: str = ""
    remedy: str = ""
    retryable: bool = False

    def __str__(self) -> str:
        """One line: where, what, remedy."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return with_remedy(head, self.remedy)


class BadInput(DuskhandError):
    """The caller's input cannot be used as it is: exit code 2, or a 4xx."""


class NotFound(BadInput):
    """What was asked for by name does not exist."""


class Conflict(BadInput):
    """The request is well formed, but not possible in the present state."""


class Changed(Conflict):
    """What was to be changed is no longer what the caller believes it to be."""


class CameraError(DuskhandError):
    """A camera did not do what was asked of it."""


class StoreError(DuskhandError):
    """The frame log or a file could not be written or read."""


class WiringError(DuskhandError):
    """A pin, or what hangs on it, did not do what was asked of it."""


@dataclass(eq=False)
class CopyError(DuskhandError):
    """A copy could not be made or read back; `file`: this file is to blame, not the place."""

    file: bool = False
