"""What a frame costs beside its exposure: through link and camera process, and in a bare loop of libgphoto2 calls.

`python -m tests.bench.frame_overhead [FRAMES]`: set ISO, release 1/60 s, hear of the file, fetch its small picture,
and at once the next. The simulated camera reads out and writes in no time: what is left is ours and the library's.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from controller.camera.messages import Preview, Settled
from controller.words.stops import true_iso, true_shutter
from tests.bench.rigs import machine, ratio, resident_kb
from tests.camera.ear import connected, order
from tests.support.simcam import start_simulated_camera

SHUTTER_S = true_shutter(1 / 60)


def bare(
    address: str, frames: int, shutter: str = "1/60", pictures: bool = True, interval_s: float = 0.0
) -> tuple[float, float]:
    """Seconds a frame in a loop that does the same calls and nothing else, and kB by which its memory grows a frame.

    With an `interval_s` it sleeps between frames, as a rig does.
    """
    import gphoto2 as gp

    ports, models = gp.PortInfoList(), gp.CameraAbilitiesList()
    ports.load()
    models.load()
    camera = gp.Camera()
    camera.set_abilities(models[models.lookup_model("PTP/IP Camera")])
    camera.set_port_info(ports[ports.lookup_path(address)])
    camera.init()
    put(camera, "shutterspeed", shutter)
    begun, resident = 0.0, 0
    for n in range(frames + 1):
        if n == 1:
            begun = time.monotonic()  # the first one reads the card
        if n == frames // 2:
            resident = resident_kb(os.getpid())
        time.sleep(max(0.0, begun + n * interval_s - time.monotonic()) if begun else 0.0)
        put(camera, "iso", "200" if n % 2 else "100")
        camera.trigger_capture()
        file = None
        while file is None:
            kind, data = camera.wait_for_event(1)
            file = data if kind == gp.GP_EVENT_FILE_ADDED else None
        if pictures:
            picture = gp.CameraFile()
            camera.file_get(file.folder, file.name, gp.GP_FILE_TYPE_PREVIEW, picture)
            bytes(picture.get_data_and_size())
    took, grown = time.monotonic() - begun, resident_kb(os.getpid()) - resident
    camera.exit()
    return took / frames, grown / (frames - frames // 2)


def put(camera: Any, name: str, value: str) -> None:
    """Set and read back."""
    widget = camera.get_single_config(name)
    widget.set_value(value)
    camera.set_single_config(name, widget)
    camera.get_single_config(name).get_value()


async def ours(address: str, frames: int, directory: Path) -> tuple[float, float]:
    """Seconds a frame, and seconds of setting in it."""
    async with connected(address) as (link, ear):
        begun = 0.0
        for n in range(frames + 1):
            if n == 1:
                begun = time.monotonic()
            now = time.monotonic()
            iso = true_iso(200 if n % 2 else 100)
            each = order(n, now, directory, latest_mono=now + 5, shutter_s=SHUTTER_S, iso=iso, fetch="preview")
            await link.release(each)
            await ear.until(lambda n=n: n in ear.of(Preview))  # type: ignore[misc]
        took = time.monotonic() - begun
        return took / frames, sum(report.took_s for report in ear.all(Settled)[1:]) / frames


def alone(address: str, frames: int) -> tuple[float, float]:
    """The bare loop in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.frame_overhead", "bare", address, str(frames)]
    took_s, kb = map(float, subprocess.run(command, check=True, capture_output=True, text=True).stdout.split())
    return took_s, kb


def grown_kb(frames: int, directory: Path) -> float:
    """kB by which the bare loop's memory grows a frame, with a camera of its own."""
    with start_simulated_camera(directory, readout=0, write=0) as camera:
        return alone(camera.address, frames)[1]


def main(frames: int, directory: Path) -> None:
    with start_simulated_camera(directory, readout=0, write=0) as camera:
        alone_s, kb = alone(camera.address, frames)
        frame_s, settle_s = asyncio.run(ours(camera.address, frames, directory))
    print(machine())
    print(f"bare loop        {1000 * (alone_s - SHUTTER_S):.1f} ms a frame beside the exposure")
    print(f"camera process   {1000 * (frame_s - SHUTTER_S):.1f} ms, of it {1000 * settle_s:.1f} ms setting")
    print(f"memory           grows by {kb:.2f} kB a frame in the bare loop, over its second half")
    print(f"beside the floor {ratio(frame_s - SHUTTER_S, alone_s - SHUTTER_S)}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["bare"]:
        print(*bare(sys.argv[2], int(sys.argv[3])))
    else:
        with tempfile.TemporaryDirectory() as directory:
            main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, Path(directory))
