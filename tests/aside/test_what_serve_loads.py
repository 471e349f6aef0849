"""What a service loads before its first frame: work that a process of its own does is loaded there."""

from __future__ import annotations

import subprocess
import sys

import pytest

SERVE = "import sys, api.server, controller.daemon, controller.commands.serve, controller.commands.service; "


@pytest.mark.parametrize(
    "name", ["controller.rehearsal", "controller.decide.advice.advise", "controller.decide.checks.plan_facts"]
)
def test_it_is_not_loaded_by_the_service(name: str) -> None:
    told = subprocess.run(
        [sys.executable, "-c", f"{SERVE}print({name!r} in sys.modules)"], capture_output=True, text=True
    )
    assert (told.stdout, told.stderr) == ("False\n", "")


def test_nor_what_only_a_watcher_of_figures_asks_for() -> None:
    told = subprocess.run(
        [sys.executable, "-c", f"{SERVE}print('prometheus_client' in sys.modules)"], capture_output=True, text=True
    )
    assert (told.stdout, told.stderr) == ("False\n", "")
