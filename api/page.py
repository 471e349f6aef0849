"""The page: static files that the rig itself serves, with nothing from outside."""

from __future__ import annotations

import mimetypes
import os
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

WEB = Path(__file__).parent.parent / "web"

HEADERS = {
    # No build step gives files a name per version, so a browser asks each time whether its copy is still right.
    "Cache-Control": "no-cache",
    "Content-Security-Policy": "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
}

mimetypes.add_type("application/manifest+json", ".webmanifest")
mimetypes.add_type("text/javascript", ".js")


class Page(StaticFiles):
    """The files of `web/`."""

    def __init__(self) -> None:
        super().__init__(directory=WEB, html=True)

    def file_response(
        self, full_path: str | os.PathLike[str], stat_result: os.stat_result, scope: Scope, status_code: int = 200
    ) -> Response:
        response = super().file_response(full_path, stat_result, scope, status_code)
        response.headers.update(HEADERS)
        return response
