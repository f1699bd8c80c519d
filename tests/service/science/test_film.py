"""The film on a surface: never below nothing, and spells as the design of the analysis has them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.film import LID_WET, WHEEL_WET, WetSpell, film_g_m2, wet_hours, wet_spells
from service.science.signals import US_PER_MINUTE

offers = st.lists(st.floats(-20, 20), max_size=40).map(np.array)


@given(offers, st.floats(0, 30))
def test_film_stays_between_nothing_and_what_the_surface_holds(
    offered: np.ndarray, start: float
) -> None:
    film = film_g_m2(offered, start, holds_g_m2=25.0)

    assert film.min() >= 0
    assert film.max() <= 25


@given(offers)
def test_film_is_what_stepping_through_gives(offered: np.ndarray) -> None:
    stepped = [0.0]
    for more in offered.tolist():
        stepped.append(max(0.0, stepped[-1] + more))

    film = film_g_m2(offered, holds_g_m2=1e9)

    # The running sum rounds at 1e-13 of hundreds of grams.
    assert film == pytest.approx(stepped, abs=1e-9)


@given(offers, st.floats(0, 5))
def test_more_water_on_offer_never_leaves_a_thinner_film(offered: np.ndarray, more: float) -> None:
    film, fuller = film_g_m2(offered), film_g_m2(offered + more)

    # The running sum rounds at 1e-13 of hundreds of grams.
    assert (fuller >= film - 1e-9).all()


def test_water_beyond_what_the_surface_holds_does_not_delay_drying() -> None:
    film = film_g_m2(np.array([90.0, 90.0, -60.0]), holds_g_m2=100.0)

    assert film.tolist() == [0, 90, 100, 40]


def minutes(*films: float) -> tuple[np.ndarray, np.ndarray]:
    return np.arange(len(films)) * US_PER_MINUTE, np.array(films)


def test_spell_begins_at_half_a_gram_and_ends_below_it() -> None:
    spells = wet_spells(*minutes(0, 0.5, 1.0, 0.49, 0), WHEEL_WET)

    assert spells == [WetSpell(US_PER_MINUTE, 3 * US_PER_MINUTE, 1.0)]


def test_spell_that_peaks_below_a_gram_is_none() -> None:
    assert not wet_spells(*minutes(0, 0.9, 0.99, 0), WHEEL_WET)


def test_lid_is_wet_from_a_fifth_of_a_gram_on() -> None:
    spells = wet_spells(*minutes(0, 0.2, 0.5, 0.1), LID_WET)

    assert spells == [WetSpell(US_PER_MINUTE, 3 * US_PER_MINUTE, 0.5)]


def test_break_of_nine_minutes_is_bridged_even_between_two_faint_halves() -> None:
    spells = wet_spells(*minutes(0.6, *[0.0] * 9, 1.2, 0.0), WHEEL_WET)

    assert spells == [WetSpell(0, 11 * US_PER_MINUTE, 1.2)]


def test_break_of_ten_minutes_parts_two_spells() -> None:
    spells = wet_spells(*minutes(1.6, *[0.0] * 10, 1.2, 0.0), WHEEL_WET)

    assert [spell.peak_g_m2 for spell in spells] == [1.6, 1.2]


def test_surface_that_is_still_wet_is_so_up_to_the_last_instant() -> None:
    spells = wet_spells(*minutes(0, 2.0, 2.0), WHEEL_WET)

    assert spells == [WetSpell(US_PER_MINUTE, 2 * US_PER_MINUTE, 2.0)]


def test_unknown_film_is_not_wet() -> None:
    assert not wet_spells(*minutes(np.nan, np.nan), WHEEL_WET)


def test_wet_hours_add_up() -> None:
    spells = [
        WetSpell(0, 30 * US_PER_MINUTE, 1.0),
        WetSpell(60 * US_PER_MINUTE, 120 * US_PER_MINUTE, 1.0),
    ]

    assert wet_hours(spells) == 1.5
