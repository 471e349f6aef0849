"""What tests/arm/run lets the emulated machine do: load all that the service runs with, then shoot with two cameras.

`python -m tests.arm.shoot`, in a clone that systemd/setup has set up. Prints figures, and ends with 1 where log,
camera and files do not agree, or a slot was missed for another cause than that this machine was late.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import platform
import re
import subprocess
import sys
import tempfile
import time
from importlib.metadata import packages_distributions
from pathlib import Path

import gphoto2
from PIL import Image

from controller.words.documents import Frame, FrameState
from tests.support.rigs import plan
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera
from tests.whole.truth import compare, taken

FRAMES, INTERVAL_S = 15, 5.0
_PROJECT = Path(__file__).parents[2]
_DUSKHAND = Path(sys.executable).parent / "duskhand"


def normal(name: str) -> str:
    """A package's name as PEP 503 normalises it."""
    return re.sub("[-_.]+", "-", name).lower()


def imported() -> tuple[set[str], set[str]]:
    """The locked packages that run Duskhand here: those of which each module was imported, and the others."""
    to_run = (_PROJECT / "requirements.lock").read_text("utf-8").partition("# ---- to check and test")[0]
    wanted = {normal(name) for name in re.findall(r"^(\S+)==", to_run, re.MULTILINE)}
    found = set()
    for module, names in packages_distributions().items():
        if (here := {normal(name) for name in names} & wanted) and importlib.util.find_spec(module):
            importlib.import_module(module)
            found |= here
    return found, wanted - found


def duskhand(rig: Path, *words: str) -> str:
    """What a command says of the rig's last shoot; raises CalledProcessError where it fails."""
    return subprocess.check_output([_DUSKHAND, *words, "--dir", rig, "last"], text=True)


def shoot(rig: Path, service: Service, began: float, aperture: float) -> list[Frame]:
    """Let a service that began then shoot, print what it was like, and end it; its log, with every frame in it."""
    served = time.monotonic() - began
    service.wait_for_camera()
    print(f"serves after {served:.1f} s, its camera is there after {time.monotonic() - began:.1f} s")
    maps = "".join(Path(f"/proc/{pid}/maps").read_text() for pid in service.pids())
    drivers = sorted(set(re.findall(r"site-packages/gphoto2/libgphoto2/(\S+)", maps)))
    print(f"loaded by libgphoto2: {', '.join(drivers)}")
    light = {"kind": "fixed", "shutter_s": 0.1, "aperture": aperture, "iso": 400}
    wanted = plan(INTERVAL_S, when={"start": "now", "frames": FRAMES}, files={"fetch": "all"}, light=light)
    ended = service.wait_for_end(service.shoot(wanted))
    status = "".join(Path(f"/proc/{pid}/status").read_text() for pid in service.pids())
    memory = sum(map(int, re.findall(r"VmRSS:\s+(\d+)", status))) / 1024
    print(f"{ended['state']}: {ended['cause']}; {memory:.0f} MB resident, the emulator's own among them", flush=True)
    assert service.stop() == 0
    print(duskhand(rig, "frames"), duskhand(rig, "report", "--verify"), sep="\n", flush=True)
    log = [Frame.model_validate(row) for row in json.loads(duskhand(rig, "frames", "--json"))]
    frames = taken(log, late=1.0)  # a machine that is emulated may be late with any, and must say so
    assert [frame.state for frame in frames] == [FrameState.FETCHED] * FRAMES
    for frame in frames:
        assert hashlib.sha256((rig / str(frame.local_file)).read_bytes()).hexdigest() == frame.sha256
    late = max(frame.late_ms or 0.0 for frame in frames)
    print(f"{len(frames)} frames of {len(log)} slots, released up to {late:.1f} ms after the deadline\n")
    return log


def main() -> None:
    library = gphoto2.gp_library_version(gphoto2.GP_VERSION_SHORT)[0]
    machine = f"{platform.machine()}, Python {platform.python_version()}"
    print(f"{machine}, gphoto2 {gphoto2.__version__}, libgphoto2 {library}")
    found, wanting = imported()
    print(f"{len(found)} packages imported: {', '.join(sorted(found))}\n", flush=True)
    assert wanting == set()
    with tempfile.TemporaryDirectory() as place:
        print("-- libgphoto2's virtual camera on USB, found by the service itself", flush=True)
        usb = Path(place, "usb")
        card = usb / "card" / "DCIM" / "100DUSKH"
        card.mkdir(parents=True)
        Image.linear_gradient("L").resize((640, 480)).save(card / "DUSK0001.JPG")
        of_network = os.environ["IOLIBS"]  # as gphoto2 sets it when it is imported
        os.environ["IOLIBS"] = str(Path(gphoto2.__file__).parent / "libgphoto2" / "vusb")
        os.environ["VCAMERADIR"] = str(usb / "card")
        began = time.monotonic()
        with Service(usb / "rig") as service:
            shoot(usb / "rig", service, began, 8.0)
        os.environ["IOLIBS"] = of_network
        del os.environ["VCAMERADIR"]  # by which gphoto2 chooses the virtual camera too
        print("-- the simulated camera over the network", flush=True)
        network = Path(place, "network")
        network.mkdir()
        with start_simulated_camera(network) as camera:
            began = time.monotonic()
            with Service(network / "rig", camera) as service:
                log = shoot(network / "rig", service, began, 5.6)
            compare(log, camera)
    print("log, cameras and files agree")


if __name__ == "__main__":
    main()
