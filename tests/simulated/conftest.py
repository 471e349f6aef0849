from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.simcam import SimulatedCamera, start_simulated_camera


@pytest.fixture
def camera(tmp_path: Path) -> Iterator[SimulatedCamera]:
    """A camera at civil dusk whose readout and writing cost nothing but the drawing."""
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-03T17:20:00Z", readout=0, write=0.01) as running:
        yield running
