"""What do they weigh? One form for all wheels of a batch or of a space, a number for each.

A weight that is unlikely is asked about once, beside its field, and entered when sent again.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Annotated, Final
from uuid import uuid4

from fastapi import APIRouter, Form, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from dashboards.care_words import Names, wheels_words
from dashboards.pages.care import Told, names_stored
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.typed import number
from dashboards.weigh_words import doubt_words, last_words, weighed_words
from dashboards.words import Words, short
from service.api import observation_actions
from service.api.access import WithAsker
from service.api.bodies import Id, PathId
from service.api.context import Context, WithContext, WithSession
from service.api.observation_actions import MOST_WEIGHED
from service.api.people import Asker
from service.api.refusals import RefusedError
from service.living.climate import climate
from service.living.life import weighed_of
from service.living.weight_doubts import WeightDoubt, weight_doubt
from service.store import observations, places, wheels
from service.store.database import Session
from service.tending.facts import living_in

router = APIRouter()

_LONGEST: Final = 40
Said = Annotated[str, Query(max_length=64)]


@dataclass(frozen=True, slots=True)
class Lot:
    """What is weighed together.

    Attributes:
        name: Of the batch or the space.
        path: The address of its form.
        back: The address of the batch or the space.
        wheels: The numbers of its wheels.
    """

    name: str
    path: str
    back: str
    wheels: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One wheel of the form.

    Attributes:
        id: Its number.
        name: Batch and label.
        last: What it weighed last, in words.
        typed: What was typed into its field.
        doubt: What is asked about it; may be empty.
        asked: Names the doubt, so that it is asked about once.
    """

    id: int
    name: str
    last: str
    typed: str
    doubt: str
    asked: str


class WeighForm(BaseModel):
    """The form as it is sent: `wheel` and `weight` go in pairs."""

    model_config = ConfigDict(extra="ignore", frozen=True)

    touch: str = Field(max_length=64)
    wheel: list[Id] = Field([], max_length=MOST_WEIGHED)
    weight: list[Annotated[str, Field(max_length=_LONGEST)]] = Field([], max_length=MOST_WEIGHED)
    asked: list[Annotated[str, Field(max_length=_LONGEST)]] = Field([], max_length=MOST_WEIGHED)

    def typed(self) -> dict[int, str]:
        """What was typed for each wheel; of a field that is missing nothing."""
        return dict(zip(self.wheel, self.weight, strict=False))


Sent = Annotated[WeighForm, Form()]


@router.get("/batches/{batch_id}/weigh")
def weigh_batch(
    request: Request, context: WithContext, session: WithSession, batch_id: PathId, said: Said = ""
) -> Response:
    """The wheels of a batch on the scale."""
    return _page(request, context, session, _batch(session, batch_id), told=said)


@router.post("/batches/{batch_id}/weigh")
def enter_batch(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    batch_id: PathId,
    sent: Sent,
) -> Response:
    """Enter what wheels of a batch weigh."""
    return _enter(request, context, session, asker, _batch(session, batch_id), sent)


@router.get("/spaces/{space_id}/weigh")
def weigh_space(
    request: Request, context: WithContext, session: WithSession, space_id: PathId, said: Said = ""
) -> Response:
    """The wheels in a space on the scale."""
    lot = _space(session, space_id, context.clock.now_us())
    return _page(request, context, session, lot, told=said)


@router.post("/spaces/{space_id}/weigh")
def enter_space(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    space_id: PathId,
    sent: Sent,
) -> Response:
    """Enter what wheels in a space weigh."""
    lot = _space(session, space_id, context.clock.now_us())
    return _enter(request, context, session, asker, lot, sent)


def _batch(session: Session, batch_id: int) -> Lot:
    found = wheels.batch(session, batch_id)
    return Lot(
        name=short(found.name),
        path=f"/batches/{batch_id}/weigh",
        back=f"/batches/{batch_id}",
        wheels=tuple(
            each.id
            for each in wheels.wheels_of(session, batch_id)
            if each.id is not None and each.ended_us is None
        ),
    )


def _space(session: Session, space_id: int, now_us: int) -> Lot:
    found = places.space(session, space_id)
    return Lot(
        name=short(found.name),
        path=f"/spaces/{space_id}/weigh",
        back=f"/spaces/{space_id}",
        wheels=tuple(living_in(session, space_id, now_us)),
    )


def _enter(
    request: Request, context: Context, session: Session, asker: Asker, lot: Lot, sent: WeighForm
) -> Response:
    """Enter all weights, unless one cannot be or is to be asked about."""
    now_us = context.clock.now_us()
    wrong = ""
    doubts: dict[int, WeightDoubt] = {}
    try:
        weights = _weights(sent, names_stored(session))
        doubts = _doubts(session, context, weights, sent.asked, now_us)
        if not doubts:
            observation_actions.enter_weights(
                session, weights, sent.touch, None, asker.name, now_us
            )
            return see_other(f"{lot.path}?said={sent.touch}")
    except RefusedError as error:
        session.rollback()
        wrong = str(error)
    return _page(request, context, session, lot, sent=sent, wrong=wrong, doubts=doubts)


def _weights(sent: WeighForm, names: Names) -> dict[int, float]:
    """The weights that were typed. [g]

    Raises:
        RefusedError: One is no number.
    """
    found = {}
    for wheel_id, typed in sent.typed().items():
        weight = number(typed, f"the weight of {wheels_words([wheel_id], names)}")
        if weight is not None:
            found[wheel_id] = weight
    return found


def _doubts(
    session: Session,
    context: Context,
    weights: Mapping[int, float],
    asked: Sequence[str],
    now_us: int,
) -> dict[int, WeightDoubt]:
    """The weights that are to be asked about, by wheel."""
    found = {}
    for wheel_id, weight in weights.items():
        if _asking(wheel_id, weight) in asked:
            continue
        lived = climate(session, context.plans, wheel_id, now_us, context.memory)
        doubt = weight_doubt(lived, wheels.wheel(session, wheel_id).mass_g, weight)
        if doubt is not None:
            found[wheel_id] = doubt
    return found


def _asking(wheel_id: int, weight: float) -> str:
    """Names a weight of a wheel that was asked about; another weight has another name."""
    return f"{wheel_id}:{weight:g}"


def _page(
    request: Request,
    context: Context,
    session: Session,
    lot: Lot,
    *,
    told: str = "",
    sent: WeighForm | None = None,
    wrong: str = "",
    doubts: Mapping[int, WeightDoubt] = {},
) -> Response:
    household = household_of(session, context)
    typed = sent.typed() if sent else {}
    return renderer(request).page(
        request,
        household,
        "weigh.html",
        status=HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK,
        # Its touch is new each time, and what is typed must stay.
        live=False,
        lot=lot,
        touch=sent.touch if sent else uuid4().hex,
        # What was asked about once is right, whatever else is still to be mended.
        asked=sent.asked if sent else [],
        rows=_rows(session, [*lot.wheels, *typed], typed, doubts, household.words),
        wrong=wrong[:1].upper() + wrong[1:],
        asking=bool(doubts),
        told=_told(session, told, household.words),
    )


def _rows(
    session: Session,
    wheel_ids: Iterable[int],
    typed: Mapping[int, str],
    doubts: Mapping[int, WeightDoubt],
    words: Words,
) -> list[Row]:
    """The wheels in the order of their batches; a weight typed for one that left is kept."""
    wanted = set(wheel_ids)
    names = names_stored(session)
    return [
        Row(
            id=wheel.id,
            name=wheels_words([wheel.id], names),
            last=last_words(weighed_of(session, wheel.id), wheel.mass_g, words),
            typed=typed.get(wheel.id, ""),
            doubt=doubt_words(doubts[wheel.id]) if wheel.id in doubts else "",
            asked=_asking(wheel.id, doubts[wheel.id].grams) if wheel.id in doubts else "",
        )
        for wheel, _ in wheels.wheels(session)
        if wheel.id is not None and wheel.id in wanted
    ]


def _told(session: Session, touch: str, words: Words) -> Told | None:
    """What a touch has entered; None when it has entered nothing."""
    rows = observations.of_touch(session, touch) if touch else ()
    if not rows:
        return None
    said = weighed_words(session, rows, names_stored(session), words)
    return Told(touch, said, undone=all(row.withdrawn for row in rows))
