"""What a sensor's readings tell against it."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.sensor_truth import (
    CREEP_LIMIT_PCT,
    Fault,
    Finding,
    creep,
    creep_bound_pct,
    findings,
    saturated,
    stuck,
)
from tests.bench.planted_sensor import minutes

HOUR_US = 3_600_000_000
MINUTE_US = 60_000_000
DAY = 1_440
TIMES = np.arange(2 * DAY) * MINUTE_US


def noisy(step: float = 0.01) -> npt.NDArray[np.float64]:
    said = np.random.default_rng(3).normal(88.0, 0.2, TIMES.size)
    return np.round(said / step) * step


@pytest.mark.parametrize("step", [0.01, 0.1])
def test_a_frozen_value_of_a_restless_sensor_is_stuck(step: float) -> None:
    said = noisy(step)
    said[600:700] = said[600]
    found = stuck(TIMES, said, Fault.STUCK_HUMIDITY, 300.0)

    assert [f.value for f in found] == [said[600]]
    # A neighbour may share the value by chance.
    assert found[0].from_us == pytest.approx(600 * MINUTE_US, abs=2 * MINUTE_US)
    assert found[0].to_us == pytest.approx(699 * MINUTE_US, abs=2 * MINUTE_US)


def test_two_frozen_stretches_are_both_found() -> None:
    said = noisy()
    said[600:700] = 88.0
    said[1500:2100] = 87.0

    assert [f.value for f in stuck(TIMES, said, Fault.STUCK_HUMIDITY, 300.0)] == [88.0, 87.0]


def test_a_coarse_sensor_in_a_steady_cellar_is_not_stuck() -> None:
    """Half degrees that change every few hours: repeats of hours are in order."""
    slow = 11.0 + 0.6 * np.sin(2 * np.pi * TIMES / (24 * HOUR_US))

    assert stuck(TIMES, np.round(slow * 2) / 2, Fault.STUCK_TEMPERATURE, 300.0) == []


def test_a_sensor_read_every_ten_minutes_is_stuck_after_hours_not_half_a_day() -> None:
    times = np.arange(1_000) * 10 * MINUTE_US
    said = np.random.default_rng(4).normal(88.0, 0.2, times.size).round(2)
    said[500:530] = said[500]
    found = stuck(times, said, Fault.STUCK_HUMIDITY, 1_800.0)

    assert [(f.from_us, f.to_us) for f in found] == [(int(times[500]), int(times[529]))]


def test_what_is_in_order_for_a_coarse_sensor_is_not_stuck() -> None:
    """Whole hours without a change, again and again: three times as long is no step."""
    said = np.repeat(np.random.default_rng(4).permutation(48) * 0.1, 60)
    said[600:780] = said[600]

    assert stuck(TIMES, said, Fault.STUCK_TEMPERATURE, 300.0) == []


def test_a_sensor_that_never_changes_is_stuck_after_half_a_day() -> None:
    same = np.full(TIMES.size, 11.3)

    assert stuck(TIMES[: DAY // 2], same[: DAY // 2], Fault.STUCK_TEMPERATURE, 300.0) == []
    assert len(stuck(TIMES[:800], same[:800], Fault.STUCK_TEMPERATURE, 300.0)) == 1


def test_a_gap_ends_a_repeat() -> None:
    said = noisy()
    said[600:640] = 88.0
    times = TIMES.copy()
    times[620:] += HOUR_US

    assert stuck(times, said, Fault.STUCK_HUMIDITY, 300.0) == []


@pytest.mark.parametrize("name", ["cave", "blue-box", "kitchen-fridge"])
@pytest.mark.parametrize(("step_c", "step_pct"), [(0.01, 0.01), (0.1, 0.1), (0.1, 1.0), (0.5, 1.0)])
def test_weeks_of_a_sound_sensor_hold_nothing_stuck(
    name: str, step_c: float, step_pct: float
) -> None:
    times, warm, damp = minutes(name, 57)
    warm, damp = np.round(warm / step_c) * step_c, np.round(damp / step_pct) * step_pct
    kinds = {finding.fault for finding in findings(times, warm, damp, 300.0)}

    assert kinds.isdisjoint({Fault.STUCK_TEMPERATURE, Fault.STUCK_HUMIDITY, Fault.SATURATED})


def test_hours_at_a_hundred_are_saturated_and_not_stuck() -> None:
    said = noisy()
    said[600:900] = 100.0
    found = findings(TIMES, noisy(), said, 300.0)

    assert Finding(Fault.SATURATED, 600 * MINUTE_US, 899 * MINUTE_US, 100.0) in found
    assert Fault.STUCK_HUMIDITY not in {finding.fault for finding in found}


def test_two_hours_at_a_hundred_are_saturated_and_a_minute_less_is_not() -> None:
    said = noisy()
    said[600:721] = 100.0

    assert len(saturated(TIMES, said, 300.0)) == 1
    said[720] = 88.0
    assert saturated(TIMES, said, 300.0) == []


def test_a_short_dip_does_not_end_saturation_and_a_gap_does() -> None:
    said = noisy()
    said[600:800] = 100.0
    said[700:705] = 98.0
    times = TIMES.copy()
    times[710:] += HOUR_US

    assert len(saturated(TIMES, said, 300.0)) == 1
    assert len(saturated(times, said, 300.0)) == 0


def test_silence_is_a_gap() -> None:
    times = TIMES.copy()
    times[1000:] += 6 * HOUR_US
    found = [f for f in findings(times, noisy(), noisy(), 300.0) if f.fault is Fault.GAP]

    assert [(f.from_us, f.to_us) for f in found] == [(int(times[999]), int(times[1000]))]


def test_creep_rises_to_two_thirds_of_its_limit_in_its_time_constant() -> None:
    hours = np.arange(61) * HOUR_US
    bound = creep_bound_pct(hours, np.full(61, 97.0))

    # The exponential law; rounding only.
    assert bound[-1] == pytest.approx(CREEP_LIMIT_PCT * (1 - np.exp(-1)), rel=1e-12)


@given(st.lists(st.floats(80.0, 100.0) | st.just(float("nan")), min_size=1, max_size=60))
def test_creep_stays_within_its_bounds_and_does_not_depend_on_sampling(
    damp: list[float],
) -> None:
    hours = np.arange(len(damp)) * HOUR_US
    bound = creep_bound_pct(hours, np.array(damp))
    twice = creep_bound_pct(
        np.repeat(hours, 2)[1:] - np.tile([0, HOUR_US // 2], len(damp))[:-1], np.repeat(damp, 2)[1:]
    )

    assert np.all((bound >= 0.0) & (bound <= CREEP_LIMIT_PCT))
    # The exponential law over two halves of a step; rounding only.
    assert twice[::2] == pytest.approx(bound, abs=1e-9)


def test_dry_air_is_never_suspected_of_creep() -> None:
    assert creep(TIMES, noisy()) == []


def test_days_of_damp_are_suspected_of_creep_until_weeks_after() -> None:
    """The blue box of the sample readings sweats from 13 to 27 August, and its sensor creeps."""
    times, _, damp = minutes("blue-box", 57)
    found = creep(times, damp)

    assert len(found) == 1
    # Planted: up to 2.5 %RH; the bound is 3.
    assert 2.5 < found[0].value <= CREEP_LIMIT_PCT


def test_no_readings_have_no_finding() -> None:
    nothing = np.array([], dtype=np.int64), np.array([]), np.array([])

    assert findings(*nothing, 300.0) == []
