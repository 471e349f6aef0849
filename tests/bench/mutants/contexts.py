"""A plugin for pytest under coverage.py: tells it which test runs, by node id.

Its own way to name tests, by the function, takes what Hypothesis runs for one test of the name of Hypothesis's own.
"""

from __future__ import annotations

from collections.abc import Generator

import pytest
from coverage import Coverage


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    measuring = Coverage.current()
    assert measuring is not None
    measuring.switch_context(item.nodeid)
    return (yield)
