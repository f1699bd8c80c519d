"""A batch with its wheels and its make day, and a sheet of labels to print."""

from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from markupsafe import Markup

from dashboards.drawings.codes import qr_code
from dashboards.make_words import RAW_WORDS, lines, record_lines, yield_words
from dashboards.pages.rendering import household_of, renderer
from dashboards.words import plain
from service.api.bodies import PathId
from service.api.context import Context, WithContext, WithSession
from service.api.home_address import home_address, is_reachable
from service.judging import plan_for
from service.store import make_days, wheels
from service.store.database import Session
from service.store.tables import Batch

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on the label of one wheel."""

    wheel: str
    address: str
    code: Markup


@router.get("/batches/{batch_id}")
def batch(
    request: Request, context: WithContext, session: WithSession, batch_id: PathId
) -> Response:
    """A batch."""
    found = wheels.batch(session, batch_id)
    of_it = wheels.wheels_of(session, batch_id)
    day = make_days.of_batch(session, batch_id)
    household = household_of(session, context)
    steps = make_days.steps(session, day.id) if day is not None and day.id is not None else ()
    return renderer(request).page(
        request,
        household,
        "batch.html",
        live=False,
        batch=found,
        style=_style(session, context, found),
        raw=RAW_WORDS[found.raw_milk],
        wheels=of_it,
        living=sum(wheel.ended_us is None for wheel in of_it),
        day=day,
        record=record_lines(day) if day is not None else [],
        lines=lines(day, steps, household.words) if day is not None else [],
        yielded=yield_words(day, sum(wheel.mass_g for wheel in of_it)),
    )


@router.get("/batches/{batch_id}/labels")
def labels(
    request: Request,
    context: WithContext,
    session: WithSession,
    batch_id: PathId,
    paper: Annotated[Literal["a4", "letter"], Query()] = "a4",
) -> Response:
    """The labels of a batch, each with a code that opens the wheel's page."""
    found = wheels.batch(session, batch_id)
    home = home_address(request, context.settings)
    return renderer(request).page(
        request,
        household_of(session, context),
        "labels.html",
        live=False,
        batch=found,
        style=_style(session, context, found),
        raw=found.raw_milk,
        paper=paper,
        labels=[
            _label(wheel.label, f"{home}/wheels/{wheel.id}")
            for wheel in wheels.wheels_of(session, batch_id)
        ],
        home=home,
        reachable=is_reachable(home),
    )


def _label(name: str, address: str) -> Label:
    return Label(plain(name), address, qr_code(address, "Code that opens the page of this wheel"))


def _style(session: Session, context: Context, found: Batch) -> str:
    plan = plan_for(session, context.plans, found)
    return plan.name if plan is not None else found.plan
