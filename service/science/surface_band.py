"""How far the surface of a wheel, its film and its wet hours may lie from what is told of them.

The balance of `surface` rests on inputs that nobody knows well: the coefficients of heat and
of moisture, the rind's water activity, and the humidity that a sensor tells. Each is put to
the ends of its own 90 % band while the others stay; what that moves is added in quadrature, for
each instant and on each side by itself, because a film cannot fall below none. The error of a
thermometer moves air, surface and dew point together and is added at the end.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.science.air import FloatArray, saturation_pressure_pa
from service.science.band import BAND_Z, Away, in_quadrature
from service.science.conduction import Exposure, respond
from service.science.film import WHEEL_WET, WetSpell, wet_spells
from service.science.signals import IntArray
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, Wheelclimate, live_through, with_moisture
from service.science.transfer import Coefficient

HUMIDITY_SD_PCT: Final = 1.155
"""Standard uncertainty of a sensor that nobody has checked against a salt. [%RH]

Our choice for a home sensor near saturation: a tolerance of ±2 %RH taken as evenly spread
(Sensirion, datasheets of SHT3x and SHT4x, 2020: SHT31 ±2 %RH, SHT45 up to ±1.5 %RH)."""
CREEP_PCT: Final = 2.85
"""End of the band of what such a sensor reads too damp because it crept. [%RH]

Anything from none to 3 %RH after days above 80 %RH (the same datasheets), 95 % of it. It makes
air seem damper and never drier, so it widens one side only. Our choice: it counts in all air,
for nobody knows what the sensor lived through before."""
CORRECTED_SD_PCT: Final = 0.5
"""What a salt test leaves unsaid of a sensor. [%RH] Our choice: a hysteresis of 0.8 %RH
(Sensirion, SHT3x, as quoted) taken as evenly spread."""
TEMPERATURE_SD_K: Final = 0.2
"""Standard uncertainty of the air's temperature at the wheel. [K] Our choice: ±0.1 to 0.3 K of
the sensor (Sensirion, SHT4x: ±0.1 K at best), and a shelf that is not where the sensor hangs."""
STILL_K: Final = 5e-3
"""The ends need not stand as still as the value itself. [K] Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Unsure:
    """What is not known of the inputs of a surface balance.

    Attributes:
        heat_spread: Relative standard error of the coefficient of heat. [1]
        moisture: Coefficient of moisture by the name of the space.
        activity_low: Lower end of the rind's water activity. [1]
        activity_high: Upper end. [1]
        humidity_pct: How far the humidity may lie below and above what is told, in each stay,
            one an instant. [%RH]
        temperature_sd_k: Standard uncertainty of the air's temperature. [K]
    """

    heat_spread: float
    moisture: Mapping[str, Coefficient]
    activity_low: float
    activity_high: float
    humidity_pct: Sequence[Away]
    temperature_sd_k: float = TEMPERATURE_SD_K


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceBand:
    """How far what is told of a surface may be off, one value an instant.

    Attributes:
        times_us: Instants. [µs UTC]
        surface_c: Of the mean of the surface. [K]
        mean_c: Of the mean of the whole wheel. [K]
        margin_k: Of the colder of faces and side less the dew point. [K]
        film_g_m2: Of the film where it is thickest. [g/m²] NaN where no water is modelled.
        best: Wet spells with every input at its best.
        moved: Wet spells with one input at its ends; a pair for each input.
    """

    times_us: IntArray
    surface_c: Away
    mean_c: Away
    margin_k: Away
    film_g_m2: Away
    best: tuple[WetSpell, ...]
    moved: tuple[tuple[tuple[WetSpell, ...], tuple[WetSpell, ...]], ...]


def heat_factors(spread: float) -> tuple[float, float]:
    """The ends of a coefficient of heat as shares of it, log-normal with that spread.

    Examples:
        >>> [round(end, 2) for end in heat_factors(0.3)]
        [0.65, 1.54]
    """
    reach = BAND_Z * math.log1p(spread)
    return math.exp(-reach), math.exp(reach)


def scaled(heat: Transfer, factor: float) -> Transfer:
    """Coefficients so many times as large."""
    return Transfer(
        heat.top_w_m2_k * factor, heat.side_w_m2_k * factor, heat.bottom_w_m2_k * factor
    )


def moved_vapour_pa(
    air_c: FloatArray, vapour_pa: FloatArray, by_pct: float | FloatArray
) -> FloatArray:
    """Vapour pressure where the humidity is so much higher, within 0 to 100 %. [Pa]"""
    saturated = saturation_pressure_pa(air_c)
    moved: FloatArray = np.clip(vapour_pa + 0.01 * by_pct * saturated, 0.0, saturated)
    return moved


def surface_band(
    cylinder: Cylinder, rind: Rind, stays: Sequence[Stay], start_c: float, unsure: Unsure
) -> SurfaceBand:
    """How far what `live_through` tells may be off, nine runs of it.

    Not in it: air at the wheel that is damper or drier than at the sensor, and a start at
    another temperature, which the wheel forgets within a day.

    Args:
        cylinder: The wheel.
        rind: Its surface.
        stays: Where it was, with the best coefficients; steps of ten minutes will do.
        start_c: Its temperature at the start. [°C]
        unsure: What is not known.

    Returns:
        The deviations, for a band that holds 9 times in 10.

    Raises:
        OutOfRangeError: As `live_through`.
    """

    def lived(there: Sequence[Stay], activity: float = rind.water_activity) -> Wheelclimate:
        return live_through(
            cylinder, replace(rind, water_activity=activity), there, start_c, STILL_K
        )

    best = lived(stays)
    pairs = [
        _both(lived(_heated(stays, factor)) for factor in heat_factors(unsure.heat_spread)),
        _both(
            lived(
                with_moisture(stays, {name: _end(each) for name, each in unsure.moisture.items()})
            )
            for _end in (_low, _high)
        ),
        _both(lived(stays, end) for end in (unsure.activity_low, unsure.activity_high)),
        _both(
            lived(_damper(stays, ends))
            for ends in (
                [-each.below for each in unsure.humidity_pct],
                [each.above for each in unsure.humidity_pct],
            )
        ),
    ]

    def away(values: str, *, warm: bool) -> Away:
        found = in_quadrature(
            _of(best, values), [(_of(one, values), _of(other, values)) for one, other in pairs]
        )
        return _with_thermometer(found, unsure.temperature_sd_k) if warm else found

    heard = np.concatenate([np.isfinite(stay.vapour_pa) for stay in stays])

    def spells(one: Wheelclimate) -> tuple[WetSpell, ...]:
        # What is told of sweat leaves out the times in which nobody saw the dew point.
        return tuple(wet_spells(one.times_us, np.where(heard, one.film_g_m2, np.nan), WHEEL_WET))

    return SurfaceBand(
        best.times_us,
        away("surface_c", warm=True),
        away("mean_c", warm=True),
        away("margin_k", warm=False),
        away("film_g_m2", warm=False),
        spells(best),
        tuple((spells(one), spells(other)) for one, other in pairs),
    )


def closed_band(
    cylinder: Cylinder,
    exposures: Sequence[Exposure],
    start_c: float,
    heat_spread: float,
    temperature_sd_k: float = TEMPERATURE_SD_K,
) -> SurfaceBand:
    """How far the temperatures of a wheel may be off that trades no water with its air.

    Args:
        cylinder: The wheel.
        exposures: Where it was.
        start_c: Its temperature at the start. [°C]
        heat_spread: Relative standard error of the coefficient of heat. [1]
        temperature_sd_k: Standard uncertainty of the air's temperature. [K]

    Returns:
        The deviations; those of margin and film are NaN, and no spell is told.

    Raises:
        OutOfRangeError: As `respond`.
    """
    best = respond(cylinder, exposures, start_c)
    one, other = (
        respond(
            cylinder,
            [replace(each, transfer=scaled(each.transfer, factor)) for each in exposures],
            start_c,
        )
        for factor in heat_factors(heat_spread)
    )
    surface, mean = (
        _with_thermometer(
            in_quadrature(getattr(best, name), [(getattr(one, name), getattr(other, name))]),
            temperature_sd_k,
        )
        for name in ("surface_c", "mean_c")
    )
    unknown = np.full(best.times_us.size, np.nan)
    return SurfaceBand(
        best.times_us, surface, mean, Away(unknown, unknown), Away(unknown, unknown), (), ()
    )


def _both(two: Iterable[Wheelclimate]) -> tuple[Wheelclimate, Wheelclimate]:
    one, other = two
    return one, other


def _low(coefficient: Coefficient) -> float:
    return coefficient.low


def _high(coefficient: Coefficient) -> float:
    return coefficient.high


def _heated(stays: Sequence[Stay], factor: float) -> list[Stay]:
    return [replace(stay, heat=scaled(stay.heat, factor)) for stay in stays]


def _damper(stays: Sequence[Stay], by_pct: Sequence[FloatArray]) -> list[Stay]:
    return [
        replace(stay, vapour_pa=moved_vapour_pa(stay.air_c, stay.vapour_pa, by))
        for stay, by in zip(stays, by_pct, strict=True)
    ]


def _of(lived: Wheelclimate, values: str) -> FloatArray:
    where = lived.temperatures if values in {"surface_c", "mean_c"} else lived
    found: FloatArray = getattr(where, values)
    return found


def _with_thermometer(away: Away, sd_k: float) -> Away:
    reach = BAND_Z * sd_k
    return Away(np.hypot(away.below, reach), np.hypot(away.above, reach))
