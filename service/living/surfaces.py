"""The surface of a wheel through one run of its life, and as it is at its end."""

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from service.ageing.verdict import judging_rules
from service.clock import DAY_US, US_PER_S
from service.errors import OutOfRangeError
from service.judging import INTERVALS
from service.living.life import Life
from service.living.stays import Run, stays
from service.living.values import Face, Lived
from service.science.air import FloatArray, saturation_temperature_c
from service.science.conduction import Exposure, Temperatures, respond
from service.science.film import WHEEL_WET, wet_spells
from service.science.margin import MarginAhead, margin_ahead
from service.science.modes import modes_of
from service.science.signals import BoolArray, IntArray, median_interval_s
from service.science.surface import Rind, live_through, with_moisture
from service.science.thinning import usual_gap_us
from service.science.transfer import Coefficient, prior_coefficient

AHEAD_H: Final = np.arange(0.25, 12.01, 0.25)
"""Hours ahead for which the margin is foretold. [h]"""


def live(
    part: Run,
    dries: Mapping[str, Coefficient],
    life: Life,
    start_c: float,
) -> Lived:
    """One run of a wheel, with the coefficients that its weighings told, by space.

    A wheel that is wrapped, or whose air's humidity is not known, only warms and cools.
    """
    cylinder = life.cylinder(start_c)
    there = stays(part, cylinder, life.spaces)
    air_c = np.concatenate([each.air_c for each in part.phases])
    humidity = np.concatenate([each.humidity_pct for each in part.phases])
    dew_c = _dew_point_c(np.concatenate([each.vapour_pa for each in part.phases]))
    if part.open:
        # A space that it came to after the fit has only what is known of wheels in general.
        prior = prior_coefficient()
        there = with_moisture(
            there, {stay.space: dries.get(stay.space, prior).median for stay in there}
        )
        lived = live_through(cylinder, Rind(life.plan.water_activity.value), there, start_c)
        # Nobody saw the dew point in a silence, so nothing is told of sweat there.
        silent = _silent(lived.times_us, np.isfinite(dew_c))
        film, margin = (
            np.where(silent, np.nan, each) for each in (lived.film_g_m2, lived.margin_k)
        )
        return _lived(air_c, humidity, dew_c, lived.temperatures, film, margin)
    temperatures = respond(
        cylinder,
        [Exposure(stay.times_us, stay.air_c, stay.heat, stay.from_us) for stay in there],
        start_c,
    )
    unknown = np.full(air_c.size, np.nan)
    return _lived(air_c, humidity, dew_c, temperatures, unknown, unknown)


def face_now(lived: Lived, life: Life, part: Run, now_us: int) -> Face | None:
    """The surface as it is now; None when the newest reading is stale."""
    last_us = int(lived.times_us[-1])
    interval_s = median_interval_s(lived.times_us[-INTERVALS - 1 :])
    if now_us - last_us > judging_rules(interval_s).stale_after_s * US_PER_S:
        return None
    spells = wet_spells(lived.times_us, lived.film_g_m2, WHEEL_WET)
    film = float(lived.film_g_m2[-1])
    wet = bool(spells) and spells[-1].to_us >= last_us and film >= WHEEL_WET.film_g_m2
    modelled = not math.isnan(film)
    return Face(
        time_us=last_us,
        surface_c=float(lived.surface_c[-1]),
        dew_point_c=_or_none(lived.dew_point_c[-1]),
        margin_k=_or_none(lived.margin_k[-1]),
        film_g_m2=film if modelled else None,
        wet_since_us=spells[-1].from_us if wet else None,
        ahead=_ahead(lived, life, part) if modelled else None,
    )


def _ahead(lived: Lived, life: Life, part: Run) -> MarginAhead | None:
    cylinder = life.cylinder(float(lived.mean_c[-1]))
    here = stays(Run(part.phases[-1:], after_hole=False), cylinder, life.spaces)[0]
    recent = slice(int(np.searchsorted(lived.times_us, lived.times_us[-1] - DAY_US)), None)
    try:
        return margin_ahead(
            lived.times_us[recent],
            lived.air_c[recent],
            # The colder of faces and side, as the margin has it.
            (lived.margin_k + lived.dew_point_c)[recent],
            lived.dew_point_c[recent],
            modes_of(cylinder, here.heat).slowest_s,
            AHEAD_H,
        )
    except OutOfRangeError:
        return None


def _silent(times_us: IntArray, told: BoolArray) -> BoolArray:
    """Where a value is not told for longer than is usual; the ends count as told."""
    heard = times_us[told]
    after = np.searchsorted(heard, times_us)
    lasts_us = np.append(heard, times_us[-1])[after] - np.insert(heard, 0, times_us[0])[after]
    silent: BoolArray = ~told & (lasts_us > usual_gap_us(heard))
    return silent


def _dew_point_c(vapour_pa: FloatArray) -> FloatArray:
    """Dew point, NaN where the vapour is not known or there is none. [°C]"""
    return saturation_temperature_c(np.where(vapour_pa > 0, vapour_pa, np.nan))


def _lived(
    air_c: FloatArray,
    humidity_pct: FloatArray,
    dew_point_c: FloatArray,
    temperatures: Temperatures,
    film_g_m2: FloatArray,
    margin_k: FloatArray,
) -> Lived:
    return Lived(
        temperatures.times_us,
        air_c,
        humidity_pct,
        dew_point_c,
        temperatures.surface_c,
        temperatures.face_c,
        temperatures.mean_c,
        temperatures.core_c,
        film_g_m2,
        margin_k,
        temperatures.estimated,
    )


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
