"""What the analysis tells of the mass of a wheel."""

import math
from typing import Any

import pytest

from tests.service.analyse.conftest import DAY_MIN, Shelf, at


def test_mass_comes_daily_from_the_start_and_at_the_end(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=2 * DAY_MIN + 100)

    rows = shelf.found()["mass"]

    assert [row["time"] for row in rows] == [at(n) for n in (0, 1_440, 2_880, 2_979)]
    assert rows[0]["grams"] == pytest.approx(1_950, abs=0.5)  # an unsure scale, nothing else
    assert all(row["low"] < row["grams"] < row["high"] for row in rows)


def test_two_weighings_decide_how_fast_the_wheel_dries(shelf: Shelf) -> None:
    """In steady air loss is even: 40 g in four days are 10 g a day, whatever the coefficient."""
    shelf.air(12.0, 85.0, size=8 * DAY_MIN)
    weighed = [
        {"time": at(2 * DAY_MIN), "grams": 1_930},
        {"time": at(4 * DAY_MIN), "grams": 1_910},
    ]

    told, untold = shelf.found(weighings=weighed)["mass"], shelf.found()["mass"]

    assert told[-1]["grams"] == pytest.approx(1_870, abs=3)  # a tenth of the loss is 8 g
    assert told[-1]["high"] - told[-1]["low"] < 0.3 * (untold[-1]["high"] - untold[-1]["low"])


def test_a_weighing_just_after_the_last_reading_counts(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=4 * DAY_MIN)

    rows = shelf.found(weighings=[{"time": at(4 * DAY_MIN), "grams": 1_900}])["mass"]

    assert rows[-1]["grams"] == pytest.approx(1_900, abs=2)  # the scale's error is 1.5 g


def test_a_weighing_long_after_the_last_reading_is_said_not_to_count(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    notes = shelf.found(weighings=[{"time": at(9 * DAY_MIN), "grams": 1_900}])["notes"]

    assert "Weighings outside the readings, which are not used: 1." in notes


def test_weighings_with_decimals_are_taken_for_a_finer_scale(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=4 * DAY_MIN)
    whole = [{"time": at(2 * DAY_MIN), "grams": 1_930}, {"time": at(3 * DAY_MIN), "grams": 1_920}]
    finer = [{**whole[0], "grams": 1_930.2}, {**whole[1], "grams": 1_920.4}]

    def width(weighings: list[dict[str, Any]]) -> float:
        last = shelf.found(weighings=weighings)["mass"][-1]
        return float(last["high"] - last["low"])

    assert width(finer) < 0.7 * width(whole)


def test_a_start_long_before_the_readings_leaves_the_first_mass_unsure(shelf: Shelf) -> None:
    """Five days that nobody saw may have cost a twentieth of 1950 g."""
    shelf.air(12.0, 85.0)

    first = shelf.found(started=at(-5 * DAY_MIN))["mass"][0]

    assert first["high"] - first["low"] > 100


def test_a_start_ages_before_the_readings_does_not_make_the_first_mass_absurd(
    shelf: Shelf,
) -> None:
    shelf.air(12.0, 88.0)

    first = shelf.found(started="1900-01-01T00:00:00Z")["mass"][0]

    # Half of the mass either way, for few wheels lose more; the band is of samples.
    assert 0.0 < first["low"] < first["grams"] < first["high"]
    assert first["low"] == pytest.approx(0.5 * 1950, abs=0.1 * 1950)


def test_no_wheel_is_told_to_weigh_less_than_nothing(shelf: Shelf) -> None:
    """A gram of cheese as large as a wheel would lose more than it is."""
    shelf.air(12.0, 60.0)

    rows = shelf.found(mass_g=1)["mass"]

    assert rows[-1]["grams"] < 1
    assert min(row["low"] for row in rows) == 0


@pytest.mark.parametrize(
    "size",
    [
        {"diameter_mm": 5, "height_mm": 5, "mass_g": 1_000_000},
        {"diameter_mm": 2_000, "height_mm": 2_000, "mass_g": 1},
        {"diameter_mm": 2_000, "height_mm": 5},
    ],
)
def test_a_wheel_of_any_allowed_size_is_analysed(shelf: Shelf, size: dict[str, Any]) -> None:
    shelf.air(12.0, 88.0, size=DAY_MIN)

    found = shelf.found(**size)

    assert all(math.isfinite(row["surface_c"]) for row in found["wheel_temperature"])
    assert any("which is no cheese" in note for note in found["notes"])


def test_a_few_minutes_tell_no_mass(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=20)

    found = shelf.found()

    assert found["mass"] == []
    assert len(found["wheel_temperature"]) == 2


def test_without_any_mass_none_is_told(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(mass_g=None)

    assert found["mass"] == []
    assert any(note.startswith("mass is left empty") for note in found["notes"])
    assert found["wheel_temperature"] != []
