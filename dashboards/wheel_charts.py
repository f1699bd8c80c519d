"""The charts and the table of a wheel's life: air, surface, wet hours, weight.

Everything but the air and the weighings is an estimate, and its words say so.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from dashboards.band_words import film_words, lasting_words, temperature_band
from dashboards.charts import POINTS, Boundary, Chart, edges, in_unit, low_mean_high, panels
from dashboards.drawings.air import Panel, Point, Spread, Trace
from dashboards.words import Words, plain, span
from service import judging
from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.clock import DAY_US, HOUR_US
from service.judging import Plans
from service.living.values import WheelClimate
from service.science.band import Band
from service.science.film import WetSpell
from service.science.thinning import thinned, usual_gap_us
from service.store.database import Session

_HOURLY_US = 8 * DAY_US
_MOST_SHADES = 200
"""Spells that are marked at most, the longest first. Our choice: more are a grey wall."""
_BEFORE_US = DAY_US
_EDGE_PARTS = 40
"""A fortieth of the time axis is wider than half a dot, on a phone too. Our choice."""
_TOLD_US = HOUR_US // 60
_GUESSED_US, _LONG_US = 12 * HOUR_US, 4 * DAY_US


@dataclass(frozen=True, slots=True)
class LifeRow:
    """An hour or a day of a wheel: low, mean and high in the service's units, and wet hours."""

    from_us: int
    temperature_c: tuple[float, float, float] | None
    surface_c: tuple[float, float, float] | None
    humidity_pct: tuple[float, float, float] | None
    wet_us: int | None
    wet_band_us: Band | None = None

    @property
    def wet(self) -> str:
        """How long it was wet, with the ends."""
        if self.wet_us is None:
            return "not known"
        told = lasting_words(self.wet_us, self.wet_band_us)
        if self.wet_us:
            return told
        # What is surely dry has no ends to tell.
        surely = self.wet_band_us is None or self.wet_band_us.high < _TOLD_US
        return "no" if surely else "no" + told.removeprefix(span(0))


def climate_chart(
    session: Session, plans: Plans, climate: WheelClimate, words: Words, points: int = POINTS
) -> Chart | None:
    """The air that a wheel has lived in with its surface; None before its first stage."""
    spans = judging.stage_spans(session, plans, climate.wheel_id)
    if not spans:
        return None
    from_us = spans[0].from_us
    lived = climate.lived
    if lived is not None:
        # Weeks of which nothing is known would only press the rest together.
        from_us = max(from_us, int(lived.times_us[0]) - _BEFORE_US)
    to_us = max(from_us + HOUR_US, climate.now_us)
    bands = {
        quantity: [
            (max(each.from_us, from_us), to_us if each.to_us is None else each.to_us, asked)
            for each in spans
            if each.to_us is None or each.to_us > from_us
            for asked in (each.stage.target.of(quantity),)
        ]
        for quantity in Quantity
    }
    boundaries = tuple(
        Boundary(
            max(each.from_us, from_us),
            plain(each.stage.name),
            "begins" if each.from_us >= from_us else f"since {words.day(each.from_us)}",
        )
        for each in spans
        if each.to_us is None or each.to_us > from_us
    )
    drawn = panels(_air(climate), bands, words, points)
    drawn = tuple(_lived(panel, climate, words, points) for panel in drawn)
    return Chart(from_us, to_us, drawn, boundaries=boundaries)


def _air(climate: WheelClimate) -> AirHistory:
    lived = climate.lived
    if lived is None:
        nothing = np.empty(0)
        return AirHistory(np.empty(0, dtype=np.int64), nothing, nothing)
    return AirHistory(lived.times_us, lived.air_c, lived.humidity_pct)


def _lived(panel: Panel, climate: WheelClimate, words: Words, points: int) -> Panel:
    """A panel of the air with what the wheel made of it."""
    panel = replace(panel, shaded=_shades(climate, words))
    lived = climate.lived
    if lived is None or panel.tone != Quantity.TEMPERATURE:
        return panel
    first_us, last_us = int(lived.times_us[0]), int(lived.times_us[-1])
    # How warm it came is a guess; in a long life that is not worth the height of the panel.
    from_us = first_us + _GUESSED_US if last_us - first_us > _LONG_US else first_us
    shown = slice(int(np.searchsorted(lived.times_us, from_us)), None)
    times_us, (surface_c,) = thinned(
        lived.times_us[shown], [lived.surface_c[shown]], points, usual_gap_us(lived.times_us)
    )
    surface = in_unit(Quantity.TEMPERATURE, surface_c, words)
    told = f"{panel.words}; surface of the wheel last {words.temperature(float(surface_c[-1]))}"
    if climate.bands is not None:
        last = climate.bands.now(last_us, float(surface_c[-1]), None, None, None)
        told += temperature_band(last.surface_c, words)
    trace = Trace("surface", "surface, estimate", times_us, surface)
    return replace(panel, words=f"{told}, estimate", more=(trace,))


def _shades(climate: WheelClimate, words: Words) -> tuple[tuple[int, int, str], ...]:
    longest = sorted(climate.wet, key=lambda each: each.from_us - each.to_us)[:_MOST_SHADES]
    return tuple(
        (each.from_us, each.to_us, wet_words(each, words, climate))
        for each in sorted(longest, key=lambda each: each.from_us)
    )


def wet_words(spell: WetSpell, words: Words, climate: WheelClimate) -> str:
    """A wet spell in words."""
    lasted = span(spell.to_us - spell.from_us)
    band = climate.bands.spell_peak_g_m2(spell) if climate.bands is not None else None
    film = film_words(spell.peak_g_m2, band)
    return f"wet from {words.moment(spell.from_us)} for {lasted}, up to {film}"


def surface_reach(climate: WheelClimate, words: Words) -> str:
    """How far the line of the surface may commonly be off: " within ± 0.6 °C"; else nothing."""
    if climate.bands is None:
        return ""
    away = climate.bands.of.surface_c
    reach = float(np.median(np.maximum(away.below, away.above)))
    return f" within ± {words.amount(Quantity.TEMPERATURE, reach)}"


def weight_chart(climate: WheelClimate, words: Words) -> Chart | None:
    """The mass of a wheel with its band, its weighings and what is to come; None if unknown."""
    weight = climate.weight
    weighed = tuple(
        Point(each.time_us, each.grams, f"weighed {grams(each.grams)} {words.day(each.time_us)}")
        for each in climate.weighings
    )
    if weight is None and not weighed:
        return None
    nothing = np.empty(0)
    panel = Panel(
        words="Weight: weighings only",
        tone="weight",
        unit="g",
        times_us=np.empty(0, dtype=np.int64),
        values=nothing,
        points=weighed,
        least_span=10.0,
    )
    from_us = min((each.time_us for each in weighed), default=climate.now_us)
    to_us = climate.now_us
    if weight is not None:
        past, ahead = weight.past, weight.ahead
        parts = [past] if ahead is None else [past, ahead]
        times_us, low, high = (
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("times_us", "low", "high")
        )
        from_us = min(from_us, int(times_us[0]))
        to_us = max(to_us, int(times_us[-1]))
        more: tuple[Trace, ...] = ()
        if ahead is not None:
            more = (Trace("ahead", "to come, estimate", ahead.times_us, ahead.grams),)
        told = f"Weight, about {grams(float(past.grams[-1]))} now, estimate"
        panel = replace(
            panel,
            words=told,
            times_us=past.times_us,
            values=past.grams,
            spread=Spread(times_us, low, high),
            more=more,
        )
    if to_us - from_us < DAY_US:
        from_us = to_us - DAY_US
    # A dot on the very edge would be cut in half.
    edge_us = (to_us - from_us) // _EDGE_PARTS
    from_us, to_us = from_us - edge_us, to_us + edge_us
    return Chart(from_us, to_us, (panel,), boundaries=(Boundary(climate.now_us, "now", ""),))


def life_rows(climate: WheelClimate, words: Words, from_us: int, to_us: int) -> tuple[LifeRow, ...]:
    """A wheel's life hour by hour, or day by day when it is long; newest first."""
    lived = climate.lived
    if lived is None:
        return ()
    times = edges(words, from_us, to_us, daily=is_daily(from_us, to_us))
    places = np.searchsorted(lived.times_us, times)
    found = []
    for (start_us, end_us), (first, last) in zip(pairwise(times), pairwise(places), strict=True):
        if first == last:
            continue
        there = slice(first, last)
        modelled = bool(np.isfinite(lived.film_g_m2[there]).any())
        wet_us = sum(
            max(0, min(each.to_us, end_us) - max(each.from_us, start_us)) for each in climate.wet
        )
        band = None
        if modelled and climate.bands is not None:
            hours = climate.bands.wet_hours(wet_us / HOUR_US, start_us, end_us)
            most_us = float(end_us - start_us)
            band = Band(hours.low * HOUR_US, min(hours.high * HOUR_US, most_us))
        found.append(
            LifeRow(
                start_us,
                low_mean_high(lived.air_c[there]),
                low_mean_high(lived.surface_c[there]),
                low_mean_high(lived.humidity_pct[there]),
                wet_us if modelled else None,
                band,
            )
        )
    return tuple(reversed(found))


def is_daily(from_us: int, to_us: int) -> bool:
    """Whether a table of so long a time goes by days, not hours."""
    return to_us - from_us > _HOURLY_US


def grams(mass_g: float) -> str:
    r"""A mass with its unit, to the gram.

    Examples:
        >>> grams(1766.6)
        '1,767\xa0g'
    """
    return f"{mass_g:,.0f}\N{NO-BREAK SPACE}g"
