"""The margin to sweat: what it is now, and what it will be if things go on."""

import numpy as np
import numpy.typing as npt
import pytest

from service.errors import OutOfRangeError
from service.science.margin import MarginAhead, margin_ahead
from service.science.signals import US_PER_MINUTE

FloatArray = npt.NDArray[np.float64]
HOURS = np.array([1.0, 3.0, 6.0])
LAG_S = 2 * 3_600.0


def told(
    air_c: FloatArray, surface_c: FloatArray, dew_point_c: FloatArray, lag_s: float = LAG_S
) -> MarginAhead:
    times_us = np.arange(air_c.size) * US_PER_MINUTE
    return margin_ahead(times_us, air_c, surface_c, dew_point_c, lag_s, HOURS)


def still(minutes: int = 720) -> FloatArray:
    return np.full(minutes, 10.0)


def test_steady_air_keeps_its_margin() -> None:
    ahead = told(still(), still() - 0.5, still() - 2.0)

    # Nothing moves, so only rounding is left.
    assert ahead.margin_k == pytest.approx(1.5, abs=1e-6)
    assert ahead.sweats_in_h() is None


def test_rising_dew_point_eats_the_margin_ever_more_slowly() -> None:
    hours = np.arange(720) / 60
    ahead = told(still(), still(), 7.0 + 0.2 * hours)

    now = 10 - (7 + 0.2 * 719 / 60)
    # Six hours times 1 - exp(-t/6) of a slope of 0.2 K an hour; means of a quarter of an hour.
    assert ahead.margin_k == pytest.approx(now - 1.2 * (1 - np.exp(-HOURS / 6)), abs=0.03)
    assert (np.diff(ahead.margin_k) < 0).all()


def test_sweat_is_foretold_before_it_comes() -> None:
    hours = np.arange(720) / 60
    ahead = told(still(), still(), 7.0 + 0.2 * hours)

    assert ahead.sweats_in_h() == 6.0


def test_cold_wheel_warms_towards_the_air() -> None:
    hours = np.arange(720) / 60
    surface = 14 - 8 * np.exp(-hours / 2)
    ahead = told(np.full(720, 14.0), surface, still())

    # All of it within the last hours: the surface has come up to its air but for 1 %.
    assert (np.diff(ahead.margin_k) >= -0.05).all()
    assert ahead.margin_k[-1] == pytest.approx(4.0, abs=0.3)


def test_surface_follows_warming_air_with_its_lag() -> None:
    hours = np.arange(720) / 60
    air = 8 + 0.3 * hours
    surface = air - 0.6
    quick = told(air, surface, still() - 5, lag_s=60.0)
    slow = told(air, surface, still() - 5, lag_s=2 * 3_600.0)

    now = surface[-1] - 5
    # A slope of 0.3 K an hour goes on at first, whatever the lag that made the surface trail.
    assert slow.margin_k[0] - now == pytest.approx(0.3, abs=0.06)
    # The slow one goes on warming when the trend of the air has begun to fade.
    assert slow.margin_k[0] > quick.margin_k[0]


def test_lag_as_long_as_the_fading_of_trends_is_no_exception() -> None:
    air = 8 + 0.3 * np.arange(720) / 60

    margins = [
        told(air, air - 0.6, still() - 5, lag_s=lag_h * 3_600).margin_k
        for lag_h in (5.99, 6.0, 6.01)
    ]

    # A smooth function of the lag: the middle of its neighbours.
    assert margins[1] == pytest.approx((margins[0] + margins[2]) / 2, abs=1e-4)


def test_cycles_show_as_a_chill_and_not_as_a_trend() -> None:
    minutes = np.arange(720)
    cycle = 0.5 * np.sin(2 * np.pi * minutes / 36)
    ahead = told(still() + cycle, still(), still() - 0.4 + cycle)

    # Half the swing of the cycles, seen at its 95th percentile.
    assert ahead.chill_k == pytest.approx(0.5, abs=0.05)
    assert ahead.margin_k == pytest.approx(0.4, abs=0.1)
    assert ahead.sweats_in_h() == 1.0


def test_band_holds_nine_times_of_ten_in_wandering_air() -> None:
    chance = np.random.default_rng(3)
    inside = []
    for _ in range(60):
        dew = 7 + np.cumsum(chance.normal(0, 0.02, 720 + 360))
        ahead = told(still(), still(), dew[:720])
        true = 10 - dew[719 + 60 * HOURS.astype(int)]
        inside.append((true > ahead.low_k) & (true < ahead.high_k))

    # A hundred and eighty looks that hang together by threes; an honest band holds most.
    assert np.mean(inside) > 0.75


def test_opening_of_the_door_does_not_make_a_trend() -> None:
    dew = still() - 2
    dew[700:710] += 3

    ahead = told(still(), still(), dew)

    # A tenth of a kelvin of the three.
    assert ahead.margin_k == pytest.approx(2.0, abs=0.1)


def test_gap_in_the_readings_is_passed_over() -> None:
    air = still()
    air[400:500] = np.nan

    ahead = told(air, still() - 0.5, still() - 2.0)

    # Nothing moves, so only rounding is left.
    assert ahead.margin_k == pytest.approx(1.5, abs=1e-6)


def test_too_short_a_history_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="wait"):
        told(still(60), still(60), still(60))


def test_wheel_without_a_lag_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="lag"):
        told(still(), still(), still(), lag_s=0.0)


def test_short_history_still_has_a_band() -> None:
    ahead = told(still(180), still(180), still(180) - 2)

    assert (ahead.high_k > ahead.low_k).all()
