"""Moist air: the rules that hold for every state, and the edges of the ranges."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.air import (
    absolute_humidity_g_m3,
    dew_point_c,
    humidity_ratio_kg_kg,
    relative_humidity_pct_from_dew_point,
    saturation_pressure_pa,
    saturation_temperature_c,
    vapour_deficit_pa,
    vapour_pressure_pa,
)

# What a store of readings may hold.
temperatures = st.floats(-40, 85)
humidities = st.floats(0, 100)
OfTwo = Callable[[float, float], float]
OF_AIR: list[OfTwo] = [
    vapour_pressure_pa,
    dew_point_c,
    absolute_humidity_g_m3,
    humidity_ratio_kg_kg,
    vapour_deficit_pa,
]


@given(st.floats(-100, 100))
def test_saturation_temperature_undoes_saturation_pressure(temperature: float) -> None:
    back = saturation_temperature_c(saturation_pressure_pa(temperature))

    # The inverse is exact; a double carries 1e-13 K here.
    assert back == pytest.approx(temperature, abs=1e-9)


@given(temperatures, st.floats(0.1, 100))
def test_humidity_comes_back_from_its_dew_point(temperature: float, humidity: float) -> None:
    dew_point = dew_point_c(temperature, humidity)

    back = relative_humidity_pct_from_dew_point(temperature, dew_point)

    # The inverse is exact; 1e-9 K is 1e-8 %RH at the steepest.
    assert back == pytest.approx(humidity, abs=1e-8)


@given(temperatures, st.floats(0.1, 100))
def test_dew_point_is_never_above_the_temperature(temperature: float, humidity: float) -> None:
    assert dew_point_c(temperature, humidity) <= temperature


@given(temperatures, st.floats(0.1, 99), st.floats(0.01, 1))
def test_dew_point_rises_with_humidity(temperature: float, humidity: float, more: float) -> None:
    assert dew_point_c(temperature, humidity + more) > dew_point_c(temperature, humidity)


@given(st.floats(-100, 99), st.floats(1e-6, 1))
def test_saturation_pressure_rises_with_temperature(temperature: float, more: float) -> None:
    assert saturation_pressure_pa(temperature + more) > saturation_pressure_pa(temperature)


@given(temperatures, humidities)
def test_vapour_and_deficit_make_up_saturation(temperature: float, humidity: float) -> None:
    whole = vapour_pressure_pa(temperature, humidity) + vapour_deficit_pa(temperature, humidity)

    # The same product summed from two parts: rounding only.
    assert whole == pytest.approx(saturation_pressure_pa(temperature), rel=1e-12)


@given(temperatures, humidities)
def test_lower_pressure_of_the_air_means_a_higher_ratio(
    temperature: float, humidity: float
) -> None:
    at_sea = humidity_ratio_kg_kg(temperature, humidity)

    assert humidity_ratio_kg_kg(temperature, humidity, pressure_pa=89_875.0) >= at_sea


@pytest.mark.parametrize("function", OF_AIR)
def test_an_array_gives_the_values_of_its_states(function: OfTwo) -> None:
    temperature, humidity = np.linspace(2, 30, 12), np.linspace(20, 100, 12)
    singly = [function(t, h) for t, h in zip(temperature, humidity, strict=True)]

    together = function(temperature, humidity)  # type: ignore[arg-type]  # typed for floats

    # Vector and scalar logarithms may differ in the last digit.
    assert together == pytest.approx(np.array(singly), rel=1e-12)


@pytest.mark.parametrize("function", OF_AIR)
def test_floats_give_a_float(function: OfTwo) -> None:
    assert type(function(10.0, 85.0)) is float


@pytest.mark.parametrize("function", OF_AIR)
def test_a_gap_in_either_argument_stays_a_gap(function: OfTwo) -> None:
    assert math.isnan(function(math.nan, 85.0))
    assert math.isnan(function(10.0, math.nan))


def test_shape_is_kept_and_a_single_value_meets_all_of_an_array() -> None:
    assert dew_point_c(np.full((3, 2), 10.0), 85.0).shape == (3, 2)


def test_an_empty_array_gives_an_empty_array() -> None:
    assert dew_point_c(np.empty(0), np.empty(0)).size == 0


@pytest.mark.parametrize("function", OF_AIR)
@pytest.mark.parametrize(("overshoot", "meant"), [(100.5, 100.0), (-0.5, 0.0)])
def test_a_sensors_overshoot_counts_as_the_end_of_the_scale(
    function: OfTwo, overshoot: float, meant: float
) -> None:
    # Bit for bit the same, NaN included: the overshoot is cut off before the formula.
    assert function(10.0, overshoot) == pytest.approx(function(10.0, meant), abs=0, nan_ok=True)


@pytest.mark.parametrize("function", OF_AIR)
@pytest.mark.parametrize(
    ("temperature", "humidity"),
    [(10.0, 100.51), (10.0, -0.51), (-100.1, 50.0), (100.1, 50.0), (math.inf, 50.0)],
)
def test_nonsense_is_refused(function: OfTwo, temperature: float, humidity: float) -> None:
    with pytest.raises(OutOfRangeError):
        function(temperature, humidity)


def test_the_refusal_names_the_value_and_the_range() -> None:
    with pytest.raises(
        OutOfRangeError, match=r"relative humidity 850 % is outside -0\.5 to 100\.5"
    ):
        dew_point_c(np.array([10.0, 10.0]), np.array([85.0, 850.0]))


def test_a_dew_point_out_of_range_is_refused_by_its_name() -> None:
    with pytest.raises(OutOfRangeError, match="dew point 120"):
        relative_humidity_pct_from_dew_point(20.0, 120.0)


def test_dry_air_has_no_dew_point() -> None:
    assert math.isnan(dew_point_c(10.0, 0.0))


def test_saturated_air_has_its_own_temperature_as_dew_point() -> None:
    temperature = np.linspace(-40, 85, 1_000)

    # Exact inverse: rounding only.
    assert dew_point_c(temperature, 100.0) == pytest.approx(temperature, abs=1e-9)


@pytest.mark.parametrize("pressure", [-1.0, 1.1e5])
def test_a_vapour_pressure_that_no_water_has_is_refused(pressure: float) -> None:
    with pytest.raises(OutOfRangeError, match="vapour pressure"):
        saturation_temperature_c(pressure)


def test_boiling_water_leaves_no_room_for_air() -> None:
    with pytest.raises(OutOfRangeError, match="not above the vapour's own"):
        humidity_ratio_kg_kg(85.0, 100.0, pressure_pa=50_000.0)
