"""The year of all wheels as the server draws it, and as Plotly reads it."""

from typing import Any

from markupsafe import Markup

from dashboards.drawings.svg import element, shortened, text_width
from dashboards.words import Words
from dashboards.year_chart import Bar, Reach, Row, YearChart

_WIDTH = 358.0
_LEFT, _RIGHT, _TOP = 2.0, 356.0, 8.0
_ROW_PX, _BAR_PX, _NAME_PX, _FOOT = 64.0, 17.0, 13.0, 22.0
_TEXT_PX = 11.0
_MONTH_PX = 50
_US_PER_MS = 1_000
_BAR, _THIN, _LINE = 0.28, 0.05, 0.22
"""How high a bar, a reach and a line of words are in Plotly, as parts of a row."""

Figure = dict[str, Any]


def year_drawing(chart: YearChart) -> Markup:
    """The year as a drawing: a row of bars under each name, months at the foot."""
    height = _TOP + _ROW_PX * len(chart.rows) + _FOOT
    foot = height - _FOOT

    def x_at(time_us: int) -> float:
        part = (time_us - chart.from_us) / (chart.to_us - chart.from_us)
        return _LEFT + part * (_RIGHT - _LEFT)

    parts: list[Markup] = []
    free_from = 0.0
    for tick in chart.months:
        x = x_at(tick.time_us)
        parts.append(element("path", d=f"M{x:.1f} {_TOP:.0f}V{foot:.1f}", class_="grid"))
        half = text_width(tick.words, _TEXT_PX) / 2
        middle = min(max(x, half), _WIDTH - half)
        if middle - half >= free_from:
            parts.append(
                element(
                    "text", tick.words, x=middle, y=foot + 16, class_="axis", text_anchor="middle"
                )
            )
            free_from = middle + half + 6
    for number, row in enumerate(chart.rows):
        parts.append(_row(row, _TOP + number * _ROW_PX, x_at))
    x = x_at(chart.now_us)
    parts.append(element("path", d=f"M{x:.1f} {_TOP:.0f}V{foot:.1f}", class_="boundary"))
    return element(
        "svg",
        *parts,
        class_="air year",
        viewBox=f"0 0 {_WIDTH:.0f} {height:.0f}",
        role="img",
        aria_label="The stages of all wheels through a year; the table below says the same.",
    )


def _row(row: Row, top: float, x_at: Any) -> Markup:
    base = top + _NAME_PX + _TEXT_PX + 10
    parts = [
        element(
            "text",
            shortened(row.name, _RIGHT - _LEFT, _NAME_PX, bold=True),
            x=_LEFT,
            y=top + _NAME_PX,
            class_="name",
        ),
        element(
            "text",
            shortened(row.says, _RIGHT - _LEFT, _TEXT_PX, bold=False),
            x=_LEFT,
            y=top + _NAME_PX + _TEXT_PX + 4,
            class_="axis",
        ),
    ]
    parts += [_bar(bar, base, x_at) for bar in row.bars]
    parts += [
        element(
            "rect",
            element("title", reach.words),
            x=x_at(reach.from_us),
            y=base + _BAR_PX + 2,
            width=max(1.5, x_at(reach.to_us) - x_at(reach.from_us)),
            height=2.5,
            class_="reach",
        )
        for reach in row.reaches
    ]
    return element("g", *parts)


def _bar(bar: Bar, base: float, x_at: Any) -> Markup:
    return element(
        "rect",
        element("title", bar.words),
        x=x_at(bar.from_us),
        y=base,
        width=max(1.0, x_at(bar.to_us) - x_at(bar.from_us)),
        height=_BAR_PX,
        class_=f"bar {bar.tone}{' expected' if bar.ahead else ''}",
    )


def year_figure(chart: YearChart, words: Words) -> Figure:
    """The year for Plotly: one trace for each tone, lived and expected, and one for the reaches."""
    count = max(1, len(chart.rows))
    data: list[Figure] = []
    for ahead in (False, True):
        tones = sorted({bar.tone for row in chart.rows for bar in row.bars if bar.ahead is ahead})
        data += [_bars(chart, tone, ahead=ahead) for tone in tones]
    reaches = [(number, each) for number, row in enumerate(chart.rows) for each in row.reaches]
    if reaches:
        data.append(_reaches(reaches))
    return {
        "data": data,
        "layout": {
            "height": round(_ROW_PX * 1.1 * (count + 0.2)) + 60,
            "margin": {"l": 4, "r": 4, "t": 18, "b": 34, "pad": 0},
            "showlegend": False,
            "hovermode": "closest",
            "dragmode": False,
            "barmode": "overlay",
            "uniformtext": {"minsize": 10, "mode": "hide"},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "font": {"color": "role:ink", "size": 12},
            "hoverlabel": {"bgcolor": "role:paper", "font": {"color": "role:ink"}},
            "xaxis": {
                "type": "linear",
                "range": [chart.from_us // _US_PER_MS, chart.to_us // _US_PER_MS],
                "tickmode": "array",
                "tickvals": [tick.time_us // _US_PER_MS for tick in chart.months],
                "ticktext": [tick.words for tick in chart.months],
                "gridcolor": "role:grid",
                "zeroline": False,
                "fixedrange": True,
            },
            "yaxis": {
                "range": [count - 0.6, -0.8],
                "visible": False,
                "fixedrange": True,
            },
            "shapes": [
                {
                    "type": "line",
                    "xref": "x",
                    "yref": "paper",
                    "x0": chart.now_us // _US_PER_MS,
                    "x1": chart.now_us // _US_PER_MS,
                    "y0": 0,
                    "y1": 1,
                    "line": {"color": "role:soft", "width": 1, "dash": "dot"},
                }
            ],
            "annotations": [
                *(_name(number, row) for number, row in enumerate(chart.rows)),
                *(_says(number, row) for number, row in enumerate(chart.rows) if row.says),
            ],
        },
        "config": {"displayModeBar": False, "responsive": True},
        "zone": str(words.zone),
        # Names of months are narrower than the moments of other charts.
        "tickPx": _MONTH_PX,
    }


def _bars(chart: YearChart, tone: str, *, ahead: bool) -> Figure:
    found = [
        (number, bar)
        for number, row in enumerate(chart.rows)
        for bar in row.bars
        if bar.tone == tone and bar.ahead is ahead
    ]
    return {
        "type": "bar",
        "orientation": "h",
        "name": f"{tone} {'expected' if ahead else 'lived'}",
        "y": [number for number, _ in found],
        "base": [bar.from_us // _US_PER_MS for _, bar in found],
        "x": [(bar.to_us - bar.from_us) // _US_PER_MS for _, bar in found],
        "width": _BAR,
        "customdata": [[_safe(bar.name), _safe(bar.words)] for _, bar in found],
        # On stripes a name could not be read.
        "texttemplate": "" if ahead else "%{customdata[0]}",
        "textposition": "none" if ahead else "inside",
        "insidetextanchor": "start",
        "insidetextfont": {"color": f"role:on-{tone}"},
        "marker": {
            "color": f"role:{tone}",
            "line": {"width": 1.4 if ahead else 1, "color": f"role:{tone if ahead else 'sheet'}"},
            "pattern": {"shape": "/" if ahead else "", "size": 6, "solidity": 0.3},
        },
        "hovertemplate": "%{customdata[1]}<extra></extra>",
    }


def _reaches(reaches: list[tuple[int, Reach]]) -> Figure:
    return {
        "type": "bar",
        "orientation": "h",
        "name": "earliest to latest",
        "y": [round(number + _BAR / 2 + 0.06, 3) for number, _ in reaches],
        "base": [each.from_us // _US_PER_MS for _, each in reaches],
        "x": [(each.to_us - each.from_us) // _US_PER_MS for _, each in reaches],
        "width": _THIN,
        "customdata": [_safe(each.words) for _, each in reaches],
        "textposition": "none",
        "marker": {"color": "role:soft"},
        "hovertemplate": "%{customdata}<extra></extra>",
    }


def _name(number: int, row: Row) -> Figure:
    """The name of a row above its bar, where a phone has the whole width for it."""
    return _label(row.name, number - _BAR / 2 - _LINE, "role:ink", _NAME_PX, bold=True)


def _says(number: int, row: Row) -> Figure:
    """Its stages in words under its name: a short bar cannot bear them."""
    return _label(row.says, number - _BAR / 2, "role:soft", _TEXT_PX, bold=False)


def _label(text: str, y: float, colour: str, size: float, *, bold: bool) -> Figure:
    return {
        "text": _safe(shortened(text, _RIGHT - _LEFT, size, bold=bold)),
        "xref": "paper",
        "yref": "y",
        "x": 0,
        "y": round(y, 3),
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
        # The line of now does not cross the words.
        "bgcolor": "role:paper",
        "borderpad": 0,
        "font": {"color": colour, "size": size},
    }


def _safe(text: str) -> str:
    """A text in which Plotly finds no mark-up."""
    return text.replace("&", "&amp;").replace("<", "&lt;")
