"""What a chart shows, before anybody draws it: the SVG and Plotly are made from the same.

Asks the store through `service.judging`, turns values into the household's unit, and thins
them so that a chart of any length stays small.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from dashboards.drawings.air import Band, Panel
from dashboards.time_axis import midnights
from dashboards.words import Words
from service import judging
from service.ageing.values import Quantity, Range
from service.ageing.verdict import AirHistory
from service.clock import DAY_US, HOUR_US
from service.judging import Plans
from service.science.thinning import thinned, usual_gap_us
from service.store import air
from service.store.database import Session

POINTS = 1_500
"""The most points of a line in Plotly."""
POINTS_OF_A_DRAWING = 480
"""The most points of a line that the server draws: more than a phone has pixels for."""

_LEAST_SPAN = {Quantity.TEMPERATURE: 3.0, Quantity.HUMIDITY: 8.0}
"""Least reach of a value axis. [K or %RH] Our choice: sensor noise shall look small."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, on one quantity: an alarm raised, or back to normal."""

    time_us: int
    quantity: Quantity
    value: float
    words: str
    below: bool
    back: bool = False


@dataclass(frozen=True, slots=True)
class Boundary:
    """Where a stage begins; or, with other `told`, what else a time is."""

    time_us: int
    words: str
    told: str = "begins"


@dataclass(frozen=True, slots=True)
class Chart:
    """Air over time, one panel a quantity, and what happened meanwhile.

    `window` is a time that is looked at above others, from and to. [µs UTC]
    """

    from_us: int
    to_us: int
    panels: tuple[Panel, ...]
    marks: tuple[Mark, ...] = ()
    boundaries: tuple[Boundary, ...] = ()
    window: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """The air of an hour or a day: low, mean and high in the service's units."""

    from_us: int
    temperature_c: tuple[float, float, float] | None
    humidity_pct: tuple[float, float, float] | None


def space_chart(
    session: Session,
    plans: Plans,
    space_id: int,
    words: Words,
    from_us: int,
    to_us: int,
    points: int = POINTS,
) -> Chart:
    """The air of a space with what its wheels asked of it."""
    history = air.space_history(session, space_id, from_us, to_us + 1)
    asked = judging.target_spans(session, plans, space_id, from_us, to_us)
    bands = {
        quantity: [(span.from_us, span.to_us, span.target.of(quantity).common) for span in asked]
        for quantity in Quantity
    }
    return Chart(from_us, to_us, panels(history, bands, words, points))


def panels(
    history: AirHistory,
    asked: dict[Quantity, list[tuple[int, int, Range | None]]],
    words: Words,
    points: int,
) -> tuple[Panel, ...]:
    """A panel for each quantity of the air, with the bands that were asked."""
    gap_us = usual_gap_us(history.times_us)
    found = []
    for quantity in (Quantity.HUMIDITY, Quantity.TEMPERATURE):
        # Each quantity is thinned alone, so that every line gets all its points.
        times, (values,) = thinned(history.times_us, [history.of(quantity)], points, gap_us)
        found.append(
            Panel(
                words=_told(quantity, values, asked[quantity], words),
                tone=quantity.value,
                unit=words.unit(quantity),
                times_us=times,
                values=in_unit(quantity, values, words),
                bands=tuple(_bands(quantity, asked[quantity], words)),
                least_span=words.step(quantity, _LEAST_SPAN[quantity]),
            )
        )
    return tuple(found)


def in_unit(
    quantity: Quantity, values: npt.NDArray[np.float64], words: Words
) -> npt.NDArray[np.float64]:
    """Values of the service in the household's unit."""
    scaled = quantity is Quantity.TEMPERATURE and words.fahrenheit
    return values * 9 / 5 + 32 if scaled else values


def _bands(
    quantity: Quantity, asked: Iterable[tuple[int, int, Range | None]], words: Words
) -> list[Band]:
    """Bands in the household's unit; neighbours that ask the same become one."""
    bands: list[Band] = []
    for from_us, to_us, wanted in asked:
        if wanted is None:
            continue
        low, high = words.number(quantity, wanted.low), words.number(quantity, wanted.high)
        before = bands[-1] if bands else None
        if before and (before.to_us, before.low, before.high) == (from_us, low, high):
            bands[-1] = replace(before, to_us=to_us)
        else:
            bands.append(Band(from_us, to_us, low, high))
    return bands


def _told(
    quantity: Quantity,
    values: npt.NDArray[np.float64],
    asked: list[tuple[int, int, Range | None]],
    words: Words,
) -> str:
    """The line in a sentence."""
    name = quantity.value.capitalize()
    known = values[~np.isnan(values)]
    if not known.size:
        return f"{name}: no readings"
    told = (
        f"{name} from {words.value(quantity, float(known.min()))}"
        f" to {words.value(quantity, float(known.max()))},"
        f" last {words.value(quantity, float(known[-1]))}"
    )
    wanted = asked[-1][2] if asked else None
    return f"{told}; target {words.range(quantity, wanted)}" if wanted else told


def rows(history: AirHistory, words: Words, from_us: int, to_us: int) -> tuple[Row, ...]:
    """The air hour by hour, or day by day when it is more than eight days; newest first."""
    daily = to_us - from_us > 8 * DAY_US
    times = edges(words, from_us, to_us, daily=daily)
    places = np.searchsorted(history.times_us, times)
    found = []
    for (start_us, _), (first, last) in zip(pairwise(times), pairwise(places), strict=True):
        temperature = low_mean_high(history.temperature_c[first:last])
        humidity = low_mean_high(history.humidity_pct[first:last])
        found.append(Row(start_us, temperature, humidity))
    return tuple(reversed(found))


def edges(words: Words, from_us: int, to_us: int, *, daily: bool) -> list[int]:
    """The times between which the rows of a table lie."""
    if not daily:
        first = from_us // HOUR_US * HOUR_US
        return [*range(first, to_us + HOUR_US, HOUR_US)]
    return midnights(from_us, to_us, words)


def low_mean_high(values: npt.NDArray[np.float64]) -> tuple[float, float, float] | None:
    """Lowest, mean and highest of what is known; None where nothing is."""
    known = values[~np.isnan(values)]
    if not known.size:
        return None
    return float(known.min()), float(known.mean()), float(known.max())
