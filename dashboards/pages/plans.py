"""The ageing plans: all of them, one to read, one to edit or copy, and batches that follow it."""

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from dashboards.cautions import cautions_for
from dashboards.pages.rendering import Household, household_of, renderer, see_other
from dashboards.plan_words import KINDS, care_line, gate_lines, readiness_lines, stage_lines
from service.api import plan_actions
from service.api.access import WithAsker
from service.api.bodies import Id
from service.api.context import WithContext, WithSession
from service.api.plan_actions import LONGEST_TEXT
from service.api.refusals import RefusedError
from service.store import wheels
from service.store.database import Session
from service.store.tables import Batch

router = APIRouter()

_SAID = {
    "saved": "The plan is kept. Batches stay with their version until you move them.",
    "moved": "The batch now ages by this plan. Stages that are over keep the plan of their time.",
}

Text = Annotated[str, Form(max_length=3 * LONGEST_TEXT)]
"""Longer than a plan may be, so that one that is too long comes back with its text."""
Name = Annotated[str, Form(max_length=200)]


@router.get("/plans")
def plans(request: Request, context: WithContext, session: WithSession) -> Response:
    """All plans."""
    newest = plan_actions.newest_plans(session, context.plans)
    running = _running(session)
    return renderer(request).page(
        request,
        household_of(session, context),
        "plans.html",
        live=False,
        plans=[
            (plan, KINDS[plan.kind], [batch for batch in running if batch.plan == plan.slug])
            for plan in sorted(newest.values(), key=lambda plan: plan.name.casefold())
        ],
    )


@router.get("/plans/{slug}")
def plan(
    request: Request,
    context: WithContext,
    session: WithSession,
    slug: str,
    version: Annotated[Id | None, Query()] = None,
    said: str = "",
) -> Response:
    """One plan to read, in its newest version unless one is named."""
    household = household_of(session, context)
    known = plan_actions.versions(session, context.plans, slug)
    shown = plan_actions.version_of(session, context.plans, slug, version)
    running = _running(session)
    following = [each for each in running if each.plan == slug]
    return renderer(request).page(
        request,
        household,
        "plan.html",
        live=False,
        said=_SAID.get(said, ""),
        plan=shown.plan,
        shown=shown,
        kind=KINDS[shown.plan.kind],
        newest=known[0].plan.version,
        versions=[each.plan.version for each in known],
        stages=[
            (
                stage,
                stage_lines(stage, household.words),
                gate_lines(stage.gate),
                [care_line(rule) for rule in stage.care],
            )
            for stage in shown.plan.stages
        ],
        readiness=readiness_lines(shown.plan),
        readiness_from=shown.plan.stage(shown.plan.readiness.from_stage).name,
        cautions=cautions_for(shown.plan, None),
        following=following,
        others=[each for each in running if each.plan != slug],
    )


@router.get("/plans/{slug}/edit")
def edit(
    request: Request,
    context: WithContext,
    session: WithSession,
    slug: str,
    version: Annotated[Id | None, Query()] = None,
) -> Response:
    """The text of a plan, to be edited."""
    shown = plan_actions.version_of(session, context.plans, slug, version)
    text = plan_actions.editable(shown)
    return _editor(request, household_of(session, context), slug, shown.plan.name, text)


@router.post("/plans/{slug}/edit")
def save(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    slug: str,
    text: Text,
    name: Name = "",
    keep: Annotated[str, Form(pattern="^(version|copy)$")] = "version",
) -> Response:
    """Keep the text as the plan's next version, or as a copy under another name."""
    household = household_of(session, context)
    old = plan_actions.version_of(session, context.plans, slug)
    try:
        made = (
            plan_actions.copy_plan(session, context.plans, text, name, asker.name, household.now_us)
            if keep == "copy"
            else plan_actions.save_plan(
                session, context.plans, text, asker.name, household.now_us, slug
            )
        )
    except RefusedError as error:
        line = error.line if isinstance(error, plan_actions.PlanRefusedError) else None
        return _editor(
            request, household, slug, old.plan.name, text, error=str(error), line=line, name=name
        )
    return see_other(f"/plans/{made.slug}?said=saved")


@router.post("/plans/{slug}/batches")
def move_batch(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    slug: str,
    batch_id: Annotated[Id, Form()],
) -> Response:
    """A batch goes on by this plan, in its newest version."""
    now_us = context.clock.now_us()
    plan_actions.change_plan(session, context.plans, batch_id, slug, asker.name, now_us)
    return see_other(f"/plans/{slug}?said=moved")


def _editor(
    request: Request,
    household: Household,
    slug: str,
    plan_name: str,
    text: str,
    *,
    error: str = "",
    line: int | None = None,
    name: str = "",
) -> Response:
    rows = text.splitlines()
    return renderer(request).page(
        request,
        household,
        "plan_edit.html",
        status=HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK,
        live=False,
        slug=slug,
        plan_name=plan_name,
        text=text,
        name=name,
        error=error,
        wrong_line=rows[line - 1] if line is not None and 0 < line <= len(rows) else "",
        longest=LONGEST_TEXT,
    )


def _running(session: Session) -> list[Batch]:
    """The batches of which a wheel is still there, the oldest first."""
    found: dict[int, Batch] = {}
    for wheel, batch in wheels.wheels(session):
        if wheel.ended_us is None and batch.id is not None:
            found[batch.id] = batch
    return list(found.values())
