"""Rules of a wheel's modes: their roots, and products that stay on one core."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special  # type: ignore[import-untyped]  # scipy ships no types

from service.science.modes import cylinder_roots, product, slab_roots

COUNT = 80
NEAR = 1e-12
"""A root to this part of itself: some thousand times the rounding of its equation's terms."""
biots = st.floats(-6, 6).map(lambda power: 10.0**power)


@given(biots, biots)
def test_each_root_of_the_slab_lies_where_its_equation_turns(bottom: float, top: float) -> None:
    roots, turns = slab_roots(bottom, top, COUNT), np.pi * np.arange(COUNT)

    def excess(x: np.ndarray) -> np.ndarray:
        return np.asarray(x - np.arctan(bottom / x) - np.arctan(top / x) - turns)

    # Rounding of π n, where the slope of the equation is one.
    slack = 4 * np.finfo(float).eps * (turns + np.pi)
    assert (excess(roots * (1 - NEAR)) <= slack).all()
    assert (excess(roots * (1 + NEAR)) >= -slack).all()
    assert (turns <= roots).all()
    assert (roots <= turns + np.pi).all()


@given(biots)
def test_each_root_of_the_cylinder_lies_where_its_equation_turns(biot: float) -> None:
    roots, signs = cylinder_roots(biot, COUNT), (-1.0) ** np.arange(COUNT)

    def excess(x: np.ndarray) -> np.ndarray:
        return np.asarray(signs * (x * special.j1(x) - biot * special.j0(x)))

    # Rounding of both terms; the Bessel functions of scipy are good to some units of it.
    slack = 100 * np.finfo(float).eps * (roots + biot)
    assert (excess(roots * (1 - NEAR)) <= slack).all()
    assert (excess(roots * (1 + NEAR)) >= -slack).all()
    assert (np.diff(roots) > 0).all()


@pytest.mark.parametrize("shape", [(3, 4, 5), (80, 160, 80), (10, 40, 7_001), (700, 700, 2)])
def test_a_product_in_parts_is_the_product(shape: tuple[int, int, int]) -> None:
    rows, between, columns = shape
    chance = np.random.default_rng(7)
    left = chance.normal(size=(rows, between))
    right = chance.normal(size=(between, columns))

    # Rounding only: sums of up to 700 terms near one, in another order.
    assert product(left, right) == pytest.approx(np.einsum("ij,jk->ik", left, right), abs=1e-11)
