"""When an alarm is raised and when it returns to normal, reading by reading."""

import json

import numpy as np
import pytest

from service.ageing.alarms import (
    AlarmRule,
    Change,
    Condition,
    Raised,
    Returned,
    alarm_rule,
    step,
)
from service.ageing.means import Smoothing
from service.ageing.values import Direction, Quantity
from service.science.signals import US_PER_S

MINUTE_US = 60 * US_PER_S
RAW = AlarmRule(600, 600, 1.0, Smoothing(time_constant_s=0, gap_s=1800))
"""A rule without smoothing, where a test is about delays and not about means."""


def live(
    values: list[float],
    limit: float | None = 85.0,
    *,
    rule: AlarmRule = RAW,
    direction: Direction = Direction.BELOW,
    condition: Condition | None = None,
    start_minute: int = 0,
) -> tuple[Condition, list[Change]]:
    """One reading a minute; the condition after them and the changes on the way."""
    condition = condition or Condition()
    changes = []
    for minute, value in enumerate(values, start=start_minute):
        time_us = minute * MINUTE_US
        condition, change = step(condition, time_us, value, limit, direction=direction, rule=rule)
        if change:
            changes.append(change)
    return condition, changes


def raised() -> Condition:
    """An alarm raised at minute 10, low since minute 0."""
    return live([84.0] * 11)[0]


def test_an_alarm_is_raised_when_the_on_delay_is_over() -> None:
    condition, changes = live([90.0] + [84.0] * 11)

    assert changes == [Raised(11 * MINUTE_US, 84.0, since_us=MINUTE_US)]
    assert condition.active
    assert condition.raised_us == 11 * MINUTE_US


def test_an_alarm_is_not_raised_a_reading_too_soon() -> None:
    condition, changes = live([90.0] + [84.0] * 10)

    assert changes == []
    assert condition.beyond_since_us == MINUTE_US


def test_a_value_on_the_limit_is_not_beyond_it() -> None:
    assert live([85.0] * 60)[1] == []


def test_a_value_just_beyond_the_limit_is() -> None:
    assert len(live([84.99] * 60)[1]) == 1


def test_an_alarm_above_its_limit_mirrors_one_below() -> None:
    condition, changes = live([92.5, 93.0] + [92.5] * 10, 92.0, direction=Direction.ABOVE)

    assert changes == [Raised(10 * MINUTE_US, 92.5, since_us=0)]
    assert condition.extreme == 93.0


def test_coming_back_for_one_reading_starts_the_on_delay_anew() -> None:
    _, changes = live([84.0] * 10 + [85.0] + [84.0] * 10)

    assert changes == []


def test_an_alarm_returns_when_it_was_back_by_the_deadband_for_the_off_delay() -> None:
    condition, changes = live([86.0] * 11, condition=raised(), start_minute=11)

    assert changes == [Returned(21 * MINUTE_US, 86.0, extreme=84.0)]
    assert condition == Condition(smoothed=86.0, last_us=21 * MINUTE_US)


def test_inside_the_deadband_an_alarm_stays() -> None:
    condition, changes = live([85.99] * 60, condition=raised(), start_minute=11)

    assert changes == []
    assert condition.active


def test_a_relapse_starts_the_off_delay_anew() -> None:
    _, changes = live([86.0] * 10 + [85.5] + [86.0] * 10, condition=raised(), start_minute=11)

    assert changes == []


def test_an_alarm_remembers_its_extreme() -> None:
    condition, _ = live([70.0, 80.0], condition=raised(), start_minute=11)

    assert condition.extreme == 70.0


def test_silence_does_not_count_towards_the_on_delay() -> None:
    condition, _ = live([84.0] * 6)

    condition, changes = live([84.0] * 10, condition=condition, start_minute=60)

    assert changes == []
    assert condition.beyond_since_us == 60 * MINUTE_US


def test_silence_does_not_count_towards_the_off_delay() -> None:
    condition, _ = live([86.0] * 6, condition=raised(), start_minute=11)

    condition, changes = live([86.0] * 10, condition=condition, start_minute=70)

    assert changes == []
    assert condition.within_since_us == 70 * MINUTE_US


def test_an_hourly_sensor_can_raise_an_alarm() -> None:
    rule = alarm_rule(Quantity.HUMIDITY, interval_s=3600)
    condition, changes = Condition(), []

    for hour in range(6):
        time_us = hour * 3600 * US_PER_S
        condition, change = step(
            condition, time_us, 80.0, 85.0, direction=Direction.BELOW, rule=rule
        )
        changes.append(change)

    assert changes[1] == Raised(3600 * US_PER_S, 80.0, since_us=0)


def test_when_no_wheel_asks_an_alarm_returns_at_once() -> None:
    condition, changes = live([84.0], None, condition=raised(), start_minute=11)

    assert changes == [Returned(11 * MINUTE_US, 84.0, extreme=84.0)]
    assert not condition.active


def test_when_no_wheel_asks_nothing_is_raised() -> None:
    condition, changes = live([20.0] * 60, None)

    assert changes == []
    assert condition.beyond_since_us is None


def test_a_limit_may_move_while_the_air_stays() -> None:
    condition, before = live([84.0] * 60, 80.0)

    _, after = live([84.0] * 11, 85.0, condition=condition, start_minute=60)

    assert before == []
    assert after == [Raised(70 * MINUTE_US, 84.0, since_us=60 * MINUTE_US)]


@pytest.mark.parametrize("time_us", [0, 10 * MINUTE_US])
def test_a_reading_not_later_than_the_last_is_ignored(time_us: int) -> None:
    before = raised()

    after, change = step(before, time_us, 20.0, 85.0, direction=Direction.BELOW, rule=RAW)

    assert after is before
    assert change is None


def test_a_missing_value_is_ignored() -> None:
    before = raised()

    after, change = step(
        before, 99 * MINUTE_US, float("nan"), 85.0, direction=Direction.BELOW, rule=RAW
    )

    assert after is before
    assert change is None


@pytest.mark.parametrize("minutes_open", [1, 2, 3])
def test_alarm_waits_out_a_door_opening(minutes_open: int) -> None:
    # The air drops by 30 %RH and comes back with a time constant of 4 min: our own invention.
    opening = [60.0] * minutes_open
    recovery = (90.0 - 30.0 * np.exp(-np.arange(60) / 4)).tolist()
    rule = alarm_rule(Quantity.HUMIDITY)

    _, changes = live([90.0] * 60 + opening + recovery, rule=rule)

    assert changes == []


def test_alarm_does_not_wait_out_a_door_left_ajar() -> None:
    _, changes = live([90.0] * 60 + [60.0] * 60, rule=alarm_rule(Quantity.HUMIDITY))

    assert [type(change) for change in changes] == [Raised]
    # The mean needs a quarter of an hour to pass the limit, and the on-delay is another.
    assert changes[0].time_us < (60 + 35) * MINUTE_US


def test_alarm_does_not_chatter_with_the_cooling_cycle() -> None:
    cycle = (85.5 + 4.0 * np.sin(2 * np.pi * np.arange(3 * 1440) / 40)).tolist()

    _, changes = live(cycle, rule=alarm_rule(Quantity.HUMIDITY))

    assert changes == []


def test_a_condition_survives_json_exactly() -> None:
    condition, _ = live([84.1, 83.7, 84.3], rule=alarm_rule(Quantity.HUMIDITY))

    again = Condition.from_dict(json.loads(json.dumps(condition.to_dict())))

    assert again == condition


def test_nothing_saved_gives_a_new_condition() -> None:
    assert Condition.from_dict({}) == Condition()


def test_a_hair_of_rounding_is_not_beyond_the_limit() -> None:
    nearly = Condition(smoothed=84.999_999_999, last_us=-MINUTE_US)

    condition, changes = live([85.0] * 60, rule=alarm_rule(Quantity.HUMIDITY), condition=nearly)

    assert changes == []
    assert condition.smoothed is not None
    assert condition.smoothed < 85.0
