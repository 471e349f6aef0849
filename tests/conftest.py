"""For every test."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import settings
from xdist.scheduler import LoadScopeScheduling

# How long an example takes says something of the machine and what else it does, not of the code.
settings.register_profile("duskhand", deadline=None)
settings.load_profile("duskhand")

WAITING = ("tests/whole/", "tests/camera/")
"""Folders whose tests mostly wait for cameras in real time, and share nothing."""


class Scheduling(LoadScopeScheduling):  # type: ignore[misc]
    """File by file, since files share rigs and browsers; tests that wait one by one."""

    def _split_scope(self, nodeid: str) -> str:
        return nodeid if nodeid.startswith(WAITING) else nodeid.partition("::")[0]


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Scheduling:
    config.option.loadscopereorder = False  # the order is that of the collection
    return Scheduling(config, log)
