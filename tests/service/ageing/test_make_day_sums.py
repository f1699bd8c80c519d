"""The sums of a make day: bounds, round trips, and which way each result moves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.making import (
    SATURATED_BRINE_PCT,
    Timer,
    TimerState,
    brine_from_water,
    dry_salt_g,
    setting_time,
    yield_pct,
)
from service.ageing.measures import in_celsius
from service.ageing.values import in_fahrenheit
from service.errors import OutOfRangeError

FLOATS = 1e-12
"""A few roundings of double precision."""
SECOND_US = 1_000_000

flocculations = st.floats(60, 3 * 3_600)
multipliers = st.floats(1, 10)
strengths = st.floats(0.01, SATURATED_BRINE_PCT)
amounts = st.floats(0.01, 10_000)


@given(flocculations, multipliers)
def test_what_is_left_and_what_is_over_make_the_whole_setting_time(
    seconds: float, multiplier: float
) -> None:
    found = setting_time(seconds, multiplier)

    assert found.flocculation_s + found.left_s == pytest.approx(found.total_s, rel=FLOATS)
    assert found.left_s >= 0


@given(flocculations, flocculations, multipliers, multipliers)
def test_slower_milk_or_a_larger_multiplier_never_cuts_sooner(
    one_s: float, other_s: float, one: float, other: float
) -> None:
    sooner = setting_time(min(one_s, other_s), min(one, other))
    later = setting_time(max(one_s, other_s), max(one, other))

    assert later.total_s >= sooner.total_s


@pytest.mark.parametrize(("seconds", "multiplier"), [(60, 1), (10_800, 10)])
def test_the_ends_of_the_ranges_belong_to_them(seconds: float, multiplier: float) -> None:
    assert setting_time(seconds, multiplier).total_s == seconds * multiplier


@pytest.mark.parametrize(
    ("seconds", "multiplier", "words"),
    [
        (59.9, 4, "flocculation time"),
        (10_801, 4, "flocculation time"),
        (13.3, 4, "flocculation time"),
        (799, 0.9, "multiplier"),
        (799, 10.1, "multiplier"),
        (float("nan"), 4, "flocculation time"),
        (799, float("nan"), "multiplier"),
    ],
)
def test_a_setting_time_that_cannot_be_is_refused(
    seconds: float, multiplier: float, words: str
) -> None:
    with pytest.raises(OutOfRangeError, match=words):
        setting_time(seconds, multiplier)


@given(amounts, st.floats(0, 15))
def test_dry_salt_is_that_share_of_the_curd(curd_g: float, pct: float) -> None:
    assert dry_salt_g(curd_g, pct) / curd_g * 100 == pytest.approx(pct, rel=FLOATS, abs=FLOATS)


@pytest.mark.parametrize(("curd_g", "pct"), [(0, 2), (-1, 2), (100, -0.1), (100, 15.1)])
def test_dry_salt_that_cannot_be_is_refused(curd_g: float, pct: float) -> None:
    with pytest.raises(OutOfRangeError):
        dry_salt_g(curd_g, pct)


@given(amounts, strengths)
def test_a_brine_from_water_has_its_strength_by_mass(water_g: float, pct: float) -> None:
    made = brine_from_water(water_g, pct)

    assert 100 * made.salt_g / (made.salt_g + made.water_g) == pytest.approx(pct, rel=1e-9)


@given(strengths, strengths)
def test_a_stronger_brine_takes_more_salt(one: float, other: float) -> None:
    weaker, stronger = (brine_from_water(10_000, pct).salt_g for pct in sorted((one, other)))

    assert stronger >= weaker


@pytest.mark.parametrize("pct", [-0.1, 26.5, 100])
def test_more_salt_than_water_takes_up_is_refused(pct: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"26\.4"):
        brine_from_water(1_000, pct)


def test_a_brine_without_water_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="water"):
        brine_from_water(0, 20)


def test_one_kilogram_from_ten_litres_is_ten_per_cent() -> None:
    assert yield_pct(1_000, 10) == pytest.approx(10, rel=FLOATS)


@pytest.mark.parametrize(("cheese_g", "milk_l"), [(1_000, 0), (1_000, -1), (-1, 10)])
def test_a_yield_without_milk_is_refused(cheese_g: float, milk_l: float) -> None:
    with pytest.raises(OutOfRangeError):
        yield_pct(cheese_g, milk_l)


@given(st.floats(-50, 150))
def test_temperatures_come_back_from_fahrenheit(celsius: float) -> None:
    assert in_celsius(in_fahrenheit(celsius)) == pytest.approx(celsius, abs=1e-12)


@given(st.integers(0, 10**7), st.integers(1, 10**5), st.integers(0, 10**7))
def test_a_timer_runs_until_its_end_and_no_longer(
    started_s: int, duration_s: int, later_s: int
) -> None:
    timer = Timer(1, "Cut", started_s * SECOND_US, duration_s, None)
    now_us = (started_s + later_s) * SECOND_US

    assert timer.left_s(now_us) == max(0, duration_s - later_s)
    assert timer.state(now_us) is (
        TimerState.RUNNING if later_s < duration_s else TimerState.RAN_OUT
    )


def test_a_stopped_timer_keeps_what_was_left() -> None:
    timer = Timer(1, "Cut", 0, 600, 100 * SECOND_US)

    assert timer.state(10**12) is TimerState.STOPPED
    assert timer.left_s(10**12) == 500
