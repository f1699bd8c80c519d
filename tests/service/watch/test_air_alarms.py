"""From stored readings to alarms on the air of a space."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from service.ageing.lifecycle import AlarmState
from service.store import alarm_records
from service.store.alarm_records import AlarmEntry

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder, LarderMaker

START_US = 1_795_608_000_000_000  # As in conftest.py.
MINUTE_US = 60_000_000


def dry_spell(larder: Larder) -> None:
    """Good air for an hour, dry air for two, good air again."""
    larder.steady(0, 60)
    larder.steady(60, 180, humidity=70)
    larder.steady(180, 300)


def test_falling_humidity_raises_one_alarm_that_names_the_wheel(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.steady(60, 120, humidity=70)
    larder.round_at(120)
    (alarm,) = larder.alarms()

    assert alarm.kind == "humidity_below"
    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert alarm.wheels == "Tomme 1"
    assert alarm.limit == 85
    assert alarm.space == "Larder cave"


def test_steady_air_in_range_never_alarms(larder: Larder) -> None:
    larder.steady(0, 600)
    larder.round_at(601)

    assert larder.alarms() == []


def test_alarm_waits_out_a_door_opening(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.steady(60, 63, humidity=60)
    larder.steady(63, 120)
    larder.round_at(121)

    assert larder.alarms() == []


def test_an_alarm_that_returns_unacknowledged_stays_open(larder: Larder) -> None:
    dry_spell(larder)
    larder.round_at(301)
    with larder.sessions() as session:
        (alarm,) = alarm_records.open_for_space(session, larder.space_id)

    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_the_extreme_of_a_long_alarm_is_the_value_farthest_out(larder: Larder) -> None:
    dry_spell(larder)
    larder.round_at(301)
    (alarm,) = larder.alarms()

    # The mean follows to within 0.1 %RH in two hours, which are eight of its time constants.
    assert alarm.extreme == pytest.approx(70, abs=0.1)


def test_an_active_alarm_is_kept_up_to_date(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.steady(60, 105, humidity=70)
    larder.round_at(105)
    (early,) = larder.alarms()
    larder.steady(105, 180, humidity=70)
    larder.round_at(180)
    (later,) = larder.alarms()

    assert early.extreme is not None
    assert later.extreme is not None
    assert later.extreme < early.extreme


def test_a_second_occurrence_takes_over_one_that_returned_unacknowledged(larder: Larder) -> None:
    dry_spell(larder)
    larder.steady(300, 420, humidity=70)
    larder.round_at(420)
    first, second = larder.alarms()
    with larder.sessions() as session:
        history = alarm_records.transitions(session, first.id)

    assert first.state is AlarmState.NORMAL
    assert second.state is AlarmState.UNACKNOWLEDGED
    assert [(one.state, one.by) for one in history] == [
        (AlarmState.UNACKNOWLEDGED, None),
        (AlarmState.RETURNED_UNACKNOWLEDGED, None),
        (AlarmState.NORMAL, "raised again"),
    ]


def test_the_limit_is_that_of_the_stage_at_the_time_of_the_reading(larder: Larder) -> None:
    # From minute 100 on the wheel asks for 75 to 85 %RH, so that 80 is in range.
    larder.shelve("dry", at_min=100)
    larder.steady(0, 100, humidity=80)
    larder.steady(100, 200, humidity=80)
    larder.round_at(201)
    (alarm,) = larder.alarms()

    assert alarm.limit == 85
    assert alarm.returned_us is not None
    assert 110 <= (alarm.returned_us - START_US) / MINUTE_US <= 130


def test_conditions_return_when_the_last_wheel_leaves(larder: Larder) -> None:
    larder.take_out(at_min=60)
    larder.steady(0, 90, humidity=70)
    larder.round_at(91)
    (alarm,) = larder.alarms()

    assert alarm.returned_us == START_US + 60 * MINUTE_US


def test_an_alarm_comes_from_the_tightest_target_of_the_wheels(larder: Larder) -> None:
    larder.shelve("dry", which=1)  # Together they allow 85 alone.
    larder.steady(0, 60, humidity=88)
    larder.round_at(61)
    (alarm,) = larder.alarms()

    assert (alarm.kind, alarm.limit, alarm.wheels) == ("humidity_above", 85, "Tomme 2")


def test_an_alarm_returns_when_the_sensor_is_taken_out(larder: Larder) -> None:
    larder.steady(0, 60, humidity=70)
    larder.round_at(60)
    larder.stand(at_min=70, out=True)
    larder.round_at(75)
    air = [alarm for alarm in larder.alarms() if alarm.kind == "humidity_below"]

    assert [alarm.returned_us for alarm in air] == [START_US + 70 * MINUTE_US]


def test_an_alarm_returns_when_the_sensor_turns_out_to_have_left_long_ago(larder: Larder) -> None:
    larder.steady(0, 60, humidity=70)
    larder.round_at(61)
    larder.stand(at_min=50, out=True)
    larder.round_at(62)
    (alarm,) = larder.alarms()

    assert alarm.returned_us == START_US + 59 * MINUTE_US


def test_a_kitchen_fridge_above_5_degrees_alarms_with_no_wheel_inside(
    make_larder: LarderMaker,
) -> None:
    fridge = make_larder(kind="kitchen_fridge")
    fridge.stand()
    fridge.steady(0, 60, temperature=6)
    fridge.round_at(61)
    (alarm,) = fridge.alarms()

    assert (alarm.kind, alarm.limit, alarm.wheels) == ("temperature_above", 5, "")


def test_a_kitchen_fridge_above_5_degrees_alarms_whatever_the_plan_allows(
    make_larder: LarderMaker,
) -> None:
    fridge = make_larder(kind="kitchen_fridge")
    fridge.stand()
    fridge.shelve()  # The wheel asks for 8 to 12 °C.
    fridge.steady(0, 60, temperature=9)
    fridge.round_at(61)
    (alarm,) = fridge.alarms()

    assert (alarm.kind, alarm.limit, alarm.wheels) == ("temperature_above", 5, "Tomme 1")


def test_a_sensor_that_reports_once_an_hour_can_alarm(larder: Larder) -> None:
    for hour in range(12):
        larder.read([(60 * hour, 10, 70)])
        larder.round_at(60 * hour + 1)

    assert "humidity_below" in {alarm.kind for alarm in larder.alarms()}


def test_a_reading_from_a_fast_clock_hides_none_of_another_sensor(
    make_larder: LarderMaker,
) -> None:
    """Two sensors, the first 9 minutes ahead; after an hour the second takes over."""
    undisturbed, disturbed = make_larder(), make_larder()
    for larder, ahead in ((undisturbed, 0), (disturbed, 9)):
        larder.stand()
        larder.shelve()
        larder.steady(0, 60 + ahead)
        larder.round_at(60)
        second = larder.add_sensor("second")
        larder.stand(second, at_min=60)
        larder.read(((minute, 10, 70) for minute in range(60, 120)), sensor_id=second)
        larder.round_at(121)
    (expected,) = [one.raised_us for one in undisturbed.alarms() if one.kind == "humidity_below"]

    assert [one.raised_us for one in disturbed.alarms() if one.kind == "humidity_below"] == [
        expected
    ]


@pytest.mark.parametrize("seed", range(3))
def test_the_record_does_not_depend_on_how_often_somebody_looked(
    make_larder: LarderMaker, seed: int
) -> None:
    dice = random.Random(seed)
    once, often = make_larder(), make_larder()
    story = _story(dice)
    for larder in (once, often):
        larder.stand()
        larder.shelve()
        larder.shelve("dry", at_min=1000)
        larder.shelve("damp", at_min=400, which=1)
        larder.take_out(at_min=1500, which=1)
        larder.stand(at_min=2300, out=True)
        larder.stand(at_min=2400)
        larder.read(story)
    once.round_at(3000)
    minute = 0.0
    while minute < 3000:
        minute += dice.choice([0.3, 1, 7, 30, 90])
        often.round_at(min(minute, 3000))
    with once.sessions() as session:
        expected = [
            (_facts(alarm), alarm_records.transitions(session, alarm.id))
            for alarm in sorted(once.alarms(), key=_facts_order)
        ]
    with often.sessions() as session:
        found = [
            (_facts(alarm), alarm_records.transitions(session, alarm.id))
            for alarm in sorted(often.alarms(), key=_facts_order)
        ]

    assert len(expected) > 5
    assert found == expected


def _story(dice: random.Random) -> list[tuple[float, float, float]]:
    """Two days of wandering air with silences, and six hours of a reading in ten minutes."""
    minute, humidity, temperature, story = 0.0, 90.0, 10.0, []
    while minute < 2990:
        slow = 1700 < minute < 2060
        minute += 10 if slow else 1
        if dice.random() < 0.003:
            minute += dice.choice([20, 40, 200])
        humidity += dice.gauss(0, 1.5) + (85 - humidity) * 0.01
        temperature += dice.gauss(0, 0.3) + (11 - temperature) * 0.01
        story.append((minute, temperature, min(humidity, 100.0)))
    return story


def _facts(alarm: AlarmEntry) -> AlarmEntry:
    """Without the number, which tells the order of entering."""
    return replace(alarm, id=0)


def _facts_order(alarm: AlarmEntry) -> tuple[int, str]:
    return alarm.raised_us, alarm.kind
