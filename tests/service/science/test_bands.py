"""Bands: quadrature, counts, and the ends of a foretold hour."""

import numpy as np
import pytest

from service.errors import OutOfRangeError
from service.science.band import around, counted_band, in_quadrature
from service.science.margin import MarginAhead

HOURS = np.array([1.0, 2.0, 3.0, 4.0])


def ahead(margin: list[float], half: float) -> MarginAhead:
    told = np.array(margin)
    return MarginAhead(HOURS, told, told - half, told + half, 0.0)


def test_two_inputs_add_in_quadrature_on_the_side_that_they_move() -> None:
    best = np.array([10.0])
    pairs = [(np.array([7.0]), np.array([10.5])), (np.array([14.0]), np.array([6.0]))]
    away = in_quadrature(best, pairs)

    assert away.below[0] == pytest.approx(5.0)
    assert away.above[0] == pytest.approx(np.hypot(0.5, 4.0))


def test_an_input_that_moves_nothing_adds_nothing() -> None:
    best = np.array([1.0, 2.0])

    assert in_quadrature(best, [(best, best)]).below.tolist() == [0.0, 0.0]


def test_a_band_that_would_fall_below_none_ends_there() -> None:
    assert around(1.0, [(0.0, 6.0)], best=4.0).low == 0.0


def test_a_count_that_is_negative_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="not negative"):
        counted_band(-1)


def test_the_ends_of_a_foretold_hour_lie_about_it() -> None:
    assert ahead([1.5, 0.5, -0.5, -1.5], 1.0).sweats_between_h() == (2.0, 4.0)


def test_sweat_that_may_never_come_has_no_late_end() -> None:
    assert ahead([1.5, 0.5, -0.5, -0.8], 1.0).sweats_between_h() == (2.0, None)


def test_without_sweat_ahead_there_are_no_ends() -> None:
    assert ahead([1.5, 1.4, 1.3, 1.2], 2.0).sweats_between_h() is None
