"""Evaporation, sweat and water activity against published values and a reference library."""

import numpy as np
import psychrolib
import pytest
from scipy.optimize import brentq  # type: ignore[import-untyped]  # scipy ships no types

from service.science.air import (
    ATMOSPHERE_PA,
    saturation_pressure_pa,
    vapour_pressure_pa,
)
from service.science.film import WHEEL_WET, wet_spells
from service.science.lid import LID, lid_run
from service.science.signals import US_PER_MINUTE
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, Wheelclimate, live_through
from service.science.transfer import (
    latent_heat_j_kg,
    lewis_kg_m2_s_pa,
    prior_coefficient,
    radiation_w_m2_k,
    water_activity_from_composition,
    water_activity_from_molality,
)

WHEEL = Cylinder(0.11, 0.03, 0.40, 1_080.0, 2_900.0)

# Latent heat of water, kJ/kg, computed from IAPWS-95 (Wagner and Pruß 2002) with iapws 1.5.5.
LATENT = [(0.0, 2500.9), (4.0, 2491.4), (10.0, 2477.2), (12.8, 2470.6), (20.0, 2453.5)]

# A surface of water activity 0.97 in air of 12 °C, 85 %RH, solved with CoolProp's properties and
# Lewis's relation, Le 0.886: convection and radiation W/(m² K), surface °C, flux g/(m² d). With
# 12 °C on both sides the reference drives the flux by vapour density, we by vapour pressure.
COUPLED = [
    (2.0, 0.0, 10.828, 82.0),
    (4.0, 0.0, 10.828, 164.0),
    (8.0, 0.0, 10.828, 328.0),
    (2.0, 5.0, 11.44, 138.0),
    (4.0, 5.0, 11.24, 239.0),
    (8.0, 5.0, 11.08, 419.0),
]


def settled(
    air_c: float, humidity_pct: float, activity: float, heat: float, moisture: float
) -> Wheelclimate:
    """Four weeks in still air: what lies at the end has settled."""
    times_us = np.arange(28 * 24) * 60 * US_PER_MINUTE
    air = np.full(times_us.size, air_c)
    vapour = vapour_pressure_pa(air, np.full_like(air, humidity_pct))
    stay = Stay("cave", 0, times_us, air, vapour, Transfer.uniform(heat), moisture)
    return live_through(WHEEL, Rind(activity), [stay], air_c)


@pytest.mark.parametrize(("temperature_c", "published_kj"), LATENT)
def test_latent_heat_meets_iapws_95(temperature_c: float, published_kj: float) -> None:
    # A straight line for a nearly straight curve: 0.02 %.
    assert latent_heat_j_kg(temperature_c) / 1e3 == pytest.approx(published_kj, rel=2e-4)


@pytest.mark.parametrize(("convection", "radiation", "surface_c", "flux_g_m2_d"), COUPLED)
def test_coupled_surface_meets_the_reference_values(
    convection: float, radiation: float, surface_c: float, flux_g_m2_d: float
) -> None:
    climate = settled(12, 85, 0.97, convection + radiation, lewis_kg_m2_s_pa(convection))

    # Density of vapour at two temperatures differs from pressure by the ratio of the kelvins,
    # 0.4 % of 1,200 Pa, which is 7 % of the 67 to 120 Pa that drive the flux; the next test
    # shows that nothing else is left.
    assert climate.temperatures.surface_c[-1] == pytest.approx(surface_c, abs=0.07)
    assert 24 * climate.flux_g_m2_h[-1] == pytest.approx(flux_g_m2_d, rel=0.07)


@pytest.mark.parametrize(("convection", "radiation", "surface_c", "flux_g_m2_d"), COUPLED)
def test_reference_values_follow_from_our_coefficients_and_vapour_density(
    convection: float, radiation: float, surface_c: float, flux_g_m2_d: float
) -> None:
    gas, kelvin = 461.52, 273.15
    moisture = lewis_kg_m2_s_pa(convection)
    vapour = vapour_pressure_pa(12.0, 85.0)

    def flux(t: float) -> float:
        density = 0.97 * saturation_pressure_pa(t) / (gas * (t + kelvin)) - vapour / (
            gas * (12 + kelvin)
        )
        return moisture * gas * (12 + kelvin) * density

    def heat(t: float) -> float:
        return (convection + radiation) * (12 - t) - latent_heat_j_kg(t) * flux(t)

    surface = brentq(heat, 5, 12)

    # The printed digits, and 0.5 % between our properties of air and CoolProp's.
    assert surface == pytest.approx(surface_c, abs=0.012)
    assert flux(surface) * 86_400e3 == pytest.approx(flux_g_m2_d, rel=0.01)


def test_lewis_relation_meets_the_value_from_coolprop() -> None:
    """k over h at 12 °C, 85 %RH from density, heat and diffusivities of CoolProp 8.0.0."""
    # The value is given with two digits.
    assert lewis_kg_m2_s_pa(1.0) == pytest.approx(6.6e-9, abs=0.05e-9)


@pytest.mark.parametrize(("temperature_c", "published"), [(12.0, 5.0), (4.0, 4.6)])
def test_radiation_meets_the_values_for_a_rind(temperature_c: float, published: float) -> None:
    """Stefan-Boltzmann at emissivity 0.95, given with one decimal."""
    assert radiation_w_m2_k(temperature_c) == pytest.approx(published, abs=0.05)


@pytest.mark.parametrize(
    ("air_c", "humidity_pct"), [(10.0, 80.0), (10.0, 95.0), (12.8, 85.0), (4.0, 85.0), (20.0, 50.0)]
)
def test_water_surface_without_radiation_is_the_wet_bulb(air_c: float, humidity_pct: float) -> None:
    """At Lewis number 1 a wet surface settles at the wet bulb of ASHRAE (psychrolib)."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    wet_bulb = psychrolib.GetTWetBulbFromRelHum(air_c, humidity_pct / 100, ATMOSPHERE_PA)

    climate = settled(air_c, humidity_pct, 1.0, 5.0, lewis_kg_m2_s_pa(5.0, lewis_number=1.0))

    # Enthalpy along adiabatic saturation and heat of moist air differ by 1 % of the depression.
    assert climate.temperatures.surface_c[-1] == pytest.approx(
        wet_bulb, abs=0.005 + 0.015 * (air_c - wet_bulb)
    )


def test_psychrometric_constant_is_that_of_fao_56() -> None:
    """Allen et al., FAO Irrigation and Drainage Paper 56, 1998, equation 8: 0.665e-3 p."""
    climate = settled(20, 50, 1.0, 5.0, lewis_kg_m2_s_pa(5.0, lewis_number=1.0))
    wet_c = float(climate.temperatures.surface_c[-1])

    constant = (saturation_pressure_pa(wet_c) - vapour_pressure_pa(20.0, 50.0)) / (20 - wet_c)

    # FAO takes a latent heat of 2.45 MJ/kg and dry air, 1 % together.
    assert constant == pytest.approx(0.665e-3 * ATMOSPHERE_PA, rel=0.02)


def test_prior_reaches_from_measured_camembert_to_the_textbook() -> None:
    """Picque et al. 2011 (doi 10.3168/jds.2010-3373): 15 % in 23 d, reckoned as 3e-9."""
    prior = prior_coefficient(3.0)

    assert prior.low < 3e-9 < prior.median
    assert prior.median < lewis_kg_m2_s_pa(3.0) < prior.high


def test_prior_holds_the_loss_that_picque_measured() -> None:
    """15 % in 23 d at 6 °C, 75 %RH, bare; 250 g and 11 x 3 cm are assumed, as is activity 0.97."""
    prior = prior_coefficient(3.0)
    heat = 3.0 + radiation_w_m2_k(6.0)
    losses = [
        float(settled(6, 75, 0.97, heat, k).lost_g[-1]) * 23 / 28 / 250
        for k in (prior.low, prior.high)
    ]

    assert losses[0] < 0.15 < losses[1]


def test_water_activity_of_salt_meets_marcos() -> None:
    """Marcos et al., J. Dairy Sci. 64 (1981) 622: 1 - 0.033 m; 3.5 % salt, 42 % moisture."""
    # The value is computed to three decimals.
    assert water_activity_from_molality(35 / 58.443 / 0.42) == pytest.approx(0.953, abs=5e-4)


# Water and ash: ASHRAE Refrigeration, chapter 9, table 3; usual water activity: Fox et al.,
# Fundamentals of Cheese Science. Both from memory.
USUAL = [
    ("Camembert", 0.518, 0.0368, 0.97, 0.98),
    ("Cheddar", 0.3675, 0.0393, 0.94, 0.96),
    ("Gouda", 0.4146, 0.0394, 0.94, 0.96),
    ("Parmesan", 0.2916, 0.0604, 0.91, 0.93),
    ("Swiss", 0.3721, 0.0353, 0.95, 0.97),
]


@pytest.mark.parametrize(("name", "water", "ash", "low", "high"), USUAL)
def test_default_water_activity_lies_near_the_usual_range(
    name: str, water: float, ash: float, low: float, high: float
) -> None:
    found = water_activity_from_composition(water, ash)

    # The formula knows salt alone and is meant for young wheels: 0.015 beyond the range.
    assert low - 0.015 <= found <= high + 0.015, name


def test_wheel_from_the_fridge_sweats_in_the_kitchen_until_it_passes_the_dew_point() -> None:
    """4 °C into 20 °C, 50 %RH: the dew point is 9.27 °C (psychrolib 9.272, CoolProp 9.274)."""
    times_us = np.arange(600) * US_PER_MINUTE
    air = np.full(600, 20.0)
    vapour = vapour_pressure_pa(air, np.full(600, 50.0))
    stay = Stay("kitchen", 0, times_us, air, vapour, Transfer.uniform(8.0), 1e-8)

    climate = live_through(WHEEL, Rind(0.97), [stay], 4.0)
    coldest_c = np.minimum(climate.temperatures.face_c, climate.temperatures.side_c)
    sweats = np.diff(climate.film_g_m2) > 0
    passes = int(np.flatnonzero(coldest_c > 9.27)[0])

    # Two minutes: faces and side pass apart.
    assert sweats[: passes - 2].all()
    assert not sweats[passes + 2 :].any()
    assert wet_spells(times_us, climate.film_g_m2, WHEEL_WET)


@pytest.mark.parametrize(("colder_k", "film_g_m2"), [(0.75, 0.0), (0.79, 1.0)])
def test_lid_sweats_from_three_quarters_of_a_kelvin_below_a_damp_box(
    colder_k: float, film_g_m2: float
) -> None:
    """10 °C, 95 %RH: dew point 9.237 °C (psychrolib), so a lid 0.77 K colder gathers water."""
    times_us = np.arange(300) * US_PER_MINUTE
    box_c = np.full(300, 10.0)
    both = LID.inside_w_m2_k + LID.outside_w_m2_k
    cave_c = box_c - colder_k * both / LID.outside_w_m2_k

    run = lid_run(times_us, box_c, vapour_pressure_pa(box_c, np.full(300, 95.0)), cave_c)

    # Five hours at 0.03 K below the dew point, less the warmth of the sweat itself: to half.
    assert run.film_g_m2[-1] == pytest.approx(film_g_m2, abs=0.5 * film_g_m2)
