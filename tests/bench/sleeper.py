"""The floor: a bare process that sleeps to deadlines and does nothing else.

`python -m tests.bench.sleeper INTERVAL_S COUNT [START_MONO]` prints its lateness at each, milliseconds, as a JSON list.
"""

import json
import sys
import time

interval_s, count = float(sys.argv[1]), int(sys.argv[2])
start = float(sys.argv[3]) if len(sys.argv) > 3 else time.monotonic()
late = []
for n in range(1, count + 1):
    due = start + n * interval_s
    time.sleep(max(0.0, due - time.monotonic()))
    late.append((time.monotonic() - due) * 1000)
print(json.dumps(late))
