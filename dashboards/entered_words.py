"""What was just entered of a wheel, said on its page after the form."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dashboards.seen_words import SeenBlock
from dashboards.wheel_charts import grams
from dashboards.words import Words
from service.living.life import Weighed

_NOTHING: Final = ("", "")
_UNDONE: Final = {
    "unweighed": ("weight", "Undone: that weighing counts no more."),
    "unseen": ("seen", "Undone: what was seen counts no more."),
}


@dataclass(frozen=True, slots=True)
class EnteredWords:
    """What was entered, and under which heading of the page it is said; both may be empty."""

    place: str
    words: str


def entered_words(
    said: str, seen: SeenBlock, weighings: Sequence[Weighed], words: Words
) -> EnteredWords:
    """What a page's address says was entered, told from what the store holds now.

    Nothing is told of what is not there, so that an old address says nothing wrong.
    """
    what, _, number = said.partition("-")
    if what == "weighed":
        for each in weighings:
            if str(each.id) == number:
                told = f"Entered: {grams(each.grams)}, {words.moment(each.time_us)}."
                return EnteredWords("weight", told)
    if what == "saw":
        for look in (*seen.newest, *seen.older):
            if str(look.id) == number:
                parts = [look.words, *([_photos(len(look.photos))] if look.photos else [])]
                told = " · ".join(part for part in parts if part) or "your words"
                return EnteredWords("seen", f"Entered: {told}, {words.moment(look.time_us)}.")
    return EnteredWords(*_UNDONE.get(said, _NOTHING))


def _photos(count: int) -> str:
    return "1 photo" if count == 1 else f"{count} photos"
