"""What is due, case by case, as a maker would count it on a calendar."""

from datetime import date

import pytest

from service.ageing.schedule import Due, Outcome, Standing, due
from service.ageing.tended import Entry, WheelDays
from service.ageing.work import Counted, Rind, Trigger, Work
from tests.care_builders import BEGAN, day, days, entry, every, look, once, wheel, when

WEEKLY_TURN = every(Work.TURN)
WET = when(Work.PAT_DRY, Trigger.WET_FACE)
STALLED = when(Work.PIERCE_AGAIN, Trigger.GROWTH_STALLS)
PIERCE_ONCE = once(Work.PIERCE, days(2, 3, 5))


def only(wheels: list[WheelDays], entries: list[Entry], today: date) -> Due:
    (found,) = due(wheels, entries, today)
    return found


def window(item: Due) -> tuple[date, date, date]:
    return item.opens, item.expected, item.latest


def test_care_never_done_counts_from_the_beginning_of_the_stage() -> None:
    assert window(only([wheel(WEEKLY_TURN)], [], day(0))) == (day(5), day(7), day(9))


def test_a_turn_done_late_moves_the_next_one() -> None:
    found = only([wheel(WEEKLY_TURN)], [entry(Work.TURN, day(12))], day(13))

    assert window(found) == (day(17), day(19), day(21))
    assert found.last_done == day(12)


def test_a_weekly_turn_missed_for_five_weeks_is_one_turn() -> None:
    found = only([wheel(WEEKLY_TURN)], [entry(Work.TURN, day(1))], day(36))

    assert found.standing(day(36)) is Standing.OVERDUE
    assert found.overdue_days(day(36)) == 26


def test_after_weeks_away_one_turn_sets_it_right() -> None:
    found = only(
        [wheel(WEEKLY_TURN)], [entry(Work.TURN, day(1)), entry(Work.TURN, day(36))], day(36)
    )

    assert window(found) == (day(41), day(43), day(45))


@pytest.mark.parametrize(
    ("today", "standing"),
    [
        (4, Standing.LATER),
        (5, Standing.OPEN),
        (7, Standing.DUE),
        (9, Standing.DUE),
        (10, Standing.OVERDUE),
    ],
)
def test_standing_follows_the_window(today: int, standing: Standing) -> None:
    assert only([wheel(WEEKLY_TURN)], [], day(0)).standing(day(today)) is standing


def test_a_new_stage_does_not_restart_the_turning() -> None:
    found = only([wheel(WEEKLY_TURN)], [entry(Work.TURN, day(-3))], day(0))

    assert window(found) == (day(2), day(4), day(6))


def test_care_is_not_overdue_from_before_its_stage_asked_for_it() -> None:
    found = only([wheel(WEEKLY_TURN)], [entry(Work.TURN, day(-60))], day(0))

    assert window(found) == (day(0), day(0), day(0))


def test_a_skipped_turn_leaves_the_day_of_the_next() -> None:
    entries = [entry(Work.TURN, day(1)), entry(Work.TURN, day(9), Outcome.SKIPPED)]
    found = only([wheel(WEEKLY_TURN)], entries, day(9))

    assert found.expected == day(15)
    assert found.last_done == day(1)


def test_a_turn_skipped_before_its_day_is_not_asked_for_on_it() -> None:
    found = only([wheel(WEEKLY_TURN)], [entry(Work.TURN, day(6), Outcome.SKIPPED)], day(7))

    assert window(found) == (day(12), day(14), day(16))


def test_one_skip_after_weeks_away_leaves_nothing_overdue() -> None:
    entries = [entry(Work.TURN, day(0)), entry(Work.TURN, day(36), Outcome.SKIPPED)]
    found = only([wheel(WEEKLY_TURN)], entries, day(36))

    # Of the days 7, 14, 21, 28, 35 the last is taken as done.
    assert found.expected == day(42)


def test_a_turn_put_off_is_asked_for_on_the_day_named() -> None:
    found = only(
        [wheel(WEEKLY_TURN)], [entry(Work.TURN, day(7), Outcome.PUT_OFF, until=day(8))], day(7)
    )

    assert window(found) == (day(8), day(8), day(9))
    assert found.standing(day(7)) is Standing.LATER


def test_putting_off_does_not_hide_that_care_is_overdue() -> None:
    put_off = entry(Work.TURN, day(7), Outcome.PUT_OFF, until=day(15))
    found = only([wheel(WEEKLY_TURN)], [put_off], day(7))

    assert found.opens == day(15)
    assert found.standing(day(12)) is Standing.OVERDUE
    assert found.overdue_days(day(12)) == 3


def test_doing_it_ends_a_putting_off() -> None:
    entries = [
        entry(Work.TURN, day(7), Outcome.PUT_OFF, until=day(30), order=1),
        entry(Work.TURN, day(7), order=2),
    ]

    assert only([wheel(WEEKLY_TURN)], entries, day(7)).expected == day(14)


def test_the_later_word_of_a_day_holds() -> None:
    done = entry(Work.TURN, day(8), order=2)
    skipped = entry(Work.TURN, day(8), Outcome.SKIPPED, order=1)

    assert only([wheel(WEEKLY_TURN)], [done, skipped], day(8)).expected == day(15)


def test_a_one_off_done_early_is_done() -> None:
    assert due([wheel(PIERCE_ONCE)], [entry(Work.PIERCE, day(0))], day(4)) == ()


def test_a_one_off_of_an_earlier_stage_is_asked_for_again() -> None:
    assert len(due([wheel(PIERCE_ONCE)], [entry(Work.PIERCE, day(-1))], day(4))) == 1


def test_a_one_off_counted_from_making_may_be_done_shortly_before_the_stage() -> None:
    # The wheel is made 9 days before the stage begins: the window opens on day -2 of the stage.
    rule = once(Work.PIERCE, days(7, 10, 14, Counted.MAKE))

    assert due([wheel(rule)], [entry(Work.PIERCE, day(-2))], day(0)) == ()
    assert window(only([wheel(rule)], [entry(Work.PIERCE, day(-3))], day(0))) == (
        day(0),
        day(1),
        day(5),
    )


def test_a_wet_face_calls_for_patting_dry() -> None:
    found = only([wheel(WET, seen=[look(day(3), Rind.WET)])], [], day(3))

    assert window(found) == (day(3), day(3), day(5))
    assert found.why == "wet face, seen Tue 13 Oct"


def test_a_face_wet_at_every_look_is_overdue_from_the_first() -> None:
    seen = [look(day(1), Rind.DRY), look(day(3), Rind.MOIST), look(day(9), Rind.WET)]

    assert only([wheel(WET, seen=seen)], [], day(9)).latest == day(5)


def test_a_look_that_tells_nothing_of_the_rind_changes_nothing() -> None:
    seen = [look(day(3), Rind.WET), look(day(5), coat_pct=30)]

    assert only([wheel(WET, seen=seen)], [], day(5)).expected == day(3)


@pytest.mark.parametrize("rind", [Rind.DRY, Rind.TACKY])
def test_a_face_that_dried_by_itself_calls_for_nothing(rind: Rind) -> None:
    assert due([wheel(WET, seen=[look(day(3), Rind.WET), look(day(4), rind)])], [], day(4)) == ()


def test_patting_dry_after_the_look_ends_the_call() -> None:
    item = wheel(WET, seen=[look(day(3), Rind.WET, order=5)])

    assert due([item], [entry(Work.PAT_DRY, day(3), order=5)], day(3)) == ()
    assert len(due([item], [entry(Work.PAT_DRY, day(3), order=4)], day(3))) == 1


def test_a_wheel_that_was_patted_dry_is_wrapped_without_a_call_for_wrapping_anew() -> None:
    rule = when(Work.REWRAP, Trigger.WET_FACE)

    assert (
        due([wheel(rule, seen=[look(day(-2), Rind.WET)])], [entry(Work.WRAP, day(0))], day(1)) == ()
    )


def test_what_was_put_off_before_the_face_was_wet_anew_does_not_hide_it() -> None:
    seen = [look(day(1), Rind.WET), look(day(3), Rind.DRY), look(day(5), Rind.WET)]
    put_off = entry(Work.PAT_DRY, day(2), Outcome.PUT_OFF, until=day(30))

    assert only([wheel(WET, seen=seen)], [put_off], day(5)).opens == day(5)


def test_what_is_dated_after_today_does_not_count_yet() -> None:
    wet = wheel(WEEKLY_TURN, WET, seen=[look(day(6), Rind.WET)], sweat_day=day(6))
    found = only([wet], [entry(Work.TURN, day(6))], day(5))

    assert (found.work, found.last_done) == (Work.TURN, None)


def test_sweat_calls_for_patting_dry_until_it_is_done_or_seen_dry() -> None:
    sweating = wheel(WET, sweat_day=day(6))
    seen_dry = wheel(WET, sweat_day=day(6), seen=[look(day(6), Rind.DRY)])

    assert only([sweating], [entry(Work.PAT_DRY, day(5))], day(8)).expected == day(6)
    assert due([sweating], [entry(Work.PAT_DRY, day(6))], day(8)) == ()
    assert due([seen_dry], [], day(8)) == ()


def test_growth_that_stalls_calls_for_piercing_again() -> None:
    seen = [look(day(1), coat_pct=40), look(day(6), coat_pct=40)]
    found = only([wheel(STALLED, seen=seen)], [], day(6))

    assert found.opens == day(6)
    assert found.why == "no growth from Sun 11 Oct to Fri 16 Oct"


@pytest.mark.parametrize(
    ("first", "second", "after"),
    [(40, 50, 5), (40, 40, 4), (100, 100, 5)],
    ids=["it grew", "too soon to tell", "nothing left to grow over"],
)
def test_growth_is_not_said_to_stall_without_cause(first: float, second: float, after: int) -> None:
    seen = [look(day(1), coat_pct=first), look(day(1 + after), coat_pct=second)]

    assert due([wheel(STALLED, seen=seen)], [], day(10)) == ()


def test_the_look_that_led_to_piercing_is_not_held_against_it() -> None:
    seen = [look(day(6), coat_pct=40), look(day(11), coat_pct=40)]

    assert due([wheel(STALLED, seen=seen)], [entry(Work.PIERCE, day(6))], day(11)) == ()


@pytest.mark.parametrize("work", [Work.PIERCE, Work.PIERCE_AGAIN])
def test_growth_is_watched_anew_after_piercing(work: Work) -> None:
    seen = [look(day(1), coat_pct=40), look(day(6), coat_pct=40)]

    assert due([wheel(STALLED, seen=seen)], [entry(work, day(6), order=1)], day(9)) == ()


def test_a_box_is_aired_once_for_all_its_wheels_by_the_strictest() -> None:
    airy = wheel(every(Work.AIR_BOX, days(1, 3, 4)), number=1, box=50)
    calm = wheel(every(Work.AIR_BOX), number=2, box=50)
    found = only([calm, airy], [entry(Work.AIR_BOX, day(2), number=50)], day(2))

    assert window(found) == (day(3), day(5), day(6))
    assert found.wheels == (1, 2)
    assert found.space == 50


def test_care_of_a_box_is_not_asked_for_on_the_open_board() -> None:
    assert due([wheel(every(Work.AIR_BOX))], [], day(30)) == ()


def test_a_box_that_stood_empty_is_not_overdue_when_a_wheel_comes_to_it() -> None:
    moved = wheel(every(Work.AIR_BOX), box=50, space_since=day(20))
    found = only([moved], [entry(Work.AIR_BOX, BEGAN, number=50)], day(20))

    assert found.overdue_days(day(20)) == 0
    assert found.standing(day(20)) is Standing.DUE


def test_a_box_counts_from_the_stage_of_a_wheel_that_lay_in_it_before() -> None:
    stayed = wheel(every(Work.AIR_BOX), box=50, space_since=day(-5))

    assert only([stayed], [], day(0)).expected == day(7)


def test_a_wheel_without_a_stage_asks_for_nothing() -> None:
    eaten = WheelDays(1, BEGAN, None, 9, in_box=False, seen=(), sweat_day=None)

    assert due([eaten], [], day(30)) == ()


def test_why_says_it_plainly() -> None:
    entries = [entry(Work.TURN, day(1)), entry(Work.TURN, day(9), Outcome.SKIPPED)]
    put_off = entry(Work.TURN, day(15), Outcome.PUT_OFF, until=day(17))

    assert only([wheel(WEEKLY_TURN)], [*entries, put_off], day(15)).why == (
        "weekly; last done Sun 11 Oct; skipped Mon 19 Oct; put off until Tue 27 Oct"
    )
