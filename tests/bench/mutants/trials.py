"""One fault after the other in front of the tests that run its line, each in a fork of one collected session of pytest.

A function's code is put into the function that is there, a constant into every module that has it, so that nothing is
imported or collected again: most faults take less than a second. A fork ends at the first test that fails, or where it
has used three times the processor seconds that its tests took.
"""

from __future__ import annotations

import ast
import functools
import gc
import os
import resource
import sys
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import numpy as np
import pytest

from tests.bench.mutants.changes import Change, changed

KILLED, ALIVE, ENDLESS, NO_TEST, FLAW = "killed", "alive", "endless", "no test", "flaw"


@dataclass(frozen=True, slots=True)
class Trial:
    """A fault (None: a run without any), and the tests to run: node ids, the quickest first, with their seconds."""

    change: Change | None
    tests: tuple[tuple[str, float], ...]


class Trials:
    """A plugin for pytest: makes the trials instead of running the tests that were collected."""

    def __init__(self, root: Path, trials: list[Trial], jobs: int, told: Any) -> None:
        self._root, self._trials, self._jobs, self._told = root, trials, jobs, told
        self._running: dict[int, tuple[Trial, int]] = {}
        self._functions: dict[tuple[str, str], list[FunctionType]] = {}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType) and thing.__code__.co_filename.startswith(str(self._root)):
                self._functions.setdefault((thing.__code__.co_filename, thing.__qualname__), []).append(thing)
        gc.freeze()  # so that collecting in the forks copies no pages
        for trial in self._trials:
            if not trial.tests:
                self._told(trial, NO_TEST, "")
                continue
            while len(self._running) >= self._jobs:
                self._end_one()
            self._begin(session, trial, [items[name] for name, _ in trial.tests if name in items])
        while self._running:
            self._end_one()
        return True

    def _begin(self, session: pytest.Session, trial: Trial, items: list[pytest.Item]) -> None:
        reads, writes = os.pipe()
        sys.stdout.flush()
        if pid := os.fork():
            os.close(writes)
            self._running[pid] = trial, reads
            return
        status = 3
        try:
            os.close(reads)
            most_s = int(20 + 3 * sum(taken_s for _, taken_s in trial.tests))
            resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
            if trial.change is not None:
                self._put(trial.change)
            failed = _first_that_fails(session, items)
            os.write(writes, failed.encode())
            status = 1 if failed else 0
        except BaseException:
            os.write(writes, traceback.format_exc().encode()[-4000:])
            raise
        finally:
            os._exit(status)

    def _end_one(self) -> None:
        pid, status = os.wait()
        if pid not in self._running:
            return
        trial, reads = self._running.pop(pid)
        with os.fdopen(reads, "rb") as pipe:
            said = pipe.read().decode()
        code = os.waitstatus_to_exitcode(status)
        self._told(trial, {0: ALIVE, 1: KILLED, 3: FLAW}.get(code, ENDLESS), said or f"ended with {code}")

    def _put(self, change: Change) -> None:
        file = self._root / change.file
        tree = changed(file, change)
        if change.within is None:
            _put_constant(file, tree, change.line)
        else:
            code = next(c for c in _codes(compile(tree, str(file), "exec")) if c.co_qualname == change.within)
            there = self._functions[str(file), change.within]
            for function in there:
                function.__code__ = code
        for thing in gc.get_objects():
            if isinstance(thing, functools._lru_cache_wrapper) and thing.__module__.startswith("controller."):
                thing.cache_clear()


def _first_that_fails(session: pytest.Session, items: list[pytest.Item]) -> str:
    for item, after in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        if session.testsfailed:
            return item.nodeid
    return ""


def _codes(code: CodeType) -> Iterator[CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from _codes(constant)


def _put_constant(file: Path, tree: ast.Module, line: int) -> None:
    """A module's constant anew, and those of the same module that are worked out from it."""
    module = next(m for m in list(sys.modules.values()) if getattr(m, "__file__", None) == str(file))
    for statement in tree.body:
        if (
            isinstance(statement, ast.Assign)
            and statement.lineno >= line
            and isinstance(statement.targets[0], ast.Name)
        ):
            name = statement.targets[0].id
            was = vars(module)[name]
            if statement.lineno > line and not isinstance(was, int | float | tuple | dict | str | np.ndarray):
                continue
            now = eval(compile(ast.Expression(statement.value), str(file), "eval"), vars(module))
            if statement.lineno > line and np.array_equal(now, was):
                continue
            for other in list(sys.modules.values()):
                for called, value in list(getattr(other, "__dict__", {}).items()):
                    if value is was and called == name:
                        setattr(other, called, now)
