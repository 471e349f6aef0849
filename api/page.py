"""The page: static files that the rig itself serves, with nothing from outside.

Two files are put together for whoever asks, so that the first thing on the screen is right at once: `index.html` comes
with its style sheets and with what is now inside, in the theme that suits the light at the rig, and knows what the
device may do; `js/page.js` has the words of the device's language. How scripts go out is told in `api/scripts.py`.
"""

from __future__ import annotations

import mimetypes
import os
import re
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from api.guard import Visitor
from api.rig import Rig
from api.scripts import WORDS, Scripts, lean
from api.sealed import SHUT, hash_of
from api.unchanged import unless_known
from controller.words.documents import Now

WEB = Path(__file__).parent.parent / "web"
SCRIPTS = Scripts(WEB)

DUSK_DEG = -6.0
"""Sun's altitude, degrees, below which the page is for eyes that are used to the dark: civil dusk."""

THEMES = ("night", "day")

_SHEETS = re.compile(r'(?:^ *<link rel="stylesheet" href="[^"]+">\n)+', re.MULTILINE)
_ROOT = '<html lang="en" data-theme="night">'
_METAS = '<meta name="color-scheme" content="dark">\n  <meta name="theme-color" content="#000000">'
_NOW = "<!-- now -->"

mimetypes.add_type("application/manifest+json", ".webmanifest")
mimetypes.add_type("text/javascript", ".js")


class Page(StaticFiles):
    """The files of `web/`."""

    def __init__(self, rig: Rig) -> None:
        super().__init__(directory=WEB, html=True)
        self._rig = rig

    async def get_response(self, path: str, scope: Scope) -> Response:
        if scope["method"] == "GET":
            if path in (".", "index.html"):
                return await self._front(Request(scope))
            if SCRIPTS.is_part(path):
                return _script(SCRIPTS.part(path, language(Request(scope))), scope)
            if path.endswith(".js") and (path == WORDS or self.lookup_path(path)[1] is not None):
                file = SCRIPTS.file(path, language(Request(scope)))
                return _script(lean(file, file.stat().st_mtime_ns), scope)
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
        look = theme(request, now)
        root = f'<html lang="{language(request)}" data-theme="{look}" data-rights="{rights or "none"}">'
        told = now.model_dump_json().replace("<", "\\u003c")  # so that no text of it ends the element
        block = f'<script type="application/json" id="first-now">{told}</script>' if rights is not None else ""
        body = _index().replace(_ROOT, root, 1).replace(_METAS, _metas(look), 1).replace(_NOW, block, 1).encode()
        headers = _headers("Cookie, Accept-Language") | {"Cache-Control": "no-store"}
        return Response(body, media_type="text/html", headers=headers)


def _script(made: tuple[bytes, str], scope: Scope) -> Response:
    body, tag = made
    headers = _headers("Cookie, Accept-Language") | {"ETag": tag}
    script = Response(body, media_type="text/javascript", headers=headers)
    answer = unless_known(Request(scope).headers.get("if-none-match"), script)
    if answer is not script:
        answer.headers.update(_headers())  # a browser takes the policy of the newest answer, and this is one
    return answer


def theme(request: Request, now: Now) -> str:
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


@cache
def _languages() -> frozenset[str]:
    return frozenset(path.stem for path in (WEB / "words").glob("*.js"))


@cache
def _sheet() -> str:
    """All style sheets of the page as one, in their order."""
    named = re.findall('href="([^"]+)"', found[0] if (found := _SHEETS.search(_markup())) else "")
    return "".join((WEB / name).read_text() for name in named)


@cache
def _markup() -> str:
    return (WEB / "index.html").read_text()


@cache
def _index() -> str:
    """The page with its style sheets inside: none to wait for before something is seen or a room is entered."""
    index = _markup()
    if missing := [mark for mark in (_ROOT, _METAS, _NOW) if mark not in index]:
        raise RuntimeError(f"web/index.html has lost {', '.join(missing)}")
    return _SHEETS.sub(lambda _: f"<style>{_sheet()}</style>\n", index, count=1)


@cache
def _metas(look: str) -> str:
    """What a browser paints before it has read the style sheet, and around the page, in a theme."""
    day = re.search(r'data-theme="day"\] \{.*?--ground: (#\w+)', _sheet(), re.DOTALL)
    if look == "night" or day is None:
        return _METAS
    return _METAS.replace('"dark"', '"light"').replace("#000000", day[1])


def dressed(look: str) -> tuple[str, str, str]:
    """For a page beside ours: what a browser paints before the style sheet, that sheet, the policy that lets it in."""
    return _metas(look), _sheet(), _policy()


@cache
def _policy() -> str:
    return f"default-src 'self'; style-src 'self' {hash_of(_sheet())}; {SHUT}"


def _headers(vary: str | None = None) -> dict[str, str]:
    # No build step gives files a name per version, so a browser asks each time whether its copy is still right.
    headers = {"Cache-Control": "no-cache", "Content-Security-Policy": _policy()}
    return headers | ({"Vary": vary} if vary else {})
