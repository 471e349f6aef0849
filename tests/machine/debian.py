"""A whole Debian with systemd as its first process, in namespaces of its own: made, booted, cut from power.

For root, with mmdebstrap and systemd-container. The network is that of the machine around it.
"""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_PROJECT = Path(__file__).parents[2]
_PACKAGES = "ca-certificates,dbus,procps,sudo,systemd,systemd-sysv,udev"
_OF_THIS_MACHINE = ("/etc/hosts", "/etc/resolv.conf", "/etc/ssl/certs/ca-certificates.crt", "/etc/pip.conf")
"""The network as this machine has it, and whom it trusts there."""

# The first process wants a tree of control groups to itself, and finds it below the one that it is started in; and on
# a machine of iron nothing forbids real-time scheduling, as systemd-nspawn would.
_BOOT = r"""
mount --make-rprivate /
umount -R /sys/fs/cgroup && mount -t cgroup2 none /sys/fs/cgroup
mkdir -p /sys/fs/cgroup/"$1" && echo $$ >/sys/fs/cgroup/"$1"/cgroup.procs
exec systemd-nspawn --quiet --directory "$0" --machine="$1" --boot --register=no --keep-unit --resolv-conf=off \
    --console=pipe --capability=CAP_SYS_NICE
"""


class Machine:
    """A Debian in the directory `root`."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._running: subprocess.Popen[bytes] | None = None

    def make(self, suite: str) -> None:
        """Make the system where it is not there yet, with a copy of this project in /opt/clone, new each time."""
        made = self.root.with_name(self.root.name + ".made")
        if not made.exists():
            choices = ["--mode=root", "--variant=minbase", f"--include={_PACKAGES}", "--dpkgopt=force-unsafe-io"]
            subprocess.run(["mmdebstrap", *choices, suite, self.root], check=True)
            made.touch()
        for path in map(Path, _OF_THIS_MACHINE):
            if path.exists():
                (self.root / path.relative_to("/")).write_bytes(path.read_bytes())
        clone = self.root / "opt" / "clone"
        subprocess.run(["rm", "-rf", clone], check=True)
        clone.mkdir(parents=True)
        listed = ["git", "-C", _PROJECT, "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        files = subprocess.check_output(listed)
        packed = ["tar", "-C", _PROJECT, "--null", "-T", "-", "-cf", "-"]
        taken = subprocess.run(packed, input=files, stdout=subprocess.PIPE, check=True).stdout
        subprocess.run(["tar", "-C", clone, "--no-same-owner", "-xf", "-"], input=taken, check=True)

    def boot(self) -> float:
        """Switch it on and wait until all that it starts has started; the seconds that took.
        Raises RuntimeError where something did not."""
        began = time.monotonic()
        within = ["unshare", "--mount", "bash", "-euc", _BOOT, str(self.root), self.root.name]
        said = self.root.with_name(self.root.name + ".console").open("ab")
        self._running = subprocess.Popen(within, stdin=subprocess.DEVNULL, stdout=said, stderr=said)
        said.close()
        while self._first() is None:
            time.sleep(0.1)
        state = "starting"
        while state in ("starting", "initializing", "offline", ""):
            time.sleep(0.2)
            state = self.run("systemctl is-system-running", check=False).strip()
        if state != "running":
            raise RuntimeError(f"the machine is {state}: {self.run('systemctl --failed --no-pager')}")
        return time.monotonic() - began

    def run(self, command: str, check: bool = True) -> str:
        """What a shell command prints inside, as root. Raises RuntimeError with all of it where it fails."""
        first = self._first()
        environment = ["env", "-i", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "HOME=/root", "LC_ALL=C.UTF-8"]
        inside = ["nsenter", "--all", "--target", str(first), *environment, "bash", "-c", command]
        done = subprocess.run(inside, capture_output=True, text=True, check=False)
        if check and done.returncode != 0:
            raise RuntimeError(f"{command}: exit {done.returncode}\n{done.stdout}{done.stderr}")
        return done.stdout

    def off(self) -> None:
        """Shut it down in good order."""
        assert self._running is not None
        self.run("systemctl poweroff --no-block", check=False)
        self._running.wait(120)
        self._running = None

    def cut(self) -> None:
        """Take its power: every process ends at once, and nothing is said to any."""
        assert self._running is not None
        subprocess.run(["kill", "-KILL", str(self._first())], check=True)
        self._running.wait(60)
        self._running = None

    @contextmanager
    def on(self) -> Iterator[None]:
        """Booted, and cut from power on the way out if it still runs then."""
        self.boot()
        try:
            yield
        finally:
            if self._running is not None:
                self.cut()

    def _first(self) -> int | None:
        """The machine's first process, as numbered out here."""
        assert self._running is not None
        if self._running.poll() is not None:
            raise RuntimeError(f"no machine: exit {self._running.returncode}, see {self.root}.console")
        of = self._running.pid
        children = Path(f"/proc/{of}/task/{of}/children").read_text().split()
        started = [pid for pid in map(int, children) if Path(f"/proc/{pid}/comm").read_text().strip() == "systemd"]
        return started[0] if started else None
