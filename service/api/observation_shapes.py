"""Observations in JSON: what comes in and what goes out."""

from typing import Annotated

from pydantic import Field, StrictBool, StrictFloat

from service.ageing.seen import CoatColour, Look, Scent, doubts
from service.ageing.work import Firmness, Rind
from service.api.bodies import Body, GivenId
from service.api.moments import GivenInstant, Instant
from service.api.observation_actions import LONGEST_WORDS, MOST_WEIGHED, MOST_WHEELS
from service.api.refusals import RefusedError
from service.api.shapes import Answer
from service.store import observations
from service.store.ageing_tables import Observation
from service.store.database import Session
from service.store.observations import PhotoFacts


class ObservationBody(Body):
    """What was seen of a wheel; all may be missing, but not everything at once.

    `touch` names the sending, so that sending it again enters nothing twice; without it each
    sending is new. `also` names further wheels of which the same was seen.
    """

    touch: Annotated[str, Field(max_length=64)] | None = None
    at: GivenInstant | None = None
    rind: Rind | None = None
    firmness: Firmness | None = None
    smell: Scent | None = None
    coat: dict[CoatColour, Annotated[StrictFloat, Field(ge=0, le=100)]] = Field(
        default={}, description="How much of the rind each colour covers. [%]"
    )
    slimy: StrictBool = False
    grams: StrictFloat | None = Field(None, description="On the scale, wiped dry.")
    words: Annotated[str, Field(max_length=LONGEST_WORDS)] = ""
    also: Annotated[tuple[GivenId, ...], Field(max_length=MOST_WHEELS - 1)] = ()

    def look(self) -> Look:
        """What was seen, as a value.

        Raises:
            OutOfRangeError: The colours together cover more than the rind.
        """
        return Look(
            rind=self.rind,
            firmness=self.firmness,
            smell=self.smell,
            coat=dict(self.coat),
            slimy=self.slimy,
        )


class WheelWeightBody(Body):
    """What one wheel weighs."""

    wheel_id: GivenId
    grams: StrictFloat = Field(description="On the scale, wiped dry.")


class WeightsBody(Body):
    """What several wheels weigh, entered in one touch; and when, null for now.

    `touch` names the sending, so that sending it again enters nothing twice; without it each
    sending is new.
    """

    touch: Annotated[str, Field(max_length=64)] | None = None
    at: GivenInstant | None = None
    weights: Annotated[tuple[WheelWeightBody, ...], Field(min_length=1, max_length=MOST_WEIGHED)]

    def by_wheel(self) -> dict[int, float]:
        """The weights by the numbers of the wheels. [g]

        Raises:
            RefusedError: A wheel is named twice.
        """
        found = {each.wheel_id: each.grams for each in self.weights}
        if len(found) < len(self.weights):
            raise RefusedError("name each wheel once")
        return found


class PhotoAnswer(Answer):
    """A photo: where it is, and its size. [px]"""

    id: int
    width: int
    height: int
    image: str
    thumbnail: str


class ObservationAnswer(Answer):
    """What was seen of a wheel."""

    id: int
    touch: str
    wheel_id: int
    time: Instant
    rind: Rind | None
    firmness: Firmness | None
    smell: Scent | None
    coat: dict[CoatColour, float]
    coat_pct: float | None = Field(description="All colours together; null if not looked at.")
    slimy: bool
    weighing_id: int | None
    grams: float | None
    words: str
    made_by: str | None
    photos: tuple[PhotoAnswer, ...]
    doubts: tuple[str, ...] = Field(
        description="What may be spoilage. If there is anything: throw the cheese away, or ask"
        " someone qualified. Nothing here says that a cheese may be eaten."
    )
    withdrawn: bool = Field(
        description="Whether it was taken back; so it is when its touch comes again after that."
    )


def photo_answer(photo: PhotoFacts) -> PhotoAnswer:
    """A photo and its addresses.

    They name the observation's time, since a browser keeps a photo for good, and in a store that
    was restored from a backup another photo may come to the same number.
    """
    of = f"?of={photo.entered_us}"
    return PhotoAnswer(
        id=photo.id,
        width=photo.width,
        height=photo.height,
        image=f"/photos/{photo.id}{of}",
        thumbnail=f"/photos/{photo.id}/thumbnail{of}",
    )


def observation_answer(
    session: Session, row: Observation, photos: list[PhotoFacts]
) -> ObservationAnswer:
    """An observation with its weighing and its photos."""
    assert row.id is not None  # it was stored
    look = observations.look_of(row)
    weighing = observations.weighing_of(session, row)
    return ObservationAnswer(
        id=row.id,
        touch=row.touch,
        wheel_id=row.wheel_id,
        time=row.time_us,
        rind=look.rind,
        firmness=look.firmness,
        smell=look.smell,
        coat=dict(look.coat),
        coat_pct=look.coat_pct,
        slimy=look.slimy,
        weighing_id=weighing.id if weighing else None,
        grams=weighing.mass_g if weighing else None,
        words=row.words,
        made_by=row.made_by,
        photos=tuple(photo_answer(each) for each in photos),
        doubts=doubts(look),
        withdrawn=row.withdrawn,
    )
