"""What a plan asks beside air: care of the wheels, and the gates between stages; plain values.

A gate opens on what the maker saw, never on a date alone; its days only say when to ask.
Care recurs from when it was last done. All days are days of the household's calendar.
"""

from dataclasses import dataclass
from enum import StrEnum


class Work(StrEnum):
    """Care of a wheel or of its box, in the words of the trade."""

    TURN = "turn"
    PAT_DRY = "pat dry"
    AIR_BOX = "air the box"
    WIPE_LID = "wipe the lid"
    BRUSH = "brush"
    WASH = "wash"
    SALT = "salt"
    COAT = "coat"
    PIERCE = "pierce"
    PIERCE_AGAIN = "pierce again"
    WRAP = "wrap"
    REWRAP = "wrap anew"
    MOVE = "move"
    WEIGH = "weigh"
    LOOK = "look it over"
    TASTE = "taste"


class Place(StrEnum):
    """On what a care is done: each wheel by itself, or the box in which wheels lie."""

    WHEEL = "wheel"
    BOX = "box"


class Trigger(StrEnum):
    """What makes a care due that no calendar asks for."""

    WET_FACE = "wet face"
    GROWTH_STALLS = "growth stalls"


class Rind(StrEnum):
    """How moist a rind feels, the driest first."""

    DRY = "dry"
    TACKY = "tacky"
    MOIST = "moist"
    WET = "wet"


class Firmness(StrEnum):
    """How a wheel yields to the thumb, the firmest first."""

    HARD = "hard"
    FIRM = "firm"
    GIVING = "giving"
    SOFT = "soft"
    OOZY = "oozy"


class Counted(StrEnum):
    """From when days are counted: the day of making, or the day on which the stage began."""

    MAKE = "make"
    STAGE = "stage"


@dataclass(frozen=True, slots=True)
class Days:
    """A window of whole days, in ascending order.

    Attributes:
        earliest: Not before. [d]
        expected: Usually. [d]
        latest: Overdue from the day after this one. [d]
        source: Who says so.
        counted: From when they count; for recurring care they count from when it was last done.
    """

    earliest: int
    expected: int
    latest: int
    source: str
    counted: Counted = Counted.STAGE


@dataclass(frozen=True, slots=True)
class CareRule:
    """One care that a stage asks for: recurring, once, or when something is seen.

    Exactly one of `every`, `once` and `trigger` is given.

    Attributes:
        work: What to do.
        place: On each wheel, or on its box.
        words: How to do it, in a sentence.
        every: How long after it was last done (or after the stage began) it is due again.
        once: On which days it is due, once in the stage.
        trigger: What makes it due.
        source: Who says so.
    """

    work: Work
    place: Place
    words: str
    source: str
    every: Days | None = None
    once: Days | None = None
    trigger: Trigger | None = None


@dataclass(frozen=True, slots=True)
class Gate:
    """What must be seen before a stage ends.

    Attributes:
        words: What must be seen, in a sentence.
        days: When to ask; the days only ask, they open nothing.
        coat_pct: The least part of the rind that mould covers, all colours together. [%]
        rind: How moist the rind may be; empty where it does not matter.
        firmness: How firm it may be; empty where it does not matter.
        questions: What else must be seen, each a sentence to which the maker says yes.
        source: Who says how much coat there must be; None where the gate does not ask.
    """

    words: str
    days: Days
    coat_pct: float | None = None
    rind: tuple[Rind, ...] = ()
    firmness: tuple[Firmness, ...] = ()
    questions: tuple[str, ...] = ()
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Readiness:
    """How far a wheel has ripened when it feels so, in equivalent days.

    Attributes:
        from_stage: The stage with whose beginning the count begins.
        days: For each firmness that the style reaches, the firmest first, the equivalent age
            with its window. [d] Soft styles soften with age, so theirs ascend; pressed ones dry
            and harden, so theirs descend.
    """

    from_stage: str
    days: tuple[tuple[Firmness, Days], ...]


class Smell(StrEnum):
    """How much a style smells of itself to its neighbours."""

    MILD = "mild"
    STRONG = "strong"
