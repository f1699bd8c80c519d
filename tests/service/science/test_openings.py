"""Openings of the door: found on planted caves, not seen in cycles, glitches and defrosting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.openings import door_openings
from service.science.signals import BoolArray, FloatArray, IntArray
from tests.thermostat import START_US, Plan, live

MINUTE_US = 60_000_000


def matches(found_us: IntArray, true_us: IntArray, within_s: float) -> int:
    """How many planted openings have one of their own among those found."""
    left = found_us.tolist()
    hits = 0
    for true in true_us.tolist():
        near = [time_us for time_us in left if abs(time_us - true) <= within_s * 1e6]
        if near:
            left.remove(min(near, key=lambda time_us: abs(time_us - true)))
            hits += 1
    return hits


@pytest.mark.parametrize(
    ("plan", "least"),
    [
        (Plan(), 0.95),
        (Plan(every_s=120, noise_k=0.05, noise_pct=0.3), 0.9),
        # After five minutes a short visit has half faded.
        (Plan(every_s=300, resolution=0.1), 0.8),
        (Plan(visits_a_day=12.0, noise_k=0.05, noise_pct=0.5), 0.9),
    ],
    ids=["minute", "two minutes", "five coarse minutes", "busy and noisy"],
)
def test_nearly_all_openings_are_found_and_nine_in_ten_are_true(plan: Plan, least: float) -> None:
    hits = planted = found = 0
    for seed in range(110, 116):
        told = live(seed, plan)
        seen = door_openings(told.times_us, told.temperature_c, told.humidity_pct)
        times_us = np.array([opening.time_us for opening in seen], dtype=np.int64)
        hits += matches(times_us, told.openings_us, max(180.0, 1.2 * plan.every_s))
        planted += told.openings_us.size
        found += times_us.size

    assert planted > 60
    assert hits / planted >= least
    assert hits / found >= 0.9


def test_a_cave_that_nobody_opens_has_no_openings() -> None:
    told = live(117, Plan(visits_a_day=0.0))

    assert not door_openings(told.times_us, told.temperature_c, told.humidity_pct)


def swinging(minutes: int = 2_000) -> tuple[IntArray, FloatArray, FloatArray]:
    """A calm cave with its cycle, a little noise from a fixed seed."""
    at, draw = np.arange(minutes), np.random.default_rng(12)
    swing = np.abs(at / 40 % 1 - 0.5)
    air = 10 + swing + draw.normal(0, 0.02, minutes)
    damp = 87 + 4 * swing + draw.normal(0, 0.15, minutes)
    return START_US + at.astype(np.int64) * MINUTE_US, air, damp


def visit(at: BoolArray | IntArray, forget_min: float) -> FloatArray:
    """The warmth of an opening, 1 at its start. [1]"""
    return np.where(at >= 0, np.exp(-np.maximum(at, 0) / forget_min), 0.0)


def test_opening_tells_what_it_changed() -> None:
    times_us, air, damp = swinging()
    warmth = visit(np.arange(air.size) - 1_001, 5.0)
    (found,) = door_openings(times_us, air + 3 * warmth, damp - 12 * warmth)

    # The jump stands between two readings a minute apart; noise is a fiftieth of a kelvin.
    assert found.time_us == pytest.approx(times_us[1_000], abs=MINUTE_US)
    assert found.rise_k == pytest.approx(3.0, abs=0.15)
    assert found.humidity_change_pct == pytest.approx(-12.0, abs=1.0)
    assert found.time_us < found.peak_us


def test_damp_room_raises_the_humidity_and_is_seen_too() -> None:
    times_us, air, damp = swinging()
    warmth = visit(np.arange(air.size) - 1_001, 5.0)
    (found,) = door_openings(times_us, air + 2 * warmth, damp + 6 * warmth)

    assert found.humidity_change_pct > 0
    assert found.vapour_change_pa > 0


@given(st.integers(20, 1_900), st.floats(-20, 12), st.booleans())
def test_one_lone_reading_is_no_opening(place: int, jump: float, in_air: bool) -> None:  # noqa: FBT001  # hypothesis passes it
    times_us, air, damp = swinging()
    (air if in_air else damp)[place] += jump

    assert not door_openings(times_us, air, np.clip(damp, 0, 100))


def test_even_rise_of_a_defrosting_is_no_opening() -> None:
    times_us, air, damp = swinging()
    ramp = np.interp(np.arange(air.size), [1_000, 1_020, 1_040], [0.0, 6.0, 0.0])

    assert not door_openings(times_us, air + ramp, np.minimum(damp + 2 * ramp, 100))


def test_humidity_that_jumps_alone_is_no_opening() -> None:
    """Somebody breathes on the sensor, or wipes the lid above it."""
    times_us, air, damp = swinging()
    breath = visit(np.arange(air.size) - 1_001, 6.0)

    assert not door_openings(times_us, air, np.minimum(damp + 10 * breath, 100))


def test_jump_across_a_silence_is_no_opening() -> None:
    times_us, air, damp = swinging()
    kept = np.ones(air.size, dtype=np.bool_)
    kept[1_000:1_060] = False
    air[1_060:] += 1.0
    damp[1_060:] -= 5.0

    assert not door_openings(times_us[kept], air[kept], damp[kept])


def test_too_few_readings_tell_nothing() -> None:
    times_us, air, damp = swinging(9)

    assert not door_openings(times_us, air, damp)
    assert not door_openings(times_us, np.full(9, np.nan), damp)


def test_every_opening_of_ten_weeks_of_minutes_is_found() -> None:
    times_us, air, damp = swinging(100_800)
    warmth = np.zeros(air.size)
    warmth[500::1_000] = 3.0
    warmth[501::1_000] = 2.0
    warmth[502::1_000] = 1.0
    found = door_openings(times_us, air + warmth, damp - 3 * warmth)

    assert len(found) == 101
