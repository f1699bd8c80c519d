"""The bands of wheels and lids: they hold what is told, and a salt test narrows them."""

import numpy as np
import pytest

from service.living.bands import UNKNOWN_FACE
from service.living.memory import Memory
from service.living.now import LidNow, SurfaceNow
from service.living.sensing import away_under
from service.living.values import Face, WheelClimate
from service.science.band import BAND_Z
from service.science.film import WHEEL_HOLDS_G_M2
from service.science.surface_band import CORRECTED_SD_PCT, CREEP_PCT, HUMIDITY_SD_PCT
from service.store import corrections
from service.store.tables import SensorCorrection
from tests import builders
from tests.service.living.conftest import House

steady = builders.steady
HOUR_US, NOW_US = builders.HOUR_US, builders.NOW_US


def checked(sensor_id: int, sd_pct: float, hours_ago: float = 80.0) -> SensorCorrection:
    """A correction that changes nothing but how sure the sensor is."""
    return SensorCorrection(
        sensor_id=sensor_id,
        from_us=NOW_US - round(hours_ago * HOUR_US),
        offset_pct=0.0,
        gain=1.0,
        standard_uncertainty_pct=sd_pct,
        salts="NaCl",
        made_us=NOW_US - HOUR_US,
    )


def carried(house: House) -> int:
    """A tomme that stood at 4 °C, and for two hours in damp air of 14 °C; its number."""
    house.air(house.cave, lambda ago: 4.0 if ago > 2 else 14.0, steady(92.0))
    return house.wheel(house.cave, "tomme")


def now_of(climate: WheelClimate) -> Face:
    assert climate.now is not None
    return climate.now


def margin_width(told: Face | SurfaceNow) -> float:
    assert told.band.margin_k is not None
    return told.band.margin_k.high - told.band.margin_k.low


def test_every_band_holds_its_value(house: House) -> None:
    told = house.climate(carried(house))
    now, bands, lived = now_of(told), told.bands, told.lived
    assert bands is not None
    assert lived is not None

    for name in ("surface_c", "margin_k", "film_g_m2"):
        assert getattr(now.band, name).holds(getattr(now, name))
        low, high = bands.column(name, lived.times_us, getattr(lived, name))
        assert (low <= getattr(lived, name)).all()
        assert (getattr(lived, name) <= high).all()
    assert now.wet_since_us is not None
    assert now.band.wet_for_us is not None
    assert now.band.wet_for_us.holds(now.time_us - now.wet_since_us)
    hours, peak = told.wet_hours_band(), told.peak_film_band_g_m2
    assert hours is not None
    assert peak is not None
    assert hours.holds(told.wet_hours())
    assert peak.holds(told.peak_film_g_m2)
    assert told.kinetic_c is not None
    assert told.kinetic_band_c is not None
    assert told.kinetic_band_c.holds(told.kinetic_c)


def test_no_film_and_no_wet_hour_is_below_none(house: House) -> None:
    told = house.climate(carried(house))
    hours = told.wet_hours_band()
    assert told.bands is not None
    assert told.lived is not None
    assert hours is not None
    low, _ = told.bands.column("film_g_m2", told.lived.times_us, told.lived.film_g_m2)

    assert low.min() >= 0
    assert hours.low >= 0


def test_a_salt_test_narrows_the_margin(house: House) -> None:
    sensor = house.air(house.cave, steady(10.0), steady(93.0))
    wheel = house.wheel(house.cave, "tomme")
    before = now_of(house.climate(wheel))
    with house.context.sessions() as session:
        corrections.add(session, checked(sensor, 0.3))
    after = now_of(house.climate(wheel))

    assert after.margin_k == before.margin_k
    assert margin_width(after) < 0.7 * margin_width(before)


def test_a_correction_that_is_withdrawn_makes_nothing_surer() -> None:
    times_us = np.array([NOW_US - 100 * HOUR_US, NOW_US])
    made = checked(1, 0.3)
    sure = away_under([made], times_us).above
    made.withdrawn = True

    # Sums of squares, to the last digits.
    unchecked, checked_sd = HUMIDITY_SD_PCT, np.hypot(0.3, CORRECTED_SD_PCT)
    assert sure.tolist() == pytest.approx([BAND_Z * unchecked, BAND_Z * checked_sd], rel=1e-9)
    assert away_under([made], times_us).above.tolist() == [BAND_Z * unchecked] * 2


def test_a_sensor_may_have_crept_to_the_damp_side_only_and_not_after_a_salt_test() -> None:
    times_us = np.array([NOW_US - 100 * HOUR_US, NOW_US])
    away = away_under([checked(1, 0.3)], times_us)

    # Sums of squares, to the last digits.
    assert away.below[0] ** 2 - away.above[0] ** 2 == pytest.approx(CREEP_PCT**2, rel=1e-9)
    assert away.below[1] == away.above[1]


def test_no_band_of_wet_hours_is_longer_than_the_time_in_which_its_air_is_known(
    house: House,
) -> None:
    house.air(house.cave, lambda ago: 9.0 if ago > 70 else 10.0, steady(99.0))
    told = house.climate(house.wheel(house.cave, "tomme"))
    hours, late = told.wet_hours_band(), told.wet_hours_band(NOW_US - 5 * HOUR_US)
    assert hours is not None
    assert late is not None

    assert 60 < hours.high <= 72
    assert 4 < late.high <= 5


def test_no_film_is_told_thicker_than_what_a_wheel_holds(house: House) -> None:
    house.air(house.cave, lambda ago: 4.0 if ago > 40 else 22.0, steady(99.0))
    told = house.climate(house.wheel(house.cave, "tomme"))
    peak = told.peak_film_band_g_m2
    assert told.bands is not None
    assert told.lived is not None
    assert peak is not None
    _, high = told.bands.column("film_g_m2", told.lived.times_us, told.lived.film_g_m2)

    assert high.max() == peak.high == WHEEL_HOLDS_G_M2
    assert told.bands.spell_peak_g_m2(told.wet[-1]).high == WHEEL_HOLDS_G_M2


def test_a_wheel_that_may_have_sweated_is_not_said_to_have_stayed_dry_for_sure(
    house: House,
) -> None:
    # At its best the margin is some tenths of a kelvin for an hour; 2.5 %RH more are a film.
    house.air(
        house.cave, lambda ago: 5.0 if ago > 30 else 12.0, lambda ago: 72.0 if ago < 31 else 80.0
    )
    told = house.climate(house.wheel(house.cave, "tomme"))
    hours = told.wet_hours_band()
    assert hours is not None

    assert told.wet_hours() == 0
    assert hours.low == 0
    assert hours.high > 0.5


def test_a_wrapped_wheel_has_a_band_of_temperature_only(house: House) -> None:
    house.air(house.fridge, steady(4.0), steady(60.0))
    told = house.climate(house.wheel(house.fridge, stage="cold"))
    now = now_of(told)

    assert now.band.surface_c is not None
    assert now.band.surface_c.holds(now.surface_c)
    assert (now.band.margin_k, now.band.film_g_m2, told.wet_hours_band()) == (None, None, None)


def test_the_age_at_its_reference_is_no_surer_than_the_thermometer(house: House) -> None:
    # A blue's reference is 10 °C; there no energy of activation changes its age.
    house.air(house.cave, steady(10.0), steady(94.5))
    age = house.climate(house.wheel(house.cave)).age
    assert age is not None

    # 0.33 K at 46 kJ/mol are 2.3 % (Arrhenius: E/(R T²) times 0.33 K).
    assert (age.high_days - age.low_days) / 2 == pytest.approx(0.023 * age.days, rel=0.25)


def test_the_shelf_and_the_page_of_a_wheel_are_equally_sure(house: House) -> None:
    wheel = carried(house)
    (shelf,) = house.surfaces()
    page = now_of(house.climate(wheel))

    assert shelf.band != UNKNOWN_FACE
    # The shelf goes back three days; the wheel has forgotten all before.
    assert margin_width(shelf) == pytest.approx(margin_width(page), rel=0.05)


def test_a_lid_lies_between_both_its_airs_with_its_band(house: House) -> None:
    house.air(house.cave, steady(8.0), steady(85.0))
    house.air(house.box, steady(10.0), steady(99.0))
    (lid,) = house.lids()

    assert lid.band.lid_c is not None
    assert lid.band.margin_k is not None
    assert lid.band.film_g_m2 is not None
    assert lid.band.lid_c.holds(lid.lid_c)
    assert lid.band.margin_k.holds(lid.lid_c - lid.dew_point_c)
    assert lid.band.film_g_m2.holds(lid.film_g_m2)
    assert lid.band.film_g_m2.low > 0


def lid_width(lid: LidNow) -> float:
    assert lid.band.margin_k is not None
    return lid.band.margin_k.high - lid.band.margin_k.low


def test_a_salt_test_narrows_the_margin_of_a_lid(house: House) -> None:
    house.air(house.cave, steady(9.7), steady(85.0))
    sensor = house.air(house.box, steady(10.0), steady(97.0))
    (before,) = house.lids()
    with house.context.sessions() as session:
        corrections.add(session, checked(sensor, 0.3))
    (after,) = house.lids()

    assert lid_width(after) < lid_width(before)


def test_the_bands_are_worked_out_once_in_ten_minutes(house: House) -> None:
    wheel = carried(house)
    memory = Memory()

    assert house.climate(wheel, memory).bands is house.climate(wheel, memory).bands
