"""The mark beside a verdict: one shape for each, so that none needs its colour.

A triangle points to the side on which the air is; hollow for humidity, filled for
temperature. A question mark stands for what is not known, a short bar for in range.
"""

from markupsafe import Markup

from dashboards.drawings.svg import element
from service.ageing.values import Direction, Quantity, Verdict

SIZE = 10.0
"""Side of the square in which a mark is drawn. [px]"""

TONES = {
    (Quantity.HUMIDITY, Direction.BELOW): "dry",
    (Quantity.HUMIDITY, Direction.ABOVE): "damp",
    (Quantity.TEMPERATURE, Direction.BELOW): "cold",
    (Quantity.TEMPERATURE, Direction.ABOVE): "warm",
}


def tone(verdict: Verdict) -> str:
    """The name of the verdict's ink: dry, damp, cold, warm, unknown or in-range."""
    if verdict.findings:
        first = verdict.findings[0]
        return TONES[first.quantity, first.direction]
    return "unknown" if verdict.unknown else "in-range"


def mark(name: str, x: float = 0.0, y: float = 0.0) -> Markup:
    """The mark of a tone, its upper left corner at x, y."""
    shapes = {
        "dry": ("M.8 1.6h8.4l-4.2 7.2z", "none"),
        "damp": ("M.8 8.8h8.4l-4.2 -7.2z", "none"),
        "cold": ("M.8 1.6h8.4l-4.2 7.2z", "currentColor"),
        "warm": ("M.8 8.8h8.4l-4.2 -7.2z", "currentColor"),
        "unknown": ("M2.6 3.4q0 -2.4 2.4 -2.4t2.4 2.2q0 1.6 -2.4 2.8v1M5 9v.6", "none"),
        "in-range": ("M1 5.4h8", "none"),
    }
    data, fill = shapes[name]
    return element(
        "path",
        d=data,
        class_=f"mark {name}",
        fill=fill,
        stroke="currentColor",
        stroke_width="1.7",
        stroke_linejoin="round",
        stroke_linecap="round",
        transform=f"translate({x:.1f} {y:.1f})" if x or y else None,
    )


def lone_mark(name: str) -> Markup:
    """The mark as a small picture of its own, for use in a line of text."""
    return element(
        "svg",
        mark(name),
        class_="mark",
        viewBox="0 0 10 10",
        width=13,
        height=13,
        aria_hidden="true",
        focusable="false",
    )
