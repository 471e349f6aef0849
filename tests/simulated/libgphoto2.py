"""Runs a few lines against the real libgphoto2 in a process of their own, for it can hang and closes descriptor 0."""

from __future__ import annotations

import json
import subprocess
import sys
import textwrap
from typing import Any

_HEAD = """
import json, sys, time
import gphoto2 as gp

def names(listed):
    return [listed.get_name(i) for i in range(listed.count())]

def connect():
    ports = gp.PortInfoList()
    ports.load()
    models = gp.CameraAbilitiesList()
    models.load()
    camera = gp.Camera()
    camera.set_abilities(models[models.lookup_model("PTP/IP Camera")])
    camera.set_port_info(ports[ports.lookup_path(sys.argv[1])])
    camera.init()
    return camera

def put(name, value):
    widget = camera.get_single_config(name)
    widget.set_value(value)
    camera.set_single_config(name, widget)

def read(name):
    return camera.get_single_config(name).get_value()

def choices(name):
    return list(camera.get_single_config(name).get_choices())

def events(seconds, until=gp.GP_EVENT_CAPTURE_COMPLETE):
    out, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        kind, data = camera.wait_for_event(10)
        if kind == gp.GP_EVENT_FILE_ADDED:
            out.append(data.folder + "/" + data.name)
        elif kind == until:
            return out
        elif kind == gp.GP_EVENT_TIMEOUT:
            time.sleep(0.005)
    raise SystemExit("no capture complete event: " + str(out))

def data(folder, name, kind=gp.GP_FILE_TYPE_NORMAL):
    file = camera.file_get(folder, name, kind)
    return bytes(file.get_data_and_size())

camera = connect()
FOLDER = "/store_00010001/DCIM/100DUSKH"
"""


def run(address: str, lines: str, timeout: float = 60) -> Any:
    """Run `lines` with a connected `camera`; they leave their result in `out`, which must be fit for JSON."""
    program = _HEAD + textwrap.dedent(lines) + "\nprint(json.dumps(out))\n"
    command = [sys.executable, "-W", "error", "-c", program, address]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=timeout)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
