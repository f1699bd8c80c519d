"""De-cycled air on its grid: free of the cycle, and never another one afterwards."""

import numpy as np
import pytest

from service.ageing.verdict import AirHistory
from service.behaving.calm import STEP_US, calm_air, step_before
from service.science.signals import FloatArray

MINUTE_US = 60_000_000
DAY_US = 1_440 * MINUTE_US
START_US = 20_000 * DAY_US
PERIOD_MIN = 36.0


def swinging(days: float, *, every_min: float = 1.0, drift_a_day: float = 0.0) -> AirHistory:
    """A cave that swings by 1 K and 4 %RH, and drifts in humidity."""
    minutes = np.arange(0.0, days * 1_440, every_min)
    swing = np.abs((minutes % PERIOD_MIN) / PERIOD_MIN - 0.5) * 2 - 0.5
    return AirHistory(
        times_us=START_US + (minutes * MINUTE_US).astype(np.int64),
        temperature_c=10.0 + swing,
        humidity_pct=88.0 - 4 * swing + drift_a_day * minutes / 1_440,
    )


def up_to(history: AirHistory, time_us: int, from_us: int = 0) -> AirHistory:
    taken = (history.times_us <= time_us) & (history.times_us >= from_us)
    return AirHistory(
        history.times_us[taken], history.temperature_c[taken], history.humidity_pct[taken]
    )


def middle(values: FloatArray) -> FloatArray:
    return values[100:-3]


@pytest.mark.parametrize("every_min", [1.0, 5.0])
def test_the_cycle_is_gone(every_min: float) -> None:
    calm = calm_air(swinging(4, every_min=every_min))

    # The period is known to about a hundredth, and so is what a mean over it leaves of 4 %RH.
    assert middle(calm.humidity_pct) == pytest.approx(88.0, abs=0.1)
    assert middle(calm.temperature_c) == pytest.approx(10.0, abs=0.03)


def test_a_drift_is_followed_without_delay() -> None:
    calm = calm_air(swinging(4, drift_a_day=2.4))
    days = (calm.middles_us - START_US) / DAY_US

    assert middle(calm.humidity_pct) == pytest.approx(middle(88.0 + 2.4 * days), abs=0.1)


def test_what_is_known_of_a_step_stays_when_more_readings_come() -> None:
    history = swinging(4, drift_a_day=-3.0)
    at_us = START_US + 3 * DAY_US + 7 * STEP_US
    then = calm_air(up_to(history, at_us + MINUTE_US)).known_at(at_us)
    later = calm_air(history).known_at(at_us)

    assert then.middles_us.tolist() == later.middles_us.tolist()
    assert then.humidity_pct == pytest.approx(later.humidity_pct, abs=1e-9, nan_ok=True)


def test_where_the_readings_begin_does_not_matter_a_day_later() -> None:
    history = swinging(5)
    since_us = START_US + 2 * DAY_US
    whole = calm_air(history).known_at(START_US + 5 * DAY_US, since_us)
    part = calm_air(up_to(history, START_US + 5 * DAY_US, START_US + DAY_US))
    part = part.known_at(START_US + 5 * DAY_US, since_us)

    # Sums of doubles from another start; a sensor's last digit is 0.01.
    assert part.humidity_pct == pytest.approx(whole.humidity_pct, abs=1e-9, nan_ok=True)


def test_a_silence_stays_open() -> None:
    history = swinging(3)
    silent = (history.times_us > START_US + 2 * DAY_US) & (
        history.times_us < START_US + 2 * DAY_US + 6 * 60 * MINUTE_US
    )
    calm = calm_air(
        AirHistory(
            history.times_us[~silent],
            history.temperature_c[~silent],
            history.humidity_pct[~silent],
        )
    )
    inside = (calm.middles_us > START_US + 2 * DAY_US + STEP_US) & (
        calm.middles_us < START_US + 2 * DAY_US + 17 * STEP_US
    )

    assert inside.any()
    assert np.isnan(calm.humidity_pct[inside]).all()


def test_one_reading_covers_no_time() -> None:
    assert calm_air(swinging(1 / 1_440)).middles_us.size == 0


def test_a_missing_humidity_does_not_hide_the_temperature() -> None:
    history = swinging(2)
    calm = calm_air(
        AirHistory(history.times_us, history.temperature_c, np.full(history.times_us.size, np.nan))
    )

    assert np.isnan(calm.humidity_pct).all()
    assert np.isfinite(middle(calm.temperature_c)).all()


def test_a_step_lies_on_the_grid_of_its_own_time() -> None:
    assert step_before(START_US + STEP_US - 1) == START_US
    assert step_before(START_US + STEP_US) == START_US + STEP_US
