"""The chart of a space with what its air tells: dew point, openings, and what is ahead."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from dashboards.charts import Chart, in_unit
from dashboards.drawings.air import Band, Panel, Point, Spread, Trace
from dashboards.words import Words
from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.behaving.outlook import Outlook
from service.clock import HOUR_US, US_PER_S
from service.science.air import dew_point_c
from service.science.openings import Opening
from service.science.signals import FloatArray, IntArray
from service.science.thinning import thinned, usual_gap_us

AHEAD_US: Final = 12 * HOUR_US
LEAST_AHEAD_US: Final = 3 * HOUR_US
"""How far ahead a chart of one day reaches, at most and least, when something is foretold.
[µs] Our choice."""
_MOST_OPENINGS: Final = 60
"""More than these would hide the line; the table tells of them all."""
_LOWEST_PCT: Final = 1.0
_STEPS: Final = 25
_SOONEST_S: Final = 1_200.0
_FARTHEST: Final = 4.0
"""So many times the way to its limit is shown of what is ahead at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What was worked out of the air that a chart shows.

    Attributes:
        history: That air.
        openings: Openings of the door in it.
        outlooks: What is ahead; none on a chart that is too long for it.
    """

    history: AirHistory
    openings: Sequence[Opening] = ()
    outlooks: Sequence[Outlook] = ()


def with_found(chart: Chart, found: Found, words: Words, points: int) -> Chart:
    """The chart with dew point, openings and what is ahead."""
    to_us = chart.to_us + _ahead_us(found.outlooks)
    panels = []
    for plain in chart.panels:
        quantity = Quantity(plain.tone)
        panel = replace(plain, bands=_longer(plain.bands, chart.to_us, to_us))
        if quantity is Quantity.TEMPERATURE:
            panel = _with_dew_point(panel, found.history, words, points)
            panel = _with_openings(panel, found, words)
        seen = next((each for each in found.outlooks if each.quantity is quantity), None)
        if seen is not None:
            panel = _with_outlook(panel, seen, chart.to_us, to_us, words)
        panels.append(panel)
    return replace(chart, to_us=to_us, panels=tuple(panels))


def _ahead_us(outlooks: Sequence[Outlook]) -> int:
    """How far ahead the chart reaches: a little beyond the late end of what is foretold."""
    if not outlooks:
        return 0
    late_s = max(seen.forecast.high_s for seen in outlooks)
    return min(max(round(1.25 * late_s * US_PER_S), LEAST_AHEAD_US), AHEAD_US)


def dew_points(history: AirHistory) -> FloatArray:
    """The dew point at each reading; NaN where it is not known. [°C]"""
    damp = np.where(history.humidity_pct < _LOWEST_PCT, np.nan, history.humidity_pct)
    return dew_point_c(history.temperature_c, np.clip(damp, _LOWEST_PCT, 100.0))


def _longer(bands: tuple[Band, ...], now_us: int, to_us: int) -> tuple[Band, ...]:
    """What is asked now is taken to be asked in the next hours too."""
    return tuple(replace(band, to_us=to_us) if band.to_us >= now_us else band for band in bands)


def _with_dew_point(panel: Panel, history: AirHistory, words: Words, points: int) -> Panel:
    times_us, (values,) = thinned(
        history.times_us, [dew_points(history)], points, usual_gap_us(history.times_us)
    )
    known = values[~np.isnan(values)]
    if not known.size:
        return panel
    line = Trace(
        tone="dew-point",
        words="dew point",
        times_us=times_us,
        values=in_unit(Quantity.TEMPERATURE, values, words),
        label="dew point",
    )
    told = f"{panel.words}; below it the dew point, last {words.temperature(float(known[-1]))}"
    return replace(panel, words=told, more=(*panel.more, line))


def _with_openings(panel: Panel, found: Found, words: Words) -> Panel:
    if not 0 < len(found.openings) <= _MOST_OPENINGS:
        return panel
    known = ~np.isnan(found.history.temperature_c)
    times_us, air = found.history.times_us[known], found.history.temperature_c[known]
    marks = tuple(
        Point(
            opening.peak_us,
            words.number(Quantity.TEMPERATURE, float(np.interp(opening.peak_us, times_us, air))),
            f"door opened {words.moment(opening.time_us)}",
        )
        for opening in found.openings
    )
    told = f"{panel.words}; door opened {len(marks)} times, estimate, marked with dots"
    return replace(panel, words=told, points=(*panel.points, *marks))


def _with_outlook(panel: Panel, seen: Outlook, now_us: int, to_us: int, words: Words) -> Panel:
    """What is expected as a dashed line, within a band that widens."""
    times_us = np.linspace(now_us, to_us, _STEPS).astype(np.int64)
    expected = _line(seen, seen.forecast.expected_s, times_us)
    ends = [_line(seen, end_s, times_us) for end_s in (seen.forecast.low_s, seen.forecast.high_s)]
    low, high = np.minimum(*ends), np.maximum(*ends)
    line = Trace(
        tone=panel.tone,
        words="expected, estimate",
        times_us=times_us,
        values=in_unit(seen.quantity, expected, words),
        label="expected",
        dashed=True,
    )
    band = Spread(
        times_us,
        in_unit(seen.quantity, low, words),
        in_unit(seen.quantity, high, words),
        "expected",
    )
    told = f"{panel.words}; dashed, what is expected, estimate"
    return replace(panel, words=told, more=(*panel.more, line), spread=band)


def _line(seen: Outlook, reached_s: float, times_us: IntArray) -> FloatArray:
    """Straight from the level now to the limit at its time, and on, but not too far."""
    part = (times_us - seen.at_us) / US_PER_S / max(reached_s, _SOONEST_S)
    return seen.level + (seen.limit - seen.level) * np.clip(part, 0.0, _FARTHEST)
