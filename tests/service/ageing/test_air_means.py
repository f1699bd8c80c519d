"""The mean of the air: a fold, deaf to spikes on the side of the limit, open on the other."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.means import Smoothing, mean_step, means, smoothing
from service.ageing.values import Direction, Quantity
from service.science.signals import US_PER_S, smoothed

PLAIN = Smoothing()
DEAF = Smoothing(reach=5.0)

readings = st.lists(
    st.tuples(st.integers(1, 4_000), st.floats(0, 100)), min_size=1, max_size=60
).map(
    lambda rows: (
        np.cumsum([gap for gap, _ in rows]).astype(np.int64) * US_PER_S,
        np.array([value for _, value in rows]),
    )
)


@given(series=readings, direction=st.sampled_from(Direction))
def test_without_a_reach_the_mean_is_the_plain_exponential_mean(
    series: tuple[np.ndarray, np.ndarray], direction: Direction
) -> None:
    times, values = series

    mean = means(times, values, direction, PLAIN)

    assert mean.tolist() == smoothed(times, values, PLAIN.time_constant_s, PLAIN.gap_s).tolist()


def test_a_reading_far_beyond_pulls_no_harder_than_one_at_the_reach() -> None:
    far = mean_step(90.0, 20.0, 60, Direction.BELOW, DEAF)

    assert far == mean_step(90.0, 85.0, 60, Direction.BELOW, DEAF)


def test_a_reading_far_above_pulls_no_harder_than_one_at_the_reach() -> None:
    far = mean_step(90.0, 100.0, 60, Direction.ABOVE, DEAF)

    assert far == mean_step(90.0, 95.0, 60, Direction.ABOVE, DEAF)


def test_the_way_back_is_not_held_up() -> None:
    back = mean_step(60.0, 90.0, 60, Direction.BELOW, DEAF)

    assert back == mean_step(60.0, 90.0, 60, Direction.BELOW, PLAIN)


def test_after_a_gap_the_mean_starts_afresh() -> None:
    assert mean_step(90.0, 60.0, 1800.1, Direction.BELOW, DEAF) == 60.0


def test_a_cooling_cycle_within_the_reach_does_not_shift_the_mean() -> None:
    minutes = np.arange(24 * 60)
    values = 90.0 + 5.0 * np.sin(2 * np.pi * minutes / 40)

    mean = means(minutes * 60 * US_PER_S, values, Direction.BELOW, smoothing(Quantity.HUMIDITY))

    # Twenty whole cycles after settling; a tenth of the alarm's deadband is shift enough.
    assert mean[-800:].mean() == pytest.approx(90.0, abs=0.1)


def test_a_sensor_that_reports_rarely_has_no_gap_between_its_readings() -> None:
    assert smoothing(Quantity.HUMIDITY, interval_s=3600).gap_s == 5 * 3600
    assert smoothing(Quantity.HUMIDITY, interval_s=60).gap_s == 1800
