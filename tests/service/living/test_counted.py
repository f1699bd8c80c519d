"""A sensor that is stuck or wet goes on sending, but its air counts no more than a silence."""

import numpy as np
import pytest

from service.judging.counted import not_counted
from service.living.air import LivedAir
from service.living.memory import Memory
from service.science.sensor_truth import Fault, Finding
from service.store import air
from tests import builders
from tests.service.living.conftest import Air, House

DAY_US, HOUR_US, MINUTE_US, NOW_US = (
    builders.DAY_US,
    builders.HOUR_US,
    builders.MINUTE_US,
    builders.NOW_US,
)
DAMP_PCT, STUCK_PCT = 88.0, 97.3


def lively(about: float, size: float, seed: int = 3) -> Air:
    """Values that hardly ever repeat themselves, the same each time they are asked for."""
    noise = np.random.default_rng(seed).normal(0.0, size, 100_000)
    return lambda ago: round(about + float(noise[round(ago * 12)]), 2)


def stuck(alive: Air, value: float, from_h: float, to_h: float = 0.0) -> Air:
    """As alive, but standing still between two hours ago."""
    return lambda ago: value if to_h <= ago < from_h else alive(ago)


WARM, DAMP = lively(10.0, 0.05), lively(DAMP_PCT, 0.3)


def told(house: House, hours: float = 72.0) -> tuple[np.ndarray, np.ndarray]:
    """Hours before now, and whether the humidity counts there."""
    with house.context.sessions() as session:
        from_us = NOW_US - round(hours * HOUR_US)
        own = LivedAir(session, Memory(), NOW_US).own(house.cave, from_us, NOW_US)
    return (NOW_US - own.times_us) / HOUR_US, np.isfinite(own.humidity_pct)


def reasons(house: House, space_id: int, ago_h: float = 0.0) -> tuple[Finding, ...]:
    with house.context.sessions() as session:
        return not_counted(session, space_id, NOW_US - round(ago_h * HOUR_US))


def test_what_a_stuck_sensor_says_is_no_air_of_a_wheel(house: House) -> None:
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 40.0, 20.0))
    ago, counts = told(house)

    # The first reading of the stretch was still read.
    assert ago[~counts] == pytest.approx(np.arange(39.9, 20.0, -1 / 12), abs=0.1)


def test_a_stuck_sensor_is_silence_also_when_it_is_older_than_what_is_asked_anew(
    house: House,
) -> None:
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 400.0, 300.0), hours=480.0)
    ago, counts = told(house, 480.0)

    assert not counts[(ago > 300.2) & (ago < 399.8)].any()
    assert counts[(ago < 300.0) | (ago > 400.0)].all()


def test_a_sensor_that_is_stuck_for_longer_than_the_last_days_stays_uncounted(
    house: House,
) -> None:
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 140.0), hours=480.0)
    _, counts = told(house)

    assert not counts.any()
    (found,) = reasons(house, house.cave)
    assert found.fault is Fault.STUCK_HUMIDITY
    assert (NOW_US - found.from_us) / HOUR_US == pytest.approx(140.0, abs=0.1)  # a reading


def test_a_sensor_that_always_says_the_same_is_believed(house: House) -> None:
    house.air(house.cave, builders.steady(10.0), builders.steady(88.0))
    _, counts = told(house)

    assert counts.all()
    assert reasons(house, house.cave) == ()


def test_a_sensor_in_order_counts(house: House) -> None:
    house.air(house.cave, WARM, DAMP)

    assert reasons(house, house.cave) == ()


def test_a_sensor_that_leaps_to_saturation_does_not_count(house: House) -> None:
    house.air(house.cave, WARM, stuck(DAMP, 100.0, 5.0))
    (found,) = reasons(house, house.cave)

    assert found.fault is Fault.SATURATED


def test_a_stuck_sensor_that_speaks_again_counts_again(house: House) -> None:
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 10.0, 2.0))

    assert [one.fault for one in reasons(house, house.cave, 3.0)] == [Fault.STUCK_HUMIDITY]
    assert reasons(house, house.cave) == ()


def test_the_sensor_of_the_cave_speaks_for_a_box_without_one(house: House) -> None:
    house.air(house.cave, stuck(WARM, 11.0, 10.0), DAMP)

    assert [one.fault for one in reasons(house, house.box)] == [Fault.STUCK_TEMPERATURE]


def test_air_as_received_keeps_what_a_stuck_sensor_says(house: House) -> None:
    """Alarms of limits and charts go by it."""
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 40.0, 20.0))
    with house.context.sessions() as session:
        said = air.space_history(session, house.cave, NOW_US - 72 * HOUR_US, NOW_US)

    assert np.isfinite(said.humidity_pct).all()


def test_a_wheel_does_not_sweat_by_what_a_stuck_sensor_says(house: House) -> None:
    """Stuck at 99.2 %RH in air that grows warmer it would be wet for a day."""
    warming: Air = lambda ago: round(WARM(ago) + 5 * (1 - ago / 72), 2)  # noqa: E731  # an Air as the others
    house.air(house.cave, warming, stuck(DAMP, 99.2, 36.0, 6.0))
    climate = house.climate(house.wheel(house.cave))

    assert climate.lived is not None
    assert climate.wet_hours() == 0.0
    ago = (NOW_US - climate.lived.times_us) / HOUR_US
    assert np.isnan(climate.lived.film_g_m2[(ago > 6.2) & (ago < 35.8)]).all()
    assert np.isfinite(climate.lived.surface_c).all()


def test_nothing_is_told_of_sweat_while_the_sensor_is_stuck(house: House) -> None:
    house.air(house.cave, WARM, stuck(DAMP, STUCK_PCT, 6.0))
    now = house.climate(house.wheel(house.cave)).now

    assert now is not None
    assert (now.margin_k, now.film_g_m2) == (None, None)
    assert house.surfaces() == ()
