"""Plans: the newest of each, one in any of its versions, one to keep; and the plan of a batch."""

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Query

from service.api import plan_actions
from service.api.access import WithAsker
from service.api.bodies import BatchPlanBody, Id, PathId, PlanBody
from service.api.context import WithContext, WithSession
from service.api.plan_shapes import BatchPlanAnswer, PlanAnswer, PlanTextAnswer

router = APIRouter(tags=["plans"])


@router.get("/plans")
def list_plans(context: WithContext, session: WithSession) -> list[PlanAnswer]:
    """The ageing plans in their newest versions, each range with its source."""
    found = plan_actions.newest_plans(session, context.plans)
    return [PlanAnswer.model_validate(found[slug]) for slug in sorted(found)]


@router.get("/plans/{slug}")
def one_plan(
    context: WithContext,
    session: WithSession,
    slug: str,
    version: Annotated[Id | None, Query()] = None,
) -> PlanTextAnswer:
    """A plan with its text, in its newest version unless one is named."""
    found = plan_actions.version_of(session, context.plans, slug, version)
    known = plan_actions.versions(session, context.plans, slug)
    return PlanTextAnswer(
        **dict(PlanAnswer.model_validate(found.plan)),
        text=found.text,
        made=found.made_us,
        made_by=found.made_by,
        versions=tuple(each.plan.version for each in known),
    )


@router.post("/plans", status_code=HTTPStatus.CREATED)
def keep_plan(
    context: WithContext, session: WithSession, asker: WithAsker, body: PlanBody
) -> PlanAnswer:
    """Keep a plan: as the next version of that short name, or as a new plan."""
    now_us = context.clock.now_us()
    plan = plan_actions.save_plan(session, context.plans, body.text, asker.name, now_us)
    return PlanAnswer.model_validate(plan)


@router.post("/batches/{batch_id}/plan")
def change_plan(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    batch_id: PathId,
    body: BatchPlanBody,
) -> BatchPlanAnswer:
    """From now on the batch ages by that plan; stages that are over keep theirs."""
    batch = plan_actions.change_plan(
        session,
        context.plans,
        batch_id,
        body.plan,
        asker.name,
        context.clock.now_us(),
        body.version,
    )
    return BatchPlanAnswer(batch_id=batch_id, plan=batch.plan, version=batch.plan_version)
