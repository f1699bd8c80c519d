"""Conditions of a wheel that can be looked back from, and which of them an observation tells.

An observation tells of a condition that it was there, that it was looked for and not there, or
nothing. Nothing here decides what a condition came from.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median
from typing import Final

from service.ageing.seen import CoatColour, Look, Scent
from service.ageing.work import Firmness, Rind


class Condition(StrEnum):
    """What a wheel may show, in the words of the trade."""

    WET_RIND = "wet rind"
    DRY_RIND = "dry rind"
    CRACKS = "cracks"
    SLIME = "slime"
    STICKING = "sticking"
    FOUL_SMELL = "foul smell"
    AMMONIA = "smell of ammonia"
    PINK = "pink growth"
    BLACK = "black growth"
    COAT_LATE = "coat incomplete late"
    OOZY = "oozy to the thumb"
    LOW_LOSS = "little weight lost"


@dataclass(frozen=True, slots=True)
class Told:
    """What one observation says.

    Attributes:
        look: What was seen.
        words: The maker's own words.
        coat_late: Whether the coat is incomplete after its gate was expected; None where that
            was not looked at, or is not due yet.
        low_loss: Whether it lost little weight for its kind; None where that is not known.
    """

    look: Look
    words: str = ""
    coat_late: bool | None = None
    low_loss: bool | None = None


_NAMED: Final = {
    Condition.CRACKS: re.compile(r"\b(crack|split|fissure)", re.IGNORECASE),
    Condition.SLIME: re.compile(r"\bslim[ey]", re.IGNORECASE),
    Condition.STICKING: re.compile(r"\b(stick(s|ing|y)?\b|stuck\b)", re.IGNORECASE),
    Condition.FOUL_SMELL: re.compile(r"\b(foul|rotten|putrid)", re.IGNORECASE),
    Condition.AMMONIA: re.compile(r"\bammonia", re.IGNORECASE),
}
"""How a condition reads in the maker's own words; English only."""
_DENIED: Final = re.compile(
    r"\b(no|not|none|never|without|free of|isn't|aren't|didn't|doesn't)\b[^.,;:!?]{0,24}$",
    re.IGNORECASE,
)
"""What stands before a word and denies it. Our choice: up to a few words before, no comma
in between, for "no cracks, stuck to its mat" tells of sticking."""
LOW_SHARE: Final = 0.5
"""Less than this share of what is usual is little. Our choice."""
_FEWEST_LOSSES: Final = 4


def conditions(told: Told) -> dict[Condition, bool]:
    """The conditions that were looked for, each with whether it was there.

    Whoever felt the rind, or looked at its growth, would have told of cracks, slime or
    sticking; that is taken as looked for, and so is what the words deny.

    Examples:
        >>> found = conditions(Told(Look(rind=Rind.WET), "no cracks, stuck to its mat"))
        >>> [str(name) for name, there in found.items() if there]
        ['wet rind', 'sticking']
    """
    look = told.look
    found = _felt(look) | _grown(look)
    if told.coat_late is not None:
        found[Condition.COAT_LATE] = told.coat_late
    if told.low_loss is not None:
        found[Condition.LOW_LOSS] = told.low_loss
    for condition, named in _NAMED.items():
        said = _said(named, told.words)
        if said is not None:
            found[condition] = found.get(condition, False) or said
    if look.slimy:
        found[Condition.SLIME] = True
    return found


def _felt(look: Look) -> dict[Condition, bool]:
    """What hand and nose tell."""
    found: dict[Condition, bool] = {}
    if look.rind is not None:
        found[Condition.WET_RIND] = look.rind is Rind.WET
        found[Condition.DRY_RIND] = look.rind is Rind.DRY
    if look.firmness is not None:
        found[Condition.OOZY] = look.firmness is Firmness.OOZY
    if look.smell is not None:
        found[Condition.FOUL_SMELL] = look.smell is Scent.FOUL
        found[Condition.AMMONIA] = look.smell is Scent.AMMONIA
    return found


def _grown(look: Look) -> dict[Condition, bool]:
    """What the eye tells of the rind."""
    found: dict[Condition, bool] = {}
    if look.rind is not None or look.coat:
        found |= dict.fromkeys((Condition.CRACKS, Condition.SLIME, Condition.STICKING), False)
    if look.coat:
        found[Condition.PINK] = look.coat.get(CoatColour.PINK, 0.0) > 0
        found[Condition.BLACK] = look.coat.get(CoatColour.BLACK, 0.0) > 0
    return found


def _said(named: re.Pattern[str], words: str) -> bool | None:
    """Whether the words tell of it: yes, denied, or nothing."""
    said: bool | None = None
    for match in named.finditer(words):
        said = bool(said) or _DENIED.search(words[: match.start()]) is None
    return said


def low_losses(rates: Mapping[int, float]) -> dict[int, bool]:
    """Which of comparable losses a day are little; none is told of fewer than four.

    Examples:
        >>> low_losses({1: 0.4, 2: 0.5, 3: 0.1, 4: 0.5})
        {1: False, 2: False, 3: True, 4: False}
    """
    if len(rates) < _FEWEST_LOSSES:
        return {}
    usual = median(rates.values())
    return {number: rate < LOW_SHARE * usual for number, rate in rates.items()}


def seen_in(found: Mapping[Condition, bool]) -> Sequence[Condition]:
    """The conditions that were there, in the order in which they are told."""
    return [condition for condition in Condition if found.get(condition, False)]
