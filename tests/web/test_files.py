"""The page's files as the rig serves them: whole, small, kept right by browsers, and with nothing from outside."""

import asyncio
import base64
import hashlib
import json
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest
from PIL import Image

from api import create_app
from api.page import SCRIPTS, WEB
from api.scripts import lean
from controller.daemon import Rig
from controller.results.report.page import sheet
from controller.words.clock import WallClock
from controller.words.documents import Now

FILES = sorted(path.relative_to(WEB).as_posix() for path in WEB.rglob("*") if path.is_file())
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",  # RFC 9239, section 6
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",  # W3C Web Application Manifest, section 5
}


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    rig = Rig(tmp_path, WallClock(), [])
    await rig.open()
    transport = httpx.ASGITransport(create_app(rig))
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        yield client
    await rig.close()


def squeezed(text: str) -> list[str]:
    """Its lines without indentation, without empty ones and comments that have lines to themselves."""
    kept, inside = [], False
    for line in (line.strip() for line in text.splitlines()):
        inside = inside or line.startswith("/**")
        if line and not inside and not line.startswith("//"):
            kept.append(line)
        inside = inside and "*/" not in line
    return kept


MADE = {"": "index.html", "index.html": "index.html", "js/words.js": "words/en.js"}
"""Files that are put together, or chosen, for whoever asks."""

SHEETS = sorted(name for name in FILES if name.endswith(".css"))
PARTS = [name for name in FILES if SCRIPTS.is_part(name)]
FETCHED = ["", *(p for p in PARTS if "/late/" not in p), "icon.svg", "icon-192.png", "page.webmanifest"]
"""All that a phone ever asks for beside what the rig is doing, each room and sheet too; what comes once the rig has
something to tell in another language is weighed in tests/web/test_rig_says.py."""


async def test_files_are_served_with_their_type_and_revalidated(client: httpx.AsyncClient) -> None:
    for name in (*MADE, *FILES):
        answer = await client.get(f"/{name}")
        assert answer.status_code == 200, name
        assert answer.headers["content-type"] == TYPES[Path(name or "index.html").suffix], name
        if name in ("", "index.html"):  # what is now is in it
            assert answer.headers["cache-control"] == "no-store"
            for sheet in SHEETS:
                assert (WEB / sheet).read_text() in answer.text[: answer.text.index("</style>")], sheet
            continue
        assert answer.headers["cache-control"] == "no-cache", name
        if name.endswith(".png"):
            assert answer.content == (WEB / name).read_bytes()
            continue
        kept = (WEB / MADE.get(name, name)).read_text()
        for line, out in zip(squeezed(kept), squeezed(answer.text), strict=True) if name not in PARTS else ():
            assert line == out or line.removeprefix(out).lstrip().startswith("// "), f"{name}: {line}"
        again = await client.get(f"/{name}", headers={"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b""), name
        assert again.headers["content-security-policy"] == answer.headers["content-security-policy"], name


async def test_what_is_now_is_in_the_page_for_whoever_may_know(client: httpx.AsyncClient) -> None:
    found = re.findall(r'<script type="application/json" id="first-now">(.*?)</script>', (await client.get("/")).text)
    assert Now.model_validate_json(found[0]).utc > 0
    stranger = await client.get("/", headers={"X-Forwarded-For": "192.0.2.9"})
    assert 'data-rights="none"' in stranger.text
    assert "first-now" not in stranger.text


async def test_no_text_of_the_rig_ends_the_element_that_it_stands_in(
    client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = "</script><script>alert(1)</script>"

    async def now(_: Rig) -> Now:
        return Now(utc=0.0, rate=1.0, well=False, attention=[bad])

    monkeypatch.setattr(Rig, "now", now)
    text = (await client.get("/")).text
    assert bad not in text
    found = re.findall(r'id="first-now">(.*?)</script>', text)
    assert json.loads(found[0])["attention"] == [bad]


async def test_pages_are_compressed_for_those_who_take_it(client: httpx.AsyncClient) -> None:
    async with client.stream("GET", "/page.css", headers={"Accept-Encoding": "gzip"}) as answer:
        raw = b"".join([part async for part in answer.aiter_raw()])
    assert answer.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in answer.headers["vary"]
    assert len(raw) < len((WEB / "page.css").read_bytes()) / 2
    plain = await client.get("/page.css", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers


async def test_the_browser_is_told_to_load_nothing_from_elsewhere(client: httpx.AsyncClient) -> None:
    answer = await client.get("/")
    policy = answer.headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    sheet = re.findall("<style>(.*?)</style>", answer.text, re.DOTALL)
    assert len(sheet) == 1
    hashed = base64.b64encode(hashlib.sha256(sheet[0].encode()).digest()).decode()  # CSP level 3, section 6.7.3.3
    assert f"'sha256-{hashed}'" in policy


@pytest.mark.parametrize(
    ("headers", "language"),
    [
        ({}, "en"),
        ({"Accept-Language": "de-AT,de;q=0.9,en;q=0.8"}, "de"),
        ({"Accept-Language": "fr-CH, fr;q=0.9, en;q=0.8, de;q=0.7, *;q=0.5"}, "en"),  # RFC 9110, section 12.5.4
        ({"Accept-Language": "en;q=0.5, de;q=0.6"}, "de"),
        ({"Accept-Language": "de;q=0, en"}, "en"),
        ({"Accept-Language": "de;q=x"}, "en"),
        ({"Accept-Language": "sv"}, "en"),
        ({"Accept-Language": "de", "Cookie": "language=en"}, "en"),
        ({"Accept-Language": "en", "Cookie": "language=../../pyproject"}, "en"),
    ],
)
async def test_the_page_speaks_the_language_of_whoever_asks(
    client: httpx.AsyncClient, headers: dict[str, str], language: str
) -> None:
    page, words = await client.get("/", headers=headers), await client.get("/js/words.js", headers=headers)
    script = await client.get("/js/page.js", headers=headers)
    assert f'<html lang="{language}"' in page.text
    assert squeezed(words.text) == squeezed((WEB / f"words/{language}.js").read_text())
    assert words.text.splitlines()[-2] in script.text
    for answer in (words, script):
        assert {"Cookie", "Accept-Language"} <= set(re.split(", *", answer.headers["vary"]))


@pytest.mark.parametrize(
    ("cookie", "theme"), [("", "night"), ("theme=day", "day"), ("theme=night", "night"), ("theme=x", "night")]
)
async def test_the_page_comes_in_its_theme(client: httpx.AsyncClient, cookie: str, theme: str) -> None:
    """A rig that knows no place shows the night's: it blinds nobody."""
    assert f'data-theme="{theme}"' in (await client.get("/", headers={"Cookie": cookie})).text


async def test_nothing_beside_the_page_is_reachable(client: httpx.AsyncClient) -> None:
    for path in ("/../pyproject.toml", "/%2e%2e/pyproject.toml", "/..%2fpyproject.toml", "/js", "/js/none.js"):
        assert (await client.get(path)).status_code == 404, path


@pytest.mark.parametrize("name", [name for name in FILES if not name.endswith(".png")])
def test_no_file_names_another_host(name: str) -> None:
    text = (WEB / name).read_text().replace("http://www.w3.org/2000/svg", "")  # a name, never fetched
    assert not re.findall(r"https?:|[\"'(]//|@import|integrity=", text)


@pytest.mark.parametrize("language", ["en", "de"])
async def test_the_page_is_small(client: httpx.AsyncClient, language: str) -> None:
    """All of it, each room and sheet too, as it goes over the link."""
    sizes: dict[str, int] = {}
    for name in FETCHED:
        asked = {"Accept-Encoding": "gzip", "Accept-Language": language}
        async with client.stream("GET", f"/{name}", headers=asked) as answer:
            sizes[name] = sum([len(part) async for part in answer.aiter_raw()])
    assert len(sizes) - 1 <= 12  # a browser takes one of the two icons
    assert sum(sizes.values()) <= 100_000, sizes


async def test_scripts_that_go_out_say_what_they_said(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """Node's own parser, ECMAScript modules, takes them; and no text runs over lines, so that none can lose a blank."""
    for name in FILES:
        if not name.endswith(".js") or name.startswith("words/"):
            continue  # the words go out in js/page.js
        lean = tmp_path / "lean.mjs"
        lean.write_text((await client.get(f"/{name}")).text)
        checked = await asyncio.create_subprocess_exec("node", "--check", str(lean), stderr=asyncio.subprocess.PIPE)
        _, said = await checked.communicate()
        assert checked.returncode == 0, f"{name}: {said.decode()}"
    for name in FILES:
        if name.endswith(".js"):
            for line in (WEB / name).read_text().splitlines():
                told = re.sub(r"^\s*//.*", "", line)
                assert told.count("`") % 2 == 0, f"{name}: {line}"


def test_a_comment_goes_out_with_no_script_and_every_text_does(tmp_path: Path) -> None:
    """ECMA-262, 12.4: a comment runs to the end of its line; within a string or a template there is none."""
    kept = ['const a = "x // y";', "const b = 'it // is';", "const c = `a // ${a} // b`;", 'const d = "//" + 4 / 2;']
    script = tmp_path / "remarks.js"
    script.write_text("\n".join(f'  {line} // it\'s a remark, "quoted"' for line in kept))
    body, _ = lean(script, 0)
    assert body.decode().splitlines() == kept


def test_every_name_has_its_place_and_every_place_its_name() -> None:
    html, words = (WEB / "index.html").read_text(), (WEB / "words/en.js").read_text()
    names = set(re.findall(r'"([a-z-]+)": "', words[: words.index("};\n\n// ---- rooms")]))
    ids = set(re.findall(r'id="([a-z-]+)"', html))
    assert names <= ids | {"rooms-there"}
    told = {name for name in ids if name.endswith(("-name", "-title", "-do"))}
    assert told - {"coming-name", "picture-name"} <= names


def test_there_are_words_and_a_mark_for_every_state() -> None:
    from controller.words.documents import ShootState

    html, words = (WEB / "index.html").read_text(), (WEB / "words/en.js").read_text()
    states = words[words.index("STATES") : words.index("};", words.index("STATES"))]
    for state in ShootState:
        assert f"{state}:" in states
        assert f'id="mark-{"ended" if state in ("done", "stopped") else state}"' in html


def test_the_manifest_starts_the_page(  # W3C Web Application Manifest: start_url within scope, an icon
) -> None:
    manifest = json.loads((WEB / "page.webmanifest").read_text())
    assert (manifest["start_url"], manifest["scope"]) == ("./", "./")
    for icon in manifest["icons"]:
        file = WEB / icon["src"]
        assert file.is_file()
        if file.suffix == ".png":
            with Image.open(file) as picture:
                assert f"{picture.width}x{picture.height}" == icon["sizes"]


# ---- colours, by WCAG 2.2: "relative luminance" and "contrast ratio"


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def colours(theme: str) -> dict[str, str]:
    """The colours of a theme, as page.css has them."""
    blocks = dict(re.findall(r':root(?:\[data-theme="(\w+)"\])? \{(.*?)\}', (WEB / "page.css").read_text(), re.DOTALL))
    return dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", blocks["" if theme == "night" else theme]))


THEMES = ("night", "day")


def test_contrast_is_what_wcag_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, "contrast ratio": from 1 to 21
    assert contrast("#ff0000", "#000000") == pytest.approx(5.25, abs=0.01)  # well-known pair
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the grey that just fails 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("text", ["quiet", "text", "strong"])
@pytest.mark.parametrize("ground", ["ground", "raised"])
def test_text_has_the_contrast_that_it_needs(theme: str, text: str, ground: str) -> None:
    assert contrast(colours(theme)[text], colours(theme)[ground]) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("theme", THEMES)
def test_controls_have_the_contrast_that_they_need(theme: str) -> None:
    known = colours(theme)
    assert contrast(known["edge"], known["ground"]) >= 3  # WCAG 2.2, 1.4.11
    assert contrast(known["edge"], known["raised"]) >= 3


def test_the_nights_colours_are_dim_and_red() -> None:
    """A page for eyes that are used to the dark: nothing above a third of white's luminance, most of it red, grounds
    black or nearly so. Rods hardly see long waves: common practice, no source."""
    known = colours("night")
    assert set(known) == set(colours("day"))
    assert max(map(luminance, known.values())) <= 1 / 3
    assert luminance(known["ground"]) == 0
    for colour in known.values():
        red, *others = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
        assert max(others) <= 0.42 * red


def test_the_reports_night_is_as_dim() -> None:
    night = re.search(r":root \{.*?\}", sheet(), re.DOTALL)
    assert night
    found = re.findall(r"--\w+: (#[0-9a-f]{3,6});", night[0])
    assert len(found) > 4
    for colour in found:
        red, *others = (int(colour[i : i + 2], 16) for i in (1, 3, 5)) if len(colour) == 7 else (0, 0, 0)
        assert max(others) <= 0.42 * red, colour


@pytest.mark.parametrize("text", [*((WEB / name).read_text() for name in SHEETS), sheet()], ids=[*SHEETS, "report"])
def test_what_one_browser_alone_knows_stands_in_no_list(text: str) -> None:
    """A selector that is not known makes the whole rule void, for all of its list (W3C Selectors 4, section 3.9): what
    was to be dim red is then as the browser paints it, such as a bar in bright green."""
    rules = re.findall(r"([^{};]+)\{", re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL))
    assert len(rules) > 2
    mixed = [rule.strip() for rule in rules if re.search(r":-(?:webkit|moz|ms)-", rule) and "," in rule]
    assert mixed == []


def test_no_rule_for_labels_takes_a_tick_box_out_of_its_row() -> None:
    """`.choice` lays box and words in a row with a gap; as a block the words touch the box, and run on below it."""
    text = "".join((WEB / name).read_text() for name in SHEETS)
    blocks = re.findall(r"([^{};]*\blabel[^{};]*)\{[^}]*display: (?:inline-)?block", text)
    assert len(blocks) >= 2
    assert [rule.strip() for rule in blocks if not re.search(r":not\(\.choice\)|label\[for\]", rule)] == []


def test_no_colour_is_named_outside_the_themes() -> None:
    """Whatever is coloured by itself would stay bright at night. The lamp is there to be bright; the black screen has
    its own red."""
    for name in FILES:
        text = "" if name.endswith(".png") else (WEB / name).read_text()
        if name.endswith(".css"):
            text = re.sub(r":root.*?\}", "", text, flags=re.DOTALL)
            found = re.findall(r"#[0-9a-fA-F]{3,8}\b(?! *[,{])|\brgba?\([^)]*\)|\bwhite\b(?!-)", text)
            allowed = {"#000000", "rgb(0 0 0 / 0.6)"} | (
                {"#c2281a", "#ea2a18", "#b8241a"} if "black" in name else set()
            )
            assert set(found) <= allowed, name
        elif name.endswith(".js") and name != "js/rooms/lamp.js":
            assert not re.search(r"""["'`]#[0-9a-fA-F]{3,8}["'`]|\brgba?\(|hsl\(""", text), name
