"""What is refused as impossible, with the values just inside and just outside."""

import math

import pytest

from sensors.plausible import EARLIEST_US, fault, time_fault

NOW_US = 1_795_608_000_000_000


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct"),
    [
        (-40.0, 50.0),
        (84.99, 50.0),
        (math.nextafter(85.0, 0.0), 50.0),
        (11.5, -0.5),
        (11.5, 100.5),
        (11.5, None),
        (None, 87.0),
    ],
)
def test_reading_at_the_edge_of_the_possible_is_accepted(
    temperature_c: float | None, humidity_pct: float | None
) -> None:
    assert fault(temperature_c, humidity_pct) is None


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct", "reason"),
    [
        (-40.01, 50.0, "between -40 and 85"),
        (85.01, 50.0, "between -40 and 85"),
        (-127.0, 50.0, "error code"),
        (85.0, 50.0, "after power-on"),
        (11.5, -0.51, "between 0 and 100"),
        (11.5, 100.51, "between 0 and 100"),
        (None, 101.0, "between 0 and 100"),
        (None, None, "neither"),
        (math.nan, 50.0, "between -40 and 85"),
        (11.5, math.nan, "between 0 and 100"),
    ],
)
def test_impossible_reading_is_refused_with_the_reason(
    temperature_c: float | None, humidity_pct: float | None, reason: str
) -> None:
    assert reason in str(fault(temperature_c, humidity_pct))


@pytest.mark.parametrize(("previous_c", "is_believed"), [(79.99, False), (80.0, True)])
def test_85_degrees_is_believed_only_of_a_sensor_that_was_hot_before(
    previous_c: float,
    is_believed: bool,  # noqa: FBT001 (a parameter of the table)
) -> None:
    assert (fault(85.0, None, previous_c) is None) is is_believed


def test_time_may_be_ten_minutes_ahead_and_not_a_microsecond_more() -> None:
    assert time_fault(NOW_US + 600_000_000, NOW_US) is None
    assert "ahead of its arrival" in str(time_fault(NOW_US + 600_000_001, NOW_US))


@pytest.mark.parametrize("time_us", [0, 946_684_800_000_000, EARLIEST_US - 1])
def test_time_of_a_clock_that_was_never_set_is_refused(time_us: int) -> None:
    """Unset clocks start at 1970-01-01 or at 2000-01-01 (946,684,800 s)."""
    assert "never set" in str(time_fault(time_us, NOW_US))


def test_old_time_of_a_set_clock_is_accepted() -> None:
    assert time_fault(EARLIEST_US, NOW_US) is None
    assert time_fault(NOW_US * 2) is None
