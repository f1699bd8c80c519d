"""A space in section, seen from the front: boards, boxes with their lids, wheels to scale.

One scale serves a whole space, so that wheels in it can be compared by eye. What does not fit
on a board goes to the next: nothing overlaps and nothing is cut.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from dashboards.care_words import NextCare
from dashboards.drawings.groups import Group, Line, grouped, title_of
from dashboards.drawings.marks import SIZE, mark
from dashboards.drawings.svg import element, shortened, text_width, wrapped
from dashboards.drawings.wheels import wheel, wheel_size
from dashboards.words import Words, plain
from service.judging import SpaceNow

WIDTH = 358.0
"""Width of a drawing: a phone of 390 px less its margins. [px]"""

_LEFT, _RIGHT = 14.0, WIDTH - 14.0
_INNER = _RIGHT - _LEFT
_NAME_PX, _TEXT_PX, _LINE_PX = 13.0, 12.0, 16.0
_GAP, _WHEEL_GAP, _BOX_PAD = 12.0, 4.0, 10.0
_LID_PX, _BOARD_PX, _ABOVE_PX = 9.0, 6.0, 12.0
_LEAST_CELL = 148.0
_BESIDE = 150.0
"""Words stand beside the wheels when at least this much room is left, and the name fits. [px]"""
_MOST_LINES = 3
_PX_PER_MM = 0.42
"""At most; a wheel of 100 mm is then as wide as a fingertip. Our choice."""


@dataclass(frozen=True, slots=True)
class _Stand:
    """What stands on a board: a box, or wheels in the open. [px]"""

    box: SpaceNow | None
    groups: tuple[Group, ...]
    width: float
    lid: str = ""


def space_drawing(
    space: SpaceNow,
    boxes: Sequence[SpaceNow],
    words: Words,
    now_us: int,
    sweat: Mapping[int, str] | None = None,
    lids: Mapping[int, str] | None = None,
    care: Mapping[int, NextCare] | None = None,
) -> Markup:
    """The drawing of a space with the boxes that stand in it.

    Args:
        space: The space.
        boxes: What stands in it.
        words: The household's words.
        now_us: The time. [µs UTC]
        sweat: What is said of the surface of a wheel, by its number.
        lids: What is said of the lid of a box, by its number.
        care: What comes next for a wheel, by its number.
    """
    everything = [*space.wheels, *(each for box in boxes for each in box.wheels)]
    widest_mm = max((each.diameter_mm for each in everything), default=1.0)
    scale = min(_PX_PER_MM, (_INNER - 2 * _BOX_PAD) / widest_mm)
    stands = [
        _stand(None, (group,), scale) for group in grouped(space.wheels, words, now_us, sweat, care)
    ] + [
        _stand(
            box,
            tuple(grouped(box.wheels, words, now_us, sweat, care)),
            scale,
            (lids or {}).get(box.id, ""),
        )
        for box in sorted(boxes, key=lambda box: box.board)
    ]
    y = _ABOVE_PX
    parts: list[Markup] = []
    for row in _rows(stands):
        drawn, height = _row(row, y, scale)
        parts += drawn
        y += height
        parts.append(element("rect", x=8, y=y, width=WIDTH - 16, height=_BOARD_PX, class_="board"))
        y += _BOARD_PX + _ABOVE_PX
    if not stands:
        parts.append(_text(_LEFT, y + 14, "Empty", "quiet"))
        y += 28
    outline = element(
        "rect", x=1.5, y=1.5, width=WIDTH - 3, height=y - 3, rx=12, class_="space-wall"
    )
    return element(
        "svg",
        outline,
        *parts,
        class_="shelf",
        viewBox=f"0 0 {WIDTH:.0f} {y:.0f}",
        role="group",
        aria_label=f"{plain(space.name)}, drawn from the front",
    )


def _stand(box: SpaceNow | None, groups: tuple[Group, ...], scale: float, lid: str = "") -> _Stand:
    pad = _BOX_PAD if box is not None else 0.0
    wheels = max((_natural(group, scale) for group in groups), default=0.0) + 2 * pad
    texts = [_text_need(group) for group in groups]
    words = min(max(texts, default=0.0) + 2 * pad, _INNER / 2 - _GAP)
    return _Stand(box, groups, min(max(wheels, words, _LEAST_CELL), _INNER), lid)


def _natural(group: Group, scale: float) -> float:
    """Width of a group's wheels side by side. [px]"""
    sizes = [wheel_size(each.diameter_mm, each.height_mm, scale)[0] for each in group.wheels]
    return sum(sizes) + _WHEEL_GAP * (len(sizes) - 1)


def _text_need(group: Group) -> float:
    name = text_width(group.name + group.suffix, _NAME_PX, bold=True)
    return max(name, *(text_width(line.text, _TEXT_PX) + 15 for line in group.lines))


def _rows(stands: Sequence[_Stand]) -> list[list[_Stand]]:
    """The stands on boards, filled from the left; what is left over widens them."""
    rows: list[list[_Stand]] = []
    room = -1.0
    for stand in stands:
        if stand.width > room:
            rows.append([])
            room = _INNER
        rows[-1].append(stand)
        room -= stand.width + _GAP
    return [_widened(row) for row in rows]


def _widened(row: list[_Stand]) -> list[_Stand]:
    spare = _INNER - sum(stand.width for stand in row) - _GAP * (len(row) - 1)
    return [replace(stand, width=stand.width + spare / len(row)) for stand in row]


def _row(row: Sequence[_Stand], top: float, scale: float) -> tuple[list[Markup], float]:
    """The stands of one board, all standing on it; and their height. [px]"""
    heights = [_stand_height(stand, scale) for stand in row]
    tallest = max(heights)
    parts: list[Markup] = []
    x = _LEFT
    for stand, height in zip(row, heights, strict=True):
        parts += _draw_stand(stand, x, top + tallest - height, scale)
        x += stand.width + _GAP
    return parts, tallest


def _inner_width(stand: _Stand) -> float:
    return stand.width - (2 * _BOX_PAD if stand.box is not None else 0.0)


def _stand_height(stand: _Stand, scale: float) -> float:
    width = _inner_width(stand)
    groups = sum(_group_height(group, width, scale) for group in stand.groups)
    between = _GAP * max(0, len(stand.groups) - 1)
    if stand.box is None:
        return groups
    head = _LINE_PX * (2 if stand.lid else 1)
    return _LID_PX + 6 + head + (groups + between if stand.groups else _LINE_PX) + 8


def _draw_stand(stand: _Stand, x: float, top: float, scale: float) -> list[Markup]:
    parts: list[Markup] = []
    y = top
    left = x
    if stand.box is not None:
        bottom = top + _stand_height(stand, scale)
        parts += _box_outline(x, top, stand.width, bottom)
        left += _BOX_PAD
        y += _LID_PX + 6
        parts.append(_cut_text(left, y + 12, plain(stand.box.name), "quiet", _inner_width(stand)))
        y += _LINE_PX
        if stand.lid:
            room = _inner_width(stand) - SIZE - 5
            parts.append(mark("damp", left, y + 12 - SIZE + 0.5))
            parts.append(_cut_text(left + SIZE + 5, y + 12, stand.lid, "damp", room))
            y += _LINE_PX
        if not stand.groups:
            parts.append(_text(left, y + 12, "empty", "quiet"))
    for group in stand.groups:
        drawn, height = _draw_group(group, left, y, _inner_width(stand), scale)
        parts.append(drawn)
        y += height + _GAP
    return parts


def _box_outline(x: float, top: float, width: float, bottom: float) -> list[Markup]:
    lid = element("rect", x=x, y=top, width=width, height=_LID_PX, rx=4, class_="box-wall")
    body = element(
        "path",
        d=f"M{x + 4:.1f} {top + _LID_PX:.1f}V{bottom - 5:.1f}q0 5 5 5"
        f"H{x + width - 9:.1f}q5 0 5 -5V{top + _LID_PX:.1f}",
        class_="box-wall",
    )
    return [lid, body]


def _boards(group: Group, width: float, scale: float) -> list[list[tuple[float, float]]]:
    """Sizes of a group's wheels, row by row as they fit into a width. [px]"""
    rows: list[list[tuple[float, float]]] = []
    room = -1.0
    for each in group.wheels:
        size = wheel_size(each.diameter_mm, each.height_mm, scale)
        if size[0] > room:
            rows.append([])
            room = width
        rows[-1].append(size)
        room -= size[0] + _WHEEL_GAP
    return rows


def _beside(group: Group, width: float, scale: float) -> bool:
    name = text_width(group.name + group.suffix, _NAME_PX, bold=True)
    return width - _natural(group, scale) - _GAP >= max(_BESIDE, min(name, _INNER / 2))


def _lines(group: Group, width: float) -> list[Line]:
    """The words of a group, wrapped; only the first line of a verdict carries its mark."""
    wide = width - SIZE - 5
    return [
        Line(text, line.tone, marked=line.tone is not None and first == 0)
        for line in group.lines
        for first, text in enumerate(
            wrapped(line.text, wide if line.tone else width, _TEXT_PX, _MOST_LINES)
        )
    ]


def _group_height(group: Group, width: float, scale: float) -> float:
    rows = _boards(group, width, scale)
    wheels = sum(max(size[1] for size in row) for row in rows) + 8 * (len(rows) - 1)
    if _beside(group, width, scale):
        words = _words_height(group, width - _natural(group, scale) - _GAP)
        return max(wheels, words + 4)
    return _words_height(group, width) + 8 + wheels


def _words_height(group: Group, width: float) -> float:
    return _LINE_PX * (len(_head(group, width)) + len(_lines(group, width)))


def _head(group: Group, width: float) -> list[str]:
    """The name of a group with how many and which day; on two lines where it must be.

    The isolates keep a name that is written from right to left from turning what follows.
    """
    name = shortened(group.name, width, _NAME_PX, bold=True)
    whole = f"\u2068{name}\u2069{group.suffix}"
    if text_width(whole, _NAME_PX, bold=True) <= width:
        return [whole]
    return [f"\u2068{name}\u2069", group.suffix.removeprefix(" · ").strip()]


def _draw_group(
    group: Group, x: float, top: float, width: float, scale: float
) -> tuple[Markup, float]:
    """A group as one link to its first wheel; and its height. [px]"""
    height = _group_height(group, width, scale)
    beside = _beside(group, width, scale)
    words_x = x + _natural(group, scale) + _GAP if beside else x
    words_width = x + width - words_x
    parts = [
        element("title", group.words),
        element("rect", x=x - 3, y=top - 2, width=width + 6, height=height + 2, class_="touch"),
        *_draw_words(group, words_x, top, words_width),
        *_draw_wheels(group, x, top + height, width, scale),
    ]
    address = f"/wheels/{group.wheels[0].id}"
    return element("a", *parts, href=address, aria_label=group.words), height


def _draw_words(group: Group, x: float, top: float, width: float) -> list[Markup]:
    parts = []
    y = top + 12 - _LINE_PX
    for head in _head(group, width):
        y += _LINE_PX
        parts.append(_text(x, y, head, "name"))
    for line in _lines(group, width):
        y += _LINE_PX
        if line.marked and line.tone:
            parts.append(mark(line.tone, x, y - SIZE + 0.5))
        indent = SIZE + 5 if line.tone else 0.0
        parts.append(_text(x + indent, y, line.text, line.tone or "quiet"))
    return parts


def _draw_wheels(
    group: Group, x: float, floor_y: float, width: float, scale: float
) -> list[Markup]:
    parts: list[Markup] = []
    rows = _boards(group, width, scale)
    each = iter(group.wheels)
    y = floor_y - sum(max(size[1] for size in row) for row in rows) - 8 * (len(rows) - 1)
    for number, row in enumerate(rows):
        y += max(size[1] for size in row)
        at = x
        for wheel_width, wheel_height in row:
            this = next(each)
            parts.append(wheel(at, y, wheel_width, wheel_height, this.edition, title_of(this)))
            at += wheel_width + _WHEEL_GAP
        if number < len(rows) - 1:
            parts.append(element("rect", x=x, y=y, width=width, height=3, class_="board"))
            y += 8
    return parts


def _text(x: float, y: float, words: str, class_: str) -> Markup:
    return element("text", words, x=x, y=y, class_=class_)


def _cut_text(x: float, y: float, words: str, class_: str, width: float) -> Markup:
    cut = shortened(words, width, _TEXT_PX)
    if cut == words:
        return _text(x, y, words, class_)
    return element("text", element("title", words), cut, x=x, y=y, class_=class_)
