"""SVG elements as escaped markup, and how wide a text will be.

Every text and every attribute passes through `element`, so that no name can break out of a
drawing.
"""

from itertools import pairwise

from markupsafe import Markup, escape

ELLIPSIS = "…"

# Widths in ems of DejaVu Sans, the widest of the fonts a phone or a small board is likely to
# show; measured roughly by class, so that a text is rather taken for too wide.
_NARROW = frozenset("iljI.,:;'|!·\N{NO-BREAK SPACE} ()[]ftr")
_UNSEEN = frozenset("\u2060\u2068\u2069")
_WIDE = frozenset("mwMW@%…—")
_NARROW_EM, _USUAL_EM, _CAPITAL_EM, _WIDE_EM = 0.41, 0.635, 0.76, 1.0
_FIRST_FULL_WIDTH = 0x1100
_BOLD = 1.11


def element(tag: str, *children: str | Markup, **attributes: object) -> Markup:
    """One element; None leaves an attribute out, `_` in its name stands for `-`.

    Examples:
        >>> element("text", "<b>", x=1.25, class_="s", stroke_width=2)
        Markup('<text x="1.2" class="s" stroke-width="2">&lt;b&gt;</text>')
    """
    written = Markup("").join(
        Markup(' {}="{}"').format(_attribute(name), _figure(value))
        for name, value in attributes.items()
        if value is not None
    )
    inside = Markup("").join(escape(child) for child in children)
    return Markup("<{0}{1}>{2}</{0}>").format(Markup(tag), written, inside)  # noqa: S704 - the tags are our own


def _attribute(name: str) -> Markup:
    if name == "viewBox":
        return Markup(name)  # noqa: S704 - the names are our own
    return Markup(name.rstrip("_").replace("_", "-"))  # noqa: S704 - the names are our own


def _figure(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.1f}".removesuffix(".0")
    return str(value)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """About how wide a text is, rather too wide than too narrow. [px]"""
    ems = sum(_em(character) for character in text)
    return ems * size * (_BOLD if bold else 1.0)


def _em(character: str) -> float:
    if character in _UNSEEN:
        return 0.0
    if character in _NARROW:
        return _NARROW_EM
    if character in _WIDE or ord(character) >= _FIRST_FULL_WIDTH:
        return _WIDE_EM
    return _CAPITAL_EM if character.isupper() else _USUAL_EM


def shortened(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """The text, cut to fit a width, with an ellipsis where it was cut."""
    if text_width(text, size, bold=bold) <= width:
        return text
    room = width - text_width(ELLIPSIS, size, bold=bold)
    kept = 0.0
    for position, character in enumerate(text):
        kept += text_width(character, size, bold=bold)
        if kept > room:
            return text[:position].rstrip() + ELLIPSIS
    return text


def wrapped(text: str, width: float, size: float, most: int) -> list[str]:
    """The text in at most `most` lines of that width; the last is cut to fit."""
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > width and len(lines) < most:
            lines.append(word)
        else:
            lines[-1] = longer
    return [shortened(line, width, size) for line in lines]


def path(points: list[tuple[float, float]]) -> str:
    """Path data through the points, each after the first relative to the one before.

    Examples:
        >>> path([(1, 2), (3, 2.25)])
        'M1 2l2 .2'
    """
    rounded = [(round(x, 1), round(y, 1)) for x, y in points]
    start = rounded[0]
    steps = " ".join(f"{_short(b[0] - a[0])} {_short(b[1] - a[1])}" for a, b in pairwise(rounded))
    begun = f"M{_short(start[0])} {_short(start[1])}"
    return f"{begun}l{steps}" if steps else f"{begun}h.1"


def _short(value: float) -> str:
    shown = f"{value:.1f}".removesuffix(".0")
    if shown in {"-0", "0"}:
        return "0"
    return shown.replace("0.", ".", 1) if shown.lstrip("-").startswith("0.") else shown
