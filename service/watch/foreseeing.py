"""Early warnings: a limit of a space's air that will be reached within a day.

They are worked out at each step of twenty minutes of the readings' own time, from the readings
before it, so the record of a period comes out the same when it is made again. Of a history
that is longer than two days only its end is looked at: a warning of what has come to pass, or
has not, would help nobody. What a stuck or wet sensor said is no air: nothing is foretold from
it, and while it lasts a warning that is raised stays so.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from service.ageing.ahead import FORESEEN
from service.ageing.ahead_notices import early_warning, warning_over
from service.ageing.values import Direction, Quantity
from service.ageing.verdict import AirHistory
from service.behaving.calm import CalmAir, calm_air
from service.behaving.outlook import PAST_US, Outlook, limits_of, outlook
from service.clock import DAY_US, US_PER_S
from service.judging import Plans, TargetSpan, target_spans
from service.science.sensor_truth import findings
from service.science.silenced import silenced
from service.science.thinning import usual_gap_us
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
    told = _Told(session, space_id, steps[0], end_us)
    fridge = space.kind == SpaceKind.KITCHEN_FRIDGE
    for at_us in steps:
        span = next(each for each in spans if each.from_us <= at_us < each.to_us)
        limits = limits_of(span.target, kitchen_fridge=fridge)
        calm, silent = told.up_to(at_us)
        for (quantity, direction), stepper in steppers.items():
            if quantity in silent:
                stepper.hold(at_us)
                continue
            limit = limits.get((quantity, direction))
            taken_over = _is_raised(raised, f"{quantity}_{direction}", at_us)
            seen = None
            if limit is not None and not taken_over:
                seen = outlook(calm, quantity, direction, limit, at_us)
            over = warning_over(space.name, quantity, direction, reader.moment(at_us))
            sighting = _sighting(session, space.name, span, seen, reader) if seen else None
            stepper.take(at_us, sighting, over, taken_over=taken_over)


class _Told:
    """What the readings tell of the air at each step, by those up to it alone."""

    def __init__(self, session: Session, space_id: int, first_us: int, end_us: int) -> None:
        # From a whole day before what is looked at on.
        from_us = (first_us - PAST_US) // DAY_US * DAY_US - DAY_US
        self._history = air.space_history(session, space_id, from_us, end_us)
        self._longest_s = usual_gap_us(self._history.times_us) / US_PER_S
        self._calm: dict[bytes, CalmAir] = {}

    def up_to(self, at_us: int) -> tuple[CalmAir, list[Quantity]]:
        """The air without its cycle, and what of the newest reading tells nothing of the air."""
        air_then = self._history
        count = int(np.searchsorted(air_then.times_us, at_us, side="right"))
        times_us, longest_s = air_then.times_us[:count], self._longest_s
        warm, damp = air_then.temperature_c[:count], air_then.humidity_pct[:count]
        faults = findings(times_us, warm, damp, longest_s)
        still, mute = silenced(times_us, warm, damp, faults, longest_s)
        # Later readings do not matter to what was calm by this step.
        key = np.flatnonzero(still).tobytes() + b"/" + np.flatnonzero(mute).tobytes()
        if key not in self._calm:
            temperature_c, humidity_pct = (
                air_then.temperature_c.copy(),
                air_then.humidity_pct.copy(),
            )
            temperature_c[:count][still] = np.nan
            humidity_pct[:count][mute] = np.nan
            self._calm[key] = calm_air(AirHistory(air_then.times_us, temperature_c, humidity_pct))
        newest = ((Quantity.TEMPERATURE, still), (Quantity.HUMIDITY, mute))
        return self._calm[key], [quantity for quantity, quiet in newest if quiet[-1:].any()]


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
