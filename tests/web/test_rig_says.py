"""The rig's own sentences in other languages: that there is one for each, and that each is known again by its words."""

import ast
import gzip
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from api.page import WEB

ROOT = WEB.parent / "controller"
LANGUAGES = sorted(path.name for path in (WEB / "words").iterdir() if path.is_dir())

TOLD = """
    decide/advice/advise.py decide/advice/ahead.py decide/advice/cautions.py decide/advice/clocks.py
    decide/advice/exposures.py decide/advice/needs.py decide/advice/paces.py decide/advice/picture.py
    decide/advice/stars.py decide/advice/stretches.py decide/anchors.py decide/checks decide/clips.py
    decide/clock_trust.py decide/health decide/moments.py decide/pi.py decide/picture.py decide/plan/document.py
    decide/plan/light.py decide/plan/pace.py decide/plan/tables.py decide/plan/when.py decide/plan_errors.py
    decide/reach.py decide/safe_interval.py decide/schedule.py decide/steady_beat.py decide/step.py
    decide/wiring/dew.py decide/wiring/motion.py decide/wiring/pulses.py decide/zone_hints.py engine/access.py
    engine/anew.py engine/beside.py engine/clip_asks.py engine/clip_windows.py engine/clips.py engine/company.py
    engine/copying.py engine/dials.py engine/first_light.py engine/holding.py engine/looking.py engine/moving.py
    engine/now.py engine/only_on_card.py engine/passed.py engine/places.py engine/pulsed.py engine/recovery.py
    engine/rig_time.py engine/run.py engine/shelf.py engine/shoots.py engine/slots.py engine/starting.py
    engine/steady_beat.py engine/transitions.py engine/turn.py engine/wires.py camera/choices.py camera/detect.py
    camera/keeper.py camera/link.py camera/messages.py camera/protocol.py camera/viewers.py camera/watch.py
    camera/worker/__main__.py camera/worker/faults.py camera/worker/frames.py camera/worker/live.py
    camera/worker/loop.py camera/worker/opening.py camera/worker/session.py camera/worker/settings.py copying wiring
    store/database.py store/files.py rehearsal/binds.py rehearsal/rehearse.py results/cameras.py
    results/clip/make.py results/clip/pictures.py results/clip/result.py results/series/asked.py
    results/series/choose.py results/series/same_sun.py results/series/wanted.py aside/clip.py aside/clip_process.py
    aside/process.py aside/rehearsal.py words/clips.py ../api/body_limit.py ../api/connections.py ../api/events.py
    ../api/guard.py ../api/routes/check.py ../api/routes/clock.py
""".split()
"""Where texts arise that the page shows: what needs somebody, causes, troubles, findings of a check."""

NOT_TOLD = """
    Pictures show light again|The camera is there|The shoot is over|Films are made again|Pictures differ again
    The frame log has been whole since it was made anew|Pictures can be read again|The rig's clock is right
    places.toml can be used|No shoot has failed|The frame log is written|The Pi's supply holds again
    All that is wired works|log made anew|rig clock|rig disk|missed slots
    [pace] kind|[when] start|[when] stop|[when] windows|rig.toml, [trigger]|rig.toml, [dew_heater]
    memory card|quiet release|manual exposure|one shot|ai servo|ai focus|no limit
    general error|device busy|store full|operation not supported|session not open|transaction id|ptp timeout|no device
    response expected|data expected
    goes on after a hold|goes on by itself after a hold|the window ended while the shoot was held
    the window of {}|{} windows, from {} to {},|the times of rows up to slot…
    the slot is given up|the last exposure and interval are kept
    Pairings, plans that were never shot, the rig's defaults and what was learned of cameras are lost
    bracket of {} exposures|not of the database|no time as a plan writes it|Write plain tables|{} s (truly {} s)
    previews stay|not TOML that can be read: {}|line {}, {}|give utc or camera|the newest {} stay|it holds no table
    one of them may be left out|after two copies|minute {} does not come…|Put them in order of time…
    Bearer realm…|the event stream|this is no HTTP request|Use http:// or https://…
    none yet|fetched picture…|picture from a RAW file|pictures from RAW files|{}, where there is no full picture
    {}, since no full picture was fetched|Write {}…|Write fog, drops, night|Write two days like…
    Write the earlier day first…|sun-azimuth=180…|Give the series sun-azimuth=…|Give {} to {}
    fetched files|the body's own count|two second places|a second place (two, once it is off the card)
    from the rig: whole files…|from the camera's card: each fetched frame…
    has room for {}{} frames{} {} ({} free{})
    the dew heater's relay can be switched again|the dew heater's sensor is heard again
    {} test frame…|{} rising|{} setting|{} cannot be read, and until when the rig knew the time is forgotten: {}
"""
"""What of them no page shows: what is over, notes, names, words of cameras; and what is there in other parts."""

PLACE = re.compile(r"\{([a-z]+)\d*\}")
SILENT = re.compile(r"(^|[._])(note\w*|tell|add_argument|ArgumentParser|RuntimeError|Field|Query|execute)$|^(log|re)\.")
SAMPLES = {"n": "3,210.5", "length": "5 days 3 h", "size": "28.4 GB", "time": "Sat 28 Nov 19:40", "text": "qwert"}
SAMPLES |= {"day": "2026-12-01", "label": "1.3 s, f/2.8, ISO 100", "name": "a/b.jpg"}
PAGE = """
globalThis.document = { documentElement: { lang: LANGUAGE, dataset: {} }, getElementById: () => null };
Object.defineProperty(globalThis, "navigator", { value: { languages: [LANGUAGE] }, configurable: true });
console.log(JSON.stringify(await SCRIPT));
"""


def sources() -> list[Path]:
    """The files of `TOLD`."""
    return [file for name in TOLD for file in (sorted((ROOT / name).rglob("*.py")) or [ROOT / name])]


def written(node: ast.AST) -> list[str]:
    """A text as it is written, with {} for what is put into it; each way of it where a choice stands in it."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    if not isinstance(node, ast.JoinedStr):
        return []
    return ["".join(ways) for ways in product(*map(ways_of, node.values))]


def ways_of(part: ast.expr) -> list[str]:
    """Of a part of a text."""
    if isinstance(part, ast.FormattedValue) and isinstance(part.value, ast.IfExp):
        return [way for branch in (part.value.body, part.value.orelse) for way in written(branch) or ["{}"]]
    return written(part) or ["{}"]


def unsaid(node: ast.AST) -> list[ast.AST]:
    """What of a node is for no page: docstrings, notes, lines of the service's log, names."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return [node]
    if isinstance(node, ast.Call):
        return [node] if SILENT.search(ast.unparse(node.func)) else [k.value for k in node.keywords if k.arg == "name"]
    is_note = isinstance(node, ast.Assign | ast.AugAssign) and re.match(r"(text|NAME|LOG) \+?=", ast.unparse(node))
    return [node] if is_note else []


def texts_in(tree: ast.Module) -> Iterator[str]:
    """Every text that a module writes out for people, whole or in part."""
    out = {id(inner) for node in ast.walk(tree) for each in unsaid(node) for inner in ast.walk(each)}
    joined = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
    out |= {id(inner) for node in joined for inner in ast.walk(node) if isinstance(inner, ast.Constant)}
    yield from (text for node in ast.walk(tree) if id(node) not in out for text in written(node))


def sentences_in(text: str) -> list[str]:
    """Of several words each, without their stops."""
    parts = [part.removesuffix(".") for part in re.split(r"(?<=[.!?]) (?=[A-Z{]|$)|; ", text)]
    return [part for part in parts if re.search(r"[a-z]{2}\W* +\W*[a-z]{2}|^, |[a-z] \{\}|\{\} [a-z]", part)]


def said() -> set[str]:
    """Each sentence of the rig that a page may show, or a part of it."""
    found = {one for path in sources() for text in texts_in(ast.parse(path.read_text())) for one in sentences_in(text)}
    for silent in (each.strip() for line in NOT_TOLD.strip().splitlines() for each in line.split("|")):
        matched = {one for one in found if one == silent or (silent[-1] == "…" and one.startswith(silent[:-1]))}
        assert matched, silent
        found -= matched
    return found


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page's scripts as Node takes them."""
    folder = tmp_path_factory.mktemp("page") / "web"
    shutil.copytree(WEB, folder)
    (folder / "package.json").write_text('{ "type": "module" }')
    return folder


def run(web: Path, language: str, script: str) -> Any:
    """What a script prints as JSON, in a page of that language."""
    shutil.copy(web / f"words/{language}.js", web / "js/words.js")
    file = web / "run.js"
    file.write_text(PAGE.replace("LANGUAGE", json.dumps(language)).replace("SCRIPT", script))
    done = subprocess.run(["node", file], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@cache
def words(web: Path, language: str) -> tuple[dict[str, str], dict[str, list[str]]]:
    """The sentences of a language, and what it can count."""
    names = run(web, language, "import('./js/words.js').then(({ sentences }) => sentences())")
    assert {name.rpartition("/")[2] for name in names} == {path.name for path in (web / "words" / language).iterdir()}
    parts = [run(web, language, f"import('./js/{name}')") for name in names]
    known: dict[str, str] = {}
    for part in parts:
        assert known.keys() & part["SENTENCES"].keys() == set()
        known |= part["SENTENCES"]
    return known, {noun: words for part in parts for noun, words in part.get("COUNTED", {}).items()}


def told(web: Path, language: str, texts: list[str]) -> list[str]:
    """Texts of the rig as the page of that language shows them."""
    module, shown = "import('./js/rig-says.js')", f"{json.dumps(texts)}.map(rigSays)"
    return list(run(web, language, f"{module}.then(({{ rigSays, ready }}) => ready().then(() => {shown}))"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_of_the_rig_is_there(web: Path, language: str) -> None:
    known, _ = words(web, language)
    patterns = {one: re.compile(".*".join(map(re.escape, one.split("{}")))) for one in said()}
    assert len(patterns) > 300
    assert [one for one, pattern in patterns.items() if not any(map(pattern.search, known))] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_they_come_within_a_second_on_one_bar(language: str) -> None:
    """400 kbit/s, as `tests.bench.first_look` has it; compressed as the rig sends them."""
    files = [*(WEB / "words" / language).iterdir(), *(WEB / "js/late").iterdir()]
    assert sum(len(gzip.compress(file.read_bytes(), 6)) for file in files) <= 40_000


@cache
def fragments() -> frozenset[str]:
    """What the rig puts its sentences together from."""
    trees = [ast.parse(path.read_text()) for path in [*sources(), ROOT / "words/documents.py"]]
    texts = [text for tree in trees for text in (str(n.value) for n in ast.walk(tree) if isinstance(n, ast.Constant))]
    parts = {part for text in texts for part in (text, *re.split(r"\. |\.$|; ", text))}
    return frozenset(parts | {part[:1].lower() + part[1:] for part in parts})


def put_together(text: str) -> bool:
    """Whether it is one fragment behind another."""
    ends = {0}
    for end in range(1, len(text) + 1):
        if any(text[start:end] in fragments() for start in ends):
            ends.add(end)
    return len(text) in ends


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_is_there_that_the_rig_does_not_say(web: Path, language: str) -> None:
    known, _ = words(web, language)
    assert [one for one in known if not all(map(put_together, PLACE.sub("\0", one).split("\0")))] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_placeholders_are_the_same_on_both_sides(web: Path, language: str) -> None:
    known, counted = words(web, language)
    for english, other in known.items():
        names = [found[0] for found in PLACE.finditer(english)]
        assert re.search(r"[.!?] [A-Z]", english) is None, english  # one sentence each, since others may stand between
        assert len(set(names)) == len(names), english
        assert sorted(found[0] for found in PLACE.finditer(other)) == sorted(names), english
        assert other != english or PLACE.sub("", english).strip(", ") == "", english
        assert english.endswith(": {text}") <= other.endswith(": {text}"), (
            english
        )  # a cause that is told may be left off
        assert {found[1] for found in PLACE.finditer(english)} <= {*SAMPLES, *counted}, english


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_sentence_is_known_again(web: Path, language: str) -> None:
    """Whatever stands in its places, and whichever other sentence is like it."""
    known, counted = words(web, language)
    samples = SAMPLES | {noun: f"12 {noun}" for noun in counted}
    texts = [PLACE.sub(lambda found: samples[found[1]], english) for english in known]
    shown = told(web, language, texts)
    wanted = [re.compile(".+".join(map(re.escape, PLACE.sub("\0", other).split("\0")))) for other in known.values()]
    assert [pair for *pair, pattern in zip(texts, shown, wanted, strict=True) if not pattern.fullmatch(pair[1])] == []


GERMAN = {
    "Camera battery at 12 %. Charge or change it, or run the body from the mains":
        "Akku der Kamera bei 12 %. Ihn laden oder wechseln, oder das Gehäuse aus der Steckdose speisen",
    "1 slot missed in 10 min, the last just now: the camera was still writing":
        "1 Auslösung in 10 min verpasst, die letzte eben: die Kamera schrieb noch",
    "3 slots missed in 10 min, the last 2 min ago: something new":
        "3 Auslösungen in 10 min verpasst, die letzte vor 2 min: something new",
    "camera-2: Frames come out 1.3 EV too dark: allow longer exposures or more ISO":
        "camera-2: Die Bilder werden 1,3 EV zu dunkel: längere Zeiten oder größere ISO zulassen",
    "The rig's disk has 28.4 GB free, enough for 5 days 3 h at this pace. "
    "Free some space on the rig's disk, or fetch less":
        "Auf der Platte am Rig sind 28,4 GB frei, genug für 5 Tage 3 h bei diesem Tempo. "
        "Auf der Platte am Rig Platz frei machen oder weniger holen",
    "12,345 frames wait for shed: no room is left there": "12.345 Bilder noch nicht auf shed: dort ist kein Platz mehr",
    "camera-1: not there; camera-2: the card was full": "camera-1: nicht da; camera-2: die Karte war voll",
    "Something new. It is tried again by itself": "Something new. Es wird von selbst wieder versucht",
    "The frame log cannot be written: rig/frames.sqlite3: the disk is full, the frame log cannot grow. "
    "Free some space on that disk":
        "Das Protokoll lässt sich nicht schreiben: rig/frames.sqlite3: die Platte ist voll, das Protokoll kann nicht "
        "wachsen. Auf dieser Platte Platz frei machen",
    "The window is on 4 Jan. Camera not there: it fell. The card was full.":
        "The window is on 4 Jan. Kamera nicht da: it fell. Die Karte war voll.",
    "shed: It is sent again. Where it comes again, the disk or the line there is bad. New":
        "shed: Es wird noch einmal geschickt. Kommt es wieder, taugt die Platte dort oder die Leitung nichts. New",
    "Is it there? It is not.": "Is it there? It is not.",
    "": "",
}  # fmt: skip


def test_what_the_rig_says_in_german(web: Path) -> None:
    """One in another, one after the other, with figures as they are written there; what is not known stays."""
    assert dict(zip(GERMAN, told(web, "de", list(GERMAN)), strict=True)) == GERMAN


def test_in_english_it_stays_as_it_is(web: Path) -> None:
    assert told(web, "en", list(GERMAN)) == list(GERMAN)
