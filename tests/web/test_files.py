"""The page's files as the rig serves them: whole, small, kept right by browsers, and with nothing from outside."""

import json
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from api import create_app
from api.page import WEB
from controller.daemon import Rig
from controller.words.clock import WallClock

FILES = sorted(path.relative_to(WEB).as_posix() for path in WEB.rglob("*") if path.is_file())
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",  # RFC 9239, section 6
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",  # W3C Web Application Manifest, section 5
}


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    app = create_app(Rig(tmp_path, WallClock()))  # files need no rig that is open
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://localhost") as client:
        yield client


@pytest.mark.parametrize("name", ["", *FILES])
async def test_a_file_is_served_with_its_type_and_revalidated(client: httpx.AsyncClient, name: str) -> None:
    answer = await client.get(f"/{name}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == TYPES[Path(name or "index.html").suffix]
    assert answer.headers["cache-control"] == "no-cache"
    assert answer.content == (WEB / (name or "index.html")).read_bytes()
    again = await client.get(f"/{name}", headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


async def test_pages_are_compressed_for_those_who_take_it(client: httpx.AsyncClient) -> None:
    async with client.stream("GET", "/page.css", headers={"Accept-Encoding": "gzip"}) as answer:
        raw = b"".join([part async for part in answer.aiter_raw()])
    assert answer.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in answer.headers["vary"]
    assert len(raw) < len((WEB / "page.css").read_bytes()) / 2
    plain = await client.get("/page.css", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers


async def test_the_browser_is_told_to_load_nothing_from_elsewhere(client: httpx.AsyncClient) -> None:
    policy = (await client.get("/")).headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


async def test_nothing_beside_the_page_is_reachable(client: httpx.AsyncClient) -> None:
    for path in ("/../pyproject.toml", "/%2e%2e/pyproject.toml", "/..%2fpyproject.toml", "/js", "/js/none.js"):
        assert (await client.get(path)).status_code == 404, path


@pytest.mark.parametrize("name", FILES)
def test_no_file_names_another_host(name: str) -> None:
    text = (WEB / name).read_text().replace("http://www.w3.org/2000/svg", "")  # a name, never fetched
    assert not re.findall(r"https?:|[\"'(]//|@import|integrity=", text)


def test_the_page_is_small() -> None:
    assert sum((WEB / name).stat().st_size for name in FILES) <= 60_000


def test_every_name_has_its_place_and_every_place_its_name() -> None:
    html, words = (WEB / "index.html").read_text(), (WEB / "js/words.js").read_text()
    names = set(re.findall(r'"([a-z-]+)": "', words[: words.index("};")]))
    ids = set(re.findall(r'id="([a-z-]+)"', html))
    assert names <= ids
    assert {name for name in ids if name.endswith(("-name", "-title", "-do"))} - {
        "coming-name",
        "picture-name",
    } <= names


def test_there_are_words_and_a_mark_for_every_state() -> None:
    from controller.words.documents import ShootState

    html, words = (WEB / "index.html").read_text(), (WEB / "js/words.js").read_text()
    states = words[words.index("STATES") : words.index("};", words.index("STATES"))]
    for state in ShootState:
        assert f"{state}:" in states
        assert f'id="mark-{"ended" if state in ("done", "stopped") else state}"' in html


def test_the_manifest_starts_the_page(  # W3C Web Application Manifest: start_url within scope, an icon
) -> None:
    manifest = json.loads((WEB / "page.webmanifest").read_text())
    assert (manifest["start_url"], manifest["scope"]) == ("./", "./")
    for icon in manifest["icons"]:
        assert (WEB / icon["src"]).is_file()


# ---- colours, by WCAG 2.2: "relative luminance" and "contrast ratio"


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


COLOURS = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", (WEB / "page.css").read_text()))


def test_contrast_is_what_wcag_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, "contrast ratio": from 1 to 21
    assert contrast("#ff0000", "#000000") == pytest.approx(5.25, abs=0.01)  # well-known pair
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the grey that just fails 4.5


@pytest.mark.parametrize("text", ["quiet", "text", "strong"])
@pytest.mark.parametrize("ground", ["ground", "raised"])
def test_text_has_the_contrast_that_it_needs(text: str, ground: str) -> None:
    assert contrast(COLOURS[text], COLOURS[ground]) >= 4.5  # WCAG 2.2, 1.4.3


def test_controls_have_the_contrast_that_they_need() -> None:
    assert contrast(COLOURS["edge"], COLOURS["ground"]) >= 3  # WCAG 2.2, 1.4.11
    assert contrast(COLOURS["edge"], COLOURS["raised"]) >= 3


def test_no_colour_is_bright() -> None:
    """A page for eyes that are used to the dark: nothing above half of white's luminance, grounds near black."""
    assert max(map(luminance, COLOURS.values())) <= 0.5
    assert luminance(COLOURS["ground"]) < 0.005
    everything = "".join((WEB / name).read_text() for name in FILES)
    assert not re.search(r"#fff\b|#ffffff|\bwhite\b(?!-)", everything)
