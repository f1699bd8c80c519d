"""Early warnings: a limit of a space's air that will be reached within a day.

They are worked out at each step of twenty minutes of the readings' own time, from the readings
before it, so the record of a period comes out the same when it is made again. Of a history
that is longer than two days only its end is looked at: a warning of what has come to pass, or
has not, would help nobody.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from service.ageing.ahead import FORESEEN
from service.ageing.ahead_notices import early_warning, warning_over
from service.ageing.values import Direction, Quantity
from service.behaving.calm import CalmAir, calm_air
from service.behaving.outlook import PAST_US, Outlook, limits_of, outlook
from service.clock import DAY_US
from service.judging import Plans, TargetSpan, target_spans
from service.store import air, alarm_records
from service.store.alarm_records import AlarmEntry
from service.store.conditions import Watched
from service.store.database import Session
from service.store.tables import Space, SpaceKind
from service.watch.air import wheel_name
from service.watch.stepping import WARNING, Look, Sighting, Stepper
from service.watch.turns import Evaluated, Reader

FORETELLS: Final = {
    "humidity_falling": (Quantity.HUMIDITY, Direction.BELOW),
    "humidity_rising": (Quantity.HUMIDITY, Direction.ABOVE),
    "temperature_falling": (Quantity.TEMPERATURE, Direction.BELOW),
    "temperature_rising": (Quantity.TEMPERATURE, Direction.ABOVE),
}
"""The kinds of early warning, and the limit that each foretells."""

LOOK_BACK_US: Final = 2 * DAY_US
"""How far back from the newest reading steps are taken. [µs] Our choice."""


def evaluate(
    session: Session,
    plans: Plans,
    space: Space,
    watched: Mapping[str, Watched],
    limits_evaluated_us: int,
    look: Look,
    reader: Reader,
) -> list[Evaluated]:
    """Take all steps that are due; what is news of it.

    Args:
        session: Only read from.
        plans: The ageing plans by slug.
        space: The space.
        watched: Its conditions, one of each of `FORETELLS`.
        limits_evaluated_us: Up to where its limit alarms are known; no step goes beyond. [µs UTC]
        look: What is known of its readings.
        reader: How the maker reads times and temperatures.
    """
    assert space.id is not None
    evaluated_us = min(one.evaluated_us for one in watched.values())
    steps = look.steps(evaluated_us, limits_evaluated_us)
    steppers = {FORETELLS[kind]: Stepper(one, FORESEEN, WARNING) for kind, one in watched.items()}
    if steps:
        _take_steps(session, plans, space, space.id, steppers, steps, reader)
    if look.removed_us is not None:
        for stepper in steppers.values():
            stepper.end(look.removed_us)
    found = [stepper.evaluated() for stepper in steppers.values()]
    return [one for one in found if one.is_news]


def _take_steps(
    session: Session,
    plans: Plans,
    space: Space,
    space_id: int,
    steppers: Mapping[tuple[Quantity, Direction], Stepper],
    steps: range,
    reader: Reader,
) -> None:
    end_us = steps[-1] + 1
    spans = target_spans(session, plans, space_id, steps[0], end_us)
    raised = alarm_records.between(session, space_id, steps[0], end_us)
    calm = _calm(session, space_id, steps[0], end_us)
    fridge = space.kind == SpaceKind.KITCHEN_FRIDGE
    for at_us in steps:
        span = next(each for each in spans if each.from_us <= at_us < each.to_us)
        limits = limits_of(span.target, kitchen_fridge=fridge)
        for (quantity, direction), stepper in steppers.items():
            limit = limits.get((quantity, direction))
            taken_over = _is_raised(raised, f"{quantity}_{direction}", at_us)
            seen = None
            if limit is not None and not taken_over:
                seen = outlook(calm, quantity, direction, limit, at_us)
            over = warning_over(space.name, quantity, direction, reader.moment(at_us))
            sighting = _sighting(session, space.name, span, seen, reader) if seen else None
            stepper.take(at_us, sighting, over, taken_over=taken_over)


def _calm(session: Session, space_id: int, first_us: int, end_us: int) -> CalmAir:
    """The air that these steps look at, from a whole day before it on."""
    from_us = (first_us - PAST_US) // DAY_US * DAY_US - DAY_US
    return calm_air(air.space_history(session, space_id, from_us, end_us))


def _is_raised(alarms: Sequence[AlarmEntry], kind: str, at_us: int) -> bool:
    return any(
        alarm.kind == kind
        and alarm.raised_us <= at_us
        and (alarm.returned_us is None or at_us < alarm.returned_us)
        for alarm in alarms
    )


def _sighting(
    session: Session, space: str, span: TargetSpan, seen: Outlook, reader: Reader
) -> Sighting:
    concerned = span.target.of(seen.quantity).set_by(seen.direction) or span.wheel_ids
    named = tuple(wheel_name(session, wheel_id) for wheel_id in concerned)
    notice = early_warning(space, seen.ahead(fahrenheit=reader.fahrenheit), named)
    return Sighting(named, notice, seen.limit, seen.level)
