"""Charts as Plotly reads them: plain dictionaries, so that Plotly's Python is never imported.

Times go out as milliseconds since 1970, UTC, on a linear axis with ticks of our own: Plotly
knows no zones, and on wall time the hour that comes twice in autumn would fold a line back on
itself. Colours go out by name (`role:air`); the page's script looks them up in the style sheet
for light and dark.
"""

from typing import Any

from dashboards.charts import Boundary, Chart, Mark
from dashboards.drawings.air import Panel, Trace, label_place, value_axis
from dashboards.time_axis import ticks
from dashboards.words import Words
from service.ageing.values import Quantity

_US_PER_MS = 1_000
_PANEL_PX, _MARGIN_PX = 170, 84
_BETWEEN = 0.16
"""Part of the height that stays free between two panels."""
_MOST_TICKS = 10
"""For a wide screen; the page's script leaves out what a narrow one has no room for."""
_LINE_PX = 1.4

Figure = dict[str, Any]


def figure(chart: Chart, words: Words) -> Figure:
    """The chart for Plotly: its data, layout and settings, and the zone of its times."""
    count = len(chart.panels)
    data: list[Figure] = []
    layout: Figure = {
        "height": _PANEL_PX * count + _MARGIN_PX,
        "margin": {"l": 46, "r": 12, "t": 24, "b": 34, "pad": 0},
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"color": "role:ink", "size": 12},
        "hoverlabel": {"bgcolor": "role:paper", "font": {"color": "role:ink"}},
        "xaxis": _time_axis(chart, words, count),
        "shapes": [],
        "annotations": [],
    }
    for number, panel in enumerate(chart.panels):
        suffix = str(number + 1) if number else ""
        top = 1 - number * (1 + _BETWEEN) / (count * (1 + _BETWEEN) - _BETWEEN)
        height = 1 / (count * (1 + _BETWEEN) - _BETWEEN)
        layout[f"yaxis{suffix}"] = _value_axis(panel, max(0.0, top - height), top)
        layout["shapes"] += _shaded(panel, suffix) + _bands(panel, suffix)
        layout["annotations"].append(_title(panel, top))
        data += _spread(panel, suffix)
        data.append(_line(panel, suffix, panel.unit))
        data += [_line(trace, suffix, f"{panel.unit}, {trace.words}") for trace in panel.more]
        for trace in panel.more:
            layout["annotations"] += _label(trace, suffix) if trace.label else []
        data += _points(panel, suffix)
        data += _marks(chart.marks, panel, words, suffix)
    data += _boundary_marks(chart, count)
    if chart.window is not None:
        layout["shapes"].insert(0, _window(*chart.window))
    layout["shapes"] += [
        _boundary_line(each, number) for each in chart.boundaries for number in range(count)
    ]
    layout["annotations"] += [_boundary_name(each) for each in _apart(chart)]
    return {
        "data": data,
        "layout": layout,
        "config": {"displayModeBar": False, "responsive": True, "doubleClick": "reset"},
        "zone": str(words.zone),
    }


def _ms(time_us: int) -> int:
    return time_us // _US_PER_MS


def _time_axis(chart: Chart, words: Words, count: int) -> Figure:
    marks = ticks(chart.from_us, chart.to_us, words, _MOST_TICKS)
    return {
        "type": "linear",
        "range": [_ms(chart.from_us), _ms(chart.to_us)],
        "tickmode": "array",
        "tickvals": [_ms(tick.time_us) for tick in marks],
        "ticktext": [tick.words for tick in marks],
        "anchor": f"y{count}" if count > 1 else "y",
        "gridcolor": "role:grid",
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": "role:line",
    }


def _value_axis(panel: Panel, bottom: float, top: float) -> Figure:
    return {
        "domain": [round(bottom, 4), round(top, 4)],
        "range": [round(end, 2) for end in value_axis(panel)],
        "nticks": 5,
        "gridcolor": "role:grid",
        "zeroline": False,
        "fixedrange": True,
    }


def _title(panel: Panel, top: float) -> Figure:
    """The quantity and its unit above the panel, where a phone has room for it."""
    return {
        "text": f"{panel.tone.capitalize()}, {panel.unit}",
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": round(top, 4),
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"color": "role:soft"},
    }


def _line(trace: Panel | Trace, suffix: str, unit: str) -> Figure:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": trace.tone,
        "x": [_ms(time_us) for time_us in trace.times_us.tolist()],
        "y": [None if v != v else round(v, 2) for v in trace.values.tolist()],  # noqa: PLR0124 - NaN
        "connectgaps": False,
        "line": {
            "color": f"role:{trace.tone}",
            "width": _LINE_PX,
            "dash": "dash" if isinstance(trace, Trace) and trace.dashed else "solid",
        },
        "yaxis": f"y{suffix}",
        "hovertemplate": f"%{{text}}<br>%{{y:.1f}} {unit}<extra></extra>",
    }


def _label(trace: Trace, suffix: str) -> list[Figure]:
    """The name of a line under its end."""
    place = label_place(trace)
    if place is None:
        return []
    return [
        {
            "text": trace.label,
            "xref": "x",
            "yref": f"y{suffix}",
            "x": _ms(place[0]),
            "y": round(place[1], 2),
            "xanchor": "right",
            "yanchor": "top",
            "showarrow": False,
            "font": {"color": "role:soft", "size": 11},
        }
    ]


def _spread(panel: Panel, suffix: str) -> list[Figure]:
    """The band of an estimate: its lower end, and its upper end filled down to it."""
    if panel.spread is None:
        return []
    edge = {
        "type": "scatter",
        "mode": "lines",
        "name": "band",
        "x": [_ms(time_us) for time_us in panel.spread.times_us.tolist()],
        "line": {"width": 0},
        "yaxis": f"y{suffix}",
        "hoverinfo": "skip",
    }
    low, high = (
        [round(value, 2) for value in end.tolist()] for end in (panel.spread.low, panel.spread.high)
    )
    return [
        edge | {"y": low},
        edge | {"y": high, "fill": "tonexty", "fillcolor": f"role:{panel.spread.tone}"},
    ]


def _points(panel: Panel, suffix: str) -> list[Figure]:
    if not panel.points:
        return []
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "measured",
            "x": [_ms(point.time_us) for point in panel.points],
            "y": [round(point.value, 2) for point in panel.points],
            "customdata": [point.words for point in panel.points],
            "marker": {"symbol": "circle", "size": 8, "color": f"role:{panel.tone}"},
            "yaxis": f"y{suffix}",
            "hovertemplate": "%{text}<br>%{customdata}<extra></extra>",
        }
    ]


def _shaded(panel: Panel, suffix: str) -> list[Figure]:
    """Marked times from the foot of a panel to its top."""
    return [
        {
            "type": "rect",
            "layer": "below",
            "xref": "x",
            "yref": f"y{suffix} domain",
            "x0": _ms(start_us),
            "x1": _ms(end_us),
            "y0": 0,
            "y1": 1,
            "fillcolor": "role:wet",
            # A short spell in a long life would else be thinner than a pixel.
            "line": {"width": 1, "color": "role:wet"},
        }
        for start_us, end_us, _ in panel.shaded
    ]


def _bands(panel: Panel, suffix: str) -> list[Figure]:
    return [
        {
            "type": "rect",
            "layer": "below",
            "xref": "x",
            "yref": f"y{suffix}",
            "x0": _ms(band.from_us),
            "x1": _ms(band.to_us),
            "y0": round(band.low, 2),
            "y1": round(band.high, 2),
            "fillcolor": "role:band",
            "line": {"width": 0},
        }
        for band in panel.bands
    ]


def _marks(marks: tuple[Mark, ...], panel: Panel, words: Words, suffix: str) -> list[Figure]:
    here = [mark for mark in marks if mark.quantity.value == panel.tone]
    if not here:
        return []
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "alarms",
            "x": [_ms(mark.time_us) for mark in here],
            "y": [round(words.number(Quantity(panel.tone), mark.value), 2) for mark in here],
            "customdata": [mark.words for mark in here],
            "marker": {
                "symbol": [_symbol(mark) for mark in here],
                "size": 11,
                "color": "role:alarm",
                "line": {"width": 1.5, "color": "role:alarm"},
            },
            "yaxis": f"y{suffix}",
            "hovertemplate": "%{text}<br>%{customdata}<extra></extra>",
        }
    ]


def _symbol(mark: Mark) -> str:
    if mark.back:
        return "circle-open"
    return "triangle-down" if mark.below else "triangle-up"


def _window(from_us: int, to_us: int) -> Figure:
    """A time that is looked at, over the whole height; its edge tells it without colour."""
    return {
        "type": "rect",
        "name": "window",
        "layer": "below",
        "xref": "x",
        "yref": "paper",
        "x0": _ms(from_us),
        "x1": _ms(to_us),
        "y0": 0,
        "y1": 1,
        "fillcolor": "role:window",
        "line": {"width": 1, "color": "role:soft"},
    }


def _boundary_line(boundary: Boundary, number: int) -> Figure:
    """Within one panel, so that it does not cross the title of the next."""
    return {
        "type": "line",
        "xref": "x",
        "yref": f"y{number + 1 if number else ''} domain",
        "x0": _ms(boundary.time_us),
        "x1": _ms(boundary.time_us),
        "y0": 0,
        "y1": 1,
        "line": {"color": "role:soft", "width": 1, "dash": "dot"},
    }


def _boundary_marks(chart: Chart, count: int) -> list[Figure]:
    """A mark to point at under each boundary, since not every name has room in the chart."""
    if not chart.boundaries:
        return []
    foot = round(value_axis(chart.panels[-1])[0], 2)
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "stages",
            "x": [_ms(each.time_us) for each in chart.boundaries],
            "y": [foot for _ in chart.boundaries],
            "customdata": [f"{each.words} {each.told}".strip() for each in chart.boundaries],
            "marker": {"symbol": "diamond", "size": 8, "color": "role:soft"},
            "cliponaxis": False,
            "yaxis": f"y{count}" if count > 1 else "y",
            "hovertemplate": "%{customdata}<br>%{text}<extra></extra>",
        }
    ]


def _apart(chart: Chart) -> list[Boundary]:
    """The boundaries whose names have room; a short stage between two long ones goes unnamed."""
    least_us = (chart.to_us - chart.from_us) // 5
    named: list[Boundary] = []
    ends_us = [*(each.time_us for each in chart.boundaries), chart.to_us][1:]
    for boundary, end_us in zip(chart.boundaries, ends_us, strict=False):
        if end_us - boundary.time_us >= least_us:
            named.append(boundary)
    return named


def _boundary_name(boundary: Boundary) -> Figure:
    return {
        "text": boundary.words,
        "xref": "x",
        "yref": "paper",
        "x": _ms(boundary.time_us),
        "y": 0,
        "xanchor": "left",
        "yanchor": "bottom",
        "xshift": 3,
        "showarrow": False,
        "font": {"color": "role:soft", "size": 11},
    }
