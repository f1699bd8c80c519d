"""Brings a household's past up to now and through the same door as live readings."""

from collections.abc import Callable, Iterator
from pathlib import Path

from sensors.files import read_readings
from sensors.payloads import Sample, encode, topic_of
from service.clock import DAY_US
from service.demo.household import Household
from service.ingest.memory import SensorMemory
from service.ingest.messages import Message
from service.ingest.storing import Tally, store
from service.store.database import SessionMaker

READINGS_A_MESSAGE = 60
MESSAGES_A_COMMIT = 100


def days_to_now_us(end_us: int, now_us: int) -> int:
    """How far to move a history that ends at `end_us` so that it reaches now.

    Whole days, so that a night stays a night; less than a day of it then lies ahead.
    """
    return -((end_us - now_us) // DAY_US) * DAY_US


def end_of_history_us(folder: Path, household: Household) -> int:
    """The time of the last reading of any sensor. [µs UTC]"""
    return max(
        int(read_readings(folder / f"{sensor.slug}.csv").times_us[-1])
        for sensor in household.sensors
    )


def load_history(
    sessions: SessionMaker,
    folder: Path,
    household: Household,
    shift_us: int,
    now_us: int,
    progress: Callable[[float], None],
) -> Tally:
    """Decode, check and store the past of every sensor, as messages that it would have sent.

    Args:
        sessions: Opens the store.
        folder: Where each sensor's readings are, one file each.
        household: Who the sensors are.
        shift_us: How far to move all times. [µs]
        now_us: What lies after this is left out. [µs UTC]
        progress: Told the part done so far, from 0 to 1.
    """
    tally, memory = Tally(), SensorMemory()
    for position, sensor in enumerate(household.sensors):
        topic = topic_of(household.site.slug, sensor.slug)
        messages = list(_messages(folder / f"{sensor.slug}.csv", topic, shift_us, now_us))
        for start in range(0, len(messages), MESSAGES_A_COMMIT):
            with sessions() as session:
                tally += store(session, messages[start : start + MESSAGES_A_COMMIT], (), memory)
            progress((position + start / len(messages)) / len(household.sensors))
    progress(1.0)
    return tally


def _messages(file: Path, topic: str, shift_us: int, now_us: int) -> Iterator[Message]:
    readings = read_readings(file)
    samples = [
        Sample("", time_us, _or_none(temperature), _or_none(humidity))
        for time_us, temperature, humidity in zip(
            (readings.times_us + shift_us).tolist(),
            readings.temperature_c.tolist(),
            readings.humidity_pct.tolist(),
            strict=True,
        )
        if time_us <= now_us
    ]
    for start in range(0, len(samples), READINGS_A_MESSAGE):
        pack = samples[start : start + READINGS_A_MESSAGE]
        yield Message(topic, encode("", pack), arrival_us=pack[-1].time_us)


def _or_none(value: float) -> float | None:
    """A number, or None where the file left the cell empty (read as NaN)."""
    return value if value == value else None  # noqa: PLR0124  # only NaN differs from itself
