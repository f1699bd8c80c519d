"""A household that takes another time zone keeps the days of all it did before."""

from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import care_actions, gate_actions, naming
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.api.gate_actions import Said
from service.tending.care import CareNow, care_now
from service.tending.days import Zones, day_of, noon_us
from service.tending.facts import zones_of
from tests import builders
from tests.builders import HOUR_US, NOW_US

FAR_ZONES = ["Pacific/Auckland", "America/Los_Angeles", "Asia/Kathmandu", "Pacific/Kiritimati"]


def move_to(context: Context, zone: str, at_us: int) -> None:
    with context.sessions() as session:
        naming.set_site(session, "Larch Lane", "larch-lane", zone, at_us, fahrenheit=False)


def done_by_day(context: Context, now_us: int) -> CareNow:
    with context.sessions() as session:
        return care_now(session, context.plans, now_us)


@pytest.mark.parametrize("zone", FAR_ZONES)
@pytest.mark.parametrize("hour", [0.5, 9.0, 22.5])
def test_change_of_zone_moves_nothing_that_was_done_by_a_day(
    tmp_path: Path, zone: str, hour: float
) -> None:
    context = builders.larch_lane(tmp_path)
    midnight_us = builders.utc_us(2026, 11, 19, 23, 0)  # the 20th begins in Vienna
    turned_us = midnight_us + round(hour * HOUR_US)
    with context.sessions() as session:
        care_actions.enter_care(
            session,
            Given(Work.TURN, Outcome.DONE, (1,), at=turned_us),
            Touch("turned-on-the-20th", "Ann", turned_us),
        )
        care_actions.enter_care(
            session,
            Given(Work.BRUSH, Outcome.DONE, (1,), at=date(2026, 11, 18)),
            Touch("brushed-on-the-18th", "Ann", turned_us),
        )
        gate_actions.answer_gate(
            session,
            context.plans,
            (5,),
            Said(opened=False, stage="coat", ask_again=date(2026, 11, 29)),
            Touch("not-yet-on-the-20th", "Ann", turned_us),
        )
    before = done_by_day(context, NOW_US)
    move_to(context, zone, NOW_US)
    after = done_by_day(context, NOW_US + 1)

    def days(now: CareNow) -> list[tuple[object, ...]]:
        return sorted(
            (each.work.value, each.subject.number, each.expected, each.latest, each.last_done)
            for each in now.due
            if each.last_done is not None
        )

    assert {each.last_done for each in before.of_wheel(1)} >= {
        date(2026, 11, 20),
        date(2026, 11, 18),
    }
    assert days(after) == days(before)
    assert {gate.wheel.id: gate.standing.ask_on for gate in after.gates} == {
        gate.wheel.id: gate.standing.ask_on for gate in before.gates
    }
    assert {wheel.id: wheel.days.made for wheel in after.wheels.values()} == {
        wheel.id: wheel.days.made for wheel in before.wheels.values()
    }


def test_what_is_done_after_the_change_counts_in_the_new_zone(tmp_path: Path) -> None:
    context = builders.larch_lane(tmp_path)
    move_to(context, "Pacific/Auckland", NOW_US)
    # 14:32 UTC on the 25th is 3:32 on the 26th in Auckland, 13 hours ahead in summer.
    with context.sessions() as session:
        care_actions.enter_care(
            session, Given(Work.TURN, Outcome.DONE, (1,)), Touch("turned-there", "Ann", NOW_US)
        )
    turn = next(each for each in done_by_day(context, NOW_US).of_wheel(1) if each.work is Work.TURN)

    assert turn.last_done == date(2026, 11, 26)


def test_zone_that_is_entered_again_unchanged_leaves_no_trace(tmp_path: Path) -> None:
    context = builders.larch_lane(tmp_path)
    move_to(context, "Europe/Vienna", NOW_US)
    with context.sessions() as session:
        assert zones_of(session) == Zones(ZoneInfo("Europe/Vienna"))


def test_noon_of_a_day_before_the_change_lies_on_that_day() -> None:
    zones = Zones(ZoneInfo("Pacific/Auckland"), ((NOW_US, ZoneInfo("Europe/Vienna")),))
    early, late = date(2026, 11, 20), date(2026, 11, 28)

    assert noon_us(early, zones) == builders.utc_us(2026, 11, 20, 11, 0)
    assert noon_us(late, zones) == builders.utc_us(2026, 11, 27, 23, 0)
    assert [day_of(noon_us(day, zones), zones) for day in (early, late)] == [early, late]
