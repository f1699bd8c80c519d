"""What the maker at Larch Lane saw and did by hand: looks at wheels, piercing, wrapping, drying.

Invented like the rest of the household, and told so that it fits what was planted: the blue is
wet while its box sweats, and dry in the days of the empty tray.
"""

from typing import Any

from sensors.moments import iso
from sensors.simulation import larch_lane as lane

BLUE_LABELS = ("A1", "A2", "A3")
WHITE_LABELS = ("W1", "W2", "W3", "W4")
TOMME_LABELS = ("T1",)
OLD_BLUE_LABELS = ("J3",)

# When, which wheels, rind, coat by colour in per cent of the rind, firmness, smell, words.
_LOOKS: tuple[tuple[str, tuple[str, ...], str, dict[str, int], str | None, str | None, str], ...]
_LOOKS = (
    ("2026-08-09 09:35", TOMME_LABELS, "dry", {"grey": 90}, "firm", "cellar", ""),
    ("2026-08-11 19:15", OLD_BLUE_LABELS, "dry", {"blue": 60, "white": 40}, "giving", "cellar", ""),
    ("2026-08-16 09:50", BLUE_LABELS, "moist", {"blue": 0}, "firm", "fresh milk", ""),
    ("2026-08-19 19:20", BLUE_LABELS, "wet", {"blue": 5}, "firm", None, "Drops under the lid."),
    ("2026-08-23 09:30", BLUE_LABELS, "tacky", {"blue": 25}, "firm", None, "Patted dry first."),
    ("2026-08-27 19:30", BLUE_LABELS, "wet", {"blue": 30}, "firm", None, "Lid set ajar."),
    ("2026-09-04 18:45", BLUE_LABELS, "dry", {"blue": 45, "white": 5}, "firm", "cellar", ""),
    ("2026-09-04 18:50", TOMME_LABELS, "dry", {"grey": 90}, "firm", None, "The tray was dry."),
    ("2026-09-13 09:40", BLUE_LABELS, "tacky", {"blue": 60, "white": 10}, "firm", "cellar", ""),
    ("2026-09-20 09:35", BLUE_LABELS, "tacky", {"blue": 70, "white": 15}, "firm", "cellar", ""),
    ("2026-09-23 19:15", WHITE_LABELS, "moist", {"white": 15}, "firm", "fresh milk", ""),
    ("2026-09-27 09:40", BLUE_LABELS, "tacky", {"blue": 75, "white": 20}, "giving", "cellar", ""),
    ("2026-09-27 09:45", WHITE_LABELS, "tacky", {"white": 70}, "firm", "mushrooms", ""),
    ("2026-09-27 09:50", TOMME_LABELS, "dry", {"grey": 80, "yellow": 10}, "firm", "cellar", ""),
    ("2026-09-27 10:05", OLD_BLUE_LABELS, "tacky", {"blue": 60, "white": 40}, "soft", None, ""),
)

# When, in which space, which wheels, what.
_BY_HAND: tuple[tuple[str, str, tuple[str, ...], str], ...] = (
    (lane.OLD_BLUE_WRAPPED, lane.KITCHEN_FRIDGE, OLD_BLUE_LABELS, "wrap"),
    ("2026-08-19 19:25", lane.BLUE_BOX, BLUE_LABELS, "pat_dry"),
    ("2026-08-23 09:25", lane.BLUE_BOX, BLUE_LABELS, "pat_dry"),
    ("2026-08-23 09:40", lane.BLUE_BOX, BLUE_LABELS, "pierce"),
    ("2026-08-27 19:35", lane.BLUE_BOX, BLUE_LABELS, "pat_dry"),
    *((when, lane.CAVE, TOMME_LABELS, "brush") for when in lane.REFILLS),
    *(
        (f"2026-{day} 10:05", lane.KITCHEN_FRIDGE, OLD_BLUE_LABELS, "turn")
        for day in ("08-19", "08-26", "09-02", "09-09", "09-16", "09-23", "09-27")
    ),
)


def looks() -> list[dict[str, Any]]:
    """Every look at a group of wheels, oldest first, ready for `json.dumps`."""
    return [
        {
            "time": iso(lane.local_us(when)),
            "wheels": list(labels),
            "rind": rind,
            "coat_pct": coat,
            "firmness": firmness,
            "smell": smell,
            "words": words,
        }
        for when, labels, rind, coat, firmness, smell, words in _LOOKS
    ]


def care_by_hand() -> list[dict[str, Any]]:
    """What was done to single wheels outside the usual round, oldest first."""
    return [
        {"time": iso(lane.local_us(when)), "space": space, "kind": kind, "wheels": list(labels)}
        for when, space, labels, kind in sorted(_BY_HAND)
    ]
