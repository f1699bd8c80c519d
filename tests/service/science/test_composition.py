"""Compositions that hold and that do not."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.composition import Composition, properties

BLUE = Composition(0.42, 0.31, 0.21, 0.05, 0.01)


def test_fractions_that_nearly_sum_to_one_are_made_to() -> None:
    given_short = Composition(0.41, 0.30, 0.21, 0.04, 0.01)

    # Rounding only: 0.97 of a whole.
    assert given_short.water == pytest.approx(0.41 / 0.97, rel=1e-12)
    assert properties(given_short, 10.0).density_kg_m3 > 1000


@pytest.mark.parametrize("water", [0.371, 0.469])
def test_a_sum_just_inside_the_edge_is_taken(water: float) -> None:
    assert Composition(water, 0.31, 0.21, 0.05, 0.01).fat == pytest.approx(
        0.31 / (water + 0.58), rel=1e-12
    )


@pytest.mark.parametrize("water", [0.369, 0.471, 42.0, math.nan])
def test_a_sum_far_from_one_is_refused(water: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"sum to|no fraction"):
        Composition(water, 0.31, 0.21, 0.05, 0.01)


@pytest.mark.parametrize("water", [0.0, -0.1])
def test_a_cheese_without_water_is_refused(water: float) -> None:
    with pytest.raises(OutOfRangeError, match="water"):
        Composition(water, 0.6, 0.3 - water, 0.08, 0.02)


def test_a_fraction_below_zero_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="below zero"):
        Composition(0.5, 0.31, 0.21, -0.02, 0.0)


@pytest.mark.parametrize("temperature_c", [-2.1, 60.1, math.nan])
def test_a_paste_too_cold_or_too_hot_is_refused(temperature_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="outside"):
        properties(BLUE, temperature_c)


@given(st.floats(0.3, 0.6), st.floats(-2, 60))
def test_more_water_passes_and_stores_more_heat(water: float, temperature_c: float) -> None:
    def of(part: float) -> Composition:
        rest = 1 - part - 0.05
        return Composition(part, 0.6 * rest, 0.4 * rest, 0.04, 0.01)

    drier, moister = (
        properties(of(water), temperature_c),
        properties(of(water + 0.01), temperature_c),
    )

    assert moister.conductivity_w_m_k > drier.conductivity_w_m_k
    assert moister.specific_heat_j_kg_k > drier.specific_heat_j_kg_k
    assert drier.least_conductivity_w_m_k < drier.conductivity_w_m_k
