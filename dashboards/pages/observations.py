"""What do you see? The form for wet hands, and taking back what was entered."""

from typing import Annotated, Final
from uuid import uuid4

from fastapi import APIRouter, File, Form, Request, Response, UploadFile

from dashboards.cautions import MOULD
from dashboards.pages.household import local_us
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.seen_words import colours_for
from dashboards.typed import grams_of
from dashboards.words import Words
from service import judging
from service.ageing.seen import CoatColour, Look, Scent
from service.ageing.work import Firmness, Rind
from service.api import observation_actions
from service.api.access import WithAsker
from service.api.bodies import Id, PathId
from service.api.context import WithContext, WithSession
from service.api.observation_actions import LONGEST_WORDS, MOST_PHOTOS, Entered
from service.api.observations import ENVELOPE_BYTES
from service.api.refusals import RefusedError
from service.photos import LARGEST_BYTES
from service.store import wheels

router = APIRouter()

_COAT_STEPS_PCT: Final = (0, 10, 25, 50, 75, 90, 100)
"""Our choice: finer nobody sees."""


@router.get("/wheels/{wheel_id}/look")
def look_page(
    request: Request, context: WithContext, session: WithSession, wheel_id: PathId
) -> Response:
    """What do you see?"""
    household = household_of(session, context)
    wheel = judging.judge_wheel(session, context.plans, wheel_id, household.now_us)
    return renderer(request).page(
        request,
        household,
        "look.html",
        live=False,
        wheel=wheel,
        touch=uuid4().hex,
        rinds=list(Rind),
        firmnesses=list(Firmness),
        scents=list(Scent),
        doubtful_scent=Scent.FOUL,
        colours=colours_for(wheel.edition.kind if wheel.edition else None),
        doubtful_colours={CoatColour.PINK, CoatColour.BLACK},
        steps=_COAT_STEPS_PCT,
        others=[
            other
            for other, _ in wheels.wheels(session)
            if other.batch_id == wheel.batch_id and other.id != wheel_id and other.ended_us is None
        ],
        caution=MOULD,
        longest_words=LONGEST_WORDS,
        most_photos=MOST_PHOTOS,
        latest=household.words.local(household.now_us).strftime("%Y-%m-%dT%H:%M"),
    )


@router.post("/wheels/{wheel_id}/look", max_body_size=MOST_PHOTOS * LARGEST_BYTES + ENVELOPE_BYTES)
def enter_look(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    touch: Annotated[str, Form(max_length=64)],
    rind: Annotated[str, Form(max_length=20)] = "",
    firmness: Annotated[str, Form(max_length=20)] = "",
    smell: Annotated[str, Form(max_length=20)] = "",
    coat: Annotated[list[str], Form(max_length=2 * len(CoatColour))] = [],  # noqa: B006 - FastAPI copies it
    slimy: Annotated[str, Form(max_length=3)] = "",
    weight: Annotated[str, Form(max_length=20)] = "",
    unit: Annotated[str, Form(pattern="^k?g$")] = "g",
    own_words: Annotated[str, Form(max_length=2 * LONGEST_WORDS)] = "",
    when: Annotated[str, Form(max_length=40)] = "",
    also: Annotated[list[Id], Form(max_length=observation_actions.MOST_WHEELS)] = [],  # noqa: B006 - the same
    photos: Annotated[list[UploadFile], File()] = [],  # noqa: B006 - the same
) -> Response:
    """Enter what is seen of a wheel, and of others of its batch."""
    words = household_of(session, context).words
    look = Look(
        rind=Rind(_one_of(Rind, rind)) if rind else None,
        firmness=Firmness(_one_of(Firmness, firmness)) if firmness else None,
        smell=Scent(_one_of(Scent, smell)) if smell else None,
        coat=_coat(coat),
        slimy=slimy == "yes",
    )
    entered = Entered(
        touch=touch,
        look=look,
        words=own_words,
        grams=grams_of(weight, unit) if weight.strip() else None,
        at_us=_when(when, words),
        photos=_bytes_of(photos),
    )
    kept = observation_actions.enter_observation(
        session, [wheel_id, *also], entered, asker.name, context.clock.now_us()
    )
    # A form that is sent again after it was taken back enters nothing, and is told so.
    said = "unseen" if kept[0].withdrawn else f"saw-{kept[0].id}"
    return see_other(f"/wheels/{wheel_id}?said={said}#seen")


@router.post("/wheels/{wheel_id}/observations/{observation_id}/withdraw")
def withdraw(session: WithSession, wheel_id: PathId, observation_id: PathId) -> Response:
    """Take an observation back."""
    observation_actions.withdraw_observation(session, wheel_id, observation_id)
    return see_other(f"/wheels/{wheel_id}?said=unseen#seen")


def _one_of(kind: type[Rind | Firmness | Scent], given: str) -> str:
    choices = [str(each) for each in kind]
    if given not in choices:
        raise RefusedError(f"choose one of {', '.join(choices)}")
    return given


def _coat(given: list[str]) -> dict[CoatColour, float]:
    """The coat from its choices, each a colour with its part such as "white-50".

    "none" says that the whole rind was looked at and nothing grows there; a colour named beside
    it counts nevertheless.
    """
    found: dict[CoatColour, float] = {}
    if "none" in given:
        found = dict.fromkeys(CoatColour, 0.0)
    for each in given:
        colour, _, part = each.partition("-")
        if part.isdecimal() and part.isascii() and colour in list(CoatColour):
            found[CoatColour(colour)] = float(part)
        elif each not in {"", "none"}:
            raise RefusedError("choose for each colour how much of the rind it covers")
    return found


def _when(given: str, words: Words) -> int | None:
    return local_us(given, words) if given.strip() else None


def _bytes_of(photos: list[UploadFile]) -> list[bytes]:
    """The files of photos; a choice that was left empty is sent as a file without a name.

    Raises:
        RefusedError: There are too many; they are not read then.
    """
    chosen = [each for each in photos if each.filename or each.size]
    if len(chosen) > MOST_PHOTOS:
        raise RefusedError(f"send no more than {MOST_PHOTOS} photos at once")
    return [each.file.read() for each in chosen]
