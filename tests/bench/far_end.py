"""The floor of a camera that is another process: how late a bare process learns of a word that is sent at its moment.

`python -m tests.bench.far_end INTERVAL_S COUNT`: one process sleeps to deadlines and sends a byte over TCP,
another notes when it came, and both do nothing else. Prints the milliseconds from deadline to arrival as a JSON list.
"""

from __future__ import annotations

import json
import os
import socket
import sys
import time


def main(interval_s: float, count: int, start: float) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        near = socket.create_connection(server.getsockname())
        far, _ = server.accept()
    near.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    due = [start + n * interval_s for n in range(1, count + 1)]
    if os.fork() == 0:
        far.close()
        for each in due:
            time.sleep(max(0.0, each - time.monotonic()))
            near.send(b"x")
        os._exit(0)
    near.close()
    late = []
    while far.recv(1):
        late.append((time.monotonic() - due[len(late)]) * 1000)
    os.wait()
    print(json.dumps(late))


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]), time.monotonic())
