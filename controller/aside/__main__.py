"""One answer: what is wanted comes in as JSON, what came of it goes out. The argument is the daemon's process id."""

from __future__ import annotations

import importlib
import json
import os
import sys

from controller.words.errors import BadInput, Conflict, DuskhandError, NotFound
from controller.words.processes import die_with

_KNOWN = (NotFound, Conflict, BadInput, DuskhandError)  # what the daemon can raise again, the nearest first


def main() -> None:
    """Work it out."""
    die_with(int(sys.argv[1]))
    os.nice(10)  # after the camera and the page; yet at 19 a busy machine would hardly ever let it run
    task = json.load(sys.stdin)
    try:
        work = importlib.import_module(f"controller.aside.{task['job']}")
        sys.stdout.write(work.work_out(task).model_dump_json())
    except DuskhandError as error:
        kind = next(known for known in _KNOWN if isinstance(error, known)).__name__
        told = {"kind": kind, "code": error.code, "what": error.what, "where": error.where, "remedy": error.remedy}
        sys.stdout.write(json.dumps({"error": told}))


if __name__ == "__main__":
    main()
