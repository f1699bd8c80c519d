"""The lid of a ripening box: colder than the box's air whenever the cave cools, so it sweats.

The lid lies between two airs and takes a temperature between theirs, nearer to the one that
reaches it better. Where that is below the dew point of the box's air, water gathers beneath
it, and from a certain load on it drips upon the wheels. The film's latent heat warms the lid.
"""

import math
from dataclasses import dataclass

import numpy as np

from service.errors import OutOfRangeError
from service.science.air import FloatArray, saturation_pressure_pa
from service.science.film import LID_HOLDS_G_M2
from service.science.signals import US_PER_S, IntArray
from service.science.transfer import latent_heat_j_kg, lewis_kg_m2_s_pa, linear_saturation

_G_PER_KG = 1_000.0
_RIND_TO_LID = 4.2
"""Radiation between wheels and lid. [W/(m² K)] Two surfaces of emissivity 0.92 at 10 °C."""
_STILL = 2.5
"""Convection beneath a lid. [W/(m² K)] Churchill and Chu's plates give 1.3 to 3.6."""


@dataclass(frozen=True, slots=True)
class Lid:
    """A lid and what reaches it. All values are our choice, for a thin lid of plastic.

    Attributes:
        inside_w_m2_k: From the box (its air and what is in it) to the lid. [W/(m² K)]
        outside_w_m2_k: From the cave to the lid, a slow fan and radiation. [W/(m² K)]
            6 in still air, 25 right under a fan.
        moisture_kg_m2_s_pa: Water from box air to a wet lid: Lewis's relation, which holds
            for clean plastic. [kg/(m² s Pa)]
        heat_j_m2_k: Heat capacity. [J/(m² K)] About 1 kg/m² of polypropylene.
        holds_g_m2: Water that hangs before more drips. [g/m²]
    """

    inside_w_m2_k: float = _STILL + _RIND_TO_LID
    outside_w_m2_k: float = 12.5
    moisture_kg_m2_s_pa: float = lewis_kg_m2_s_pa(_STILL)
    heat_j_m2_k: float = 1_700.0
    holds_g_m2: float = LID_HOLDS_G_M2


LID = Lid()
"""The lid that we take for an unknown one: two parts cave and one part box."""
LID_NEAR_BOX = Lid(outside_w_m2_k=6.5)
"""The warm end of the band: still air above the lid."""
LID_NEAR_CAVE = Lid(outside_w_m2_k=25.0)
"""The cold end of the band: a fan above the lid."""


@dataclass(frozen=True, slots=True)
class LidRun:
    """What a lid lived through, an estimate.

    Attributes:
        lid_c: Its temperature at each instant. [°C]
        film_g_m2: Water beneath it at each instant. [g/m²]
        dripped_g_m2: Water that had dripped by each instant. [g/m²]
    """

    lid_c: FloatArray
    film_g_m2: FloatArray
    dripped_g_m2: FloatArray


def lid_run(
    times_us: IntArray,
    box_c: FloatArray,
    box_vapour_pa: FloatArray,
    cave_c: FloatArray,
    lid: Lid = LID,
) -> LidRun:
    """Temperature and water of a lid through a history of the air on both its sides.

    Each step is solved exactly for air that stands still at the mean of its ends, with
    saturation pressure as a parabola about the temperature of a dry lid; so steps of several
    minutes hold. Water and heat are booked together: what condenses warms the lid.

    Args:
        times_us: Instants, rising. [µs UTC]
        box_c: Air in the box, no gaps. [°C]
        box_vapour_pa: Vapour pressure of that air, no gaps. [Pa]
        cave_c: Air of the cave at the same instants, no gaps. [°C]
        lid: The lid.

    Returns:
        The lid at the same instants; it starts dry.

    Raises:
        OutOfRangeError: The series are not of one length, or a value is not known.
    """
    airs = (box_c, box_vapour_pa, cave_c)
    if any(air.shape != times_us.shape or not np.isfinite(air).all() for air in airs):
        raise OutOfRangeError(
            "the lid needs box air, vapour and cave air at every instant; fill the gaps first"
        )
    if times_us.size == 0:
        return LidRun(np.empty(0), np.empty(0), np.empty(0))
    both = lid.inside_w_m2_k + lid.outside_w_m2_k
    dry_c = (lid.inside_w_m2_k * box_c + lid.outside_w_m2_k * cave_c) / both
    steps_s = np.diff(times_us) / US_PER_S
    middle_c = 0.5 * (dry_c[1:] + dry_c[:-1])
    saturated_pa = saturation_pressure_pa(middle_c)
    slope_pa_k, bend_pa_k2 = linear_saturation(middle_c, saturated_pa)
    vapour_pa = 0.5 * (box_vapour_pa[1:] + box_vapour_pa[:-1])
    temperature, film, dripped = float(dry_c[0]), 0.0, 0.0
    rows = [(temperature, film, dripped)]
    steps = zip(
        steps_s.tolist(),
        middle_c.tolist(),
        (vapour_pa - saturated_pa).tolist(),
        slope_pa_k.tolist(),
        (0.5 * bend_pa_k2).tolist(),
        latent_heat_j_kg(middle_c).tolist(),
        strict=True,
    )
    for step in steps:
        temperature, film, over = _lid_step(lid, both, temperature, film, step)
        dripped += over
        rows.append((temperature, film, dripped))
    table = np.array(rows)
    return LidRun(table[:, 0], table[:, 1], table[:, 2])


def _lid_step(
    lid: Lid,
    both: float,
    temperature_c: float,
    film_g: float,
    step: tuple[float, float, float, float, float, float],
) -> tuple[float, float, float]:
    """One step: the lid's temperature and film after it, and what dripped. [°C, g/m², g/m²]"""
    step_s, dry_c, excess_pa, slope, half_bend, latent_j = step
    away = temperature_c - dry_c
    fading = both * step_s / lid.heat_j_m2_k
    if step_s == 0 or (film_g <= 0 and excess_pa <= away * (slope + half_bend * away)):
        return dry_c + away * math.exp(-fading), film_g, 0.0
    # A wet lid is bound to the vapour as well as to both airs, which hastens it and holds it
    # nearer to the dew point; the mean over the step decides what condenses.
    moisture = lid.moisture_kg_m2_s_pa
    chord = slope + half_bend * away
    bound = both + latent_j * moisture * chord
    rest = latent_j * moisture * excess_pa / bound
    hastened = bound * step_s / lid.heat_j_m2_k
    mean = rest - (away - rest) * math.expm1(-hastened) / hastened
    gain_g = _G_PER_KG * moisture * step_s * (excess_pa - mean * (slope + half_bend * mean))
    gain_g = max(gain_g, -film_g)
    # The latent heat of just that water, so that heat and water agree.
    warmth = latent_j * gain_g / (_G_PER_KG * both * step_s)
    after = dry_c + warmth + (away - warmth) * math.exp(-fading)
    hangs = min(film_g + gain_g, lid.holds_g_m2)
    return after, hangs, film_g + gain_g - hangs
