"""A wheel seen from the side, to scale, with the rind of its style."""

from markupsafe import Markup

from dashboards.drawings.svg import element
from service.ageing.plans import Kind, Plan

_LEAST_PX = 4.0
"""A wheel is drawn at least this wide and high, or nobody would see it. [px]"""

# Places of spots on a rind, as parts of its width and height; they look strewn but are fixed,
# so that a wheel looks the same at every visit.
_SPOTS = (
    (0.11, 0.30, 0.09),
    (0.27, 0.72, 0.07),
    (0.41, 0.26, 0.11),
    (0.56, 0.63, 0.13),
    (0.70, 0.22, 0.07),
    (0.81, 0.68, 0.10),
    (0.92, 0.36, 0.06),
)


def wheel_size(diameter_mm: float, height_mm: float, px_per_mm: float) -> tuple[float, float]:
    """Width and height of the drawing of a wheel. [px]"""
    return max(diameter_mm * px_per_mm, _LEAST_PX), max(height_mm * px_per_mm, _LEAST_PX)


_STYLES = {
    Kind.BLUE: "blue",
    Kind.WHITE_MOULD: "white",
    Kind.WASHED_RIND: "washed",
    Kind.NATURAL_RIND: "tomme",
    Kind.COATED: "coated",
    Kind.HARD: "hard",
}


def style_of(plan: Plan | None) -> str:
    """Which rind a plan's wheels wear; a copy's wear that of the plan it was made from."""
    return "plain" if plan is None else _STYLES[plan.kind]


def wheel(
    x: float, floor_y: float, width: float, height: float, plan: Plan | None, name: str
) -> Markup:
    """A wheel that stands on `floor_y` with its left side at `x`."""
    style = style_of(plan)
    top = floor_y - height
    radius = min(5.0, height / 3, width / 3)
    parts = [
        element("title", name),
        element(
            "rect",
            x=x,
            y=top,
            width=width,
            height=height,
            rx=radius,
            class_=f"wheel {style}",
        ),
    ]
    if style in {"blue", "tomme"}:
        parts.append(_spots(x, top, width, height, "blue-spots" if style == "blue" else "bloom"))
    if style in {"washed", "hard", "coated"}:
        parts.append(_bands(x, top, width, height, radius))
    return element("g", *parts)


def _spots(x: float, top: float, width: float, height: float, class_: str) -> Markup:
    radius = min(width, height)
    data = "".join(
        _disc(x + part_x * width, top + part_y * height, part_r * radius)
        for part_x, part_y, part_r in _SPOTS
    )
    return element("path", d=data, class_=class_)


def _disc(x: float, y: float, radius: float) -> str:
    side = f"a{radius:.1f} {radius:.1f} 0 1 0"
    return f"M{x - radius:.1f} {y:.1f}{side} {2 * radius:.1f} 0{side} {-2 * radius:.1f} 0"


def _bands(x: float, top: float, width: float, height: float, radius: float) -> Markup:
    inner = width - 2 * radius
    data = "".join(
        f"M{x + radius:.1f} {top + height * part:.1f}h{inner:.1f}" for part in (0.3, 0.7)
    )
    return element("path", d=data, class_="bands")
