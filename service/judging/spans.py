"""Which plan a batch runs under, which stages its wheels have lived, and what they asked.

A part of `service.judging`, through which it is imported.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from service.ageing.limits import SpaceTarget, tightest
from service.ageing.plans import Plan, Stage
from service.ageing.values import Target
from service.errors import PlanError
from service.store import plans as plan_store
from service.store import wheels
from service.store.database import Session
from service.store.tables import Batch

_FAR_FUTURE_US = 2**62

Plans = Mapping[str, Plan]
"""The plans that come with the service, by their short names."""


@dataclass(frozen=True, slots=True)
class StageSpan:
    """A wheel's stage over the time in which it lived it. [µs UTC]"""

    stage: Stage
    from_us: int
    to_us: int | None


@dataclass(frozen=True, slots=True)
class TargetSpan:
    """What the wheels of a space ask of its air from one time to another. [µs UTC]"""

    from_us: int
    to_us: int
    target: SpaceTarget
    wheel_ids: tuple[int, ...]


def plan_for(session: Session, plans: Plans, batch: Batch) -> Plan | None:
    """The plan of a batch in the version under which it runs; None when it is not here.

    A version that the store does not keep is taken to be the one that came with the service.
    """
    return plan_named(session, plans, batch.plan, batch.plan_version)


def plan_named(session: Session, plans: Plans, slug: str, version: int) -> Plan | None:
    """A plan in one of its versions, as `plan_for` finds it."""
    edition = plan_store.find(session, slug, version)
    if edition is None:
        return plans.get(slug)
    try:
        return plan_store.read(edition)
    except PlanError:
        # One that a later service wrote: its wheels stand in no stage, and the pages stay up.
        return None


def stage_spans(session: Session, plans: Plans, wheel_id: int) -> tuple[StageSpan, ...]:
    """The stages that a wheel has lived, with their ranges, oldest first.

    A stage that ended before its batch went over to another plan keeps the ranges of the plan
    under which it was lived; one that goes on has those of the new plan from its beginning.
    """
    batch = wheels.batch_of(session, wheel_id)
    assert batch.id is not None  # it was stored
    changes = plan_store.changes(session, batch.id)
    spans = []
    for lived in wheels.stages(session, wheel_id):
        later = next((each for each in changes if each.time_us >= until(lived.to_us)), None)
        plan = (
            plan_for(session, plans, batch)
            if later is None
            else plan_named(session, plans, later.from_plan, later.from_version)
        )
        stage = (
            next((each for each in plan.stages if each.slug == lived.stage), None) if plan else None
        )
        if stage is not None:
            spans.append(StageSpan(stage, lived.from_us, lived.to_us))
    return tuple(spans)


def target_spans(
    session: Session, plans: Plans, space_id: int, from_us: int, to_us: int
) -> tuple[TargetSpan, ...]:
    """What the wheels of a space asked of its air, cut wherever that changed."""
    lived: list[tuple[int, int, int, Target]] = []
    for placement in wheels.placements_in(session, space_id, from_us, to_us):
        for span in stage_spans(session, plans, placement.wheel_id):
            first = max(placement.from_us, span.from_us, from_us)
            last = min(until(placement.to_us), until(span.to_us), to_us)
            if first < last:
                lived.append((first, last, placement.wheel_id, span.stage.target))
    cuts = sorted({from_us, to_us, *(edge for first, last, *_ in lived for edge in (first, last))})
    spans = []
    for start, end in pairwise(cuts):
        there = [(who, asks) for first, last, who, asks in lived if first <= start and end <= last]
        spans.append(TargetSpan(start, end, tightest(there), tuple(who for who, _ in there)))
    return tuple(spans)


def until(to_us: int | None) -> int:
    """The end of what may still go on. [µs UTC]"""
    return _FAR_FUTURE_US if to_us is None else to_us
