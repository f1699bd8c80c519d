"""What one ingest process knows of the sensors, so that it need not ask the store each time."""

from dataclasses import dataclass, field
from typing import Literal

from sensors.payloads import Sample
from service.store import air, places
from service.store.database import Session


@dataclass(slots=True)
class KnownSensor:
    """A sensor's number, and what was last written of it."""

    id: int
    link: str | None
    battery_pct: float | None
    battery_v: float | None
    battery_us: int = 0


@dataclass(slots=True)
class SensorMemory:
    """The sensors by key.

    It runs ahead of the store within a batch: after a commit that failed, `forget`.

    Attributes:
        temperatures_c: The temperature last accepted from each sensor, by key. [°C]
    """

    temperatures_c: dict[str, float] = field(default_factory=dict)
    _sensors: dict[str, KnownSensor] = field(default_factory=dict)
    _is_loaded: bool = False

    def load(self, session: Session) -> None:
        """Look up all sensors and their newest temperatures, unless that was done before."""
        if self._is_loaded:
            return
        for sensor in places.sensors(session):
            assert sensor.id is not None  # it comes from the store
            self._sensors[sensor.key] = KnownSensor(
                sensor.id, sensor.link, sensor.battery_pct, sensor.battery_v
            )
            newest = air.latest(session, sensor.id)
            if newest is not None and newest.temperature_c is not None:
                self.temperatures_c[sensor.key] = newest.temperature_c
        self._is_loaded = True

    def sensor(self, session: Session, key: str, seen_us: int) -> KnownSensor:
        """The sensor with that key, entered as new when it is seen for the first time."""
        found = self._sensors.get(key)
        if found is None:
            row = places.sensor_for(session, key, seen_us)
            assert row.id is not None  # flushed
            found = KnownSensor(row.id, row.link, row.battery_pct, row.battery_v)
            self._sensors[key] = found
        return found

    def note_link(
        self, session: Session, key: str, link: Literal["up", "down"], seen_us: int
    ) -> None:
        """Write down that a sensor says to be up or down."""
        known = self.sensor(session, key, seen_us)
        if known.link != link:
            known.link = link
            places.sensor(session, known.id).link = link

    def note_battery(self, session: Session, sample: Sample, known: KnownSensor) -> None:
        """Write down a battery's level, unless a later one is known."""
        if sample.time_us < known.battery_us:
            return
        known.battery_us = sample.time_us
        levels = (
            known.battery_pct if sample.battery_pct is None else sample.battery_pct,
            known.battery_v if sample.battery_v is None else sample.battery_v,
        )
        if levels != (known.battery_pct, known.battery_v):
            known.battery_pct, known.battery_v = levels
            row = places.sensor(session, known.id)
            row.battery_pct, row.battery_v = levels

    def forget(self) -> None:
        """Drop everything; the next batch asks the store again."""
        self._sensors.clear()
        self.temperatures_c.clear()
        self._is_loaded = False
