"""How far what is told of a wheel and of a lid may be off: its surface, film and wet hours.

The ends are worked out over means of ten minutes, which says the same to a hundredth of a
kelvin and costs a tenth. What is told is never the ends' own middle, but the value itself with
the distances to its ends; so a band always holds its value.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.clock import HOUR_US, US_PER_S
from service.living.life import Life
from service.living.sensing import humidity_away_pct
from service.living.stays import Run, stays, transfer_spread
from service.science.air import FloatArray
from service.science.band import Away, Band, around
from service.science.conduction import Exposure
from service.science.film import WHEEL_HOLDS_G_M2, WetSpell
from service.science.signals import IntArray
from service.science.surface import Rind, with_moisture
from service.science.surface_band import (
    SurfaceBand,
    Unsure,
    closed_band,
    surface_band,
)
from service.science.transfer import Coefficient, prior_coefficient
from service.store.database import Session

_FAR_FUTURE_US: Final = 2**62
EVERY_US: Final = 600 * US_PER_S
"""Our choice: a third of a usual cooling cycle, and less than a wheel feels."""


@dataclass(frozen=True, slots=True)
class FaceBand:
    """The band of a surface as it is now.

    Attributes:
        surface_c: Of the mean of the surface. [°C] Each is None where it is not known.
        margin_k: Of the colder of faces and side less the dew point. [K]
        film_g_m2: Of the water on it. [g/m²]
        wet_for_us: For how long it has been wet; None when it is not. [µs]
    """

    surface_c: Band | None = None
    margin_k: Band | None = None
    film_g_m2: Band | None = None
    wet_for_us: Band | None = None


UNKNOWN_FACE: Final = FaceBand()
"""Where no band was worked out."""


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """The bands of what a wheel lived through.

    Attributes:
        of: The distances to the ends.
    """

    of: SurfaceBand

    def column(self, name: str, times_us: IntArray, values: FloatArray) -> tuple[FloatArray, ...]:
        """The low and the high ends of values of that name at those times."""
        away: Away = getattr(self.of, name)
        below, above = (
            np.interp(times_us, self.of.times_us, each) for each in (away.below, away.above)
        )
        low, high = values - below, values + above
        if name == "film_g_m2":
            low, high = np.maximum(0.0, low), np.fmax(values, np.minimum(high, WHEEL_HOLDS_G_M2))
        return low, high

    def now(
        self,
        time_us: int,
        surface_c: float,
        margin_k: float | None,
        film_g_m2: float | None,
        wet_since_us: int | None,
    ) -> FaceBand:
        """The band of a surface at an instant."""
        wet_for = None
        if wet_since_us is not None:
            end_us = int(self.of.times_us[-1])
            wet_for = self._of_spells(
                time_us - wet_since_us, lambda spells: _lasted_us(spells, end_us)
            )
        return FaceBand(
            self._at("surface_c", time_us, surface_c),
            self._at("margin_k", time_us, margin_k),
            self._at("film_g_m2", time_us, film_g_m2),
            wet_for,
        )

    def wet_hours(self, told_h: float, since_us: int = 0, until_us: int = _FAR_FUTURE_US) -> Band:
        """The band of the wet hours from a time on, and up to another; within that time. [h]"""
        first_us, last_us = (int(self.of.times_us[place]) for place in (0, -1))
        most_h = max(0, min(last_us, until_us) - max(first_us, since_us)) / HOUR_US
        return self._of_spells(
            told_h, lambda spells: _hours(spells, since_us, until_us), most=most_h
        )

    def peak_g_m2(self, told: float) -> Band:
        """The band of the thickest film of all wet spells; no more than a wheel holds. [g/m²]"""
        return self._of_spells(
            told,
            lambda spells: max((each.peak_g_m2 for each in spells), default=0.0),
            most=WHEEL_HOLDS_G_M2,
        )

    def spell_peak_g_m2(self, spell: WetSpell) -> Band:
        """The band of the thickest film of one wet spell; no more than a wheel holds. [g/m²]"""
        inside = slice(*np.searchsorted(self.of.times_us, [spell.from_us, spell.to_us]).tolist())
        away = self.of.film_g_m2
        below, above = (
            float(np.nanmax(each[inside], initial=0.0)) for each in (away.below, away.above)
        )
        high = min(spell.peak_g_m2 + above, WHEEL_HOLDS_G_M2)
        return Band(max(0.0, spell.peak_g_m2 - below), max(spell.peak_g_m2, high))

    def _at(self, name: str, time_us: int, value: float | None) -> Band | None:
        if value is None:
            return None
        low, high = self.column(name, np.array([time_us]), np.array([value]))
        return None if math.isnan(low[0]) else Band(float(low[0]), float(high[0]))

    def _of_spells(
        self, told: float, reckon: Callable[[Sequence[WetSpell]], float], most: float = math.inf
    ) -> Band:
        others = [(reckon(one), reckon(other)) for one, other in self.of.moved]
        band = around(told, others, reckon(self.of.best))
        return Band(band.low, max(told, min(band.high, most)))


def bands_of(
    session: Session,
    life: Life,
    parts: Sequence[Run],
    dries: Sequence[Mapping[str, Coefficient]],
    starts_c: Sequence[float],
) -> Bands:
    """The bands of a life.

    Args:
        session: Only read from.
        life: The wheel's life.
        parts: Its runs; one at least.
        dries: What weighings told of each run, by space.
        starts_c: How warm the wheel began each. [°C]
    """
    found = [
        _of_run(session, life, part, dry, start_c)
        for part, dry, start_c in zip(parts, dries, starts_c, strict=True)
    ]
    return Bands(found[0] if len(found) == 1 else _joined(found))


def _of_run(
    session: Session, life: Life, part: Run, dries: Mapping[str, Coefficient], start_c: float
) -> SurfaceBand:
    cylinder = life.cylinder(start_c)
    there = stays(part, cylinder, life.spaces, EVERY_US)
    spread = transfer_spread(cylinder, life.spaces[part.phases[0].span.space_id])
    if not part.open:
        exposures = [Exposure(stay.times_us, stay.air_c, stay.heat, stay.from_us) for stay in there]
        return closed_band(cylinder, exposures, start_c, spread)
    prior = prior_coefficient()
    moisture = {stay.space: dries.get(stay.space, prior) for stay in there}
    activity = life.plan.water_activity
    unsure = Unsure(
        heat_spread=spread,
        moisture=moisture,
        activity_low=activity.low,
        activity_high=activity.high,
        humidity_pct=[
            humidity_away_pct(session, phase.span.space_id, stay.times_us, int(phase.times_us[-1]))
            for phase, stay in zip(part.phases, there, strict=True)
        ],
    )
    there = with_moisture(there, {name: each.median for name, each in moisture.items()})
    return surface_band(cylinder, Rind(activity.value), there, start_c, unsure)


def _joined(bands: Sequence[SurfaceBand]) -> SurfaceBand:
    def away(name: str) -> Away:
        both = [getattr(band, name) for band in bands]
        return Away(
            np.concatenate([each.below for each in both]),
            np.concatenate([each.above for each in both]),
        )

    open_ones = [band for band in bands if band.moved]
    pairs = zip(*(band.moved for band in open_ones), strict=True)
    return SurfaceBand(
        np.concatenate([band.times_us for band in bands]),
        away("surface_c"),
        away("mean_c"),
        away("margin_k"),
        away("film_g_m2"),
        tuple(spell for band in bands for spell in band.best),
        tuple(
            (
                tuple(spell for one, _ in pair for spell in one),
                tuple(spell for _, other in pair for spell in other),
            )
            for pair in pairs
        ),
    )


def _hours(spells: Sequence[WetSpell], since_us: int, until_us: int) -> float:
    wet_us = sum(max(0, min(each.to_us, until_us) - max(each.from_us, since_us)) for each in spells)
    return wet_us / HOUR_US


def _lasted_us(spells: Sequence[WetSpell], end_us: int) -> float:
    """How long the spell has lasted that goes on at the end. [µs]"""
    goes_on = bool(spells) and spells[-1].to_us >= end_us
    return float(end_us - spells[-1].from_us) if goes_on else 0.0
