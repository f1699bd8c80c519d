"""Paste and water activity of the shipped plans beside published values.

Sources as in REFERENCES sections 3, 4 and 9, with the mark they bear there: seen means that the
text itself was read; the others are from memory and say so.
"""

import pytest

from service.ageing.plans import shipped_plans
from service.science.composition import properties
from service.science.transfer import water_activity_from_molality

SALT_KG_MOL = 0.058443
SIMPSON = {
    # water, fat, salt: Simpson (ed.), Food Biochemistry and Food Processing, 2nd ed., ch. 23,
    # table, Roquefort type and Camembert (seen).
    "blue": (0.40, 0.31, 0.035),
    "blue_wrapped": (0.40, 0.31, 0.035),
    "white_mould": (0.525, 0.23, 0.025),
}
HANDBOOK = {
    # specific heat at about 20 °C in kJ/(kg K): ASHRAE Handbook of Refrigeration, ch. 9,
    # table 3, Camembert, Gouda and Swiss cheese (from memory).
    "white_mould": 3.10,
    "tomme": 2.87,
    "coated": 2.87,
    "hard": 2.78,
}
USUAL = {
    # Fox et al., Fundamentals of Cheese Science (from memory): blue; Camembert and Brie; Gouda;
    # Parmesan to Emmental.
    "blue": (0.91, 0.95),
    "white_mould": (0.97, 0.98),
    "tomme": (0.94, 0.96),
    "coated": (0.94, 0.96),
    "blue_wrapped": (0.91, 0.95),
    "hard": (0.91, 0.97),
}


@pytest.mark.parametrize("slug", SIMPSON)
def test_water_and_fat_are_those_of_the_table(slug: str) -> None:
    paste = shipped_plans()[slug].paste.composition
    water, fat, salt = SIMPSON[slug]

    assert paste.water == pytest.approx(water, abs=0.001)  # a table of half percents
    assert paste.fat == pytest.approx(fat, abs=0.001)
    assert paste.ash > salt  # salt is a part of ash


@pytest.mark.parametrize("slug", HANDBOOK)
def test_specific_heat_agrees_with_the_handbook(slug: str) -> None:
    heat = properties(shipped_plans()[slug].paste.composition, 20.0).specific_heat_j_kg_k

    assert heat / 1e3 == pytest.approx(HANDBOOK[slug], abs=0.04)  # Choi & Okos: within 1.5 %


@pytest.mark.parametrize("slug", USUAL)
def test_water_activity_lies_in_the_usual_range(slug: str) -> None:
    activity = shipped_plans()[slug].water_activity
    low, high = USUAL[slug]

    assert low <= activity.value <= high
    assert activity.low <= low + 0.01  # the band of a plan takes in what is usual
    assert activity.high >= high - 0.01


@pytest.mark.parametrize("slug", SIMPSON)
def test_water_activity_agrees_with_the_salt_of_the_table(slug: str) -> None:
    """Marcos et al., J. Dairy Sci. 64 (1981) 622: 1 - 0.033 m (abstract seen)."""
    water, _, salt = SIMPSON[slug]
    from_salt = water_activity_from_molality(salt / SALT_KG_MOL / water)

    # Blue is within 0.01 of such formulas in 73 % of samples (Marcos & Esteban, abstract seen).
    assert shipped_plans()[slug].water_activity.value == pytest.approx(from_salt, abs=0.01)
