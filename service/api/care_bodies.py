"""What the API is sent about care and gates: types and bounds only."""

from datetime import date
from typing import Annotated, Final

from pydantic import BeforeValidator, Field, StrictBool, WithJsonSchema

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api.bodies import Body, GivenId, Text
from service.api.care_actions import Given
from service.api.gate_actions import Ended
from service.api.moments import GivenInstant
from service.api.refusals import RefusedError

_DAY_LENGTH: Final = len("2026-11-25")
_MOST_WHEELS: Final = 1_000
_MOST_ITEMS: Final = 200
_LONGEST_WORDS: Final = 2_000


def given_day(value: object) -> date:
    """A day that comes in, by a body or by a form.

    Raises:
        ValueError: It is none, or beyond the years 1970 to 2199.
    """
    text = value if isinstance(value, str) and len(value) == _DAY_LENGTH else ""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    # Python takes 20261125xx for a day, too.
    if day is None or day.isoformat() != text:
        raise ValueError("write a day as ISO 8601, such as 2026-11-25")
    if not date(1970, 1, 2) <= day < date(2200, 1, 1):
        raise ValueError("a day lies between the years 1970 and 2200")
    return day


GivenDay = Annotated[
    date, BeforeValidator(given_day), WithJsonSchema({"type": "string", "format": "date"})
]
"""A day of the household's calendar that comes in."""
GivenMoment = GivenDay | GivenInstant
"""A day, or an instant."""
GivenTouch = Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{8,64}$")]
"""The name of a touch, made by whoever sends it; sent again it is the same."""
Words = Annotated[str, Field(max_length=_LONGEST_WORDS)]
Wheels = Annotated[tuple[GivenId, ...], Field(max_length=_MOST_WHEELS)]


class CareGivenBody(Body):
    """What is given of any care beside its work."""

    outcome: Outcome = Outcome.DONE
    wheel_ids: Wheels = ()
    space_id: GivenId | None = None
    when: GivenMoment | None = Field(None, description="A day or an instant; now unless given.")
    until_day: GivenDay | None = None
    words: Words = ""

    def given_of(self, work: Work) -> Given:
        """The same as the actions take it."""
        return Given(
            work=work,
            outcome=self.outcome,
            wheel_ids=self.wheel_ids,
            space_id=self.space_id,
            at=self.when,
            until=self.until_day,
            words=self.words,
        )


class CareItemBody(CareGivenBody):
    """One of several works that are entered in one touch; as in `CareBody`."""

    work: Work


class CareBody(CareGivenBody):
    """Care done, skipped or put off; on wheels, on all wheels in a space, or on a box.

    A move that is done names its wheels and the space into which they go. Several works in one
    touch are given as `items`, with nothing beside them but the touch.
    """

    touch: GivenTouch
    work: Work | None = None
    items: Annotated[tuple[CareItemBody, ...], Field(max_length=_MOST_ITEMS)] = ()

    def given(self) -> tuple[Given, ...]:
        """Its works, whichever way they are given.

        Raises:
            RefusedError: They are given both ways, or neither.
        """
        if self.items and self.model_fields_set == {"touch", "items"}:
            return tuple(each.given_of(each.work) for each in self.items)
        if self.items or self.work is None:
            raise RefusedError("give either a work with what belongs to it, or items")
        return (self.given_of(self.work),)


class GateBody(Body):
    """What is said at a gate. Early, late, or with something missing it opens with a reason."""

    touch: GivenTouch
    opened: StrictBool
    stage: Text | None = Field(None, description="Refused if the wheel is in another by now.")
    seen: Annotated[tuple[Text, ...], Field(max_length=50)] = ()
    reason: Words = ""
    ask_again_day: GivenDay | None = None
    space_id: GivenId | None = None
    when: GivenMoment | None = None


class EndedBody(Body):
    """How a wheel has ended."""

    touch: GivenTouch
    how: Ended
    words: Words = ""
    when: GivenMoment | None = None
