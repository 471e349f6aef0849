"""Modules that go out in one script run as they would one by one: Node is asked, which knows ECMAScript by itself."""

import asyncio
import re
from pathlib import Path

import pytest

from api.page import WEB
from api.scripts import WORDS, Scripts, _at, _part_of

MODULES = {
    "js/words.js": """
import { twice } from "./dom.js";
export const HELLO = twice("hello");
export const fast = (n) => `// ${n}`;
""",
    "js/dom.js": """
// Counts its runs.
globalThis.runs = (globalThis.runs ?? 0) + 1;
let last = 0;
export function twice(text) {
  return text + text; // no more
}
export const $ = (n) => { last += n; return last; };
export class Kept {
  #n = 1;
  get n() { return this.#n; }
}
""",
    "js/page.js": """
import * as say from "./words.js";
import { $, Kept as Held } from "./dom.js";
const open = 5;
export const told = [say.HELLO, say.fast(2), $(1), new Held().n, open];
""",
    "js/rooms/one.js": """
import { told } from "../page.js";
import { $ } from "../dom.js";
import { numbers,
  take } from "./one-more.js";
export async function open() {
  const found = [];
  for await (const n of numbers()) found.push(n);
  return JSON.stringify([told, found, take(...found), $(1), globalThis.runs]);
}
""",
    "js/rooms/one-more.js": """
import { twice } from "../dom.js";
export async function* numbers() {
  yield 1;
  yield twice("b");
}
const open = twice;
export const take = (...given) => given.map((one) => open(String(one)));
""",
}


def laid(folder: Path, modules: dict[str, str]) -> Path:
    for name, text in modules.items():
        for place in [name] + (["words/en.js"] if name == WORDS else []):
            (folder / place).parent.mkdir(parents=True, exist_ok=True)
            (folder / place).write_text(text)
    (folder / "package.json").write_text('{ "type": "module" }')
    return folder


async def says(folder: Path) -> str:
    """What the room says when it is opened."""
    (folder / "run.js").write_text('console.log(await (await import("./js/rooms/one.js")).open());\n')
    node = await asyncio.create_subprocess_exec("node", str(folder / "run.js"), stdout=-1, stderr=-1)
    out, error = await node.communicate()
    assert node.returncode == 0, error.decode()
    return out.decode()


async def test_joined_modules_do_what_they_do_apart(tmp_path: Path) -> None:
    apart = laid(tmp_path / "apart", MODULES)
    scripts = Scripts(apart)
    parts = [name for name in MODULES if scripts.is_part(name)]
    assert parts == ["js/page.js", "js/rooms/one.js"]
    joined = laid(tmp_path / "joined", {name: scripts.part(name, "en")[0].decode() for name in parts})
    assert await says(joined) == await says(apart)
    assert "bb" in await says(joined), "it has run"


def test_a_part_is_new_when_one_of_its_modules_is(tmp_path: Path) -> None:
    scripts = Scripts(laid(tmp_path, MODULES))
    _, before = scripts.part("js/rooms/one.js", "en")
    assert scripts.part("js/rooms/one.js", "en")[1] == before
    (tmp_path / "js/rooms/one-more.js").write_text(MODULES["js/rooms/one-more.js"].replace("yield 1", "yield 1001"))
    body, after = scripts.part("js/rooms/one.js", "en")
    assert after != before
    assert b"yield 1001" in body


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('import { none } from "./dom.js";\n', "none"),
        ('import page from "./page.js";\n', "does not know"),
        ("export default 5;\n", "does not know"),
        ("export let n = 5;\n", "does not know"),
        ('import { told } from "./page.js";\nexport const more = told;\n', "circle"),
    ],
)
def test_what_cannot_be_joined_is_refused(tmp_path: Path, text: str, why: str) -> None:
    page = 'import { more } from "./once.js";\n' + MODULES["js/page.js"]
    laid(tmp_path, MODULES | {"js/once.js": text} | ({"js/page.js": page} if why == "circle" else {}))
    with pytest.raises(RuntimeError, match=why):
        Scripts(tmp_path).part("js/page.js", "en")


def modules() -> dict[str, str]:
    """The page's own, by the names by which they import each other."""
    found = {path.relative_to(WEB).as_posix(): path.read_text() for path in sorted((WEB / "js").rglob("*.js"))}
    return found | {WORDS: (WEB / "words/en.js").read_text()}


def test_every_module_goes_out_once() -> None:
    scripts, all_ = Scripts(WEB), modules()
    for name in all_:
        assert scripts.is_part(_part_of(name)), f"{name} goes out with no part"
    names = [name for part in filter(scripts.is_part, all_) for name in _shared(scripts, part)]
    assert sorted(names) == sorted("$" + Path(name).stem.replace("-", "_") for name in all_)


def _shared(scripts: Scripts, part: str) -> list[str]:
    found = re.findall(r"^export \{ (.*) \};$", scripts.part(part, "en")[0].decode(), re.MULTILINE)
    return list(found[0].split(", "))


def test_what_a_module_imports_is_exported_where_it_says() -> None:
    """ECMA-262 makes the browser refuse a name that is not there; from one part to another nobody would."""
    all_ = modules()
    given = {
        name: set(re.findall(r"^export (?:async )?(?:\w+\*?) ?([\w$]+)", text, re.M)) for name, text in all_.items()
    }
    asked = 0
    for name, text in all_.items():
        for names, other in re.findall(r'^import \{([^}]*)\} from "([^"]+)";', text, re.M):
            for one in names.split(","):
                assert one.split(" as ")[0].strip() in given[_at(name, other)], f"{name}: {one} of {other}"
                asked += 1
    assert asked > 200
