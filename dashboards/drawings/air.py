"""What was measured or estimated, as lines over time within the band that was asked.

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
class Trace:
    """A further line in a panel: the class of its line, and what it shows.

    `label` stands at its end, so that it is told from the first line without colour.
    """

    tone: str
    words: str
    times_us: npt.NDArray[np.int64]
    values: npt.NDArray[np.float64]
    label: str = ""
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """The band within which an estimate lies; its tone is the name of its fill."""

    times_us: npt.NDArray[np.int64]
    low: npt.NDArray[np.float64]
    high: npt.NDArray[np.float64]
    tone: str = "band"


@dataclass(frozen=True, slots=True)
class Point:
    """Something measured once, with its words."""

    time_us: int
    value: float
    words: str


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
        more: Further lines, drawn over the first.
        spread: The band of an estimate.
        points: What was measured once.
        shaded: Times that are marked, such as wet ones; from, to and words. [µs UTC]
    """

    words: str
    tone: str
    unit: str
    times_us: npt.NDArray[np.int64]
    values: npt.NDArray[np.float64]
    bands: tuple[Band, ...] = ()
    least_span: float = 4.0
    more: tuple[Trace, ...] = ()
    spread: Spread | None = None
    points: tuple[Point, ...] = ()
    shaded: tuple[tuple[int, int, str], ...] = ()


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
    window: tuple[int, int] | None = None,
) -> Markup:
    """One quantity as a drawing with its axes, numbers and unit."""
    low, high = value_axis(panel)
    lines: tuple[Panel | Trace, ...] = (panel, *panel.more)
    foot = height - _FOOT

    def x_at(time_us: float) -> float:
        part = (time_us - from_us) / max(1, to_us - from_us)
        return _LEFT + min(1.0, max(0.0, part)) * (_RIGHT - _LEFT)

    def y_at(value: float) -> float:
        return foot - (value - low) / (high - low) * (foot - _TOP)

    parts = [
        element(
            "rect",
            x=x_at(start_us),
            y=_TOP,
            width=max(1.0, x_at(end_us) - x_at(start_us)),
            height=foot - _TOP,
            class_="window",
        )
        for start_us, end_us in ([window] if window else [])
    ]
    parts += [
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
    parts += [
        element(
            "rect",
            element("title", words),
            x=x_at(start_us),
            y=_TOP,
            width=max(1.0, x_at(end_us) - x_at(start_us)),
            height=foot - _TOP,
            class_="wet",
        )
        for start_us, end_us, words in panel.shaded
    ]
    if panel.spread is not None:
        parts.append(_spread(panel.spread, x_at, y_at))
    parts += _value_labels(low, high, y_at)
    parts += [
        element("path", d=f"M{x_at(at):.1f} {_TOP:.0f}V{foot:.1f}", class_="boundary")
        for at in boundaries
        if from_us < at < to_us
    ]
    parts += _time_labels(ticks, x_at, foot)
    parts += [
        element("path", d=path(run), class_=_line_class(trace))
        for trace in lines
        for run in _runs(trace, x_at, y_at)
    ]
    parts += [_label(trace, x_at, y_at) for trace in panel.more if trace.label]
    parts += [
        element(
            "circle",
            element("title", point.words),
            cx=x_at(point.time_us),
            cy=y_at(point.value),
            r=3.2,
            class_="weighed",
        )
        for point in panel.points
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
    drawn = [panel.values, *(trace.values for trace in panel.more)]
    if panel.spread is not None:
        drawn += [panel.spread.low, panel.spread.high]
    known = [values[~np.isnan(values)] for values in drawn]
    ends = [float(end) for values in known if values.size for end in (values.min(), values.max())]
    ends += [point.value for point in panel.points]
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
    steps = (0.1, 0.2, 0.5, 1, 2, 3, 5, 10, 20, 30, 50, 100, 200, 300, 500, 1_000, 2_000, 5_000)
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


def _spread(
    spread: Spread, x_at: Callable[[float], float], y_at: Callable[[float], float]
) -> Markup:
    """The band of an estimate as an area."""
    there = zip(spread.times_us.tolist(), spread.high.tolist(), strict=True)
    back = zip(spread.times_us[::-1].tolist(), spread.low[::-1].tolist(), strict=True)
    around = [(x_at(time_us), y_at(value)) for time_us, value in (*there, *back)]
    return element("path", d=f"{path(around)}Z", class_=f"spread {spread.tone}")


def _line_class(trace: Panel | Trace) -> str:
    dashed = isinstance(trace, Trace) and trace.dashed
    return f"line {trace.tone}{' dashed' if dashed else ''}"


def _label(trace: Trace, x_at: Callable[[float], float], y_at: Callable[[float], float]) -> Markup:
    """The name of a line under its end, clear of how far it swings there."""
    place = label_place(trace)
    if place is None:
        return Markup("")
    time_us, value = place
    return element(
        "text",
        trace.label,
        x=x_at(time_us),
        y=y_at(value) + _TEXT_PX + 2,
        class_="axis",
        text_anchor="end",
    )


def label_place(trace: Trace) -> tuple[int, float] | None:
    """Where the name of a line hangs: its last time, and its lowest value shortly before."""
    known = np.flatnonzero(~np.isnan(trace.values))
    if not known.size:
        return None
    late = trace.values[known[-max(1, known.size // 4) :]]
    return int(trace.times_us[known[-1]]), float(late.min())


def _runs(
    panel: Panel | Trace, x_at: Callable[[float], float], y_at: Callable[[float], float]
) -> list[list[tuple[float, float]]]:
    """The line's points, broken wherever a value is missing."""
    runs: list[list[tuple[float, float]]] = [[]]
    for time_us, value in zip(panel.times_us.tolist(), panel.values.tolist(), strict=True):
        if value != value:  # noqa: PLR0124 - the one value unlike itself is NaN
            runs.append([])
        else:
            runs[-1].append((x_at(time_us), y_at(value)))
    return [run for run in runs if run]
