"""Sensors that send and tell nothing: stuck or wet, for so long that no calm night explains it.

Looked at in steps of twenty minutes of the readings' own time, each by the readings up to it
alone. Of a history that is longer than a day only its end is looked at. Whatever fails at once
is one alarm, which stays until the sensor has told its air again for three hours.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from service.ageing.ahead import StepRule
from service.ageing.lifecycle import Priority
from service.ageing.notices import Notice, sensor_stuck, sensor_tells_again, sensor_wet
from service.ageing.notices import temperature_reads as reads
from service.ageing.values import Quantity
from service.clock import DAY_US, HOUR_US
from service.judging.counted import not_counted, quantity_of
from service.science.sensor_truth import Fault, Finding
from service.store import air, places, wheels
from service.store.conditions import Watched
from service.store.database import Session
from service.store.tables import Space
from service.watch.air import wheel_name
from service.watch.stepping import Look, Sighting, Stepper
from service.watch.turns import Evaluated, Reader

KIND: Final = "sensor_stuck_or_wet"
KINDS: Final = (KIND,)
STOOD_US: Final = 6 * HOUR_US
"""A sensor fails once it has stood still or been wet for so long. [µs] Our choice: what stands
still by its own measure may still be a calm evening; it was never so for six hours in order."""
LOOK_BACK_US: Final = DAY_US
"""Steps older than this before the newest reading are not taken."""

_RULE: Final = StepRule(on_steps=1, off_steps=9)
"""It has stood for hours already when it is first seen; it has moved for three hours when it is
over. Our choice: a sensor that moves once and sticks again is one alarm, and one that reports
every five minutes is known to be stuck again after an hour and forty minutes."""
_PRIORITY: Final = Priority.MEDIUM
"""As for a silent sensor: nothing is known to be wrong, but nothing would be told if it were."""


def evaluate(
    session: Session,
    space: Space,
    watched: Mapping[str, Watched],
    look: Look,
    reader: Reader,
) -> list[Evaluated]:
    """Take all steps that are due; what is news of it.

    Args:
        session: Only read from.
        space: The space, whose own sensor is looked at.
        watched: Its condition.
        look: What is known of its readings.
        reader: How the maker reads times and temperatures.
    """
    assert space.id is not None
    stepper = Stepper(watched[KIND], _RULE, _PRIORITY)
    for at_us in look.steps(watched[KIND].evaluated_us):
        standing = places.sensors_in(session, space.id, at_us)
        found = not_counted(session, space.id, at_us) if standing else ()
        raised_us = stepper.raised_us
        if (
            standing
            and not found
            and raised_us is not None
            and _never_moved(session, standing[0].sensor_id, raised_us, at_us)
        ):
            # What stands still for longer than it ever moved is believed, but has not moved.
            stepper.hold(at_us)
            continue
        for_long = stepper.active or any(at_us - each.from_us >= STOOD_US for each in found)
        sighting = None
        if found and for_long:
            sensor = places.sensor(session, standing[0].sensor_id).name
            named = tuple(
                wheel_name(session, each.wheel_id)
                for each in wheels.placements_in(session, space.id, at_us, at_us + 1)
            )
            sighting = Sighting(named, _notice(sensor, space.name, found, named, reader))
        stepper.take(at_us, sighting, sensor_tells_again(space.name, reader.moment(at_us)))
    if look.removed_us is not None:
        stepper.end(look.removed_us)
    one = stepper.evaluated()
    return [one] if one.is_news else []


def _never_moved(session: Session, sensor_id: int, from_us: int, at_us: int) -> bool:
    """Whether a sensor has told the same temperature or humidity all the time."""
    said = air.sensor_history(session, sensor_id, from_us, at_us + 1)
    for quantity in Quantity:
        values = said.of(quantity)
        known = values[np.isfinite(values)]
        if known.size and np.ptp(known) == 0:
            return True
    return False


def _notice(
    sensor: str, space: str, found: Sequence[Finding], named: Sequence[str], reader: Reader
) -> Notice:
    """What to tell of it; a wet sensor is to be dried before anything else is tried."""
    since = reader.moment(min(each.from_us for each in found))
    if any(each.fault is Fault.SATURATED for each in found):
        return sensor_wet(sensor, space, since, named)
    still = {quantity_of(each): _value(each, reader) for each in found}
    return sensor_stuck(sensor, space, still, since, named)


def _value(found: Finding, reader: Reader) -> str:
    if quantity_of(found) is Quantity.HUMIDITY:
        return f"{found.value:.1f} %RH"
    return reads(found.value, fahrenheit=reader.fahrenheit)
