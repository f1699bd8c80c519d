"""Coefficients and water activity: slopes that agree with the formula, and honest edges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.air import saturation_pressure_pa
from service.science.transfer import (
    Coefficient,
    linear_saturation,
    prior_coefficient,
    water_activity_from_composition,
    water_activity_from_molality,
)


@given(st.floats(0, 30))
def test_slopes_of_saturation_are_those_of_the_formula(temperature_c: float) -> None:
    places = temperature_c + np.array([-0.01, 0.0, 0.01])
    pressure = saturation_pressure_pa(places)

    first, second = linear_saturation(places, pressure)

    # Clausius and Clapeyron with an ideal vapour and a straight latent heat: 0.3 % and 2 %.
    assert first[1] == pytest.approx((pressure[2] - pressure[0]) / 0.02, rel=3e-3)
    assert second[1] == pytest.approx((first[2] - first[0]) / 0.02, rel=2e-2)


def test_band_of_a_coefficient_holds_nine_tenths_of_a_log_normal() -> None:
    coefficient = Coefficient(1e-8, 0.5)

    draws = 1e-8 * np.exp(0.5 * np.random.default_rng(4).standard_normal(20_000))
    inside = (draws > coefficient.low) & (draws < coefficient.high)

    # 20,000 draws tell a share to 0.002; five of that.
    assert inside.mean() == pytest.approx(0.9, abs=0.01)


def test_prior_is_a_factor_of_four_wide_to_either_side() -> None:
    prior = prior_coefficient()

    # The factor is our choice, to a tenth.
    assert prior.high / prior.median == pytest.approx(4.0, abs=0.1)
    assert prior.median / prior.low == pytest.approx(4.0, abs=0.1)


@pytest.mark.parametrize("molality", [-0.1, 5.1, math.inf])
def test_brine_that_cannot_be_is_refused(molality: float) -> None:
    with pytest.raises(OutOfRangeError, match="mol/kg"):
        water_activity_from_molality(molality)


@pytest.mark.parametrize("water", [0.0, -0.2, 41.0])
def test_cheese_without_a_mass_fraction_of_water_is_refused(water: float) -> None:
    with pytest.raises(OutOfRangeError, match="mass fraction"):
        water_activity_from_composition(water, 0.03)


def test_unsalted_curd_has_the_activity_of_water() -> None:
    assert water_activity_from_composition(0.5, 0.01) == 1.0
