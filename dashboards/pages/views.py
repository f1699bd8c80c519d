"""What the pages of a space and of a wheel share: drawings, captions, marks of alarms."""

from collections.abc import Sequence

from markupsafe import Markup

from dashboards.charts import Chart, Mark
from dashboards.drawings.air import panel_drawing
from dashboards.time_axis import ticks
from dashboards.words import Words, short
from service.ageing.values import Direction, Quantity
from service.store.alarm_records import AlarmEntry

_DRAWING_PX = 150.0
_TICKS = 4


def drawings_of(chart: Chart, words: Words) -> list[tuple[str, Markup]]:
    """Each panel as a drawing with its words."""
    marks = ticks(chart.from_us, chart.to_us, words, _TICKS)
    boundaries = [each.time_us for each in chart.boundaries]
    return [
        (
            f"{panel.tone.capitalize()}, {panel.unit}",
            panel_drawing(
                panel, chart.from_us, chart.to_us, marks, _DRAWING_PX, boundaries, chart.window
            ),
        )
        for panel in chart.panels
    ]


def marks_of(alarms: Sequence[AlarmEntry], words: Words) -> tuple[Mark, ...]:
    """Where alarms on the air were raised and came back to normal."""
    marks = []
    for alarm in alarms:
        asked = _asked(alarm.kind)
        value = alarm.limit if alarm.limit is not None else alarm.extreme
        if asked is None or value is None:
            continue
        quantity, direction = asked
        below = direction is Direction.BELOW
        title = short(alarm.title)
        marks.append(Mark(alarm.raised_us, quantity, value, f"raised: {title}", below))
        if alarm.returned_us is not None:
            told = f"back to normal {words.moment(alarm.returned_us)}"
            marks.append(Mark(alarm.returned_us, quantity, value, told, below, back=True))
    return tuple(marks)


def _asked(kind: str) -> tuple[Quantity, Direction] | None:
    """What an alarm of that kind watches; None when it is not a limit of the air."""
    for quantity in Quantity:
        for direction in Direction:
            if kind == f"{quantity}_{direction}":
                return quantity, direction
    return None


def news_of(alarms: Sequence[AlarmEntry]) -> str:
    """What is to be read aloud when it changes: the open alarms."""
    if not alarms:
        return "No alarm is open."
    return "Open alarms: " + "; ".join(short(alarm.title) for alarm in alarms)
