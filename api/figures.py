"""The rig's figures in the form that Prometheus scrapes (text format 0.0.4).

Names by Prometheus' own guide: base units, a unit as suffix, `_total` for what only grows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import generate_latest
from prometheus_client.registry import Collector, CollectorRegistry

from controller.words.documents import CameraNow, Now, ShootState


class _Told(Collector):
    def __init__(self, now: Now, cameras: Iterable[CameraNow], health: dict[str, object]) -> None:
        self._now, self._cameras, self._health = now, list(cameras), health

    def collect(self) -> Iterator[Metric]:
        yield _one("duskhand_well", "1 while nothing needs attention", self._now.well)
        yield _one("duskhand_ok", "1 while engine and log make progress, as /healthz says", bool(self._health["ok"]))
        yield from _cameras(self._cameras)
        yield from _shoot(self._now)
        yield from _room(self._now)
        yield from _places(self._now)
        yield from _watching(self._now)


def _one(name: str, text: str, value: float | None, unit: str = "") -> Metric:
    return GaugeMetricFamily(name, text, value=None if value is None else float(value), unit=unit)


def _cameras(cameras: list[CameraNow]) -> Iterator[Metric]:
    there = GaugeMetricFamily("duskhand_camera_there", "1 while the camera answers", labels=["camera"])
    battery = GaugeMetricFamily("duskhand_camera_battery_ratio", "Charge, 0 to 1, as the body tells", labels=["camera"])
    room = GaugeMetricFamily("duskhand_card_free_bytes", "Room on the camera's card", labels=["camera"])
    for camera in cameras:
        there.add_metric([camera.id], camera.connected)
        if camera.battery_percent is not None:
            battery.add_metric([camera.id], camera.battery_percent / 100)
        if camera.card_free_bytes is not None:
            room.add_metric([camera.id], camera.card_free_bytes)
    yield from (there, battery, room)


def _shoot(now: Now) -> Iterator[Metric]:
    shoot = now.shoot
    if shoot is None:
        return
    frames = CounterMetricFamily(
        "duskhand_frames", "Slots by state, of the shoot that the page shows", labels=["shoot", "state"]
    )
    for state, count in shoot.counts.model_dump().items():
        frames.add_metric([shoot.id, state], count)
    yield frames
    states = GaugeMetricFamily("duskhand_shoot_state", "1 for the state that it is in", labels=["shoot", "state"])
    for state in ShootState:
        states.add_metric([shoot.id, state.value], float(shoot.state is state))
    yield states
    exposure, last = now.exposure, now.last_frame
    late_ms = None if last is None else last.late_ms
    for name, text, value in (
        ("duskhand_interval_seconds", "From one release to the next", now.interval_s),
        ("duskhand_gap_seconds", "Interval minus exposure", now.gap_s),
        ("duskhand_next_release_seconds", "Until the next release", now.next_release_in_s),
        ("duskhand_left_seconds", "Until the end of the window", now.left_s),
        (
            "duskhand_late_seconds",
            "The last picture’s release against its due time",
            None if late_ms is None else late_ms / 1e3,
        ),
        ("duskhand_shutter_seconds", "Exposure time in force", None if exposure is None else exposure.shutter_s),
        ("duskhand_exposure_ev", "Exposure in force, EV at ISO 100", None if exposure is None else exposure.ev),
        ("duskhand_scene_ev", "The scene as metered, EV at ISO 100", now.scene_ev),
        ("duskhand_sun_altitude_degrees", "Of the sun's centre, without refraction", now.sun_altitude_deg),
    ):
        if value is not None:
            yield _one(name, text, value)


def _room(now: Now) -> Iterator[Metric]:
    if (storage := now.storage) is not None:
        yield _one("duskhand_disk_free_bytes", "Room on the rig's disk", storage.rig_free_bytes)
        yield _one(
            "duskhand_fetching_paused", "1 while the rig's disk is too full to fetch", storage.fetching == "paused"
        )


def _places(now: Now) -> Iterator[Metric]:
    """The copies to second places."""
    waiting = GaugeMetricFamily("duskhand_copies_waiting", "Frames still to be copied to a place", labels=["place"])
    well = GaugeMetricFamily("duskhand_copies_well", "0 while nothing can be copied to a place", labels=["place"])
    failures = CounterMetricFamily(
        "duskhand_copies_failures", "Tries that failed since the rig was started", labels=["place"]
    )
    last = GaugeMetricFamily(
        "duskhand_copies_last_success_timestamp_seconds", "When a copy was last verified", labels=["place"]
    )
    room = GaugeMetricFamily("duskhand_place_free_bytes", "Room in a place, where it tells", labels=["place"])
    for place in now.places:
        waiting.add_metric([place.name], place.waiting)
        well.add_metric([place.name], place.trouble is None)
        failures.add_metric([place.name], place.failures)
        if place.last_utc is not None:
            last.add_metric([place.name], place.last_utc)
        if place.free_bytes is not None:
            room.add_metric([place.name], place.free_bytes)
    if now.places:
        yield from (waiting, well, failures, last, room)


def _watching(now: Now) -> Iterator[Metric]:
    """A gauge for each finding that stands, their number, and the messages."""
    found = GaugeMetricFamily(
        "duskhand_finding", "1 for each finding of the rig's watch that stands", labels=["check", "camera", "urgent"]
    )
    for finding in now.findings:
        found.add_metric([finding.check, finding.camera or "", str(finding.urgent).lower()], 1.0)
    yield found
    yield _one("duskhand_findings", "Findings that stand", len(now.findings))
    if now.messages is not None:
        yield _one("duskhand_messages_waiting", "Messages to people that were not sent yet", now.messages.waiting)
        yield _one("duskhand_messages_well", "0 while the last message met trouble", now.messages.trouble is None)


def exposition(now: Now, cameras: Iterable[CameraNow], health: dict[str, object]) -> bytes:
    """All figures as text."""
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Told(now, cameras, health))
    return generate_latest(registry)
