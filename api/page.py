"""The page: static files that the rig itself serves, with nothing from outside.

Scripts go out without their comments, which are a third of them. Two files are put together for whoever asks, so that
the first thing on the screen is right at once: `index.html` comes with its style sheet and with what is now inside, in
the theme that suits the light at the rig, and knows what the device may do; `js/words.js` is that of the device's
language.
"""

from __future__ import annotations

import base64
import hashlib
import mimetypes
import os
import re
from functools import cache, lru_cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import Scope

from api.guard import Visitor
from api.rig import Rig
from controller.words.documents import Now

WEB = Path(__file__).parent.parent / "web"

DUSK_DEG = -6.0
"""Sun's altitude, degrees, below which the page is for eyes that are used to the dark: civil dusk."""

THEMES = ("night", "day")

_COMMENTS = re.compile(r"^[ \t]*//[^\n]*\n|^[ \t]*/\*\*.*?\*/[ \t]*\n", re.MULTILINE | re.DOTALL)
_REMARKS = re.compile(  # after code whose quotes are all closed: what is told in a text stays
    r"""^((?:[^"'`\n/]|"[^"\n]*"|'[^'\n]*'|`[^`\n]*`|/(?!/))*?)[ \t]+//[ ][^\n]*$""", re.MULTILINE
)
_INDENT = re.compile(r"^[ \t\n]+", re.MULTILINE)  # and empty lines
_SHEET = '<link rel="stylesheet" href="page.css">'
_ROOT = '<html lang="en" data-theme="night">'
_NOW = "<!-- now -->"

mimetypes.add_type("application/manifest+json", ".webmanifest")
mimetypes.add_type("text/javascript", ".js")


class Page(StaticFiles):
    """The files of `web/`."""

    def __init__(self, rig: Rig) -> None:
        super().__init__(directory=WEB, html=True)
        self._rig = rig

    async def get_response(self, path: str, scope: Scope) -> Response:
        if scope["method"] in ("GET", "HEAD"):
            if path in (".", "index.html"):
                return await self._front(Request(scope))
            if path == "js/words.js":
                return self._script(WEB / "words" / f"{language(Request(scope))}.js", scope, "Cookie, Accept-Language")
            if path.endswith(".js") and (found := self.lookup_path(path))[1] is not None:
                return self._script(Path(found[0]), scope, None)
        return await super().get_response(path, scope)

    def file_response(
        self, full_path: str | os.PathLike[str], stat_result: os.stat_result, scope: Scope, status_code: int = 200
    ) -> Response:
        response = super().file_response(full_path, stat_result, scope, status_code)
        response.headers.update(_headers())
        return response

    async def _front(self, request: Request) -> Response:
        visitor: Visitor | None = getattr(request.state, "visitor", None)
        rights = visitor.rights if visitor is not None else None
        now = await self._rig.now()
        theme = _theme(request, now)
        root = f'<html lang="{language(request)}" data-theme="{theme}" data-rights="{rights or "none"}">'
        told = now.model_dump_json().replace("<", "\\u003c")  # so that no text of it ends the element
        block = f'<script type="application/json" id="first-now">{told}</script>' if rights is not None else ""
        body = _index().replace(_ROOT, root, 1).replace(_NOW, block, 1).encode()
        headers = _headers("Cookie, Accept-Language") | {"Cache-Control": "no-store"}
        return Response(body, media_type="text/html", headers=headers)

    def _script(self, path: Path, scope: Scope, vary: str | None) -> Response:
        body, tag = _lean(path, path.stat().st_mtime_ns)
        headers = _headers(vary) | {"ETag": tag}
        return _unless_known(Request(scope), Response(body, media_type="text/javascript", headers=headers))


def _theme(request: Request, now: Now) -> str:
    """The one that the device asks for, else by the sun at the rig's place; night's where that is not known."""
    if (wanted := request.cookies.get("theme")) in THEMES:
        return str(wanted)
    return "night" if now.sun_altitude_deg is None or now.sun_altitude_deg < DUSK_DEG else "day"


def language(request: Request) -> str:
    """The language of the page for whoever asks: what the device chose, else what its browser prefers, else English."""
    known = _languages()
    if (chosen := request.cookies.get("language")) in known:
        return str(chosen)
    wanted: list[tuple[float, str]] = []
    for part in request.headers.get("accept-language", "").split(","):  # RFC 9110, section 12.5.4
        tag, _, weight = part.strip().partition(";q=")
        try:
            wanted.append((float(weight or 1), tag.partition("-")[0].lower()))
        except ValueError:
            continue
    return next((tag for weight, tag in sorted(wanted, key=lambda one: -one[0]) if weight > 0 and tag in known), "en")


def _unless_known(request: Request, answer: Response) -> Response:
    known = [tag.strip().removeprefix("W/") for tag in request.headers.get("if-none-match", "").split(",")]
    if answer.headers["etag"] not in known:
        return answer
    unchanged = NotModifiedResponse(answer.headers)
    unchanged.headers.update(_headers())  # a browser takes the policy of the newest answer, and this is one
    return unchanged


@lru_cache(maxsize=256)
def _lean(path: Path, _changed_ns: int) -> tuple[bytes, str]:
    """A script as it goes out, and its entity tag. Comments and indents are taken out: nothing that runs."""
    body = _INDENT.sub("", _REMARKS.sub(r"\1", _COMMENTS.sub("", path.read_text()))).encode()
    return body, f'"{hashlib.sha256(body).hexdigest()[:32]}"'


@cache
def _languages() -> frozenset[str]:
    return frozenset(path.stem for path in (WEB / "words").glob("*.js"))


@cache
def _sheet() -> str:
    return (WEB / "page.css").read_text()


@cache
def _index() -> str:
    """The page with its style sheet inside: one answer less to wait for before anything is seen."""
    index = (WEB / "index.html").read_text()
    if missing := [mark for mark in (_SHEET, _ROOT, _NOW) if mark not in index]:
        raise RuntimeError(f"web/index.html has lost {', '.join(missing)}")
    return index.replace(_SHEET, f"<style>{_sheet()}</style>", 1)


@cache
def _policy() -> str:
    sheet = base64.b64encode(hashlib.sha256(_sheet().encode()).digest()).decode()
    kept = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    return f"default-src 'self'; style-src 'self' 'sha256-{sheet}'; {kept}"


def _headers(vary: str | None = None) -> dict[str, str]:
    # No build step gives files a name per version, so a browser asks each time whether its copy is still right.
    headers = {"Cache-Control": "no-cache", "Content-Security-Policy": _policy()}
    return headers | ({"Vary": vary} if vary else {})
