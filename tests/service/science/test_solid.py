"""A wheel as a solid, its coefficients, and estimates of them."""

import math

import pytest

from service.errors import OutOfRangeError
from service.science.composition import Properties
from service.science.convection import (
    Space,
    estimated_transfer,
    horizontal_w_m2_k,
    vertical_w_m2_k,
)
from service.science.solid import Cylinder, Transfer

TOMME = Cylinder(0.19, 0.075, 0.38, 920.0, 2900.0)


def test_area_and_volume_of_a_wheel() -> None:
    # Formulas of the school: 2 π r² + 2 π r h, and π r² h.
    assert TOMME.area_m2 == pytest.approx(2 * math.pi * (0.095**2 + 0.095 * 0.075), rel=1e-12)
    assert TOMME.volume_m3 == pytest.approx(math.pi * 0.095**2 * 0.075, rel=1e-12)
    assert TOMME.face_share * TOMME.area_m2 == pytest.approx(2 * math.pi * 0.095**2, rel=1e-12)


def test_a_wheel_that_was_weighed_has_its_own_density() -> None:
    paste = Properties(1070.0, 2870.0, 0.37, 0.27)
    weighed = Cylinder.of(paste, 0.19, 0.075, mass_kg=1.95)

    # Rounding only.
    assert weighed.density_kg_m3 * weighed.volume_m3 == pytest.approx(1.95, rel=1e-12)
    assert Cylinder.of(paste, 0.19, 0.075).density_kg_m3 == 1070.0


@pytest.mark.parametrize("place", range(5))
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_solid_is_refused(place: int, value: float) -> None:
    given = [0.19, 0.075, 0.38, 920.0, 2900.0]
    given[place] = value

    with pytest.raises(OutOfRangeError, match="above zero"):
        Cylinder(*given)


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_coefficient_is_above_zero(value: float) -> None:
    with pytest.raises(OutOfRangeError, match="above zero"):
        Transfer(7.0, 7.0, value)


def test_the_mean_coefficient_weighs_by_area() -> None:
    share = TOMME.face_share
    mean = Transfer(9.0, 7.0, 3.0).mean_w_m2_k(TOMME)

    # Rounding only.
    assert mean == pytest.approx(share * 6.0 + (1 - share) * 7.0, rel=1e-12)


def test_a_fan_passes_more_heat_than_still_air() -> None:
    still = estimated_transfer(TOMME, Space.SHELF, 10.0).transfer
    moved = estimated_transfer(TOMME, Space.FRIDGE, 10.0).transfer

    assert moved.mean_w_m2_k(TOMME) > still.mean_w_m2_k(TOMME) + 2


def test_a_mat_in_a_box_hinders_the_lower_face() -> None:
    box = estimated_transfer(TOMME, Space.BOX, 10.0).transfer

    assert box.bottom_w_m2_k < box.top_w_m2_k


def test_convection_is_the_same_into_a_wheel_as_out_of_it() -> None:
    assert vertical_w_m2_k(0.1, -1.0, 12.0) == vertical_w_m2_k(0.1, 1.0, 12.0)


@pytest.mark.parametrize(("length_m", "difference_k"), [(0.0, 1.0), (-0.1, 1.0), (0.1, 0.0)])
def test_convection_needs_a_length_and_a_difference(length_m: float, difference_k: float) -> None:
    with pytest.raises(OutOfRangeError, match="above zero"):
        vertical_w_m2_k(length_m, difference_k, 12.0)
    with pytest.raises(OutOfRangeError, match="above zero"):
        horizontal_w_m2_k(length_m, difference_k, 12.0, stirring=True)
