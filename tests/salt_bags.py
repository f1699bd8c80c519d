"""Sensors in bags over saturated salts, written into a store as they would report."""

from typing import Any

from fastapi.testclient import TestClient
from sqlalchemy import text
from sqlmodel import Session

from service.api.context import Context
from service.clock import US_PER_S
from service.science.salts import Salt
from service.store.air import NewReading, add_readings
from tests import builders
from tests.bench.planted_sensor import Bag, salt_test

HOUR_US = 3_600 * US_PER_S
TESTS = "/api/sensors/1/salt-tests"
CORRECTIONS = "/api/sensors/1/corrections"
_MINUTE_US = 60 * US_PER_S


def report_bag(
    session: Session,
    sensor_id: int,
    started_us: int,
    salt: Salt = Salt.SODIUM_CHLORIDE,
    *,
    hours: float = 8.0,
    offset_pct: float = -3.0,
    gain: float = 1.0,
    time_constant_h: float = 0.7,
    seed: int = 1,
) -> None:
    """What a sensor says in a bag whose truth is offset + gain times reading, once a minute.

    Where a builder has let it report from its space at that time, that gives way.
    """
    session.connection().execute(
        text("DELETE FROM reading WHERE sensor_id = :one AND time_us BETWEEN :start AND :stop"),
        {"one": sensor_id, "start": started_us, "stop": started_us + round(hours * HOUR_US)},
    )
    bag = Bag(hours=hours, time_constant_h=time_constant_h, before_h=0.0, temperature_c=10.1)
    times, temperatures, humidities = salt_test(seed, salt, offset_pct, gain, bag)
    first_us = int(times[0])
    add_readings(
        session,
        [
            NewReading(sensor_id, started_us + time_us - first_us + US_PER_S, temperature, humidity)
            for time_us, temperature, humidity in zip(
                times.tolist(), temperatures.tolist(), humidities.tolist(), strict=True
            )
        ],
    )


def ended_test(
    api: TestClient,
    moving: Context,
    clock: builders.FixedClock,
    salt: Salt = Salt.SODIUM_CHLORIDE,
    **planted: float,
) -> dict[str, Any]:
    """A test of eight hours, begun now and ended."""
    test: dict[str, Any] = api.post(TESTS, json={"salt": salt.value}).json()
    with moving.sessions() as session:
        report_bag(session, 1, clock.time_us, salt, **planted)  # type: ignore[arg-type]  # numbers
    clock.time_us += 8 * HOUR_US + _MINUTE_US
    ended: dict[str, Any] = api.post(f"{TESTS}/{test['id']}/end").json()
    return ended
