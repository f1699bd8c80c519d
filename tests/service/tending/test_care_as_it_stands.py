"""What comes up of care, from what the store holds."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from service.ageing.lifecycle import Priority
from service.ageing.schedule import Due, Standing
from service.ageing.seen import Look
from service.ageing.tended import Outcome
from service.ageing.work import Place, Rind, Work
from service.api import care_actions
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.clock import HOUR_US
from service.store import alarm_records, conditions, observations, weighings, wheels
from service.store.alarm_records import NewAlarm
from service.store.observations import NewObservation
from service.tending.care import CareNow, care_now
from service.watch.sweat import WHEEL
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


def sweat(
    context: Context, space_id: int, from_us: int, to_us: int | None, kind: str = WHEEL
) -> None:
    """An alarm of sweat as the watch would enter it; None while it is active."""
    with context.sessions() as session:
        watched = conditions.watch_space(session, space_id, [kind])[kind]
        raised = NewAlarm(from_us, Priority.MEDIUM, None, 0.02, "Blue 1", "Sweat", "Sweat.")
        alarm_records.raise_alarm(session, watched.id, raised)
        if to_us is not None:
            alarm_records.return_alarm(session, watched.id, to_us, Priority.MEDIUM, 0.02)


def patting(context: Context, now_us: int = builders.NOW_US) -> list[Due]:
    return [each for each in now_of(context, now_us).due if each.work is Work.PAT_DRY]


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


def test_sweat_in_its_space_asks_to_pat_a_wheel_dry_and_says_that_nobody_saw_it(
    lane: Context,
) -> None:
    sweat(lane, 2, builders.NOW_US - 30 * HOUR_US, builders.NOW_US - 26 * HOUR_US)

    asked = patting(lane)

    assert [each.wheels for each in asked] == [(2,), (3,), (4,)]
    assert asked[0].expected == TODAY - timedelta(days=1)
    assert asked[0].why == "the air has wetted it, Tue 24 Nov: an estimate, not seen"


def test_sweat_that_lasts_asks_again_the_day_after_each_patting(lane: Context) -> None:
    sweat(lane, 2, builders.NOW_US - 30 * HOUR_US, None)
    with lane.sessions() as session:
        patted = Given(Work.PAT_DRY, Outcome.DONE, (2,))
        care_actions.enter_care(session, patted, Touch("patted-dry", "Ann", builders.NOW_US))

    assert [each.wheels for each in patting(lane)] == [(3,), (4,)]
    tomorrow = patting(lane, builders.NOW_US + builders.DAY_US)
    assert [(each.wheels, each.expected) for each in tomorrow] == [
        ((number,), TODAY + timedelta(days=1)) for number in (2, 3, 4)
    ]


def test_sweat_elsewhere_before_the_wheel_came_or_of_the_lid_asks_for_nothing(
    lane: Context,
) -> None:
    came_us = builders.NOW_US - 2 * builders.DAY_US
    with lane.sessions() as session:
        wheels.place_wheel(session, 2, 3, came_us)
    sweat(lane, 1, came_us - HOUR_US, None)
    sweat(lane, 2, came_us - 9 * HOUR_US, came_us - HOUR_US)
    sweat(lane, 3, came_us - 9 * HOUR_US, came_us)
    sweat(lane, 3, came_us + HOUR_US, None, kind="lid_sweat")

    asked = {each.wheels for each in patting(lane)}
    assert (2,) not in asked
    assert {(3,), (4,), (5,)} < asked


def test_sweat_counts_by_the_day_of_the_household_on_which_it_ended(lane: Context) -> None:
    # A quarter to midnight in UTC is the next day in Vienna.
    ended_us = builders.utc_us(2026, 11, 23, 23, 45)
    sweat(lane, 2, ended_us - 2 * HOUR_US, ended_us)

    assert {each.expected for each in patting(lane)} == {date(2026, 11, 24)}


def test_the_visit_of_today_opens_the_cave_once_for_all_boxes(lane: Context) -> None:
    found = now_of(lane)
    today = [visit for visit in found.visits if visit.day == TODAY]

    assert [visit.space for visit in today] == [1, 4]
    assert {each.space for each in today[0].due} == {1, 2, 3}
    assert found.openings.planned == len(found.visits)


def test_a_skip_in_mid_visit_leaves_the_rest_of_the_visit_where_it_was(lane: Context) -> None:
    def today(space: int) -> set[tuple[Work, int]]:
        return {
            (each.work, each.subject.number)
            for visit in now_of(lane).visits
            if visit.day == TODAY and visit.space == space
            for each in visit.due
        }

    before = today(1)
    with lane.sessions() as session:
        skipped = Given(Work.WIPE_LID, Outcome.SKIPPED, space_id=2)
        care_actions.enter_care(session, skipped, Touch("skipped-it", "Ann", builders.NOW_US))

    assert (Work.WIPE_LID, 2) in before
    assert today(1) == before - {(Work.WIPE_LID, 2)}


def test_a_wheel_asks_at_its_gate_from_the_expected_day_on(lane: Context) -> None:
    asking = {gate.wheel.id: gate.standing for gate in now_of(lane).asking}

    assert set(asking) == {5, 6, 7, 8, 9}
    assert asking[9].late
    assert not asking[5].late
