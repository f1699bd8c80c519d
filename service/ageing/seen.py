"""What a maker sees of a wheel: rind, firmness, smell and coat by colour; plain values.

What may stand together is checked here once, whoever enters it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from service.ageing.work import Firmness, Rind
from service.errors import OutOfRangeError

WHOLE_RIND_PCT: Final = 100.0
"""All colours together cover no more than the whole rind. [%]"""


class CoatColour(StrEnum):
    """The colours in which growth on a rind is told apart by eye."""

    WHITE = "white"
    GREY = "grey"
    BLUE = "blue"
    GREEN = "green"
    BROWN = "brown"
    ORANGE = "orange"
    YELLOW = "yellow"
    PINK = "pink"
    BLACK = "black"
    OTHER = "other"


class Scent(StrEnum):
    """What a wheel smells of, in a word; more stands in the maker's own words."""

    MILKY = "fresh milk"
    MUSHROOM = "mushrooms"
    CELLAR = "cellar"
    YEASTY = "yeast"
    AMMONIA = "ammonia"
    FOUL = "foul"


@dataclass(frozen=True, slots=True)
class Look:
    """One look at one wheel; what was not looked at is missing.

    Attributes:
        rind: How moist the rind feels.
        firmness: How it yields to the thumb.
        smell: What it smells of.
        coat: How much of the rind each colour covers; 0 says looked for and not there. [%]
        slimy: Whether there is slime on it; False also where nothing was said of it.

    Raises:
        OutOfRangeError: A colour covers less than nothing, or all together more than the rind.
    """

    rind: Rind | None = None
    firmness: Firmness | None = None
    smell: Scent | None = None
    coat: Mapping[CoatColour, float] = field(default_factory=dict)
    slimy: bool = False

    def __post_init__(self) -> None:
        for colour, part in self.coat.items():
            # Written so that a part that is no number fails too.
            if not 0 <= part <= WHOLE_RIND_PCT:
                raise OutOfRangeError(
                    f"{colour} covers {part:g} % of the rind; enter 0 to {WHOLE_RIND_PCT:g} %"
                )
        together = sum(self.coat.values())
        if together > WHOLE_RIND_PCT:
            raise OutOfRangeError(
                f"the colours together cover {together:g} % of the rind;"
                f" enter no more than {WHOLE_RIND_PCT:g} % in all"
            )

    @property
    def coat_pct(self) -> float | None:
        """How much of the rind growth covers, all colours together; None if not looked at. [%]"""
        return sum(self.coat.values()) if self.coat else None

    @property
    def says_nothing(self) -> bool:
        """Whether nothing at all was seen."""
        return self == Look()


def doubts(look: Look) -> tuple[str, ...]:
    """What in a look may be spoilage, in words; it asks for caution and decides nothing.

    Which signs these are is common practice, no source: pink or black growth, slime, foul smell.

    Examples:
        >>> doubts(Look(coat={CoatColour.PINK: 10.0}, smell=Scent.FOUL))
        ('pink growth', 'a foul smell')
        >>> doubts(Look(coat={CoatColour.BLACK: 0.0}))
        ()
    """
    found = [
        f"{colour} growth"
        for colour in (CoatColour.PINK, CoatColour.BLACK)
        if look.coat.get(colour, 0.0) > 0
    ]
    if look.slimy:
        found.append("slime")
    if look.smell is Scent.FOUL:
        found.append("a foul smell")
    return tuple(found)
