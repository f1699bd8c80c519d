"""The sums of a make day against what others say."""

import pytest
from CoolProp.CoolProp import PropsSI

from service.ageing.making import brine_from_water, setting_time
from service.ageing.measures import (
    MassUnit,
    VolumeUnit,
    in_celsius,
    in_grams,
    in_litres,
)
from service.ageing.values import in_fahrenheit


def test_13_min_19_s_times_4_sets_in_53_min_and_leaves_40_min() -> None:
    """Common practice, no source: about 53 min in all, 40 min left; told to the minute."""
    found = setting_time(13 * 60 + 19, 4)

    assert found.total_s / 60 == pytest.approx(53, abs=0.5)
    assert found.left_s / 60 == pytest.approx(40, abs=0.5)


def test_temperatures_of_the_trade_read_alike_on_both_scales() -> None:
    """32 °C is about 90 °F, as recipes round it; 10 °C is 50 °F exactly, by definition."""
    assert in_fahrenheit(32) == pytest.approx(90, abs=0.5)
    assert in_celsius(90) == pytest.approx(32, abs=0.3)
    assert in_celsius(50) == 10
    assert in_fahrenheit(10) == 50


@pytest.mark.parametrize(
    ("found", "published"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, from memory; bold there: exact.
        (in_litres(1, VolumeUnit.US_GALLON), 3.785411784),
        (in_litres(1, VolumeUnit.US_QUART), 0.946352946),
        (in_grams(1, MassUnit.OUNCE), 28.349523125),
        (in_grams(1, MassUnit.POUND), 453.59237),
    ],
)
def test_units_have_their_exact_size(found: float, published: float) -> None:
    assert found == pytest.approx(published, rel=1e-14)  # rounding of double precision


@pytest.mark.parametrize("strength_pct", [1, 5, 8, 10, 12.5, 15, 18, 20, 22.5])
def test_the_salt_in_a_volume_of_brine_agrees_with_coolprop(strength_pct: float) -> None:
    """CoolProp's INCOMP::MNA, sodium chloride in water, after Melinder 2010, valid to 23 %.

    A thousandth: ours are straight lines between handbook values, and no kitchen scale tells
    such brines apart.
    """
    fraction = strength_pct / 100
    density = PropsSI("D", "T", 293.15, "P", 101_325, f"INCOMP::MNA[{fraction}]")

    made = brine_from_water(10_000, strength_pct)

    assert made.salt_g == pytest.approx(density * made.volume_l * fraction, rel=1e-3)
