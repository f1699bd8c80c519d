"""Signs that call for care which no calendar asks for: a wet face, growth that stalls.

A sign lasts until its care is taken after it, or until a newer look shows that it is gone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.ageing.moments import day_words
from service.ageing.tended import Moment, Seen
from service.ageing.work import Days, Rind, Trigger, Work

WINDOWS: Final = {
    Trigger.WET_FACE: Days(0, 0, 2, "our choice: slime starts where a face stays wet"),
    Trigger.GROWTH_STALLS: Days(0, 2, 10, "our choice: an offer, better taken soon"),
}
"""In how many days after its sign a care is due. [d]"""

ENDED_BY: Final = {
    Trigger.WET_FACE: (Work.PAT_DRY, Work.WRAP, Work.REWRAP),
    Trigger.GROWTH_STALLS: (Work.PIERCE, Work.PIERCE_AGAIN),
}
"""Care that ends a sign when it is done, whichever of it was called for: a face is dried before
it is wrapped. Common practice, no source."""

STALL_AFTER: Final = timedelta(days=5)
"""Two looks tell of stalled growth when they lie so far apart; our choice."""

FULL_COAT_PCT: Final = 95.0
"""A coat that covers so much has no room to grow; our choice, as the eye tells no closer. [%]"""

_WET: Final = (Rind.MOIST, Rind.WET)


@dataclass(frozen=True, slots=True)
class Sign:
    """What called for care.

    Attributes:
        day: The first day on which it showed.
        words: What showed, in words for the maker.
    """

    day: date
    words: str


def wet_face(looks: Sequence[Seen], sweat_day: date | None, taken: Moment | None) -> Sign | None:
    """A rind that was felt to be moist or wet, or sweat that was estimated, and not dried since.

    Args:
        looks: The looks at the wheel, the oldest first.
        sweat_day: The last day for which sweat was estimated.
        taken: When it was last dried; a look of the same moment was before that.

    Returns:
        The first wet look since then and since the last dry one; failing that the sweat, when it
        came later than both.
    """
    told = [look for look in looks if look.rind is not None]
    first: Seen | None = None
    for look in told:
        if taken is not None and look.moment <= taken:
            continue
        if look.rind not in _WET:
            first = None
        elif first is None:
            first = look
    if first is not None:
        return Sign(first.day, f"{first.rind} face, seen {day_words(first.day)}")
    if sweat_day is None or (taken is not None and sweat_day <= taken[0]):
        return None
    if told and told[-1].day >= sweat_day:
        return None
    return Sign(sweat_day, f"the air has wetted it, {day_words(sweat_day)}: an estimate, not seen")


def growth_stalls(looks: Sequence[Seen], from_day: date, taken: Moment | None) -> Sign | None:
    """A coat that is no larger than at a look five days or more before.

    Args:
        looks: The looks at the wheel, the oldest first.
        from_day: The first day of the stage: growth elsewhere tells nothing of growth here.
        taken: When it was last pierced; growth is watched anew from then on.

    Returns:
        The first of the looks that show it without a break up to the newest; None when the newest
        shows growth, or a coat so full that no growth can show.
    """
    coats = [
        (look.day, look.coat_pct)
        for look in looks
        if look.coat_pct is not None
        and look.day >= from_day
        and (taken is None or look.moment > taken)
    ]
    found: Sign | None = None
    for place, (day, coat_pct) in enumerate(coats):
        before = next((old for old in reversed(coats[:place]) if day - old[0] >= STALL_AFTER), None)
        if before is None or coat_pct > before[1] or coat_pct >= FULL_COAT_PCT:
            found = None
        elif found is None:
            found = Sign(day, f"no growth from {day_words(before[0])} to {day_words(day)}")
    return found
