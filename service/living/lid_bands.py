"""How far what is told of a lid may be off: it hangs between two airs, nobody knows how."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.science.air import FloatArray, saturation_temperature_c
from service.science.band import BAND_Z, Away, Band, in_quadrature
from service.science.lid import LID_NEAR_BOX, LID_NEAR_CAVE, LidRun, lid_run
from service.science.signals import IntArray
from service.science.surface_band import TEMPERATURE_SD_K, moved_vapour_pa


@dataclass(frozen=True, slots=True)
class LidBand:
    """The band of a lid as it is now.

    Attributes:
        lid_c: Of its temperature. [°C] Each is None where it is not known.
        margin_k: Of the lid less the dew point beneath it. [K]
        film_g_m2: Of the water beneath it. [g/m²]
    """

    lid_c: Band | None = None
    margin_k: Band | None = None
    film_g_m2: Band | None = None


UNKNOWN_LID: Final = LidBand()
"""Where no band was worked out."""


def lid_band(
    times_us: IntArray,
    airs: tuple[FloatArray, FloatArray, FloatArray],
    told: LidRun,
    humidity_pct: Away,
) -> LidBand:
    """The band of a lid at the last instant: how it lies between both airs, and how damp.

    Args:
        times_us: Instants. [µs UTC]
        airs: Air in the box [°C], its vapour pressure [Pa], air of the cave [°C].
        told: The lid as it is told.
        humidity_pct: How far the box's humidity may lie below and above what is told. [%RH]
    """
    box_c, vapour_pa, cave_c = airs
    ends_pa = [
        moved_vapour_pa(box_c, vapour_pa, by) for by in (-humidity_pct.below, humidity_pct.above)
    ]
    pairs = [
        tuple((lid_run(times_us, box_c, vapour_pa, cave_c, lid), vapour_pa) for lid in _LIDS),
        tuple((lid_run(times_us, box_c, end_pa, cave_c), end_pa) for end_pa in ends_pa),
    ]

    def band(reckon: Callable[[LidRun, FloatArray], FloatArray], least: float = 0.0) -> Band:
        best = reckon(told, vapour_pa)[-1:]
        away = in_quadrature(
            best, [(reckon(*one)[-1:], reckon(*other)[-1:]) for one, other in pairs]
        )
        below, above = (math.hypot(float(each[0]), least) for each in (away.below, away.above))
        return Band(float(best[0]) - below, float(best[0]) + above)

    film = band(lambda run, _: run.film_g_m2)
    return LidBand(
        lid_c=band(lambda run, _: run.lid_c, BAND_Z * TEMPERATURE_SD_K),
        # Two thermometers stand on its two sides, so their errors do not cancel.
        margin_k=band(
            lambda run, pressure_pa: run.lid_c - _dew_point_c(pressure_pa),
            BAND_Z * TEMPERATURE_SD_K,
        ),
        film_g_m2=Band(max(0.0, film.low), film.high),
    )


_LIDS: Final = (LID_NEAR_BOX, LID_NEAR_CAVE)


def _dew_point_c(vapour_pa: FloatArray) -> FloatArray:
    return saturation_temperature_c(np.maximum(vapour_pa, 1.0))
