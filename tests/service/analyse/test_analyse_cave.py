"""What the analysis tells of the cave itself: its cooling, its door, its sensor."""

import time

import numpy as np
import pytest

from tests.service.analyse.conftest import DAY_MIN, FloatArray, Shelf, at, minute


def fridge(size: int) -> FloatArray:
    """Half an hour's cycle: cooling for a fourth of it."""
    phase = np.arange(size) / 30 % 1
    return 10 + np.where(phase < 0.25, 1 - 4 * phase, (phase - 0.25) / 0.75)


def test_the_cooling_cycle_of_the_air_is_told(shelf: Shelf) -> None:
    shelf.air(fridge(DAY_MIN), 88.0, size=DAY_MIN)

    cycles = shelf.found()["cooling_cycles"]

    assert cycles["period_s"] == pytest.approx(1_800, rel=0.02)  # the science's own bound
    assert cycles["duty"] == pytest.approx(0.25, abs=0.05)


def test_air_without_a_cycle_has_none_and_that_is_said(shelf: Shelf) -> None:
    shelf.air(10.0, 88.0, size=DAY_MIN)

    found = shelf.found()

    assert found["cooling_cycles"] == {"period_s": None, "duty": None}
    assert any("cooling_cycles holds no figures" in note for note in found["notes"])


def test_an_opening_of_the_door_is_told_once_at_its_time(shelf: Shelf) -> None:
    after = np.maximum(np.arange(DAY_MIN) - 700, 0) / 6
    jump = np.where(after > 0, np.exp(-after), 0.0)
    shelf.air(fridge(DAY_MIN) + 3 * jump, 88 - 15 * jump, size=DAY_MIN)

    (opening,) = shelf.found()["door_openings"]

    assert minute(opening) == pytest.approx(700, abs=1)  # one reading


def test_door_and_cooling_of_a_box_are_those_of_its_cave(shelf: Shelf) -> None:
    cave = shelf.air(fridge(DAY_MIN), 80.0, size=DAY_MIN, name="cave.csv")
    shelf.air(11.0, 96.0, size=DAY_MIN)

    assert shelf.found(outer=cave)["cooling_cycles"]["period_s"] == pytest.approx(1_800, rel=0.02)


def test_a_glitch_is_no_rejected_row_but_is_set_aside_and_told(shelf: Shelf) -> None:
    noise = np.random.default_rng(2).normal(0, 0.05, DAY_MIN)
    humidity = (88 + noise).round(2)
    humidity[500] = 55.0
    shelf.air(12.0, humidity, size=DAY_MIN)

    found = shelf.found()

    assert found["rejected_readings"] == 0
    assert any(
        note.startswith("Values that stood alone, set aside as glitches of the sensor: 1")
        for note in found["notes"]
    )


def test_a_wet_sensor_makes_no_excursion_and_no_sweat_and_that_is_said(shelf: Shelf) -> None:
    noise = np.random.default_rng(2).normal(0, 0.2, 3 * DAY_MIN)
    humidity = (88 + noise).round(2)
    humidity[2_000:2_600] = 100.0
    shelf.air(12.0, humidity)
    stage = {"name": "a", "from": at(0), "temperature_c": None, "humidity_pct": [80, 95]}
    found = shelf.found(stages=[stage])

    assert (found["excursions"], found["condensation"]) == ([], [])
    assert any(note.endswith("not counted in rejected_readings.") for note in found["notes"])


def test_ten_weeks_at_one_minute_take_less_than_three_seconds(shelf: Shelf) -> None:
    size = 70 * DAY_MIN
    noise = np.random.default_rng(1).normal(0, 0.1, size).round(2)
    cave = shelf.air(fridge(size) + 0.1 * noise, 85.0 + noise, size=size, name="cave.csv")
    shelf.air(fridge(size) + 0.5 + 0.1 * noise, 94.0 + noise, size=size)
    weighed = [{"time": at(n * DAY_MIN), "grams": 1_950 - 4 * n} for n in (7, 30)]

    began = time.process_time()
    found = shelf.found(outer=cave, weighings=weighed)
    spent_s = time.process_time() - began

    assert len(found["mass"]) == 71
    assert spent_s < 3.0
