"""The surface balance: what must hold in any air, and both balances closed."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.air import saturation_pressure_pa, vapour_pressure_pa
from service.science.signals import US_PER_MINUTE, US_PER_S
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, Wheelclimate, live_through, with_moisture
from service.science.transfer import latent_heat_j_kg

FloatArray = npt.NDArray[np.float64]

WHEEL = Cylinder(0.12, 0.06, 0.38, 1_080.0, 2_850.0)
HEAT = 7.0
RIND = Rind(0.96)
FEW = settings(max_examples=30, deadline=None)
airs = st.lists(st.tuples(st.floats(2, 20), st.floats(60, 100)), min_size=2, max_size=12)


def stay(
    air_c: FloatArray, vapour_pa: FloatArray, moisture: float = 1e-8, minutes: int = 10
) -> Stay:
    times_us = np.arange(air_c.size) * minutes * US_PER_MINUTE
    return Stay("cave", 0, times_us, air_c, vapour_pa, Transfer.uniform(HEAT), moisture)


def lived(
    states: list[tuple[float, float]], more_pa: float = 0.0, cap_pct: float = 100.0
) -> Wheelclimate:
    """Ten days' worth of states, each held for a while, ten minutes a step."""
    air_c, humidity = np.repeat(np.array(states), 12, axis=0).T
    vapour = vapour_pressure_pa(air_c, np.minimum(humidity, cap_pct))
    return live_through(WHEEL, RIND, [stay(air_c, vapour + more_pa)], 10.0)


@FEW
@given(airs)
def test_film_is_never_negative(states: list[tuple[float, float]]) -> None:
    assert lived(states).film_g_m2.min() >= 0


@FEW
@given(airs)
def test_film_grows_only_below_the_dew_point(states: list[tuple[float, float]]) -> None:
    climate = lived(states)

    grown = np.diff(climate.film_g_m2) > 0
    # The dew point is exact to 1e-9 K.
    below = climate.margin_k < 1e-9

    assert not (grown & ~below[1:] & ~below[:-1]).any()


@FEW
@given(airs, st.floats(0, 60))
def test_more_vapour_never_leaves_less_film(states: list[tuple[float, float]], more: float) -> None:
    film, fuller = lived(states).film_g_m2, lived(states, more).film_g_m2

    # The balance stands still to 2 mK, worth 4e-4 g/m² a minute of an hour's worth of steps.
    assert (fuller >= film - 0.05).all()


@FEW
@given(airs)
def test_wheel_only_loses_in_air_drier_than_its_rind(states: list[tuple[float, float]]) -> None:
    # 8 °C is the coldest that a surface gets to from 10 °C in air of at least 8 °C.
    warm = [(max(8.0, air_c), humidity) for air_c, humidity in states]
    air_c, humidity = np.repeat(np.array(warm), 12, axis=0).T
    driest = np.minimum(vapour_pressure_pa(air_c, humidity), 600.0)
    climate = live_through(WHEEL, RIND, [stay(air_c, driest)], 10.0)

    assert (np.diff(climate.lost_g) > 0).all()


def sweating(holds_g_m2: float = 100.0) -> Wheelclimate:
    """A cold wheel brought into a warm damp room and then into dry air, minute by minute."""
    air_c = np.concatenate((np.full(240, 18.0), np.full(600, 12.0)))
    vapour = vapour_pressure_pa(air_c, np.concatenate((np.full(240, 80.0), np.full(600, 80.0))))
    return live_through(WHEEL, Rind(0.96, holds_g_m2), [stay(air_c, vapour, 1.5e-8, 1)], 4.0)


def on_it_g(climate: Wheelclimate) -> FloatArray:
    faces, sides = climate.face_film_g_m2, climate.side_film_g_m2
    return WHEEL.area_m2 * (sides + WHEEL.face_share * (faces - sides))


def test_water_balance_closes() -> None:
    climate = sweating()

    apart = climate.lost_g - climate.vapour_g - on_it_g(climate)

    # The bound that was set: 0.1 % of what was turned over.
    assert np.abs(apart).max() < 1e-3 * np.abs(np.diff(climate.vapour_g)).sum()
    assert on_it_g(climate).max() > 1


def test_energy_balance_closes() -> None:
    climate = sweating()
    air_c = np.concatenate((np.full(240, 18.0), np.full(600, 12.0)))
    surface_c = climate.temperatures.surface_c
    step_s = np.diff(climate.times_us) / US_PER_S

    sensible = HEAT * WHEEL.area_m2 * (air_c - surface_c)
    middle_c = 0.5 * (surface_c[1:] + surface_c[:-1])
    latent_j = latent_heat_j_kg(middle_c) * np.diff(climate.vapour_g) / 1e3
    taken_j = np.cumsum(0.5 * (sensible[1:] + sensible[:-1]) * step_s - latent_j)
    stored_j = WHEEL.heat_j_m3_k * WHEEL.volume_m3 * (climate.temperatures.mean_c - 4.0)

    # The bound that was set, 0.1 % of what was turned over; the first minute of a jump, in
    # which a trapezoid sees no jump of the surface, is left out.
    turned = np.abs(sensible[1:] * step_s).sum() + np.abs(latent_j).sum()
    assert np.abs((stored_j[1:] - stored_j[1]) - (taken_j - taken_j[0])).max() < 1e-3 * turned


def test_water_that_a_face_cannot_hold_runs_off() -> None:
    climate = sweating(holds_g_m2=5.0)

    assert climate.film_g_m2.max() == 5
    assert climate.ran_off_g[-1] > 1
    assert (np.diff(climate.ran_off_g) > -1e-9).all()


def test_rind_takes_up_water_without_a_film_between_its_activity_and_saturation() -> None:
    air_c = np.full(600, 10.0)
    climate = live_through(WHEEL, RIND, [stay(air_c, 0.985 * saturation_pressure_pa(air_c))], 10.0)

    assert climate.film_g_m2.max() == 0
    assert (np.diff(climate.lost_g) < 0).all()


def test_film_shields_the_rind_while_it_lasts() -> None:
    climate = sweating()

    wet = np.minimum(climate.face_film_g_m2, climate.side_film_g_m2) > 0
    both = wet[1:] & wet[:-1]

    assert both.sum() > 60
    # What is left is the rounding of a running sum.
    assert np.abs(np.diff(climate.lost_g)[both]).max() < 1e-9


def test_evaporation_keeps_the_surface_colder_than_the_air() -> None:
    air_c = np.full(2_000, 12.0)
    vapour = vapour_pressure_pa(air_c, np.full_like(air_c, 85.0))
    dry = live_through(WHEEL, RIND, [stay(air_c, vapour, 1e-12)], 12.0)
    moist = live_through(WHEEL, RIND, [stay(air_c, vapour, 1e-8)], 12.0)

    # Without moisture there is nothing to cool it; 1e-3 K for a coefficient that is not zero.
    assert dry.temperatures.surface_c[-1] == pytest.approx(12.0, abs=1e-3)
    assert moist.temperatures.surface_c[-1] < 11.8


def test_gap_in_the_air_is_bridged_and_marked() -> None:
    air_c = np.full(120, 10.0)
    vapour = vapour_pressure_pa(air_c, np.full_like(air_c, 85.0))
    air_c[50:60] = np.nan

    climate = live_through(WHEEL, RIND, [stay(air_c, vapour)], 10.0)

    assert np.isfinite(climate.lost_g).all()
    assert climate.temperatures.estimated[50:60].all()
    assert not climate.temperatures.estimated[:50].any()


def test_each_space_has_its_own_coefficient() -> None:
    air_c = np.full(145, 10.0)
    vapour = vapour_pressure_pa(air_c, np.full_like(air_c, 85.0))
    first = stay(air_c, vapour)
    later_us = first.times_us[-1]
    second = Stay(
        "fridge",
        later_us,
        first.times_us + later_us,
        air_c,
        vapour,
        first.heat,
        first.moisture_kg_m2_s_pa,
    )
    stays = with_moisture([first, second], {"cave": 4e-9, "fridge": 1e-9})

    lost = live_through(WHEEL, RIND, stays, 10.0).lost_g

    # A quarter of the coefficient, a little more than a quarter of the loss: less cooling.
    assert (lost[-1] - lost[145]) / lost[144] == pytest.approx(0.27, abs=0.03)


def test_stay_without_any_air_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="'cave'"):
        live_through(WHEEL, RIND, [stay(np.full(5, np.nan), np.full(5, 900.0))], 10.0)


def test_wheel_that_was_nowhere_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="no stay"):
        live_through(WHEEL, RIND, [], 10.0)


def test_single_reading_is_a_history() -> None:
    climate = live_through(WHEEL, RIND, [stay(np.array([10.0]), np.array([1_100.0]))], 10.0)

    assert climate.lost_g.tolist() == [0]


@pytest.mark.parametrize("activity", [0.0, 1.01, -1.0])
def test_water_activity_that_cannot_be_is_refused(activity: float) -> None:
    air_c = np.full(5, 10.0)
    with pytest.raises(OutOfRangeError, match="water activity"):
        live_through(WHEEL, Rind(activity), [stay(air_c, 100 * air_c)], 10.0)
