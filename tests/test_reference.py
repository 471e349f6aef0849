"""The reference: commands, REST, log, errors, metrics. Each page lists what the code has, no more and no less.

Keys of plans are held by tests/decide/test_plan.py, those of `rig.toml` by tests/decide/wiring, checks and findings by
tests/decide/checks and health.
"""

from __future__ import annotations

import argparse
import ast
import re
from collections.abc import Iterator
from functools import cache
from typing import Any, cast

from api.app import create_app
from api.problems import BY_STATUS, STATUS
from api.rig import Rig
from controller.commands import COMMANDS
from controller.decide.places import KINDS
from controller.words.documents import EXPORT_COLUMNS, FrameState, FrameTrouble, ShootState
from tests.test_house import DOCS, ROOT, parser_of, python_files, rows


def test_every_command_has_its_section() -> None:
    text = (DOCS / "commands.md").read_text("utf-8")
    sections = dict(re.findall(r"^## duskhand (\S+)\n(.*?)(?=^## |\Z)", text, re.S | re.M))
    assert list(sections) == list(COMMANDS)
    for command, section in sections.items():
        actions = [action for action in parser_of(command)._actions if not isinstance(action, argparse._HelpAction)]
        assert [re.findall("`([^`]+)`", row[0]) for row in rows(section)] == [names(a) for a in actions], command


def names(action: argparse.Action) -> list[str]:
    """An argument as help shows it: every name of an option with what it takes."""
    takes = "" if action.nargs == 0 else f" {action.metavar or action.dest.upper()}"
    return [name + takes for name in action.option_strings] or [takes.strip()]


def test_what_an_option_left_out_stands_for_is_in_its_line() -> None:
    """A number or a word that an option has where it is not given; a switch that is off says nothing."""
    text = (DOCS / "commands.md").read_text("utf-8")
    told = {
        (command, row[0]): row[1]
        for command, section in re.findall(r"^## duskhand (\S+)\n(.*?)(?=^## |\Z)", text, re.S | re.M)
        for row in rows(section)
    }
    wanting = [
        (command, names(action), action.default)
        for command in COMMANDS
        for action in parser_of(command)._actions
        if isinstance(action.default, (int, float, str))
        and action.default not in (False, True, argparse.SUPPRESS)
        and not re.search(plainly(action.default), told[command, ", ".join(f"`{name}`" for name in names(action))])
    ]
    assert wanting == [], wanting


def plainly(value: object) -> str:
    """A pattern of it as a word of its own."""
    return rf"(?<![\w.]){re.escape(f'{value:g}' if isinstance(value, float) else str(value))}(?!\.?\w)"


@cache
def served() -> dict[str, Any]:
    """The schema that a rig serves."""
    return create_app(cast("Rig", None)).openapi()


def calls() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Method, path with its names left out, and what the schema says of each call."""
    for path, item in served()["paths"].items():
        for method, call in item.items():
            yield method.upper(), re.sub(r"\{\w+\}", "{}", path), call


def listed() -> dict[tuple[str, str], str]:
    """The line of docs/rest.md for each call; one line may stand for two."""
    return {
        (method, re.sub(r"\{\w+\}", "{}", path)): line
        for line in (DOCS / "rest.md").read_text("utf-8").splitlines()
        if line.startswith("| `")
        for method, path in re.findall(r"`(GET|PUT|POST|DELETE) ([^\s`?]+)", line)
    }


def test_every_call_is_listed() -> None:
    assert set(listed()) - {("GET", "/openapi.json")} == {(method, path) for method, path, _ in calls()}


def test_every_query_parameter_stands_in_its_line() -> None:
    """As `?name=`, or named in the call itself."""
    asked = [
        (method, path, parameter["name"])
        for method, path, call in calls()
        for parameter in call.get("parameters", [])
        if parameter["in"] == "query"
    ]
    assert len(asked) > 25
    assert [each for each in asked if not re.search(rf"\b{each[2]}\b", listed()[each[:2]])] == []


def keys_of(schema: dict[str, Any]) -> Iterator[str]:
    """The keys of a body, whatever it may be one of; a plan's stand in docs/plan.md."""
    if (name := schema.get("$ref", "").rpartition("/")[2]) not in ("", "Plan"):
        yield from keys_of(served()["components"]["schemas"][name])
    for word in ("anyOf", "oneOf", "allOf"):
        for one in schema.get(word, []):
            yield from keys_of(one)
    yield from schema.get("properties", {})


def test_every_key_of_a_body_is_told() -> None:
    """As code: `key`, or "key" in a body that is shown."""
    text = re.sub("^```.*?^```", "", (DOCS / "rest.md").read_text("utf-8"), flags=re.S | re.M)
    told = set(re.findall(r"\w+", " ".join(re.findall("`[^`]+`", text))))
    bodies = [
        (method, path, key)
        for method, path, call in calls()
        for content in call.get("requestBody", {}).get("content", {}).values()
        for key in keys_of(content["schema"])
    ]
    assert len(bodies) > 40
    assert [each for each in bodies if each[2] not in told] == []


def table(page: str, head: str) -> list[str]:
    """Names in the first column of the table whose head begins so."""
    text = (DOCS / page).read_text("utf-8").partition(f"| {head} |")[2].partition("\n\n")[0]
    return [name for row in re.findall(r"^\| (`.+?) \| ", text, re.M) for name in re.findall("`([^`]+)`", row)]


def test_every_event_is_listed() -> None:
    sent = {
        str(node.args[0].value)
        for path in python_files()
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("hub.publish")
        if isinstance(node.args[0], ast.Constant)
    }
    assert set(table("rest.md", "event")) == sent | {"note"}


def test_every_state_is_listed() -> None:
    assert table("rest.md", "state of a shoot") == list(ShootState)
    assert set(table("frame-log.md", "state")) == set(FrameState) - {FrameState.DUE}  # which is never exported
    assert set(table("frame-log.md", "kind")) == set(FrameTrouble)


def test_every_key_of_a_second_place_is_listed() -> None:
    """Under the kinds that have it, or under all."""
    text = (DOCS / "storage.md").read_text("utf-8").partition("| key | of |")[2].partition("\n\n")[0]
    found = [(re.findall("`(.+?)`", keys), of) for keys, of in re.findall(r"^\| (`.+?) \| (.+?) \| ", text, re.M)]
    told = {(kind, key) for keys, of in found for kind in KINDS for key in keys if of == "all" or f"`{kind}`" in of}
    assert told == {(kind, key) for kind, model in KINDS.items() for key in model.model_fields}


def test_the_log_has_these_columns_in_this_order() -> None:
    text = (DOCS / "frame-log.md").read_text("utf-8").partition("## Columns")[2].partition("\n## ")[0]
    assert [row[0].strip("`") for row in rows(text)] == list(EXPORT_COLUMNS)
    assert all(row[1] and row[2] for row in rows(text))


def test_every_metric_is_listed() -> None:
    """Those too that only a rig with something rare on it tells; a counter's name gets its ending from the library."""
    named = re.findall(r'"(duskhand_\w+)"', (ROOT / "api/figures.py").read_text("utf-8"))
    assert len(named) > 20
    assert {name.removesuffix("_total") for name in table("watching.md", "metric")} == set(named)


def makers_in(trees: list[ast.Module]) -> dict[str, int]:
    """What makes an error, by name, and the place of the code among its arguments."""
    makers = {"DuskhandError": 0, "Trouble": 0, "Gone": 0, "answer": 1}
    classes = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    while more := [c.name for c in classes if c.name not in makers and any(ast.unparse(b) in makers for b in c.bases)]:
        makers |= dict.fromkeys(more, 0)
    return makers


def codes_in(tree: ast.Module, makers: dict[str, int]) -> set[str]:
    """Codes of the errors that a module makes; a code that is not written out there is one passed on."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and (name := ast.unparse(node.func).rpartition(".")[2]) in makers:
            given = [keyword.value for keyword in node.keywords if keyword.arg == "code"]
            given += node.args[makers[name] : makers[name] + 1]
            found |= set(texts_of(given[0])) if given else set()
    return found


def texts_of(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from texts_of(node.body)
        yield from texts_of(node.orelse)


def test_codes_are_found_where_they_are_made() -> None:
    tree = ast.parse("""
class MeterError(CameraError): ...
class CameraError(DuskhandError): ...
raise MeterError("bad-plan", "x")
errors.CameraError(code="no-plan", what="x")
Gone(e.code, "x")
CameraError("a-b" if c else "d-e", "x")
answer(500, "internal", "x")
ValueError("no")
""")
    assert codes_in(tree, makers_in([tree])) == {"bad-plan", "no-plan", "a-b", "d-e", "internal"}
    assert list(hidden_in(ast.parse('code = "a"\nraise CameraError(code, "x")'), {"CameraError": 0})) == ["code"]
    assert list(hidden_in(tree, makers_in([tree]))) == []


def hidden_in(tree: ast.Module, makers: dict[str, int]) -> Iterator[str]:
    """Codes that are neither written out where an error is made nor passed on from another error."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and (name := ast.unparse(node.func).rpartition(".")[2]) in makers:
            given = [keyword.value for keyword in node.keywords if keyword.arg == "code"]
            for code in (given + node.args[makers[name] : makers[name] + 1])[:1]:
                if not list(texts_of(code)) and not re.search(r"\.code$", ast.unparse(code)):
                    yield ast.unparse(code)


def test_codes_are_written_out_where_errors_are_made() -> None:
    """So that the next test sees them."""
    elsewhere = {
        "api/problems.py": "those of HTTP's own refusals, by their table",
        "api/tls.py": "two, by the option's name; both are made there",
        "controller/commands/asking.py": "what the service answered",
        "controller/commands/figures.py": "each reader of a figure gives its own, which is made there too",
    }
    trees = {str(path.relative_to(ROOT)): ast.parse(path.read_text("utf-8")) for path in python_files()}
    makers = makers_in(list(trees.values()))
    in_controller = {maker: place for maker, place in makers.items() if maker != "answer"}  # which is one of api's
    found = {
        name
        for name, tree in trees.items()
        if not name.startswith("controller/simulated")  # whose codes are PTP's
        and list(hidden_in(tree, makers if name.startswith("api") else in_controller))
    }
    assert found == set(elsewhere)


def test_every_error_code_is_listed_with_its_remedy() -> None:
    trees = [ast.parse(path.read_text("utf-8")) for path in python_files()]
    makers = makers_in(trees)
    made = {code for tree in trees for code in codes_in(tree, makers)}
    made |= {code for code, _ in BY_STATUS.values()} | {"refused"}  # the last for a status that is not among them
    listed = {
        code: row[1:] for row in rows((DOCS / "errors.md").read_text("utf-8")) for code in re.findall("`(.+?)`", row[0])
    }
    assert set(listed) == made
    assert all(len(cells) == 2 and all(cells) for cells in listed.values())


def remedies_in(tree: ast.Module, makers: dict[str, int]) -> Iterator[str]:
    """Ends of the remedies that a module writes out, given to what makes an error, or under a name that says so."""
    for node in ast.walk(tree):
        given: list[ast.expr] = []
        if isinstance(node, ast.Call):
            given = [keyword.value for keyword in node.keywords if keyword.arg == "remedy"]
            name = ast.unparse(node.func).rpartition(".")[2]
            given += node.args[2:3] if name == "refuse" else node.args[makers[name] + 3 :][:1] if name in makers else []
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                pairs = [(target, node.value)]
                if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    pairs = list(zip(target.elts, node.value.elts, strict=True))
                given += [value for name_, value in pairs if re.search("remed", ast.unparse(name_), re.I)]
        for value in given:
            yield from ends_of(value)


def ends_of(node: ast.expr) -> Iterator[str]:
    """Where a text that is put together ends; its parts that are known only when it runs are left out."""
    if isinstance(node, ast.JoinedStr):
        yield from ends_of(node.values[-1])
    elif isinstance(node, ast.BinOp):
        yield from ends_of(node.right)
    elif isinstance(node, ast.Dict | ast.IfExp):
        for part in node.values if isinstance(node, ast.Dict) else (node.body, node.orelse):
            yield from ends_of(part)
    else:
        yield from texts_of(node)


def test_remedies_end_without_a_stop() -> None:
    tree = ast.parse("""
remedy = "a"
what, remedy = "x.", f"{y} b"
_REMEDIES = {"k": "c"}
raise BadInput("code", "what.", "where", "d" if y else f"{z}e")
refuse("key", "what.", "f")
Warned(what="x.", remedy="g" + "h")
""")
    assert sorted(remedies_in(tree, {"BadInput": 0})) == [" b", "a", "c", "d", "e", "f", "h"]
    trees = {path: ast.parse(path.read_text("utf-8")) for path in python_files()}
    makers = makers_in(list(trees.values()))
    found = [(path.name, end) for path, tree in trees.items() for end in remedies_in(tree, makers)]
    assert len(found) > 300
    assert [each for each in found if each[1].endswith(".")] == []


def test_an_errors_status_stands_in_its_line_or_over_it() -> None:
    told: dict[str, str] = {}
    heading = ""
    for line in (DOCS / "errors.md").read_text("utf-8").splitlines():
        heading = line if line.startswith("## ") else heading
        if line.startswith("| `"):
            told |= dict.fromkeys(re.findall("`(.+?)`", line.split(" | ")[0]), heading + line)
    by_name = {kind.__name__: str(status) for kind, status in STATUS.items()}
    raised = re.compile(rf'\b({"|".join(by_name)})\(\s*"([a-z-]+)"')
    found = {pair for path in python_files() for pair in raised.findall(path.read_text("utf-8"))}
    assert len(found) > 100
    assert [(code, by_name[kind]) for kind, code in sorted(found) if by_name[kind] not in told[code]] == []
