"""The simulator's saturation pressure against the values of the formula it claims."""

import pytest

from sensors.simulation.air import saturation_pressure_pa, vapour_capacity_kg_per_pa

# WMO-No. 8, Annex 4.B, e_w = 6.112 exp(17.62 t / (243.12 + t)) hPa, column "WMO Magnus" of a
# table worked out with 50 digits from the published coefficients.
WMO_MAGNUS_PA = {
    0.0: 611.200,
    2.0: 705.700,
    4.0: 812.918,
    5.0: 871.743,
    8.0: 1071.430,
    10.0: 1226.030,
    12.0: 1399.976,
    13.0: 1494.834,
    15.0: 1701.672,
    20.0: 2332.596,
    25.0: 3160.057,
    30.0: 4233.724,
}

# IAPWS-95 (Wagner and Pruss, J. Phys. Chem. Ref. Data 31, 2002, 387), by the iapws package.
IAPWS_95_PA = {2.0: 705.986, 4.0: 813.548, 10.0: 1228.199, 20.0: 2339.318, 30.0: 4246.971}


@pytest.mark.parametrize(("temperature_c", "pressure_pa"), WMO_MAGNUS_PA.items())
def test_simulated_saturation_is_the_wmo_formula(temperature_c: float, pressure_pa: float) -> None:
    # The table is printed to 0.001 Pa.
    assert saturation_pressure_pa(temperature_c) == pytest.approx(pressure_pa, abs=0.0006)


@pytest.mark.parametrize(("temperature_c", "pressure_pa"), IAPWS_95_PA.items())
def test_simulated_saturation_is_near_water(temperature_c: float, pressure_pa: float) -> None:
    # The formula's largest deviation over 0.02 to 30 °C is 0.315 %.
    assert saturation_pressure_pa(temperature_c) == pytest.approx(pressure_pa, rel=0.00316)


def test_simulated_vapour_weighs_what_tables_say() -> None:
    # Absolute humidity at 10 °C and 90 %RH: 8.458 g/m³ by psychrolib 2.5 (ideal gas);
    # the saturation formula is 0.18 % low there.
    grams = 1e3 * vapour_capacity_kg_per_pa(1.0, 10.0) * 0.90 * saturation_pressure_pa(10.0)

    assert grams == pytest.approx(8.458, rel=0.003)
