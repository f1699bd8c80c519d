"""Excursions planted in made-up air are found, to the minute."""

import numpy as np
import numpy.typing as npt
import pytest

from service.ageing.values import Direction, Quantity, Range, Target
from service.analyse.excursions import Excursion, find_excursions
from service.analyse.series import Series
from service.science.signals import US_PER_MINUTE

START_US = 29_000_000 * US_PER_MINUTE
IN_RANGE = Target(Range(10.0, 14.0), Range(85.0, 95.0))
ALL_ALONG = [(START_US, IN_RANGE)]


def minute(number: int) -> int:
    """The start of a minute, counted from the first reading."""
    return START_US + number * US_PER_MINUTE


def air(
    humidity_pct: npt.NDArray[np.float64] | None = None,
    temperature_c: npt.NDArray[np.float64] | None = None,
    every_min: int = 1,
) -> Series:
    """Steady air in range, but for the quantity that is given."""
    size = len(next(values for values in (humidity_pct, temperature_c) if values is not None))
    return Series(
        times_us=minute(0) + np.arange(size) * every_min * US_PER_MINUTE,
        temperature_c=np.full(size, 12.0) if temperature_c is None else temperature_c,
        humidity_pct=np.full(size, 90.0) if humidity_pct is None else humidity_pct,
    )


def humid(*spells: tuple[int, int, float], size: int = 120) -> npt.NDArray[np.float64]:
    """90 %RH, but for spells of first reading, reading after the last, and value."""
    values = np.full(size, 90.0)
    for first, stop, value in spells:
        values[first:stop] = value
    return values


def without(series: Series, first: int, stop: int) -> Series:
    """The series with some of its readings lost."""
    lost = np.arange(first, stop)
    return Series(
        np.delete(series.times_us, lost),
        np.delete(series.temperature_c, lost),
        np.delete(series.humidity_pct, lost),
    )


def spans(found: list[Excursion]) -> list[tuple[int, int]]:
    """First minute and minute after the last, counted from the first reading."""
    return [
        ((spell.from_us - START_US) // US_PER_MINUTE, (spell.to_us - START_US) // US_PER_MINUTE)
        for spell in found
    ]


def test_air_in_range_has_no_excursion() -> None:
    assert find_excursions(air(humid()), ALL_ALONG) == []


def test_ten_minutes_outside_are_an_excursion_to_the_minute() -> None:
    values = humid((20, 30, 82.0))
    values[25] = 79.5

    assert find_excursions(air(values), ALL_ALONG) == [
        Excursion(Quantity.HUMIDITY, Direction.BELOW, minute(20), minute(30), 79.5)
    ]


def test_nine_minutes_outside_are_none() -> None:
    assert find_excursions(air(humid((20, 29, 60.0))), ALL_ALONG) == []


def test_a_minute_in_range_breaks_a_spell() -> None:
    assert find_excursions(air(humid((20, 29, 80.0), (30, 39, 80.0))), ALL_ALONG) == []


@pytest.mark.parametrize(
    ("value", "quantity", "direction"),
    [
        (9.0, Quantity.TEMPERATURE, Direction.BELOW),
        (15.0, Quantity.TEMPERATURE, Direction.ABOVE),
        (84.0, Quantity.HUMIDITY, Direction.BELOW),
        (96.0, Quantity.HUMIDITY, Direction.ABOVE),
    ],
)
def test_each_quantity_is_judged_on_both_sides(
    value: float, quantity: Quantity, direction: Direction
) -> None:
    steady = np.full(15, value)
    series = air(temperature_c=steady) if quantity is Quantity.TEMPERATURE else air(steady)

    assert find_excursions(series, ALL_ALONG) == [
        Excursion(quantity, direction, minute(0), minute(15), value)
    ]


@pytest.mark.parametrize("end", [85.0, 95.0])
def test_the_ends_of_the_range_belong_to_it(end: float) -> None:
    assert find_excursions(air(np.full(30, end)), ALL_ALONG) == []


def test_rounding_of_a_mean_is_no_excursion() -> None:
    """Three readings of 0.1 sum to a little more than 0.3 in binary."""
    series = Series(
        times_us=minute(0) + np.arange(90) * US_PER_MINUTE // 3,
        temperature_c=np.full(90, 0.1),
        humidity_pct=np.full(90, 90.0),
    )
    stages = [(START_US, Target(Range(-5.0, 0.1), None))]

    assert find_excursions(series, stages) == []


def test_readings_within_a_minute_are_judged_by_their_mean() -> None:
    """Every other reading is outside, the mean is not."""
    values = np.where(np.arange(240) % 2 == 0, 84.0, 88.0)
    series = Series(
        times_us=minute(0) + np.arange(240) * US_PER_MINUTE // 4,
        temperature_c=np.full(240, 12.0),
        humidity_pct=values,
    )

    assert find_excursions(series, ALL_ALONG) == []


def test_a_lost_minute_does_not_break_a_spell() -> None:
    series = without(air(humid((20, 32, 80.0))), 26, 27)

    assert spans(find_excursions(series, ALL_ALONG)) == [(20, 32)]


def test_a_gap_breaks_a_spell() -> None:
    """Nine minutes outside on either side of six lost ones; bridged they would be 24."""
    series = without(air(humid((20, 44, 80.0))), 29, 35)

    assert find_excursions(series, ALL_ALONG) == []


def test_a_spell_on_each_side_of_a_gap_is_two() -> None:
    series = without(air(humid((20, 60, 80.0))), 32, 45)

    assert spans(find_excursions(series, ALL_ALONG)) == [(20, 32), (45, 60)]


def test_readings_every_five_minutes_are_joined_by_straight_lines() -> None:
    """From 90 to 80 in five minutes: below 85 from the third minute of one line on, and until
    before the third of the other, where the line meets the end of the range itself.
    """
    series = air(humid((4, 7, 80.0), size=20), every_min=5)

    found = find_excursions(series, ALL_ALONG)

    assert spans(found) == [(18, 33)]
    assert found[0].extreme == 80.0


def test_a_single_low_reading_in_five_minutes_is_no_excursion() -> None:
    series = air(humid((4, 5, 80.0), size=20), every_min=5)

    assert find_excursions(series, ALL_ALONG) == []


def test_a_spell_goes_on_into_a_stage_that_it_violates_too() -> None:
    stages = [*ALL_ALONG, (minute(25), Target(None, Range(82.0, 90.0)))]

    found = find_excursions(air(humid((20, 30, 80.0))), stages)

    assert spans(found) == [(20, 30)]


def test_a_stage_that_allows_the_air_ends_the_spell() -> None:
    stages = [*ALL_ALONG, (minute(35), Target(None, Range(75.0, 95.0)))]

    found = find_excursions(air(humid((20, 50, 80.0))), stages)

    assert spans(found) == [(20, 35)]


def test_stages_may_come_in_any_order() -> None:
    stages = [(minute(35), Target(None, Range(75.0, 95.0))), *ALL_ALONG]

    found = find_excursions(air(humid((20, 50, 80.0))), stages)

    assert spans(found) == [(20, 35)]


def test_before_the_first_stage_there_is_no_range() -> None:
    found = find_excursions(air(humid((0, 50, 80.0))), [(minute(30), IN_RANGE)])

    assert spans(found) == [(30, 50)]


def test_a_range_that_a_stage_leaves_open_is_not_judged() -> None:
    stages = [(START_US, Target(IN_RANGE.temperature_c, None))]

    assert find_excursions(air(humid((20, 50, 10.0))), stages) == []


def test_without_stages_there_is_no_excursion() -> None:
    assert find_excursions(air(humid((20, 50, 80.0))), []) == []


def test_an_unknown_humidity_is_a_gap_of_the_humidity_alone() -> None:
    values = humid((20, 44, 80.0))
    values[29:35] = np.nan
    temperature = np.full(120, 12.0)
    temperature[20:44] = 16.0

    found = find_excursions(air(values, temperature), ALL_ALONG)

    assert [(spell.quantity, span) for spell, span in zip(found, spans(found), strict=True)] == [
        (Quantity.TEMPERATURE, (20, 44))
    ]


def test_a_sensor_without_humidity_has_no_humidity_excursion() -> None:
    assert find_excursions(air(np.full(60, np.nan)), ALL_ALONG) == []


def test_excursions_come_in_order_of_their_start() -> None:
    temperature = np.full(120, 12.0)
    temperature[40:55] = 9.0
    series = air(humid((20, 31, 80.0), (60, 75, 97.0)), temperature)

    assert spans(find_excursions(series, ALL_ALONG)) == [(20, 31), (40, 55), (60, 75)]
