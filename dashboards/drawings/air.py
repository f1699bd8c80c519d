"""The air of a space or of a wheel as lines over time, within the band that was asked.

Values come in the household's unit. A gap stays open: where nobody measured, nothing is drawn.
"""

# ruff: noqa: RUF001 - a minus sign for the reader

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from dashboards.drawings.svg import element, path, text_width

WIDTH = 358.0
_LEFT, _RIGHT, _TOP, _FOOT = 36.0, 352.0, 8.0, 20.0
_TEXT_PX = 11.0


@dataclass(frozen=True, slots=True)
class Band:
    """What was asked of one quantity for a time, in the household's unit."""

    from_us: int
    to_us: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity over time.

    Attributes:
        words: What is drawn, in a sentence, for those who do not see it.
        tone: The class of its line.
        unit: The unit of its values.
        times_us: Rising. [µs UTC]
        values: NaN where the line is to break.
        bands: What was asked, in time order.
        least_span: The least reach of the value axis, in the unit, so that noise looks small.
    """

    words: str
    tone: str
    unit: str
    times_us: npt.NDArray[np.int64]
    values: npt.NDArray[np.float64]
    bands: tuple[Band, ...] = ()
    least_span: float = 4.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A time on the time axis with its words; `major` ones get a line."""

    time_us: int
    words: str


def panel_drawing(
    panel: Panel,
    from_us: int,
    to_us: int,
    ticks: Sequence[Tick],
    height: float = 92.0,
    boundaries: Sequence[int] = (),
) -> Markup:
    """One quantity as a drawing with its axes, numbers and unit."""
    low, high = value_axis(panel)
    foot = height - _FOOT

    def x_at(time_us: float) -> float:
        part = (time_us - from_us) / max(1, to_us - from_us)
        return _LEFT + min(1.0, max(0.0, part)) * (_RIGHT - _LEFT)

    def y_at(value: float) -> float:
        return foot - (value - low) / (high - low) * (foot - _TOP)

    parts = [
        element(
            "rect",
            x=x_at(band.from_us),
            y=y_at(min(band.high, high)),
            width=max(0.5, x_at(band.to_us) - x_at(band.from_us)),
            height=max(1.0, y_at(max(band.low, low)) - y_at(min(band.high, high))),
            class_="band",
        )
        for band in panel.bands
        if band.high > low and band.low < high
    ]
    parts += _value_labels(low, high, y_at)
    parts += [
        element("path", d=f"M{x_at(at):.1f} {_TOP:.0f}V{foot:.1f}", class_="boundary")
        for at in boundaries
        if from_us < at < to_us
    ]
    parts += _time_labels(ticks, x_at, foot)
    parts += [
        element("path", d=path(run), class_=f"line {panel.tone}")
        for run in _runs(panel, x_at, y_at)
    ]
    return element(
        "svg",
        *parts,
        class_="air",
        viewBox=f"0 0 {WIDTH:.0f} {height:.0f}",
        role="img",
        aria_label=panel.words,
    )


def value_axis(panel: Panel) -> tuple[float, float]:
    """The reach of the value axis: all values and the band that is asked last."""
    ends = [float(v) for v in panel.values[~np.isnan(panel.values)]]
    if panel.bands:
        ends += [panel.bands[-1].low, panel.bands[-1].high]
    if not ends:
        return 0.0, 1.0
    low, high = min(ends), max(ends)
    spare = max(panel.least_span - (high - low), (high - low) * 0.25)
    return low - spare / 2, high + spare / 2


def nice_values(low: float, high: float, most: int = 4) -> list[float]:
    """Round values between two ends, for an axis.

    Examples:
        >>> nice_values(83.2, 93.1)
        [84.0, 87.0, 90.0, 93.0]
    """
    steps = (0.1, 0.2, 0.5, 1, 2, 3, 5, 10, 20, 30, 50, 100)
    step = next((s for s in steps if (high - low) / s <= most), high - low)
    first = np.ceil(low / step - 1e-9) * step
    return [round(float(v), 6) for v in np.arange(first, high + step * 1e-6, step)]


def _value_labels(low: float, high: float, y_at: Callable[[float], float]) -> list[Markup]:
    parts = []
    for value in nice_values(low, high):
        y = y_at(value)
        words = f"{value:g}".replace("-", "−")
        parts.append(element("path", d=f"M{_LEFT:.0f} {y:.1f}H{_RIGHT:.0f}", class_="grid"))
        parts.append(element("text", words, x=_LEFT - 5, y=y + 4, class_="axis", text_anchor="end"))
    return parts


def _time_labels(
    ticks: Sequence[Tick], x_at: Callable[[float], float], foot: float
) -> list[Markup]:
    """The words of the time axis; one that would touch its neighbour is left out."""
    parts = []
    free_from = 0.0
    for tick in ticks:
        x, half = x_at(tick.time_us), text_width(tick.words, _TEXT_PX) / 2
        middle = min(max(x, half), WIDTH - half)
        parts.append(element("path", d=f"M{x:.1f} {foot:.1f}v4", class_="tick"))
        if middle - half >= free_from:
            parts.append(
                element(
                    "text", tick.words, x=middle, y=foot + 16, class_="axis", text_anchor="middle"
                )
            )
            free_from = middle + half + 6
    return parts


def _runs(
    panel: Panel, x_at: Callable[[float], float], y_at: Callable[[float], float]
) -> list[list[tuple[float, float]]]:
    """The line's points, broken wherever a value is missing."""
    runs: list[list[tuple[float, float]]] = [[]]
    for time_us, value in zip(panel.times_us.tolist(), panel.values.tolist(), strict=True):
        if value != value:  # noqa: PLR0124 - the one value unlike itself is NaN
            runs.append([])
        else:
            runs[-1].append((x_at(time_us), y_at(value)))
    return [run for run in runs if run]
