"""Thousands of invented requests against a real service with a simulated camera.

`python -m tests.bench.any_request [STRANGERS [EACH]]` asks so many requests (10,000) without a session, each call of
the schema so many times (300) with all rights, and prints the answers by status and what should not have been.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

from tests.support.any_request import KNOWN, Tally, by_schema, kept, strangers
from tests.support.rigs import plan
from tests.support.service import rig


def told(name: str, tally: Tally, seconds: float) -> None:
    statuses = dict(sorted(tally.statuses.items()))
    print(json.dumps({name: tally.asked, "statuses": statuses, "wrong": len(tally.wrong), "seconds": round(seconds)}))
    for line in tally.wrong[:20]:
        print(f"  {line}")


def main(count: int = 10_000, each: int = 300) -> int:
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        with rig(directory) as (service, _):
            service.post("/api/v1/plans", plan())
            shoot = service.shoot(plan(when={"start": "now", "frames": 2}))
            service.wait_for_end(shoot)
            before, begun = kept(directory / "rig"), time.monotonic()
            away = strangers(service.url, count)
            changed = sorted(set(kept(directory / "rig").split("\n")) ^ set(before.split("\n")))
            same = not changed
            told("strangers", away, time.monotonic() - begun)
            print(json.dumps({"database as before": same, "lines that differ": changed[:10]}))
            begun = time.monotonic()
            here = by_schema(service.url, each, KNOWN | {"shoot": shoot})
            told("from the schema", here, time.monotonic() - begun)
        tracebacks = (directory / "serve.log").read_text("utf-8").count("Traceback")
        print(json.dumps({"tracebacks in the log": tracebacks}))
    return 0 if same and not (away.wrong or here.wrong or tracebacks) else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
