"""Small faults for one file of Python: every place where one sign, number, name or statement can be another.

They are the operators that the field has used since Mothra (King and Offutt, 1991: relational, arithmetic and logical
operators, constants, statements left out), from memory. Texts are left alone, and so is what is evaluated while a
module is read but plain constants: signatures, decorators, and the fields of classes.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_COUNTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
}
_CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
_NAMED = {"floor": "ceil", "ceil": "floor", "maximum": "minimum", "minimum": "maximum"}  # of a module, as np.maximum
_FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef

Path_ = tuple[tuple[str, int | None], ...]
"""From a module's tree to a node: fields, and places in lists."""


@dataclass(frozen=True, slots=True)
class Change:
    """One fault: `line` is where its statement begins, `last` where that ends; `within` the outermost function."""

    file: str
    line: int
    last: int
    within: str | None  # its qualified name; None for a constant of the module
    was: str
    now: str
    at: Path_
    kind: int  # which of those that are possible there

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.was}  →  {self.now}"


def changes(file: Path, name: str) -> list[Change]:
    """Every fault for a file, in its order."""
    found: list[Change] = []
    tree = ast.parse(file.read_text("utf-8"))
    for at, statement, node, within in _places(tree):
        for kind, other in enumerate(_others(node)):
            # a whole branch is not shown, but what decides on it
            was, now = (_shown(n) for n in (node, other))
            found.append(Change(name, statement.lineno, _end(statement), within, was, now, at, kind))
    return found


def changed(file: Path, change: Change) -> ast.Module:
    """The file's tree with one fault in it."""
    tree = ast.parse(file.read_text("utf-8"))
    parent, (field, index) = _down(tree, change.at[:-1]), change.at[-1]
    value = getattr(parent, field)
    old = value if index is None else value[index]
    new = ast.copy_location(_others(old)[change.kind], old)
    if index is None:
        setattr(parent, field, new)
    else:
        value[index] = new
    return ast.fix_missing_locations(tree)


def _down(node: ast.AST, at: Path_) -> ast.AST:
    for field, index in at:
        value = getattr(node, field)
        node = value if index is None else value[index]
    return node


def _places(tree: ast.Module) -> Iterator[tuple[Path_, ast.stmt, ast.AST, str | None]]:
    for index, statement in enumerate(tree.body):
        at: Path_ = (("body", index),)
        if isinstance(statement, _FUNCTION):
            yield from _body(statement, at, statement.name)
        elif isinstance(statement, ast.ClassDef):
            for inner, method in enumerate(statement.body):
                if isinstance(method, _FUNCTION):
                    yield from _body(method, (*at, ("body", inner)), f"{statement.name}.{method.name}")
        elif isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
            yield from _under(statement.value, (*at, ("value", None)), statement, None)


def _body(
    function: ast.FunctionDef | ast.AsyncFunctionDef, at: Path_, within: str
) -> Iterator[tuple[Path_, ast.stmt, ast.AST, str | None]]:
    for index, statement in enumerate(function.body):
        yield from _under(statement, (*at, ("body", index)), statement, within)


def _under(
    node: ast.AST, at: Path_, statement: ast.stmt, within: str | None
) -> Iterator[tuple[Path_, ast.stmt, ast.AST, str | None]]:
    yield at, statement, node, within
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "args", "decorator_list") and isinstance(node, _FUNCTION | ast.AnnAssign):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.FormattedValue | ast.JoinedStr):
                inside = child if isinstance(child, ast.stmt) else statement
                yield from _under(child, (*at, (field, index)), inside, within)


def _others(node: ast.AST) -> list[ast.AST]:
    """What may stand in a node's place; copies."""
    match node:
        case ast.Compare(ops=[op]):
            return [_with(node, ops=[other()]) for other in _COMPARED[type(op)]]
        case ast.BinOp(op=op) if type(op) in _COUNTED and not _text(node):
            return [_with(node, op=_COUNTED[type(op)]())]
        case ast.BoolOp(op=op):
            return [_with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())]
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            return [copy.deepcopy(node.operand)]
        case ast.Constant(value=bool(value)):
            return [_with(node, value=not value)]
        case ast.Constant(value=int(value)):
            return [_with(node, value=value + 1)]
        case ast.Constant(value=float(value)):
            return [_with(node, value=value * 2 or 1.0)]
        case ast.Call(func=ast.Name(id=name)) if name in _CALLED and len(node.args) > (name in ("min", "max")):
            return [_with(node, func=ast.Name(_CALLED[name], ast.Load()))]
        case ast.Call(func=ast.Attribute(attr=name)) if name in _NAMED:
            return [_with(node, func=_with(node.func, attr=_NAMED[name]))]
        case ast.If() | ast.IfExp() | ast.While() if not isinstance(node.test, ast.Compare | ast.BoolOp | ast.UnaryOp):
            return [_with(node, test=ast.UnaryOp(ast.Not(), copy.deepcopy(node.test)))]
        case ast.Raise() | ast.AugAssign() | ast.Expr(value=ast.Call() | ast.Await()):
            return [ast.Pass()]
        case ast.Continue():
            return [ast.Break()]
        case ast.Break():
            return [ast.Continue()]
    return []


def _with(node: ast.AST, **fields: object) -> ast.AST:
    other = copy.deepcopy(node)
    for name, value in fields.items():
        setattr(other, name, value)
    return other


def _text(node: ast.BinOp) -> bool:
    """Joined texts: another sign there fails whatever runs it."""
    return any(
        isinstance(n, ast.JoinedStr) or (isinstance(n, ast.Constant) and isinstance(n.value, str))
        for n in ast.walk(node)
    )


def _shown(node: ast.AST) -> str:
    if isinstance(node, ast.If | ast.While):
        return f"if {ast.unparse(node.test)}"
    return " ".join(ast.unparse(ast.fix_missing_locations(copy.deepcopy(node))).split())[:110]


def _end(statement: ast.stmt) -> int:
    """Where a statement's own lines end: for one that holds others, where its first begins."""
    inside = getattr(statement, "body", None)
    return inside[0].lineno - 1 if inside else statement.end_lineno or statement.lineno
