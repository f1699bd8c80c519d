"""Set-up in plain forms: the site, its spaces, batches of wheels; moves and stages."""

import re
from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response

from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.sensors import number_or_none
from dashboards.words import Words
from service import judging
from service.api import actions, naming, plan_actions
from service.api.actions import EnteredWheel
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.clock import from_datetime
from service.store import places
from service.store.tables import SpaceKind

router = APIRouter()

_KINDS = (
    (SpaceKind.CAVE, "Cave"),
    (SpaceKind.BOX, "Ripening box"),
    (SpaceKind.KITCHEN_FRIDGE, "Kitchen fridge"),
    (SpaceKind.ROOM, "Room"),
)
_LOCAL: Final = re.compile(r"[0-9]{4}(-[0-9]{2}){2}[T ][0-9]{2}(:[0-9]{2}){1,2}([.][0-9]{1,6})?")
"""As browsers send a local date and time. Python takes far more, and an offset would be dropped."""
_MOST_WHEELS = 200
_SAID = {
    "site": "The household is entered.",
    "space": "The space is entered.",
    "batch": "The batch is entered.",
    "move": "The wheel has moved.",
}

Text = Annotated[str, Form(max_length=200)]
Number = Annotated[int, Form(ge=1, le=2**31 - 1)]


@router.get("/household")
def household(
    request: Request, context: WithContext, session: WithSession, said: str = ""
) -> Response:
    """The forms."""
    found = household_of(session, context)
    spaces = judging.judge_spaces(session, context.plans, found.now_us)
    return renderer(request).page(
        request,
        found,
        "household.html",
        live=False,
        site=places.the_site(session),
        spaces=spaces,
        homes=[space for space in spaces if space.kind is not SpaceKind.BOX],
        kinds=_KINDS,
        plans=sorted(
            plan_actions.newest_plans(session, context.plans).values(), key=lambda plan: plan.name
        ),
        wheels=[wheel for space in spaces for wheel in space.wheels],
        staged=[wheel for space in spaces for wheel in space.wheels if wheel.stage],
        now_local=found.words.local(found.now_us).strftime("%Y-%m-%dT%H:%M"),
        said=_SAID.get(said, ""),
    )


@router.post("/household/site")
def set_site(
    context: WithContext,
    session: WithSession,
    name: Text,
    time_zone: Text,
    slug: Text = "",
    scale: Annotated[str, Form(pattern="^[CF]$")] = "C",
) -> Response:
    """Enter the site, or change it."""
    naming.set_site(
        session,
        name,
        slug.strip() or naming.free_slug(name, set()),
        time_zone.strip(),
        context.clock.now_us(),
        fahrenheit=scale == "F",
    )
    return see_other("/household?said=site")


@router.post("/household/spaces")
def add_space(
    session: WithSession,
    name: Text,
    kind: Annotated[SpaceKind, Form()],
    parent_id: Text = "",
    board: Annotated[int, Form(ge=1, le=100)] = 1,
) -> Response:
    """Enter a space; only a box stands in another. Makers count the boards from 1."""
    parent = number_or_none(parent_id) if kind is SpaceKind.BOX else None
    actions.add_space(session, name, kind, parent, board - 1)
    return see_other("/household?said=space")


@router.post("/household/batches")
def add_batch(
    context: WithContext,
    session: WithSession,
    name: Text,
    plan: Text,
    made: Text,
    count: Annotated[int, Form(ge=1, le=_MOST_WHEELS)],
    diameter_mm: Annotated[float, Form()],
    height_mm: Annotated[float, Form()],
    mass_g: Annotated[float, Form()],
    space_id: Text = "",
) -> Response:
    """Enter a batch of wheels of one size."""
    now = household_of(session, context)
    actions.add_batch(
        session,
        context.plans,
        name,
        plan,
        local_us(made, now.words),
        [EnteredWheel(diameter_mm, height_mm, mass_g)] * count,
        number_or_none(space_id),
        None,
        now.now_us,
    )
    return see_other("/household?said=batch")


@router.post("/household/move")
def move(
    context: WithContext, session: WithSession, wheel_id: Number, space_id: Text = ""
) -> Response:
    """A wheel goes into another space now, or out of the house."""
    actions.move_wheel(session, wheel_id, number_or_none(space_id), None, context.clock.now_us())
    return see_other("/household?said=move")


@router.post("/household/stage")
def stage(wheel_id: Number) -> Response:
    """A wheel goes on to its next stage through the gate, which asks what is seen."""
    return see_other(f"/wheels/{wheel_id}/gate")


def local_us(text: str, words: Words) -> int:
    """The instant that a local date and time names; of an hour that comes twice, the first.

    Raises:
        RefusedError: It is no date and time, or one that the spring change leaves out.

    Examples:
        >>> local_us("2026-11-25T14:00", Words())
        1795615200000000
    """
    try:
        wall = datetime.fromisoformat(text if _LOCAL.fullmatch(text) else "")
        moment = wall.replace(tzinfo=words.zone, fold=0)
        time_us = from_datetime(moment)
        back = words.local(time_us).replace(tzinfo=None)
    except (ValueError, OverflowError):
        raise RefusedError("write date and time such as 2026-11-25T14:00") from None
    if back != wall.replace(tzinfo=None):
        raise RefusedError("the clocks went forward over that time; write one before or after")
    return time_us
