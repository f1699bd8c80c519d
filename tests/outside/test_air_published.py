"""Moist air against published tables and against two reference libraries."""

import numpy as np
import psychrolib
import pytest
from CoolProp import CoolProp

from service.science.air import (
    absolute_humidity_g_m3,
    dew_point_c,
    humidity_ratio_kg_kg,
    relative_humidity_pct_from_dew_point,
    saturation_pressure_pa,
    saturation_temperature_c,
    vapour_pressure_pa,
)

# Saturation pressure of water from the IAPWS-95 formulation (Wagner and Pruß, The IAPWS
# formulation 1995, J. Phys. Chem. Ref. Data 31 (2002) 387), computed with iapws 1.5.5.
# The value at 0 °C lies below the triple point and is IAPWS-IF97, equation 30, instead.
IAPWS_95 = [
    (0.0, 611.213),
    (2.0, 705.986),
    (4.0, 813.548),
    (5.0, 872.575),
    (8.0, 1072.995),
    (10.0, 1228.199),
    (12.0, 1402.848),
    (12.8, 1478.604),
    (13.0, 1498.096),
    (15.0, 1705.793),
    (20.0, 2339.318),
    (25.0, 3169.929),
    (30.0, 4246.971),
]

# ASHRAE Handbook of Fundamentals 2017, chapter 1, table 3, seen in psychrolib's own tests.
ASHRAE_TABLE_3 = [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)]

# Moist air at 101 325 Pa, computed with psychrolib 2.5.0 (ASHRAE 2017, ideal gas) and with
# CoolProp 8.0.0 (real gas): t °C, RH %, dew point °C of each, humidity ratio g/kg of each,
# absolute humidity g/m³ ideal and CoolProp, vapour pressure Pa (psychrolib).
STATES = [
    (10.0, 80.0, 6.713, 6.714, 6.089, 6.115, 7.518, 7.553, 982.4),
    (10.0, 85.0, 7.598, 7.598, 6.474, 6.501, 7.988, 8.025, 1043.8),
    (10.0, 90.0, 8.437, 8.437, 6.859, 6.888, 8.458, 8.497, 1105.2),
    (10.0, 95.0, 9.237, 9.237, 7.244, 7.275, 8.928, 8.969, 1166.6),
    (10.0, 98.0, 9.699, 9.699, 7.476, 7.508, 9.210, 9.253, 1203.4),
    (12.8, 85.0, 10.344, 10.344, 7.810, 7.844, 9.522, 9.567, 1256.6),
    (4.0, 85.0, 1.710, 1.710, 4.273, 4.291, 5.406, 5.431, 691.5),
    (20.0, 50.0, 9.272, 9.274, 7.262, 7.294, 8.643, 8.684, 1169.4),
]


@pytest.mark.parametrize(("temperature_c", "published_pa"), IAPWS_95)
def test_saturation_pressure_meets_iapws_95(temperature_c: float, published_pa: float) -> None:
    pressure = saturation_pressure_pa(temperature_c)

    # The bound that the design sets, 0.03 %; Sonntag's equation needs 0.006 % of it.
    assert pressure == pytest.approx(published_pa, rel=3e-4)


@pytest.mark.parametrize(("temperature_c", "published_pa"), ASHRAE_TABLE_3)
def test_saturation_pressure_meets_the_ashrae_table(
    temperature_c: float, published_pa: float
) -> None:
    pressure = saturation_pressure_pa(temperature_c)

    # Hyland and Wexler, behind the table, lies up to 0.023 % below IAPWS-95.
    assert pressure == pytest.approx(published_pa, rel=3e-4)


def test_saturation_pressure_meets_the_examples_of_fao_56() -> None:
    """Allen et al., FAO Irrigation and Drainage Paper 56, 1998, examples 2 and 3."""
    pressures = saturation_pressure_pa(np.array([15.0, 24.5]))

    # The examples print kilopascals with three decimals, from a Magnus form (Tetens): 0.03 %
    # for the printing and 0.1 % for the form.
    assert pressures == pytest.approx([1705, 3075], rel=1.3e-3)


def test_saturation_pressure_follows_iapws_95_over_the_whole_range_above_freezing() -> None:
    """CoolProp's equation of state for water is IAPWS-95."""
    temperature = np.linspace(0.02, 100, 501)
    reference = CoolProp.PropsSI("P", "T", temperature + 273.15, "Q", 0, "Water")
    cool = temperature <= 30

    pressure = saturation_pressure_pa(temperature)

    # The docstring promises 0.006 % up to 30 °C and 0.01 % up to 100 °C.
    assert pressure[cool] == pytest.approx(reference[cool], rel=6e-5)
    assert pressure == pytest.approx(reference, rel=1e-4)


def test_saturation_pressure_over_supercooled_water_follows_murphy_and_koop() -> None:
    """Murphy and Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539, liquid water, 123 to 332 K.

    The constants were read on a public formula page, metformel.de.
    """
    temperature = np.linspace(-40, 0, 200)
    kelvin = temperature + 273.15
    ln_kelvin = np.log(kelvin)
    bridge = 53.878 - 1331.22 / kelvin - 9.44523 * ln_kelvin + 0.014025 * kelvin
    reference = np.exp(
        54.842763
        - 6763.22 / kelvin
        - 4.210 * ln_kelvin
        + 0.000367 * kelvin
        + np.tanh(0.0415 * (kelvin - 218.8)) * bridge
    )

    pressure = saturation_pressure_pa(temperature)

    # The docstring promises 0.7 % from -40 °C: no measurements bind the formulas there.
    assert pressure == pytest.approx(reference, rel=7e-3)


@pytest.mark.parametrize("state", STATES)
def test_dew_point_meets_both_libraries_in_the_table_of_states(state: tuple[float, ...]) -> None:
    temperature_c, humidity_pct, psychrolib_c, coolprop_c = state[:4]

    dew_point = dew_point_c(temperature_c, humidity_pct)

    # Real-gas terms and the three printed decimals: 0.003 K.
    assert dew_point == pytest.approx(psychrolib_c, abs=3e-3)
    assert dew_point == pytest.approx(coolprop_c, abs=3e-3)


@pytest.mark.parametrize("state", STATES)
def test_humidity_ratio_lies_just_below_real_air(state: tuple[float, ...]) -> None:
    temperature_c, humidity_pct, ideal_g_kg, real_g_kg = state[0], state[1], state[4], state[5]

    ratio_g_kg = 1000 * humidity_ratio_kg_kg(temperature_c, humidity_pct)

    # Against the ideal gas: 0.023 % between the saturation formulas and 0.008 % of printing.
    assert ratio_g_kg == pytest.approx(ideal_g_kg, rel=4e-4)
    # Against real air: the enhancement factor, 1.0047 at most, which we leave out.
    assert 0.995 < ratio_g_kg / real_g_kg < 0.9970


@pytest.mark.parametrize("state", STATES)
def test_absolute_humidity_lies_just_below_real_air(state: tuple[float, ...]) -> None:
    temperature_c, humidity_pct, ideal_g_m3, real_g_m3 = state[0], state[1], state[6], state[7]

    humidity_g_m3 = absolute_humidity_g_m3(temperature_c, humidity_pct)

    # Against the ideal gas: 0.023 % between the saturation formulas and 0.01 % of printing.
    assert humidity_g_m3 == pytest.approx(ideal_g_m3, rel=4e-4)
    # Against real air: the enhancement factor, 1.0047 at most, which we leave out.
    assert 0.995 < humidity_g_m3 / real_g_m3 < 0.9970


@pytest.mark.parametrize("state", STATES)
def test_vapour_pressure_meets_the_table_of_states(state: tuple[float, ...]) -> None:
    pressure = vapour_pressure_pa(state[0], state[1])

    # 0.023 % between the saturation formulas and 0.007 % of printing.
    assert pressure == pytest.approx(state[8], rel=3e-4)


def test_saturated_humidity_ratio_lies_just_below_the_ashrae_table() -> None:
    """ASHRAE Handbook of Fundamentals 2017, chapter 1, table 2: W_s at 5 and 25 °C."""
    ratio = humidity_ratio_kg_kg(np.array([5.0, 25.0]), 100.0)

    # The table carries the enhancement factor, up to 0.5 %, which we leave out.
    assert ratio == pytest.approx([0.005425, 0.020173], rel=5e-3)


def test_dew_point_falls_about_a_kelvin_for_five_percent() -> None:
    """Lawrence, Bulletin of the American Meteorological Society 86 (2005) 225-233."""
    humidity = np.linspace(55, 100, 10)
    dew_points = dew_point_c(np.full(10, 12.0), humidity)

    # "About": the rule is a rule of thumb above 50 %RH, good to a third here.
    assert np.diff(dew_points) == pytest.approx(np.ones(9), abs=0.35)


def test_dew_point_follows_coolprop_over_a_grid() -> None:
    temperature, humidity = (
        axis.ravel() for axis in np.meshgrid(np.linspace(1, 35, 18), np.linspace(20, 100, 17))
    )
    ours = dew_point_c(temperature, humidity)
    # CoolProp gives a frost point below the triple point.
    wet = ours > 0.02
    reference = CoolProp.HAPropsSI(
        "Tdp",
        "T",
        temperature[wet] + 273.15,
        "R",
        humidity[wet] / 100,
        "P",
        np.full(wet.sum(), 101_325.0),
    )

    # The docstring promises 0.007 K: real-gas terms hardly differ between air and dew point.
    assert ours[wet] == pytest.approx(reference - 273.15, abs=7e-3)


def test_dew_point_follows_psychrolib_over_a_grid() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    temperature, humidity = (
        axis.ravel() for axis in np.meshgrid(np.linspace(1, 35, 18), np.linspace(20, 100, 17))
    )
    ours = dew_point_c(temperature, humidity)
    # psychrolib turns to ice at the triple point.
    wet = ours > 0.02
    reference = [
        psychrolib.GetTDewPointFromRelHum(t, rh / 100)
        for t, rh in zip(temperature[wet].tolist(), humidity[wet].tolist(), strict=True)
    ]

    # Its iteration stops within 0.001 K, and its formula differs by up to 0.023 %.
    assert ours[wet] == pytest.approx(reference, abs=5e-3)


def test_saturation_temperature_follows_coolprop() -> None:
    pressure = np.geomspace(615, 100_000, 200)
    reference = CoolProp.PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15

    # 0.01 % of pressure is 0.003 K at the hot end, where the curve is flattest.
    assert saturation_temperature_c(pressure) == pytest.approx(reference, abs=3e-3)


def test_relative_humidity_from_dew_point_follows_psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    temperature, dew_point = np.linspace(5, 35, 40), np.linspace(0.5, 30, 40)
    reference = [
        100 * psychrolib.GetRelHumFromTDewPoint(t, td)
        for t, td in zip(temperature.tolist(), dew_point.tolist(), strict=True)
    ]

    # 0.023 % between the saturation formulas at each of the two temperatures.
    assert relative_humidity_pct_from_dew_point(temperature, dew_point) == pytest.approx(
        reference, rel=5e-4
    )
