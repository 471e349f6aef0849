"""Reading plans: what is accepted reads back equal, what is not is refused in one line that helps."""

from __future__ import annotations

import json
import re
import tomllib

import pytest

from controller.decide.follow import NIGHT
from controller.decide.meter import Region
from controller.decide.plan import MODELS, plan_from, read_plan
from controller.words.errors import BadInput
from tests.decide import PLANS, changed, example

QUAY = (PLANS[0].parent / "quay_at_dusk.toml").read_text("utf-8")


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_examples_read_and_round_trip_through_json(path):
    plan = read_plan(path.read_text("utf-8"))
    again = plan_from(json.loads(json.dumps(plan.document())))
    assert again == plan
    assert again.document() == plan.document()


def test_the_demo_s_plan_reads():
    demo = PLANS[0].parents[3] / "controller" / "commands" / "demo_evening.toml"
    assert read_plan(demo.read_text("utf-8")).pace.kind == "sun"


def test_defaults():
    plan = read_plan(
        'name = "least"\nsite = {latitude = 1, longitude = 2}\n'
        'pace = {kind = "steady", interval_s = 5}\nlight = {kind = "follow", aperture = 4}\n'
    )
    assert plan.when.start == "now"
    assert plan.light.aperture == (4, 4)
    assert plan.light.giving_way == ("shutter", "aperture", "iso")
    assert (plan.files.fetch, plan.clip.fps, plan.site.timezone) == ("preview", 25, "UTC")


def test_what_to_fetch_of_a_frame():
    every = changed(example("quay_at_dusk"), files={"fetch": "every 10"}).files
    assert [every.fetch_of(seq) for seq in (1, 9, 10, 20)] == ["preview", "preview", "all", "all"]
    assert example("stars_over_a_ridge").files.fetch_of(3) == "all"
    assert changed(example("quay_at_dusk"), files={"fetch": "none"}).files.fetch_of(3) == "none"


FOREIGN = re.compile("Input should|should have|valid (dictionary|tuple|instance)|Value error", re.I)
"""Words of the library that validates, which say nothing to whoever writes a plan."""

_LIGHT = 'kind = "follow"'

REFUSED = [
    ("latitude = 57.7", "latitude = 95", "[site] latitude", "out of range", "at most 90"),
    ("latitude = 57.7", "latitude = -122.4", "[site] latitude", "out of range", "swapped with longitude"),
    ("latitude = 57.7", 'latitude = "57°42\'N"', "[site] latitude", "no number", "Write 57.7, without"),
    ("longitude = 11.95", 'longitude = "11.95 W"', "[site] longitude", "no number", "Write -11.95, without"),
    ("latitude = 57.7", "lat = 57.7", "[site] lat", "unknown key", "Did you mean latitude?"),
    ("timezone", "tz", "[site] tz", "unknown key", "Did you mean timezone?"),
    ("Europe/Stockholm", "Stockholm", "[site] timezone", "no time zone", "Did you mean Europe/Stockholm?"),
    ("Europe/Stockholm", "europe/stockholm", "[site] timezone", "no time zone", "Did you mean Europe/Stockholm?"),
    ("Europe/Stockholm", "UTC+2", "[site] timezone", "no time zone", "Did you mean Etc/GMT-2?"),
    ("Europe/Stockholm", "right/Europe/Stockholm", "[site] timezone", "no time zone", "Did you mean Europe/Stockholm?"),
    ('"sunset-45min"', "sunset", "", "not TOML", 'Write start = "sunset"'),
    ('"sunset-45min"', "“sunset”", "", "not TOML", "straight quotes"),
    ("fps = 25", "fps: 25", "", "not TOML", "Write fps = 25"),
    ("fps = 25", "fps = 25\nfps = 30", "", "not TOML", "twice"),
    ("[clip]", "[site]", "", "not TOML", "twice"),
    ('"sunset-45min"', '"sun set - 45 minutes"', "[when] start", "is no", "Did you mean sunset-45min?"),
    ('"sunset-45min"', '"Sunset-45min"', "[when] start", "no sun event", "Did you mean sunset-45min?"),
    ('"sunset-45min"', '"civil-dusk+10min"', "[when] start", "no sun event", "Did you mean civil_dusk+10min?"),
    ('"sunset-45min"', '"dusk"', "[when] start", "no sun event", "Did you mean civil_dusk or nautical_dusk?"),
    ('"sunset-45min"', '"sundown"', "[when] start", "no sun event", "Did you mean sunset?"),
    ('"sunset-45min"', '"sunset-PT45M"', "[when] start", "no length of time", "Did you mean sunset-45min?"),
    ('"sunset-45min"', '"6:30 pm"', "[when] start", "is no time", "Did you mean 18:30?"),
    ('"sunset-45min"', '"2150-01-01T10:00"', "[when] start", "is outside 2000 to 2100", "Give a time within the years"),
    (
        '"sunset-45min"',
        '"1999-12-31T10:00Z"',
        "[when] start",
        "is outside 2000 to 2100",
        "Give a time within the years",
    ),
    ('"sunset-45min"', '"18.20"', "[when] start", "is no time", "Did you mean 18:20?"),
    ('"sunset-45min"', '"3.10.2026 18:20"', "[when] start", "is no time", "Did you mean 2026-10-03T18:20?"),
    ('"sunset-45min"', '"2026-10-03"', "[when] start", "is no time", "Did you mean 2026-10-03T18:20?"),
    ('stop = "nautical_dusk+30min"', 'stop = "90 min"', "[when] stop", "is a length of time", "duration = 90min"),
    ('stop = "nautical_dusk+30min"', 'stop = "2 hours"', "[when] stop", "is a length of time", "duration = 2h"),
    ('stop = "nautical_dusk+30min"', 'duration = "2 hours"', "[when] duration", "no length", "Did you mean 2h?"),
    ('stop = "nautical_dusk+30min"', 'duration = "1:30"', "[when] duration", "no length", "Did you mean 1h30min?"),
    ('stop = "nautical_dusk+30min"', 'duration = "99999d"', "[when] duration", "longer than ten years", "3h"),
    ('stop = "nautical_dusk+30min"', 'duration = "3661d"', "[when] duration", "longer than ten years", "3h"),
    ('stop = "nautical_dusk+30min"', 'duration = "7d2h"\nevery = ["mon"]', "[when] duration", "7 days 0 h", "shorter"),
    ('stop = "nautical_dusk+30min"', 'duration = "74h"\nevery = ["mon", "fri"]', "[when] duration", "3 days", "name"),
    (
        '"nautical_dusk+30min"',
        '"2026-10-03T20:00"\nevery = "day"',
        "[when] stop",
        "names one moment",
        "Use a sun event, or a time such as 18:20",
    ),
    ('stop = "nautical_dusk+30min"', 'duration = "4s"', "[pace] points", "longer than the window", "shorter"),
    ('stop = "nautical_dusk+30min"', 'stop = "sunset-44.95min"', "[pace] points", "longer than the window", "shorter"),
    ('stop = "nautical_dusk+30min"', 'frames = 10_000_000\nevery = "day"', "[when] frames", "next window", "fewer"),
    (
        'stop = "nautical_dusk+30min"',
        'duration = "26h"\nevery = "day"',
        "[when] duration",
        "24 h 00 min later",
        "shorter",
    ),
    ('stop = "nautical_dusk+30min"', 'duration = "3d"\nevery = ["mon", "wed"]', "[when] duration", "48 h", "shorter"),
    ('stop = "nautical_dusk+30min"', 'every = ["fri", "fri"]', "[when] every", "twice", "once"),
    ('stop = "nautical_dusk+30min"', 'every = "friday"', "[when] every", "cannot be used", 'Write every = ["fri"]'),
    ('stop = "nautical_dusk+30min"', 'every = "daily"', "[when] every", "cannot be used", 'Did you mean "day"?'),
    ('stop = "nautical_dusk+30min"', 'every = ["Wednesday"]', "[when] every[0]", "not known", "Did you mean 'wed'?"),
    (
        'stop = "nautical_dusk+30min"',
        'every = ["sun"]\nfrom = 2026-12-01\nuntil = 2026-12-05',
        "[when] every",
        "none of its days",
        "other days",
    ),
    ('stop = "nautical_dusk+30min"', 'end = "civil_dusk"', "[when] end", "unknown key", "Did you mean stop?"),
    ('kind = "sun"', 'kind = "Sun"', "[pace] kind", "no kind of pace", "Did you mean sun?"),
    (
        'kind = "sun"',
        'kind = "sun"\ninterval = 5',
        "[pace] interval",
        "unknown key",
        "interval_s belongs in [pace] of kind steady",
    ),
    ('kind = "sun"', 'kind = "sun"\nfps = 5', "[pace] fps", "unknown key", "fps belongs in [clip]"),
    (_LIGHT, f"{_LIGHT}\nshutter = 5", "[light] shutter", "unknown key", "Did you mean shutter_s?"),
    (
        _LIGHT,
        f'{_LIGHT}\nlearn_response = "yes"',
        "[light] learn_response",
        "a text, neither true nor",
        "Write true or false, without quotes",
    ),
    ("[0.0005, 18.0]", '["1/2000", 18]', "[light] shutter_s[0]", "no number", "Write 0.0005, without quotes"),
    ("[0.0005, 18.0]", "[0.0000001, 18]", "[light] shutter_s[0]", "out of range", "at least 1e-05"),
    ("[100, 3200]", "[0.001, 3200]", "[light] iso[0]", "out of range", "at least 1"),
    ("[100, 3200]", '"ISO 800"', "[light] iso", "cannot be used", "Write 800, without quotes"),
    ('["shutter", "iso"]', '["shutter", "ISO"]', "[light] order[1]", "not known", "Did you mean 'iso'?"),
    ('["shutter", "iso"]', '"shutter"', "[light] order", "cannot be used", 'Write order = ["shutter"]'),
    ('fetch = "preview"', 'fetch = "previews"', "[files] fetch", "cannot be used", "Did you mean preview?"),
    ('fetch = "preview"', 'fetch = "every10"', "[files] fetch", "cannot be used", "Did you mean every 10?"),
    (
        'fetch = "preview"\n\n[clip]',
        'fetch = "none"\n\n[clip]\ndaily = true',
        "[clip] daily",
        "has no pictures",
        'Use fetch = "preview"',
    ),
    ("fps = 25", 'fps = 25\npreview = "yes"', "[clip] preview", "neither true nor", "Write true or false"),
    ("fps = 25", "fps = 25\ndayly = true", "[clip] dayly", "unknown key", "Did you mean daily?"),
    ('name = "quay-at-dusk"', 'name = "quay at dusk"', "name", "cannot be used", "Did you mean quay-at-dusk?"),
    ("[clip]", "[power]\nbattery_wh = 0\ndraw_w = 6\n[clip]", "[power] battery_wh", "out of range", "at least 0.1"),
    ("[clip]", "[power]\nbattery_wh = 1\ndraw_w = 600\n[clip]", "[power] draw_w", "less than a minute", "volts"),
    ("[clip]", "[view]\nazimuth_deg = 10\naltitude_deg = 100\n[clip]", "[view] altitude_deg", "out of range", "90"),
    ("[clip]", "[view]\naltitude_deg = 10\n[clip]", "[view] azimuth_deg", "is missing", "Add it"),
    ("[clip]", "[optics]\nfocal_mm = 24\nsensor_mm = [350, 23]\n[clip]", "[optics] sensor_mm[0]", "range", "100"),
    ("[clip]", '[optics]\nfocal_mm = "24 mm"\n[clip]', "[optics] focal_mm", "no number", "Write 24, without quotes"),
    (
        "[clip]",
        "[optics]\nfocal_mm = 24\nsensor_mm = [36, 24]\npixel_um = 0.6\n[clip]",
        "[optics] pixel_um",
        "60000 pixels",
        "divided by",
    ),
    ("latitude = 57.7", 'latitude = "57.7"', "[site] latitude", "'57.7' is no number", "without quotes"),
    ("latitude = 57.7", "latitude = nan", "[site] latitude", "nan is no number", "finite"),
    ("latitude = 57.7", "latitude = true", "[site] latitude", "true is no number", "number"),
    ("latitude = 57.7", 'latitude = "57,7"', "[site] latitude", "'57,7' is no number", "57.7, with a decimal point"),
    ("latitude = 57.7", "latitude = 57,7", "", "not TOML", "Write the decimal point: 57.7 in place of 57,7"),
    ('stop = "nautical_dusk+30min"', 'date = "31.12.2026"', "[when] date", "'31.12.2026' is no date", "2026-12-31"),
    ('stop = "nautical_dusk+30min"', 'every = "days"', "[when] every", "'days' cannot be used", 'Did you mean "day"?'),
    ('stop = "nautical_dusk+30min"', "frames = 1.5", "[when] frames", "1.5 is no whole number", "whole"),
    ('stop = "nautical_dusk+30min"', 'stop = "sunset-45min"', "[when] stop", "the same as the start", "move one"),
    ("[2.8, 2.8]", '"f/2.8"', "[light] aperture", "'f/2.8' cannot be used", "Write 2.8, without quotes"),
    ("[2.8, 2.8]", '["f/2.8", "f/4"]', "[light] aperture[0]", "is no number", "Write 2.8, without quotes"),
    ("[0.0005, 18.0]", "[0.0005, 1e30]", "[light] shutter_s[1]", "1e+30 is out of range", "at most 3600"),
    ("[[2, 5.0], [-6, 9.0], [-14, 22.0]]", "[]", "[pace] points", "is empty", "Write pairs"),
    ("latitude = 57.7", "", "[site] latitude", "is missing", "Add it"),
    ("latitude = 57.7", "lattitude = 57.7", "[site] lattitude", "unknown key", "Did you mean latitude?"),
    ("longitude = 11.95", "longitude = 11.95\nheight = 3", "[site] height", "unknown key", "Known here: latitude"),
    ("Europe/Stockholm", "Europe/Stokholm", "[site] timezone", "no time zone", "Did you mean Europe/Stockholm?"),
    ("Europe/Stockholm", "../etc/passwd", "[site] timezone", "no time zone", "IANA"),
    ("[site]", "[syte]", "syte", "unknown key", "Did you mean site?"),
    ('"sunset-45min"', '"sunsett-45min"', "[when] start", "no sun event", "Did you mean sunset?"),
    ('"sunset-45min"', '"sunset-45"', "[when] start", "no length of time", "Did you mean sunset-45min?"),
    ('"sunset-45min"', '"sunset-45h"', "[when] start", "longer than a day", "nearer"),
    ('"sunset-45min"', '"half past six"', "[when] start", "is no time", "18:20"),
    ('"sunset-45min"', '"now-10min"', "[when] start", "in the past", "Use now, or now+10min"),
    ('"sunset-45min"', '"25:00"', "[when] start", "is no time", "18:20"),
    ('"sunset-45min"', '"2026-13-01T18:00"', "[when] start", "is no time", "18:20"),
    ('"sunset-45min"', '"1700-01-01T18:00"', "[when] start", "is outside 2000 to 2100", "Give a time within the years"),
    ('"nautical_dusk+30min"', '"sunset-1h"', "[when] stop", "before the start", "Swap"),
    ('"nautical_dusk+30min"', '"now"', "[when] stop", "cannot stop at now", "duration"),
    ('stop = "nautical_dusk+30min"', "frames = 0", "[when] frames", "out of range", "at least 1"),
    ('stop = "nautical_dusk+30min"', 'frames = 9\nduration = "1h"', "[when] frames", "both say when", "Keep one"),
    ('stop = "nautical_dusk+30min"', 'duration = "0h"', "[when] duration", "no time at all", "3h"),
    ('stop = "nautical_dusk+30min"', 'every = ["mon", "tues"]', "[when] every[1]", "not known", "'tue'"),
    ('stop = "nautical_dusk+30min"', "skip = [2026-12-25]", "[when] skip", "repeated plan", "every"),
    ('start = "sunset-45min"', 'start = "now"\nevery = "day"', "[when] start", "names one moment", "sun event"),
    ("[when]", "[when]\ndate = 1999-12-31", "[when] date", "out of range", "2000-01-01"),
    ('kind = "sun"', 'kind = "sunn"', "[pace] kind", "no kind of pace", "Did you mean sun?"),
    ('kind = "sun"', "", "[pace]", "has no kind", "steady"),
    ("[-6, 9.0]", "[3, 9.0]", "[pace] points", "not in order", "Sort"),
    ("[-6, 9.0]", "[2, 9.0]", "[pace] points", "not in order", "keep each value once"),
    ("[-6, 9.0]", "[2.5, 9.0]", "[pace] points", "not in order", "Sort"),
    ("[-6, 9.0]", "[-6]", "[pace] points[1][1]", "right length", "pairs"),
    ("[-6, 9.0]", "[-6, -9.0]", "[pace] points[1][1]", "out of range", "more than 0"),
    ("[-6, 9.0]", "[-96, 9.0]", "[pace] points[1][0]", "out of range", "at least -90"),
    ("min_gap_s = 1.0", "min_gap_s = 5", "[pace] points", "shorter than the shortest exposure", "Use 5"),
    ("[0.0005, 18.0]", "[8, 18]", "[pace] points", "shorter than the shortest exposure, 8 s, and", "Use 9 s or more"),
    ("[0.0005, 18.0]", "[30, 60]", "[pace] points", "exposure, 30 s (truly 32 s), and", "Use 33 s or more"),
    ("[0.0005, 18.0]", "[18, 0.0005]", "[light] shutter_s", "above the upper", "Swap"),
    ("[2.8, 2.8]", "[0, 2.8]", "[light] aperture[0]", "out of range", "at least 0.5"),
    ('["shutter", "iso"]', '["shutter"]', "[light] order", "iso has a range", 'Add "iso"'),
    ('["shutter", "iso"]', '["iso", "iso"]', "[light] order", "twice", "once"),
    ('["shutter", "iso"]', '["shutter", "flash"]', "[light] order[1]", "not known", "'shutter'"),
    (_LIGHT, f"{_LIGHT}\nregions = 3", "[light] regions", "no table", "[[light.regions]]"),
    (_LIGHT, f"{_LIGHT}\nregions = [{{rect = [0, 0, 1]}}]", "[light] regions[0] rect[3]", "right length", "bottom"),
    (_LIGHT, f"{_LIGHT}\nregions = [{{rect = [0, 0, 1, 2]}}]", "[light] regions[0] rect[3]", "range", "at most 1"),
    (_LIGHT, f"{_LIGHT}\nregions = [{{rect = [0, 1, 1, 0]}}]", "[light] regions[0] rect", "holds nothing", "bottom"),
    (_LIGHT, f"{_LIGHT}\nregions = [{{rec = [0, 0, 1, 1]}}]", "[light] regions[0] rec", "unknown key", "mean rect"),
    (_LIGHT, f"{_LIGHT}\nregions = [{{rect = [0, 0, 1, 1]}}]", "[light] regions", "nothing of the picture", "weight"),
    (_LIGHT, f"{_LIGHT}\nlearn_response = 1", "[light] learn_response", "neither true nor false", "true or false"),
    ('fetch = "preview"', 'fetch = "every"', "[files] fetch", "cannot be used", "every 10"),
    ("fps = 25", "fps = 0.5", "[clip] fps", "out of range", "at least 1"),
    ('name = "quay-at-dusk"', 'name = "?!"', "name", "cannot be used", "letters"),
    ('name = "quay-at-dusk"', "name =", "", "not TOML", "line 2"),
]


@pytest.mark.parametrize(("old", "new", "where", "what", "remedy"), REFUSED)
def test_refused_in_one_line_that_says_what_where_and_the_remedy(old, new, where, what, remedy):
    assert old in QUAY
    text = QUAY.replace(old, new, 1)
    with pytest.raises(BadInput) as refusal:
        read_plan(text)
    error = refusal.value
    assert error.code == "bad-plan"
    line, _, there = error.where.rpartition(", ")
    assert there == where
    assert bool(line) == (error.what[:8] != "not TOML")
    if line:
        named = text.split("\n")[int(line.removeprefix("line ")) - 1]
        key = re.sub(r"\[\d+\]", "", where).split()[-1].strip("[]")
        assert key in named or ("missing" in error.what and named == where.split()[0]), named
    assert what in error.what
    assert remedy in f"{error.what} {error.remedy}"
    assert "\n" not in str(error)
    assert not FOREIGN.search(str(error))


def test_a_timed_pace_needs_an_end_to_fill():
    with pytest.raises(BadInput, match="no end to fill"):
        changed(example("until_stopped"), pace={"kind": "timed", "from_s": 12, "to_s": 20})


@pytest.mark.parametrize("table", ["site", "when", "pace", "light", "files", "clip"])
@pytest.mark.parametrize("value", [5, "x", True, None, []])
def test_a_value_in_place_of_a_table(table, value):
    with pytest.raises(BadInput) as refusal:
        plan_from(tomllib.loads(QUAY) | {table: value})
    error = refusal.value
    assert "is no table" in error.what
    assert error.remedy == f"Write [{table}], and its keys below it"


def test_a_shoot_by_the_clock_does_not_stop_when_it_starts():
    with pytest.raises(BadInput, match="18:20 is the same as the start"):
        changed(example("quay_at_dusk"), when={"start": "18:20", "stop": "18:20"})


def test_deep_nesting_and_huge_numbers_are_refused_too():
    for text in ("x = " + "[" * 50_000, "x = " + "9" * 5000, "x = 1" + "0" * 400, "\ud800"):
        with pytest.raises(BadInput):
            read_plan(text)


@pytest.mark.parametrize(
    ("plan", "stretch_s", "what"),
    [
        ("quay_at_dusk", 4.0, "no longer than the pace's own"),
        ("stars_over_a_ridge", 60.0, "a fixed light"),
        ("quay_at_dusk", 0.0, "out of range"),
    ],
)
def test_a_stretch_without_sense_is_refused(plan, stretch_s, what):
    with pytest.raises(BadInput, match=what) as refusal:
        changed(example(plan), pace={"stretch_to_s": stretch_s})
    assert refusal.value.where == "[pace] stretch_to_s"
    assert refusal.value.remedy


def test_regions_are_as_they_are_written():
    plan = read_plan(
        QUAY + "\n[[light.regions]]\nrect = [0, 0, 1, 0.5]\n[[light.regions]]\nrect = [0.2, 0, 0.4, 0.1]\nweight = 2"
    )
    assert plan.light.metered_regions() == (Region(0, 0, 1, 0.5, 0), Region(0.2, 0, 0.4, 0.1, 2))
    assert plan_from(json.loads(json.dumps(plan.document()))) == plan


def keys_told() -> dict[str, dict[str, list[str]]]:
    """By table of docs/plan.md: the keys that it lists, and what is said where one is left out."""
    text = (PLANS[0].parents[3] / "docs" / "plan.md").read_text("utf-8").partition("\n## Plans of other kinds")[0]
    told: dict[str, dict[str, list[str]]] = {}
    for section in text.split("\n## [")[1:]:
        keys = told.setdefault(section.split("]")[0], {})
        for first, last in re.findall(r"^\| (`.+?) \| .+ \| (.*?) *\|$", section, re.M):
            for key in re.findall(r"`(\w+)`", first):
                keys.setdefault(key, []).append(last)
    return told


def test_the_reference_lists_every_key_and_no_other():
    wanted: dict[str, set[str]] = {}
    for place, model in MODELS.items():
        if place:
            keys = {field.alias or name for name, field in model.model_fields.items()}
            wanted.setdefault(place[0], set()).update(keys)
    assert {table: set(keys) for table, keys in keys_told().items()} == wanted
    assert set(MODELS[()].model_fields) == {"name", *wanted}


IN_WORDS = {"order": "in this order", "skip": "none", "regions": "counts alike"}
IN_WORDS |= {"iso": "100 to 3200", "shutter_s": "1/8000 s to 30 s"}
"""Left out, and what stands for it in docs/plan.md."""


def test_the_reference_tells_what_a_key_left_out_stands_for():
    told = keys_told()
    for place, model in MODELS.items():
        for name, field in model.model_fields.items() if place else ():
            key = field.alias or name
            said = " ".join(told[place[0]][key])
            if field.is_required():
                assert "needed" in said or key == "start" or place[-1] == "fixed", (place, key, said)
            elif isinstance(field.default, bool):
                assert f"{field.default}".lower() in said, (place, key, said)
            elif field.default is not None:
                shown = f"{field.default:g}" if isinstance(field.default, float) else f"{field.default}"
                words = IN_WORDS.get(key, shown)
                assert re.search(rf"(?<![\w.]){re.escape(words)}(?!\w|\.[1-9])", said), (place, key, said)


def test_the_reference_tells_the_same_figures():
    """docs/plan.md against the models."""
    text = (PLANS[0].parents[3] / "docs" / "plan.md").read_text("utf-8")
    sections = {part.split("]")[0]: part for part in text.split("## [")[1:]}
    for kind in ("steady", "timed", "sun", "light", "pulse"):
        assert f'"{kind}"' in sections["pace"]
    for default in ("1.0", "0.04"):
        assert f"| {default} |" in sections["pace"]
    follow = MODELS["light", "follow"].model_fields
    assert NIGHT == ((5.0, 0.0), (-3.0, -0.7), (-10.0, -1.7))
    assert "0 down to EV 5, −0.7 at EV −3, −1.7 from EV −10 down" in sections["light"]
    assert f"| {follow['max_ev_per_min'].default} |" in sections["light"]
    assert (follow["shutter_s"].default, follow["iso"].default) == ((1 / 8000, 30.0), (100.0, 3200.0))
    assert "1/8000 s to 30 s" in sections["light"]
    assert f"| {MODELS[('site',)].model_fields['floor_lx'].default} |" in sections["site"]
