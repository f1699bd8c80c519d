"""The plateau of a saturated-salt test, in bags as they are."""

from dataclasses import replace

import numpy as np
import pytest

from service.science.plateau import FEWEST, Hindrance, Plateau, PlateauState, find_plateau
from service.science.salts import Salt, salt_humidity_pct
from tests.bench.planted_sensor import BAGS, Bag, salt_test

NACL = Salt.SODIUM_CHLORIDE
SHELF = Bag()


def judged(bag: Bag, offset: float = 2.0, seed: int = 1, *, finished: bool = False) -> Plateau:
    return find_plateau(*salt_test(seed, NACL, offset, bag=bag), NACL, finished=finished)


@pytest.mark.parametrize("name", [name for name in BAGS if "broken off" not in name])
@pytest.mark.parametrize("salt", [NACL, Salt.POTASSIUM_CHLORIDE])
def test_a_bag_that_settles_is_done_with_the_offset_planted(name: str, salt: Salt) -> None:
    errors = []
    for seed in range(3):
        offset = float(np.random.default_rng(seed).uniform(-4, 4))
        found = find_plateau(*salt_test(seed, salt, offset, bag=BAGS[name]), salt)
        assert found.state is PlateauState.DONE
        assert found.difference_pct is not None
        errors.append(found.difference_pct + offset)

    # Goal 1 %RH at 90 %; the plateau may use a third of it.
    assert errors == pytest.approx([0.0] * 3, abs=0.33)


def test_a_test_on_its_way_says_how_long_it_will_take() -> None:
    """Three time constants of an hour: 0.6 %RH are left, 1.4 h to 0.15 and the hold of 20 min."""
    whole = Bag(hours=12.0, time_constant_h=1.0, before_h=0.0)
    on_its_way = judged(replace(whole, hours=3.0))
    assert on_its_way.state is PlateauState.NOT_YET
    assert on_its_way.remaining_s is not None
    done_h = next(
        hours
        for hours in np.arange(3.0, 12.0, 0.1)
        if judged(replace(whole, hours=float(hours))).state is PlateauState.DONE
    )

    # Noise of 0.1 %RH on 0.6 that is left, through a logarithm: half an hour.
    assert on_its_way.remaining_s / 3600 == pytest.approx(done_h - 3.0, abs=0.6)


def test_a_test_just_begun_says_nothing() -> None:
    found = judged(Bag(hours=0.5, time_constant_h=3.0, before_h=0.0))

    assert found.state is PlateauState.NOT_YET
    assert (found.difference_pct, found.remaining_s, found.comparison()) == (None, None, None)


def test_a_test_broken_off_is_extrapolated_with_a_larger_uncertainty() -> None:
    bag = Bag(hours=2.0, time_constant_h=1.0, before_pct=45.0, before_h=0.0)
    found, whole = judged(bag, finished=True), judged(replace(bag, hours=8.0))

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.BROKEN_OFF)
    assert found.extrapolated
    assert not whole.extrapolated
    assert found.difference_pct is not None
    assert found.difference_uncertainty_pct is not None
    assert whole.difference_uncertainty_pct is not None
    assert found.difference_uncertainty_pct > 3 * whole.difference_uncertainty_pct
    # Twice what it says of itself.
    assert found.difference_pct == pytest.approx(-2.0, abs=2 * found.difference_uncertainty_pct)


def test_a_bag_opened_too_early_is_broken_off() -> None:
    found = judged(Bag(hours=2.0, time_constant_h=1.0, after_h=1.0))

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.BROKEN_OFF)


def test_the_plateau_ends_where_the_bag_was_opened() -> None:
    found = judged(Bag(hours=8.0, after_h=2.0))

    # Opened at 8.3 h; cut up to ten minutes before it.
    assert found.to_us / 3.6e9 == pytest.approx(8.2, abs=0.1)


def test_a_bag_far_from_the_salt_will_not_settle() -> None:
    """Open all the time, or another salt."""
    found = find_plateau(*salt_test(1, Salt.MAGNESIUM_CHLORIDE), NACL)

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_FAR)


def test_a_sensor_that_drifts_on_for_days_will_not_settle() -> None:
    found = judged(Bag(hours=40.0, time_constant_h=30.0, before_pct=40.0, before_h=0.0))

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_SLOW)


def test_a_wet_sensor_will_not_settle() -> None:
    times, warm, _ = salt_test(1, NACL)
    found = find_plateau(times, warm, np.full(times.size, 100.0), NACL)

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.WET)


def test_swings_too_slow_to_cancel_are_not_done() -> None:
    """Readings that swing by 4 %RH in three hours: two swings do not make their mean sure."""
    times = np.arange(0, 7 * 60) * 60_000_000
    swing = 4.0 * np.sin(2 * np.pi * np.arange(times.size) / 180)
    noise = np.random.default_rng(4).normal(0.0, 0.1, times.size)
    found = find_plateau(times, np.full(times.size, 12.0), 75.66 + swing + noise, NACL)

    assert found.state is not PlateauState.DONE


def test_swings_that_a_day_would_not_cancel_will_not_settle() -> None:
    times = np.arange(0, 14 * 60) * 60_000_000
    swing = 8.0 * np.sin(2 * np.pi * np.arange(times.size) / 200)
    noise = np.random.default_rng(4).normal(0.0, 0.1, times.size)
    found = find_plateau(times, np.full(times.size, 12.0), 75.66 + swing + noise, NACL)

    assert (found.state, found.hindrance) == (PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_UNEVEN)


def test_a_slow_approach_under_a_fast_one_is_waited_for() -> None:
    """Sixteen percent go in 20 min, two more in two hours: the plateau is after the second."""
    hours = np.arange(0.0, 14.0, 1 / 60)
    said = 74.0 - 16.0 * np.exp(-hours * 3) - 2.0 * np.exp(-hours / 2)
    said += np.random.default_rng(6).normal(0.0, 0.05, hours.size)
    times = (hours * 3.6e9).astype(np.int64)
    found = find_plateau(times, np.full(hours.size, 20.0), said, NACL)
    early = find_plateau(times[:180], np.full(180, 20.0), said[:180], NACL)

    assert found.state is PlateauState.DONE
    # 74.0 minus 75.47; the tail that is left.
    assert found.difference_pct == pytest.approx(-1.47, abs=0.15)
    assert early.state is PlateauState.NOT_YET


def test_the_bag_counts_and_not_the_cave_before_and_after() -> None:
    """Three hours each in the cave at 80 %, over table salt and in the cave again."""
    found = judged(
        Bag(
            hours=3.0,
            time_constant_h=0.33,
            before_h=3.0,
            before_pct=80.0,
            after_h=3.0,
            after_pct=80.0,
        )
    )

    assert found.state is PlateauState.DONE
    # As for every bag that settles.
    assert found.difference_pct == pytest.approx(-2.0, abs=0.33)


@pytest.mark.parametrize(
    ("ended", "state", "hindrance"),
    [
        (False, PlateauState.NOT_YET, None),
        (True, PlateauState.WILL_NOT_SETTLE, Hindrance.BROKEN_OFF),
    ],
)
def test_a_plateau_too_short_is_not_done(
    *, ended: bool, state: PlateauState, hindrance: Hindrance | None
) -> None:
    """Arrived after 0.5 h, 0.2 h ago: the hold of 20 min is not over."""
    bag = Bag(hours=0.7, time_constant_h=0.1, before_h=0.0)
    found = judged(bag, finished=ended)

    assert (found.state, found.hindrance) == (state, hindrance)
    # The level is known all the same.
    assert found.difference_pct == pytest.approx(-2.0, abs=0.33)


def test_each_reading_is_compared_at_its_own_temperature() -> None:
    """Potassium chloride falls by 1.1 %RH from 10 to 16.5 °C; a true sensor shows no offset."""
    salt = Salt.POTASSIUM_CHLORIDE
    times = np.arange(0, 8 * 60) * 60_000_000
    warm = np.linspace(10.0, 16.5, times.size)
    said = salt_humidity_pct(salt, warm) + np.random.default_rng(5).normal(0, 0.05, times.size)
    found = find_plateau(times, warm, said, salt)

    assert found.state is PlateauState.DONE
    # Noise of 0.05 over 480 readings.
    assert found.difference_pct == pytest.approx(0.0, abs=0.02)


def test_a_noiseless_plateau_from_the_first_reading_is_done() -> None:
    times = np.arange(0, 60) * 60_000_000
    found = find_plateau(times, np.full(60, 20.0), np.full(60, 75.0), NACL)

    assert found.state is PlateauState.DONE
    # 75.0 minus 75.47.
    assert found.difference_pct == pytest.approx(-0.47, abs=0.015)


def test_comparison_carries_salt_and_plateau() -> None:
    comparison = judged(SHELF).comparison()

    assert comparison is not None
    # Offset 2: the sensor says 2 less than the salt's 75.66 at 12 °C.
    assert comparison.true_pct == pytest.approx(75.66, abs=0.01)
    assert comparison.reading_pct == pytest.approx(73.66, abs=0.1)
    # Never surer than the salt: 0.204 %RH at 12 °C.
    assert comparison.standard_uncertainty_pct > 0.204


@pytest.mark.parametrize(("finished", "state"), [(False, "not yet"), (True, "will not settle")])
def test_no_usable_reading_is_said(*, finished: bool, state: str) -> None:
    nothing = np.array([], dtype=np.int64), np.array([]), np.array([])
    freezing = np.array([0]), np.array([-5.0]), np.array([75.0])

    assert find_plateau(*nothing, NACL, finished=finished).state.value == state
    assert find_plateau(*freezing, NACL, finished=finished).state.value == state


@pytest.mark.parametrize(("finished", "state"), [(False, "not yet"), (True, "will not settle")])
def test_a_few_minutes_tell_nothing(*, finished: bool, state: str) -> None:
    few = np.arange(FEWEST - 1) * 60_000_000
    found = find_plateau(
        few, np.full(few.size, 12.0), np.full(few.size, 75.0), NACL, finished=finished
    )

    assert (found.state.value, found.difference_pct) == (state, None)
