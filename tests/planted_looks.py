"""Weeks with planted causes in a store, and what was seen at their ends."""

from pathlib import Path

import numpy as np
import numpy.typing as npt

from service.ageing.lookback import FEWEST, Comparison, Feature
from service.ageing.noted import Condition
from service.ageing.seen import Look, Scent
from service.ageing.work import Firmness, Rind
from service.api.context import Context
from service.store import air, care, observations, places, set_up, wheels
from service.store.ageing_tables import CareRecord
from service.store.air import NewReading
from service.store.tables import Batch, Site
from service.store.wheels import NewWheel
from tests import builders
from tests.planted_weeks import DAY_US, MINUTE_US, SIZE, WEEK_MIN, Weeks

_SAID = (Condition.CRACKS, Condition.STICKING, Condition.SLIME)


def household(folder: Path, lived: Weeks, every_min: int = 5) -> Context:
    """The spaces in a store, each with its sensor and one wheel, and the turnings."""
    context = builders.empty_home(folder)
    count, spaces = lived.turned_d.shape
    start_us = start_us_of(lived)
    rows = np.arange(0, count * WEEK_MIN, every_min)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        for place in range(spaces):
            space = builders.add_space(session, site.id, f"cave-{place}", f"Cave {place}", "cave")
            sensor = places.sensor_for(session, f"larch-lane/s-{place}", start_us)
            assert sensor.id is not None
            places.place_sensor(session, sensor.id, space, start_us)
            readings = zip(
                (start_us + rows * MINUTE_US).tolist(),
                lived.air_c[rows, place].tolist(),
                lived.humidity_pct[rows, place].tolist(),
                strict=True,
            )
            air.add_readings(session, [NewReading(sensor.id, *each) for each in readings])
            made_us = start_us - 20 * DAY_US
            batch = Batch(
                site_id=site.id,
                name=f"Tomme {place}",
                plan="tomme",
                plan_version=1,
                made_us=made_us,
            )
            (wheel,) = wheels.add_batch(session, batch, [NewWheel("1", *SIZE)])
            wheels.place_wheel(session, wheel, space, start_us)
            wheels.begin_stage(session, wheel, "ripening", made_us)
            care.enter(session, [_turning(lived, wheel, week, place) for week in range(count)])
    return context


def forget(context: Context) -> None:
    """Take every observation out of the store, as if none had been entered."""
    with context.sessions() as session:
        numbers = [wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None]
        for row in observations.of_wheels(session, numbers):
            session.delete(row)


def start_us_of(lived: Weeks) -> int:
    """When the weeks begin, so that they end now. [µs UTC]"""
    return builders.NOW_US - len(lived.turned_d) * WEEK_MIN * MINUTE_US


def _turning(lived: Weeks, wheel: int, week: int, place: int) -> CareRecord:
    end_us = start_us_of(lived) + (week + 1) * WEEK_MIN * MINUTE_US
    turned_us = end_us - round(float(lived.turned_d[week, place]) * DAY_US)
    return CareRecord(
        touch=f"turn-{wheel}-{week}",
        work="turn",
        wheel_id=wheel,
        outcome="done",
        time_us=turned_us,
        entered_us=turned_us,
    )


def look(
    context: Context, lived: Weeks, seen: dict[Condition, bool], week: int, place: int, touch: str
) -> int:
    """Enter what was seen at the end of a week; the observation's number."""
    time_us = start_us_of(lived) + (week + 1) * WEEK_MIN * MINUTE_US
    said = [str(name) for name in _SAID if seen.get(name)]
    rinds = ((Condition.WET_RIND, Rind.WET), (Condition.DRY_RIND, Rind.DRY))
    smells = ((Condition.AMMONIA, Scent.AMMONIA), (Condition.FOUL_SMELL, Scent.FOUL))
    with context.sessions() as session:
        row = observations.enter(
            session,
            observations.NewObservation(
                touch=f"{touch}-{week}-{place}",
                wheel_id=place + 1,
                time_us=time_us,
                look=Look(
                    rind=next((rind for name, rind in rinds if seen.get(name)), Rind.TACKY),
                    firmness=Firmness.OOZY if seen.get(Condition.OOZY) else Firmness.GIVING,
                    smell=next((smell for name, smell in smells if seen.get(name)), Scent.CELLAR),
                ),
                entered_us=time_us,
                words=", ".join(said),
            ),
        )
        number: int | None = row.id
    assert number is not None
    return number


def enter_looks(
    context: Context,
    lived: Weeks,
    condition: Condition,
    seen: npt.NDArray[np.bool_],
    least: int,
) -> int:
    """Enter the newest looks, so many at least; the newest that shows the condition, or 0.

    There are more looks where else one of the groups would be too small to compare.
    """
    count, spaces = seen.shape
    number, sides = 0, [0, 0]
    # The newest first, so that more looks do not move the end of what is looked at.
    for week, place in (
        (week, place) for week in reversed(range(count)) for place in range(spaces)
    ):
        if sum(sides) >= least and min(sides) >= FEWEST:
            break
        there = bool(seen[week, place])
        made = look(context, lived, {condition: there}, week, place, "look")
        number = number or (made if there else 0)
        sides[there] += 1
    return number


def told_first(found: Comparison) -> set[Feature]:
    """What the page tells of as what differs most: the first, and what is level with it."""
    return {found.rows[0].feature, *(row.feature for row in found.level_with_first)}
