"""What becomes of an alarm, how urgent it is, and when a sensor counts as silent."""

from itertools import product

import pytest

from service.ageing.lifecycle import (
    AlarmEvent,
    AlarmState,
    Priority,
    SilenceRule,
    WrongEventError,
    next_state,
    priority,
    silent,
    silent_from_us,
)
from service.ageing.values import Quantity
from service.science.signals import US_PER_S

# The state model of ANSI/ISA-18.2 and IEC 62682, from memory (REFERENCES section 7 has the names
# of the states; the text of the standards was not at hand).
ALLOWED = {
    ("normal", "raised"): "unacknowledged",
    ("unacknowledged", "acknowledge"): "acknowledged",
    ("unacknowledged", "returned"): "returned unacknowledged",
    ("acknowledged", "returned"): "normal",
    ("returned unacknowledged", "acknowledge"): "normal",
    ("returned unacknowledged", "raised"): "unacknowledged",
}
PAIRS = list(product(AlarmState, AlarmEvent))


@pytest.mark.parametrize(("state", "event"), [pair for pair in PAIRS if pair in ALLOWED])
def test_an_alarm_moves_as_the_standard_says(state: AlarmState, event: AlarmEvent) -> None:
    assert next_state(state, event) == ALLOWED[state, event]


@pytest.mark.parametrize(("state", "event"), [pair for pair in PAIRS if pair not in ALLOWED])
def test_what_cannot_happen_is_refused(state: AlarmState, event: AlarmEvent) -> None:
    with pytest.raises(WrongEventError, match=f'"{event}" cannot happen to an alarm that is'):
        next_state(state, event)


@pytest.mark.parametrize(
    ("quantity", "amount", "hours", "expected"),
    [
        (Quantity.HUMIDITY, 3.0, 0, Priority.LOW),
        (Quantity.HUMIDITY, 3.01, 0, Priority.MEDIUM),
        (Quantity.HUMIDITY, 9.0, 0, Priority.MEDIUM),
        (Quantity.HUMIDITY, 9.01, 0, Priority.HIGH),
        (Quantity.TEMPERATURE, 1.0, 0, Priority.LOW),
        (Quantity.TEMPERATURE, 1.01, 0, Priority.MEDIUM),
        (Quantity.TEMPERATURE, 3.01, 0, Priority.HIGH),
        (Quantity.HUMIDITY, 1.0, 5.99, Priority.LOW),
        (Quantity.HUMIDITY, 1.0, 6, Priority.MEDIUM),
        (Quantity.HUMIDITY, 4.0, 6, Priority.HIGH),
        (Quantity.HUMIDITY, 40.0, 60, Priority.HIGH),
    ],
)
def test_priority_grows_with_distance_and_time(
    quantity: Quantity, amount: float, hours: float, expected: Priority
) -> None:
    assert priority(quantity, amount, hours * 3600) is expected


HOUR_US = 3600 * US_PER_S


@pytest.mark.parametrize(
    ("interval_s", "minutes", "expected"),
    [(60, 14.99, False), (60, 15, True), (0, 15, True), (600, 49.99, False), (600, 50, True)],
)
def test_a_sensor_is_silent_after_five_intervals_but_never_before_15_minutes(
    *, interval_s: float, minutes: float, expected: bool
) -> None:
    now_us = HOUR_US + round(minutes * 60 * US_PER_S)

    assert silent(HOUR_US, 0, interval_s, now_us) is expected


def test_a_sensor_that_never_reported_is_silent_from_its_placement_on() -> None:
    assert silent_from_us(None, HOUR_US, 60) == HOUR_US + 900 * US_PER_S


def test_silence_before_the_placement_does_not_count() -> None:
    assert silent_from_us(0, HOUR_US, 60) == HOUR_US + 900 * US_PER_S


def test_patience_can_be_set() -> None:
    rule = SilenceRule(at_least_s=60, intervals=2)

    assert silent_from_us(0, 0, 100, rule) == 200 * US_PER_S
