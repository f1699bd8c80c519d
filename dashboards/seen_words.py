"""What was seen of a wheel, in words: what stands of it on the wheel's page."""

from dataclasses import dataclass
from typing import Final

from dashboards.cautions import MOULD
from dashboards.wheel_charts import grams
from dashboards.words import UNIT_SPACE, listed
from service.ageing.plans import Kind
from service.ageing.seen import CoatColour, Look, Scent, doubts
from service.api.observation_shapes import PhotoAnswer, photo_answer
from service.store import observations
from service.store.database import Session

_DOUBTFUL: Final = (CoatColour.PINK, CoatColour.BLACK)
_USUAL: Final = {
    Kind.BLUE: (CoatColour.BLUE, CoatColour.WHITE, CoatColour.GREY, CoatColour.GREEN),
    Kind.WHITE_MOULD: (CoatColour.WHITE, CoatColour.GREY, CoatColour.BLUE, CoatColour.GREEN),
    Kind.WASHED_RIND: (CoatColour.ORANGE, CoatColour.YELLOW, CoatColour.BROWN, CoatColour.WHITE),
    Kind.NATURAL_RIND: (CoatColour.GREY, CoatColour.WHITE, CoatColour.BROWN, CoatColour.YELLOW),
    Kind.COATED: (CoatColour.WHITE, CoatColour.BLUE, CoatColour.GREEN, CoatColour.GREY),
    Kind.HARD: (CoatColour.WHITE, CoatColour.GREY, CoatColour.BROWN, CoatColour.BLUE),
}
"""What commonly grows on such a rind, the commonest first; common practice, no source."""
_SHOWN = 1
"""So many of the newest stand open on the page; older ones are folded away."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation as it reads on the wheel's page."""

    id: int
    time_us: int
    words: str
    own_words: str
    doubt: str
    photos: tuple[PhotoAnswer, ...]


@dataclass(frozen=True, slots=True)
class SeenBlock:
    """All that was seen of a wheel, the newest first, and the caution that goes with doubts."""

    newest: tuple[Seen, ...]
    older: tuple[Seen, ...]
    caution: str
    source: str


@dataclass(frozen=True, slots=True)
class Colours:
    """The colours of a coat as they are asked for: at once, and folded away."""

    first: tuple[CoatColour, ...]
    rest: tuple[CoatColour, ...]


def colours_for(kind: Kind | None) -> Colours:
    """What commonly grows on such a cheese comes first; what is in doubt is never folded away.

    Examples:
        >>> [str(each) for each in colours_for(Kind.BLUE).first]
        ['blue', 'white', 'grey', 'green', 'pink', 'black']
    """
    if kind is None:
        return Colours(tuple(CoatColour), ())
    first = (*_USUAL[kind], *_DOUBTFUL)
    return Colours(first, tuple(each for each in CoatColour if each not in first))


def seen_block(session: Session, wheel_id: int) -> SeenBlock:
    """What stands on the page of a wheel."""
    rows = observations.of_wheel(session, wheel_id)
    photos = observations.photos_of(session, [row.id for row in rows if row.id is not None])
    found = []
    for row in reversed(rows):
        assert row.id is not None  # it was stored
        look = observations.look_of(row)
        weighing = observations.weighing_of(session, row)
        told = look_words(look)
        if weighing is not None:
            told.append(grams(weighing.mass_g))
        in_doubt = list(doubts(look))
        found.append(
            Seen(
                id=row.id,
                time_us=row.time_us,
                words=" · ".join(told),
                own_words=row.words,
                doubt=listed(in_doubt) if in_doubt else "",
                photos=tuple(photo_answer(each) for each in photos.get(row.id, [])),
            )
        )
    return SeenBlock(tuple(found[:_SHOWN]), tuple(found[_SHOWN:]), MOULD.words, MOULD.source)


def look_words(look: Look) -> list[str]:
    r"""What a look says, part by part.

    Examples:
        >>> look_words(Look(coat={CoatColour.WHITE: 50.0, CoatColour.BLUE: 25.0}))
        ['coat 75\xa0%: white 50\xa0%, blue 25\xa0%']
        >>> look_words(Look(coat={CoatColour.WHITE: 0.0}, slimy=True))
        ['no white growth', 'slimy']
    """
    told = []
    if look.rind is not None:
        told.append(f"rind {look.rind}")
    if look.firmness is not None:
        told.append(f"feels {look.firmness}")
    if look.smell is not None:
        told.append(f"smells of {look.smell}" if look.smell is not Scent.FOUL else "smells foul")
    if look.coat:
        told.append(_coat_words(look))
    if look.slimy:
        told.append("slimy")
    return told


def _coat_words(look: Look) -> str:
    there = [(colour, part) for colour, part in look.coat.items() if part > 0]
    if not there:
        absent = [str(colour) for colour in look.coat]
        all_looked_for = len(absent) == len(CoatColour)
        return "no growth" if all_looked_for else f"no {' or '.join(absent)} growth"
    there.sort(key=lambda each: -each[1])
    parts = ", ".join(f"{colour} {_pct(part)}" for colour, part in there)
    return f"coat {_pct(sum(part for _, part in there))}: {parts}"


def _pct(part: float) -> str:
    return f"{part:g}{UNIT_SPACE}%"
