"""Whether what the sensor of a space says now counts as its air.

A stuck or wet sensor goes on sending, so its space looks heard; nothing that it says is taken
into the life of a wheel, and no wheel is in range by it. The newest reading is judged by those
up to it alone.
"""

from collections.abc import Callable, Hashable, Sequence
from typing import Final, Protocol, TypeVar

import numpy as np

from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.clock import DAY_US
from service.science.sensor_truth import FEWEST_REPEATS, SATURATED_PCT, Fault, Finding
from service.store import air, facts, places, salt_tests
from service.store.database import Session

_LATELY_US: Final = DAY_US
"""The newest reading is looked for so far back. [µs] Our choice."""
_COUNTED_US: Final = 40 * DAY_US
"""Readings of so long are counted to know whether any came late. [µs] Longer than any look."""
_SILENCING: Final = {
    Fault.STUCK_TEMPERATURE: Quantity.TEMPERATURE,
    Fault.STUCK_HUMIDITY: Quantity.HUMIDITY,
    Fault.SATURATED: Quantity.HUMIDITY,
}
"""What each fault silences."""

_Kept = TypeVar("_Kept")


class Remembers(Protocol):
    """What keeps results by kind and key."""

    def recall(self, kind: str, key: Hashable, work_out: Callable[[], _Kept]) -> _Kept:
        """The result kept under that key, or a new one, which is then kept."""


def not_counted(
    session: Session, space_id: int, at_us: int, memory: Remembers | None = None
) -> tuple[Finding, ...]:
    """Why the newest reading of a space does not count as its air; nothing where it does.

    Args:
        session: Only read from.
        space_id: The space; for a box without a sensor that of its cave speaks.
        at_us: Later readings are not looked at. [µs UTC]
        memory: Keeps what was found until the next reading; a sensor that has stood still for
            weeks is dear to look at.

    Returns:
        What its sensor is, of the temperature, of the humidity, or of both.
    """
    standing = places.sensors_in(session, space_id, at_us)
    parent_id = places.space(session, space_id).parent_id
    if not standing and parent_id is not None:
        standing = places.sensors_in(session, parent_id, at_us)
    if not standing:
        return ()
    sensor_id, stay = standing[0].sensor_id, (standing[0].from_us, at_us + 1)
    suspected = [each for each in Quantity if _may_be_silenced(session, sensor_id, each, stay)]
    if not suspected or salt_tests.running(session, sensor_id) is not None:
        return ()
    if memory is None:
        return _found(session, sensor_id, stay, suspected)
    spaces = {standing[0].space_id}
    newest_us = air.newest_us(session, standing[0].space_id, at_us)
    count = facts.count_readings(session, spaces, max(stay[0], at_us - _COUNTED_US), at_us + 1)
    return memory.recall(
        "counted",
        (sensor_id, stay[0], newest_us, count),
        lambda: _found(session, sensor_id, stay, suspected),
    )


def _found(
    session: Session, sensor_id: int, stay: tuple[int, int], suspected: Sequence[Quantity]
) -> tuple[Finding, ...]:
    """Why the newest reading of a stay does not count, of what may not."""
    from_us = max(stay[0], stay[1] - 1 - _LATELY_US)
    said, left = air.sifted_history(session, sensor_id, from_us, stay[1], stay)
    kept = AirHistory(said.times_us, left.temperature_c, left.humidity_pct)
    found: list[Finding] = []
    for quantity in suspected:
        given = np.flatnonzero(np.isfinite(said.of(quantity)))
        if not given.size or np.isfinite(kept.of(quantity)[given[-1]]):
            continue
        newest_us = int(said.times_us[given[-1]])
        found += [
            each
            for each in left.faults
            if _SILENCING.get(each.fault) is quantity and each.from_us <= newest_us <= each.to_us
        ]
    return tuple(found)


def quantity_of(found: Finding) -> Quantity:
    """What is not known while a sensor is so."""
    return _SILENCING[found.fault]


def reason(found: Finding) -> str:
    """Why it is not known, in words that "since" may follow."""
    how = "wet" if found.fault is Fault.SATURATED else "stuck"
    return f"its sensor has been {how}"


def _may_be_silenced(
    session: Session, sensor_id: int, quantity: Quantity, stay: tuple[int, int]
) -> bool:
    """Whether the last few values leave it open; so a sensor in order costs next to nothing.

    No stretch is called stuck with fewer equal readings in a row, and none wet below saturation.
    """
    last = air.newest_values(session, sensor_id, quantity, stay, FEWEST_REPEATS)
    wet = quantity is Quantity.HUMIDITY and bool(last) and last[0] >= SATURATED_PCT
    return wet or (len(last) == FEWEST_REPEATS and len(set(last)) == 1)
