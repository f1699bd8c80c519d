"""What comes up of care, from what the store holds."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from service.ageing.schedule import Standing
from service.ageing.seen import Look
from service.ageing.tended import Outcome
from service.ageing.work import Place, Rind, Work
from service.api import care_actions
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.store import observations, weighings, wheels
from service.store.observations import NewObservation
from service.tending.care import CareNow, care_now
from tests import builders

TODAY = date(2026, 11, 25)


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    return builders.larch_lane(tmp_path)


def now_of(context: Context, now_us: int = builders.NOW_US) -> CareNow:
    with context.sessions() as session:
        return care_now(session, context.plans, now_us)


def last_done(context: Context, work: Work, number: int) -> date | None:
    return next(
        each.last_done
        for each in now_of(context).due
        if each.work is work and each.subject.number == number
    )


def test_a_box_is_asked_for_once_for_all_its_wheels(lane: Context) -> None:
    aired = [each for each in now_of(lane).due if each.work is Work.AIR_BOX]

    assert [(each.subject.place, each.subject.number, each.wheels) for each in aired] == [
        (Place.BOX, 2, (2, 3, 4)),
        (Place.BOX, 3, (5, 6, 7, 8)),
    ]


def test_weeks_away_leave_each_care_overdue_once(lane: Context) -> None:
    turns = [each for each in now_of(lane).due if each.work is Work.TURN]

    assert sorted(each.subject.number for each in turns) == list(range(1, 10))
    assert all(each.standing(TODAY) is Standing.OVERDUE for each in turns)


def test_a_wheel_that_has_ended_asks_for_nothing(lane: Context) -> None:
    with lane.sessions() as session:
        wheels.wheel(session, 1).ended_us = builders.NOW_US - 1

    found = now_of(lane)

    assert 1 not in found.wheels
    assert found.of_wheel(1) == ()
    assert all(gate.wheel.id != 1 for gate in found.gates)


def test_weighing_and_looking_count_as_care_without_being_entered_twice(lane: Context) -> None:
    with lane.sessions() as session:
        weighings.enter(session, 1, builders.NOW_US - builders.DAY_US, 1_900.0)
        seen = NewObservation("looked-at-it", 1, builders.NOW_US, Look(rind=Rind.DRY), 1)
        observations.enter(session, seen)

    assert last_done(lane, Work.WEIGH, 1) == TODAY - timedelta(days=1)
    assert last_done(lane, Work.LOOK, 1) == TODAY

    with lane.sessions() as session:
        for weighing in weighings.weighings(session, 1):
            weighings.withdraw(session, 1, weighing.id or 0)
        observations.withdraw_touch(session, "looked-at-it")

    assert last_done(lane, Work.WEIGH, 1) is None
    assert last_done(lane, Work.LOOK, 1) is None


def test_what_was_put_off_stays_overdue_but_is_not_asked_before_its_day(lane: Context) -> None:
    with lane.sessions() as session:
        care_actions.enter_care(
            session,
            Given(Work.TURN, Outcome.PUT_OFF, (1,), until=TODAY + timedelta(days=2)),
            Touch("put-it-off", "Ann", builders.NOW_US),
        )
    turn = next(
        each for each in now_of(lane).due if each.work is Work.TURN and each.subject.number == 1
    )

    assert turn.put_off == TODAY + timedelta(days=2)
    assert turn.standing(TODAY) is Standing.OVERDUE


def test_sweat_that_the_caller_knows_of_asks_to_pat_dry(lane: Context) -> None:
    with lane.sessions() as session:
        for wheel_id in (2, 3, 4):
            wheels.begin_stage(
                session, wheel_id, "first_growth", builders.NOW_US - 3 * builders.DAY_US
            )
        told = care_now(session, lane.plans, builders.NOW_US, sweat_days={2: TODAY})
        untold = care_now(session, lane.plans, builders.NOW_US)

    assert [each.wheels for each in told.due if each.work is Work.PAT_DRY] == [(2,)]
    assert [each.wheels for each in untold.due if each.work is Work.PAT_DRY] == []


def test_the_visit_of_today_opens_the_cave_once_for_all_boxes(lane: Context) -> None:
    found = now_of(lane)
    today = [visit for visit in found.visits if visit.day == TODAY]

    assert [visit.space for visit in today] == [1, 4]
    assert {each.space for each in today[0].due} == {1, 2, 3}
    assert found.openings.planned == len(found.visits)


def test_a_wheel_asks_at_its_gate_from_the_expected_day_on(lane: Context) -> None:
    asking = {gate.wheel.id: gate.standing for gate in now_of(lane).asking}

    assert set(asking) == {5, 6, 7, 8, 9}
    assert asking[9].late
    assert not asking[5].late
