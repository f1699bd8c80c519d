"""What the analysis tells of age, and of a wheel of which little is known."""

import math

import numpy as np
import pytest

from service.errors import SettingsError
from tests.service.analyse.conftest import DAY_MIN, Shelf, at


def test_days_at_the_reference_temperature_count_as_days(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0, size=3 * DAY_MIN + 1)

    assert shelf.found()["equivalent_age_days"] == pytest.approx(3.0, rel=1e-3)  # rind and film


def test_warmer_days_count_for_more_by_the_law_of_arrhenius(shelf: Shelf) -> None:
    """exp(60000/R (1/285.15 - 1/291.15)), R = 8.314462618 J/(mol K), CODATA 2018."""
    shelf.air(18.0, 95.0, size=3 * DAY_MIN + 1)

    found = shelf.found(initial_temperature_c=18.0)["equivalent_age_days"]

    rate = math.exp(60_000 / 8.314462618 * (1 / 285.15 - 1 / 291.15))
    assert found == pytest.approx(3 * rate, rel=1e-3)


def test_a_wheel_without_a_size_ages_as_the_air(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0, size=3 * DAY_MIN + 1)

    found = shelf.found(diameter_mm=None)

    assert (found["wheel_temperature"], found["mass"], found["condensation"]) == ([], [], [])
    assert found["equivalent_age_days"] == pytest.approx(3.0, abs=1e-4)  # as written


def test_a_wheel_that_starts_among_the_readings_lives_from_there(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0)

    found = shelf.found(started=at(DAY_MIN + 5.5))

    assert found["wheel_temperature"][0]["time"] == at(DAY_MIN + 10)
    assert found["mass"][0]["time"] == at(DAY_MIN + 5.5)
    assert found["equivalent_age_days"] == pytest.approx(2.0, rel=0.005)  # 5.5 minutes


def test_a_wheel_that_started_before_the_readings_is_told_from_the_first_on(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(started=at(-2 * DAY_MIN))

    assert found["mass"][0]["time"] == at(0)
    assert any("48.0 h before the first reading" in note for note in found["notes"])


def test_a_wheel_that_starts_after_the_readings_has_no_life_in_them(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(started=at(9 * DAY_MIN))

    assert (found["wheel_temperature"], found["mass"]) == ([], [])
    assert found["equivalent_age_days"] is None


def test_readings_without_humidity_tell_a_wheel_that_only_conducts(shelf: Shelf) -> None:
    shelf.air(12.0, np.nan)

    found = shelf.found(initial_temperature_c=4.0)
    rows = found["wheel_temperature"]

    assert (found["condensation"], found["mass"], found["door_openings"]) == ([], [], [])
    assert rows[0]["surface_c"] == rows[0]["mean_c"] == 4.0
    assert all(4.0 <= row["mean_c"] <= row["surface_c"] <= 12.0 for row in rows)
    # Nothing dries, so that after three days it is as warm as its air.
    assert rows[-1]["mean_c"] == pytest.approx(12.0, abs=0.01)
    assert any("neither dries nor sweats" in note for note in found["notes"])


def test_a_wheel_that_only_conducts_ages_by_its_own_mean(shelf: Shelf) -> None:
    shelf.air(12.0, np.nan)

    cold, warm = (shelf.found(initial_temperature_c=start_c) for start_c in (4.0, 12.0))

    assert warm["equivalent_age_days"] == pytest.approx(3.0, abs=0.01)
    assert cold["equivalent_age_days"] < warm["equivalent_age_days"] - 0.05


def test_without_any_temperature_there_is_no_age_and_that_is_said(shelf: Shelf) -> None:
    shelf.air(np.nan, 90.0)

    found = shelf.found()

    assert found["equivalent_age_days"] is None
    assert found["wheel_temperature"] == []
    assert any(note.startswith("equivalent_age_days is null") for note in found["notes"])


def test_what_the_file_leaves_out_is_taken_from_the_plan_and_said_so(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)

    notes = shelf.found(plan="blue", composition=None, water_activity=None, ripening=None)["notes"]

    for beginning in ("No composition", "No water activity", "No ripening"):
        (note,) = (one for one in notes if one.startswith(beginning))
        assert '"blue"' in note


def test_an_unknown_plan_is_said_so(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)

    notes = shelf.found(plan="moon")["notes"]

    assert any(note.startswith('The plan "moon" is not known here') for note in notes)


def test_a_composition_that_is_no_whole_is_an_error_that_names_the_file(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)
    half = {"water": 0.2, "fat": 0.1, "protein": 0.1, "ash": 0.02, "carbohydrate": 0.0}

    with pytest.raises(
        SettingsError, match=r"wheel\.json with .*air\.csv: the mass fractions sum to 0.42"
    ):
        shelf.found(composition=half)
