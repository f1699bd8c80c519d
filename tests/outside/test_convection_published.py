"""Coefficients of free convection against values computed apart from published correlations."""

import pytest

from service.science.convection import horizontal_w_m2_k, vertical_w_m2_k

# Air at 12 °C, by Churchill & Chu (Int. J. Heat Mass Transfer 18 (1975) 1323) and by McAdams's
# 0.54 and 0.27 Ra^(1/4), computed apart from this code with properties from CoolProp:
# difference K; a wall of 10 cm, a disc of 20 cm unstable and stable, W/(m² K).
COMPUTED = [(0.5, 2.2, 2.5, 1.3), (1.0, 2.6, 3.0, 1.5), (2.0, 3.0, 3.6, 1.8)]


@pytest.mark.parametrize(("difference_k", "wall", "unstable", "stable"), COMPUTED)
def test_free_convection_meets_the_correlations(
    difference_k: float, wall: float, unstable: float, stable: float
) -> None:
    # One decimal is given.
    assert vertical_w_m2_k(0.10, difference_k, 12.0) == pytest.approx(wall, abs=0.051)
    assert horizontal_w_m2_k(0.20, difference_k, 12.0, stirring=True) == pytest.approx(
        unstable, abs=0.051
    )
    assert horizontal_w_m2_k(0.20, difference_k, 12.0, stirring=False) == pytest.approx(
        stable, abs=0.051
    )
