"""Observations of wheels and their photos: entered, listed, sent, taken back.

Photos lie outside `/api`, because pages show them too; they are behind the gate as all else.
"""

from http import HTTPStatus
from typing import Annotated, Final
from uuid import uuid4

from fastapi import APIRouter, Depends, Request, Response
from starlette.datastructures import UploadFile

from service.api import observation_actions
from service.api.access import WithAsker
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.api.observation_actions import Entered
from service.api.observation_shapes import (
    ObservationAnswer,
    ObservationBody,
    PhotoAnswer,
    WeightsBody,
    observation_answer,
    photo_answer,
)
from service.api.refusals import RefusedError
from service.photos import LARGEST_BYTES
from service.store import observations, wheels
from service.store.database import Session

_JPEG: Final = "image/jpeg"

router = APIRouter(tags=["observations"])
photo_router = APIRouter(tags=["observations"])

ENVELOPE_BYTES: Final = 64 * 1024
"""What a form needs around its photos."""
_KEPT: Final = {
    # A photo never changes. The answer hangs on the cookie, so that a browser that has signed
    # out does not show what it kept.
    "Cache-Control": "private, max-age=31536000, immutable",
    "Vary": "Cookie",
    "X-Content-Type-Options": "nosniff",
}


@router.get("/wheels/{wheel_id}/observations")
def list_observations(session: WithSession, wheel_id: PathId) -> list[ObservationAnswer]:
    """What was seen of a wheel and holds, oldest first."""
    wheels.wheel(session, wheel_id)
    rows = observations.of_wheel(session, wheel_id)
    photos = observations.photos_of(session, [row.id for row in rows if row.id is not None])
    return [observation_answer(session, row, photos.get(row.id or 0, [])) for row in rows]


@router.post("/wheels/{wheel_id}/observations", status_code=HTTPStatus.CREATED)
def enter_observation(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    body: ObservationBody,
) -> ObservationAnswer:
    """Enter what was seen of a wheel, and of others if the same was seen of them."""
    entered = Entered(
        touch=uuid4().hex if body.touch is None else body.touch,
        look=body.look(),
        words=body.words,
        grams=body.grams,
        at_us=body.at,
    )
    made = observation_actions.enter_observation(
        session, [wheel_id, *body.also], entered, asker.name, context.clock.now_us()
    )
    return observation_answer(session, made[0], _photos(session, made[0].id))


@router.post("/weighings", status_code=HTTPStatus.CREATED)
def enter_weights(
    context: WithContext, session: WithSession, asker: WithAsker, body: WeightsBody
) -> list[ObservationAnswer]:
    """Enter what several wheels weigh in one touch: all of it, or nothing.

    Each becomes an observation with its weighing; `DELETE /api/touches/{touch}` undoes them all.
    """
    touch = uuid4().hex if body.touch is None else body.touch
    made = observation_actions.enter_weights(
        session, body.by_wheel(), touch, body.at, asker.name, context.clock.now_us()
    )
    return [observation_answer(session, row, []) for row in made]


@router.delete(
    "/wheels/{wheel_id}/observations/{observation_id}", status_code=HTTPStatus.NO_CONTENT
)
def withdraw_observation(session: WithSession, wheel_id: PathId, observation_id: PathId) -> None:
    """Take an observation back, with its weighing and its photos."""
    observation_actions.withdraw_observation(session, wheel_id, observation_id)


async def _sent_photo(request: Request) -> bytes:
    """The one photo of a request: the file in its form, or else its body.

    Raises:
        RefusedError: The form has no file.
    """
    if not request.headers.get("content-type", "").startswith("multipart/form-data"):
        return await request.body()
    async with request.form(max_files=1, max_fields=1) as form:
        for value in form.values():
            if isinstance(value, UploadFile):
                return await value.read()
    raise RefusedError("the form has no file; send the photo as its file, or as the body")


@router.post(
    "/wheels/{wheel_id}/observations/{observation_id}/photos",
    status_code=HTTPStatus.CREATED,
    max_body_size=LARGEST_BYTES + ENVELOPE_BYTES,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                kind: {"schema": {"type": "string", "format": "binary"}}
                for kind in ("image/jpeg", "image/png", "image/webp")
            }
            | {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "properties": {"photo": {"type": "string", "format": "binary"}},
                    }
                }
            },
        }
    },
)
def add_photo(
    session: WithSession,
    wheel_id: PathId,
    observation_id: PathId,
    sent: Annotated[bytes, Depends(_sent_photo)],
) -> PhotoAnswer:
    """Add a photo, as the body or as the file of a form. Only its pixels are kept."""
    number = observation_actions.add_photo(session, wheel_id, observation_id, sent)
    return photo_answer(
        next(each for each in _photos(session, observation_id) if each.id == number)
    )


@photo_router.get("/photos/{photo_id}", response_class=Response)
def photo(session: WithSession, photo_id: PathId) -> Response:
    """A photo as JPEG."""
    return Response(observations.photo(session, photo_id).image, headers=_KEPT, media_type=_JPEG)


@photo_router.get("/photos/{photo_id}/thumbnail", response_class=Response)
def thumbnail(session: WithSession, photo_id: PathId) -> Response:
    """The small version of a photo as JPEG."""
    return Response(observations.thumbnail(session, photo_id), headers=_KEPT, media_type=_JPEG)


def _photos(session: Session, observation_id: int | None) -> list[observations.PhotoFacts]:
    assert observation_id is not None  # it was stored
    return observations.photos_of(session, [observation_id]).get(observation_id, [])
