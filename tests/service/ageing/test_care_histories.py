"""What holds of the schedule whatever was entered, over random histories."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.schedule import Due, Outcome, due
from service.ageing.tended import Entry, Subject, WheelDays
from service.ageing.work import Days, Place, Work
from service.clock import from_datetime
from service.tending.days import day_of
from tests.care_builders import (
    TODAY,
    WEEKLY,
    day,
    days,
    entry,
    every,
    histories,
    households,
    wheel,
    windows,
)

# Fewer examples than usual keep the whole file to a few seconds on a small board.
random_histories = settings(max_examples=40)

LINKED = {
    Work.PIERCE: {Work.PIERCE, Work.PIERCE_AGAIN},
    Work.PIERCE_AGAIN: {Work.PIERCE_AGAIN},
}
"""Which care else may end when one is done: piercing starts the watch on growth anew."""


def key(item: Due) -> tuple[Work, Subject]:
    return item.work, item.subject


@random_histories
@given(households(), histories)
def test_no_care_is_lost(wheels: tuple[WheelDays, ...], entered: list[Entry]) -> None:
    found = {key(item): item for item in due(wheels, entered, TODAY)}

    for each in wheels:
        assert each.stage is not None
        for rule in each.stage.stage.care:
            subject = Subject(rule.place, each.number)
            if rule.place is Place.BOX:
                subject = Subject(rule.place, each.space or 0)
            if rule.every is None or (rule.place is Place.BOX and not each.in_box):
                continue
            assert each.number in found[rule.work, subject].wheels


@random_histories
@given(households(), histories)
def test_no_care_is_asked_for_twice(wheels: tuple[WheelDays, ...], entered: list[Entry]) -> None:
    found = due(wheels, entered, TODAY)
    asked = [(item.work, number) for item in found for number in item.wheels]

    assert len({key(item) for item in found}) == len(found)
    assert len(set(asked)) == len(asked)


@random_histories
@given(st.lists(st.integers(-8, 40), max_size=8), windows)
def test_recurring_care_counts_from_the_last_time_it_was_done(
    done_on: list[int], window: Days
) -> None:
    rule = every(Work.TURN, window)
    (found,) = due([wheel(rule)], [entry(Work.TURN, day(number)) for number in done_on], TODAY)
    last = max(done_on, default=0)
    soonest = max([0, last + 1]) if done_on else 0

    assert (found.opens, found.expected, found.latest) == tuple(
        day(max(last + number, soonest))
        for number in (window.earliest, window.expected, window.latest)
    )


@random_histories
@given(households(), histories, st.data())
def test_what_is_done_is_not_asked_for_again_that_day_and_the_rest_stays(
    wheels: tuple[WheelDays, ...], entered: list[Entry], data: st.DataObject
) -> None:
    before = due(wheels, entered, TODAY)
    if not before:
        return
    chosen = data.draw(st.sampled_from(before))
    done = Entry(chosen.work, chosen.subject, Outcome.DONE, TODAY, None, order=99)
    after = due(wheels, [*entered, done], TODAY)
    touched = LINKED.get(chosen.work, {chosen.work})

    assert all(item.opens > TODAY for item in after if key(item) == key(chosen))
    assert [item for item in after if key(item) != key(chosen) and item.work not in touched] == [
        item for item in before if key(item) != key(chosen) and item.work not in touched
    ]


@random_histories
@given(households(), histories, st.data())
def test_taking_entries_back_leaves_what_was_before(
    wheels: tuple[WheelDays, ...], entered: list[Entry], data: st.DataObject
) -> None:
    before = due(wheels, entered, TODAY)
    more = data.draw(histories)
    held = data.draw(st.permutations([*entered, *more]))
    due(wheels, held, TODAY)
    for each in data.draw(st.permutations(more)):
        held.remove(each)

    assert due(wheels, held, TODAY) == before


@random_histories
@given(households(), histories, st.data())
def test_the_order_of_entering_does_not_matter(
    wheels: tuple[WheelDays, ...], entered: list[Entry], data: st.DataObject
) -> None:
    mixed = [
        WheelDays(
            **{
                **{name: getattr(each, name) for name in WheelDays.__dataclass_fields__},
                "seen": tuple(data.draw(st.permutations(each.seen))),
            }
        )
        for each in data.draw(st.permutations(wheels))
    ]

    assert due(mixed, data.draw(st.permutations(entered)), TODAY) == due(wheels, entered, TODAY)


@random_histories
@given(households(), histories)
def test_the_same_entered_twice_counts_once(
    wheels: tuple[WheelDays, ...], entered: list[Entry]
) -> None:
    assert due(wheels, [*entered, *entered], TODAY) == due(wheels, entered, TODAY)


@random_histories
@given(households(), histories, st.integers(1, 200))
def test_weeks_away_neither_add_nor_move_anything(
    wheels: tuple[WheelDays, ...], entered: list[Entry], away: int
) -> None:
    assert due(wheels, entered, TODAY + timedelta(days=away)) == due(wheels, entered, TODAY)


@random_histories
@given(households(), histories, histories)
def test_care_that_is_not_asked_for_changes_nothing(
    wheels: tuple[WheelDays, ...], entered: list[Entry], more: list[Entry]
) -> None:
    strangers = [each for each in more if each.work in {Work.MOVE, Work.TASTE, Work.SALT}]

    assert due(wheels, [*entered, *strangers], TODAY) == due(wheels, entered, TODAY)


@random_histories
@given(households(), histories)
def test_a_box_is_asked_for_what_its_strictest_wheel_asks(
    wheels: tuple[WheelDays, ...], entered: list[Entry]
) -> None:
    alone = [item for each in wheels for item in due([each], entered, TODAY)]

    for item in due(wheels, entered, TODAY):
        same = [each for each in alone if key(each) == key(item)]
        assert item.latest == min(each.latest for each in same)
        assert item.wheels == tuple(sorted(each.wheels[0] for each in same))


@random_histories
@given(households(), histories)
def test_windows_ascend_save_for_what_was_put_off(
    wheels: tuple[WheelDays, ...], entered: list[Entry]
) -> None:
    for item in due(wheels, entered, TODAY):
        assert item.opens <= item.expected
        assert item.expected <= item.latest or item.put_off == item.expected


@random_histories
@given(st.integers(1, 20), st.integers(0, 40), st.integers(0, 40))
def test_a_skip_leaves_at_most_one_interval_to_the_next(step: int, last: int, late: int) -> None:
    rule = every(Work.TURN, days(step, step, step))
    skipped_on = day(last + step + late)
    entered = [entry(Work.TURN, day(last)), entry(Work.TURN, skipped_on, Outcome.SKIPPED)]
    (found,) = due([wheel(rule)], entered, skipped_on)

    assert timedelta() < found.expected - skipped_on <= timedelta(days=step)
    assert (found.expected - day(last)).days % step == 0


ZONES = {
    # Each with a day on which its clocks change: tzdata, checked by the first test below.
    "Europe/Vienna": date(2026, 10, 25),
    "America/New_York": date(2026, 11, 1),
    "Australia/Lord_Howe": date(2026, 10, 4),
    "Pacific/Apia": date(2020, 9, 27),
    "America/Sao_Paulo": date(2018, 11, 4),
}


@pytest.mark.parametrize("zone", ZONES)
def test_the_zones_have_a_change_of_clocks_on_the_day_named(zone: str) -> None:
    midnight = datetime.combine(ZONES[zone], datetime.min.time(), ZoneInfo(zone))
    before, after = midnight - timedelta(days=1), midnight + timedelta(days=1)

    assert before.utcoffset() != after.utcoffset()


@random_histories
@given(
    st.sampled_from([*ZONES, "Asia/Kathmandu"]),
    st.lists(
        st.tuples(st.integers(-10, 3), st.integers(0, 23), st.integers(0, 59), st.integers(0, 1)),
        min_size=1,
        max_size=5,
    ),
)
def test_a_change_of_clocks_moves_no_care_by_a_day(
    zone: str, walls: list[tuple[int, int, int, int]]
) -> None:
    change = ZONES.get(zone, date(2026, 10, 25))
    own = ZoneInfo(zone)
    instants = [
        from_datetime(
            datetime(
                *(change + timedelta(days=number)).timetuple()[:3],
                hour,
                minute,
                fold=fold,
                tzinfo=own,
            )
        )
        for number, hour, minute, fold in walls
    ]
    entered = [entry(Work.TURN, day_of(time_us, own), order=time_us) for time_us in instants]
    today = change + timedelta(days=4)
    item = wheel(every(Work.TURN), began=change - timedelta(days=12))
    (found,) = due([item], entered, today)

    last = change + timedelta(days=max(number for number, *_ in walls))
    assert (found.last_done, found.expected) == (last, last + timedelta(days=WEEKLY.expected))
