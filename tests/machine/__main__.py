"""Duskhand as a service of a whole machine with systemd: does it shoot on through all that befalls a machine?

`python -m tests.machine DIR [--suite bookworm]`: makes a Debian in DIR (trixie is Debian 13, with Python 3.13), boots
it, installs Duskhand there by `systemd/install`, and lets it shoot while the service is killed, its camera's process
too, the daemon stands still until systemd's watchdog sees it, the machine is started anew, loses its power, and is
updated. The camera is the simulated one, outside, as a camera is. In the end log, files and the camera's record are
held against each other, a film is made within the service's own walls, and the service is uninstalled. For root, with
mmdebstrap and systemd-container; five minutes.
"""

from __future__ import annotations

import argparse
import re
import socket
import sys
import tempfile
import time
import urllib.error
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from controller.engine.passed import NOT_RUNNING
from controller.words.documents import Frame, FrameState
from tests.machine.debian import Machine
from tests.support.rigs import plan
from tests.support.service import Client
from tests.support.simcam import SimulatedCamera, start_simulated_camera
from tests.whole.truth import LATE, compare

FRAMES, INTERVAL_S = 120, 2.0
WATCHDOG_S = 10
INSIDE = "runuser -u duskhand -- /opt/duskhand/.venv/bin/duskhand"
BEFELL = (
    NOT_RUNNING,
    "the rig stopped while this slot was in hand",
    "the camera process ended (signal 9)",
    "the camera is being connected",
)
"""Causes of slots that what befell the machine may have cost."""
CONF = "etc/duskhand/duskhand.conf"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


class Trial:
    """The service of a machine that has one, over one camera, while it shoots."""

    def __init__(self, machine: Machine, camera: SimulatedCamera) -> None:
        self.machine, self.camera = machine, camera
        self.port = free_port()
        self.service = Client(f"http://127.0.0.1:{self.port}")
        self.shoot = ""

    def install(self) -> None:
        """As README.md says; then with this camera, and a watchdog that need not be waited for."""
        self.options()
        began = time.monotonic()
        said = self.machine.run("cd /opt/clone && systemd/install")
        print(f"installed in {time.monotonic() - began:.0f} s: {said.strip().splitlines()[-2]}", flush=True)
        drop_in = self.machine.root / "etc/systemd/system/duskhand.service.d/watchdog.conf"
        drop_in.parent.mkdir(parents=True, exist_ok=True)
        drop_in.write_text(f"[Service]\nWatchdogSec={WATCHDOG_S}\n")
        self.machine.run("systemctl daemon-reload && systemctl restart duskhand")
        told = self.machine.run("systemctl show --property StatusText,ActiveState duskhand").split("\n")
        print(f"ready: {', '.join(sorted(filter(None, told)))}")

    def options(self) -> None:
        conf = self.machine.root / CONF
        conf.parent.mkdir(parents=True, exist_ok=True)
        conf.write_text(f'DUSKHAND_OPTIONS="--port {self.port} --camera {self.camera.address}"\n')

    def begin(self) -> None:
        self.service.wait_for_camera()
        self.shoot = self.service.shoot(
            plan(INTERVAL_S, when={"start": "now", "frames": FRAMES}, files={"fetch": "all"})
        )

    def main_pid(self) -> int:
        return int(self.machine.run("systemctl show --property MainPID --value duskhand"))

    def frames(self) -> int:
        """Exposures that the camera itself has recorded."""
        return len(self.camera.record())

    def befalls(self, what: str, act: Callable[[], object]) -> None:
        """Let something befall the rig after ten more frames, and tell how long the camera then had none."""
        before = self.frames()
        wait_until(lambda: self.frames() >= before + 10, f"ten frames before {what}")
        began = time.monotonic()
        act()
        had = self.frames()
        wait_until(lambda: self.frames() > had, f"a frame after {what}")
        print(f"{what}: {time.monotonic() - began:.1f} s to the next frame", flush=True)

    def restarted(self, act: str) -> None:
        """Run a command inside after which the service must be another process."""
        pid = self.main_pid()
        self.machine.run(act.replace("PID", str(pid)))
        wait_until(lambda: self.main_pid() not in (pid, 0), f"{act} to end the service, and systemd to start it", 120)

    def camera_process_killed(self) -> None:
        (worker,) = self.machine.run(f"pgrep --parent {self.main_pid()} --full camera.worker").split()
        scheduling = self.machine.run(f"chrt --pid {worker}").replace("\n", "; ")
        print(f"the camera's process: {scheduling.strip('; ')}")
        if self.machine.run("prlimit --rtprio=20:20 true && echo may", check=False):
            assert "SCHED_RR" in scheduling
        else:
            print("(root itself may not raise limits here, so that real-time scheduling cannot be shown)")
        self.machine.run(f"kill -KILL {worker}")

    def started_anew(self) -> None:
        self.machine.off()
        print(f"shut down and booted, in {self.machine.boot():.1f} s")

    def power_lost(self) -> None:
        self.machine.cut()
        print(f"cut from power and booted, in {self.machine.boot():.1f} s")

    def ended(self) -> None:
        ended = self.service.wait_for_end(self.shoot)
        log = [Frame.model_validate(row) for row in self.service.frames(self.shoot)]
        compare(log, self.camera)
        states = Counter(frame.state.value for frame in log)
        print(f"{ended['state']}: {ended['cause']}; {dict(states)}; the camera recorded {self.frames()}")
        causes = Counter(frame.cause for frame in log if frame.state is FrameState.MISSED)
        print(f"missed: {dict(causes)}")
        assert set(causes) <= {*LATE, *BEFELL}, causes
        assert (states["fetched"], states["lost"]) == (FRAMES, 0)

    def film(self) -> None:
        """A film out of the service, with all that its walls forbid it."""
        clips = f"/api/v1/shoots/{self.shoot}/clips"
        name = self.service.post(clips, {})["name"]

        def made() -> dict[str, Any]:
            (clip,) = (clip for clip in self.service.get(clips) if clip["name"] == name)
            return dict(clip)

        wait_until(lambda: made()["state"] in ("ready", "failed"), "the film", 600.0)
        report = self.machine.run(f"{INSIDE} report --verify --dir /var/lib/duskhand {self.shoot}")
        assert f"{FRAMES} of {FRAMES} read and found whole" in report, report
        print(f"film: {made()['state']}, {made()['frames']} frames, {made().get('error') or 'no error'}")
        assert made()["state"] == "ready"

    def walls(self) -> None:
        told = self.machine.run("systemd-analyze security --no-pager duskhand")
        print(f"exposed by systemd's own measure: {re.findall('level for duskhand.service: ([0-9.]+)', told)[0]} of 10")
        user = self.machine.run(f"ps -o user= -p {self.main_pid()}").strip()
        assert user == "duskhand", user

    def uninstalled(self) -> None:
        self.machine.run("cd /opt/clone && systemd/install --uninstall")
        kept = self.machine.run("ls /var/lib/duskhand /etc/duskhand").split()
        assert {"duskhand.conf", "frames.sqlite3", "shoots"} <= set(kept), kept
        assert not (self.machine.root / "opt/duskhand").exists()
        print("uninstalled; the frames and the settings stay")


def wait_until(condition: Callable[[], bool], what: str, seconds: float = 180.0) -> None:
    ends = time.monotonic() + seconds
    while True:
        try:
            if condition():
                return
        except (OSError, RuntimeError, urllib.error.URLError):
            pass  # a machine that is being started answers nothing yet
        if time.monotonic() > ends:
            raise TimeoutError(f"waited {seconds:.0f} s for {what}")
        time.sleep(0.1)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.machine", description=__doc__)
    parser.add_argument("directory", type=Path, help="for the Debian, which is made once and kept")
    parser.add_argument("--suite", default="bookworm", help="of Debian (%(default)s)")
    args = parser.parse_args()
    args.directory.mkdir(parents=True, exist_ok=True)
    machine = Machine(args.directory.resolve() / args.suite)
    machine.make(args.suite)
    with (
        tempfile.TemporaryDirectory(prefix="machine-") as place,
        start_simulated_camera(Path(place)) as camera,
        machine.on(),
    ):
        trial = Trial(machine, camera)
        trial.install()
        print(
            machine.run(". /etc/os-release; echo $PRETTY_NAME, $(systemctl --version | head -1), $(python3 --version)")
        )
        trial.begin()
        trial.walls()
        trial.befalls("service killed", lambda: trial.restarted("kill -KILL PID"))
        trial.befalls("camera's process killed", trial.camera_process_killed)
        trial.befalls("daemon stood still", lambda: trial.restarted("kill -STOP PID"))
        trial.befalls("machine started anew", trial.started_anew)
        trial.befalls("power lost", trial.power_lost)
        trial.befalls("updated while it shot", lambda: trial.restarted("cd /opt/clone && systemd/install"))
        trial.ended()
        trial.film()
        trial.uninstalled()
        machine.off()
    print("log, camera and files agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
