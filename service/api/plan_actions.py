"""The maker's own plans: copied, edited, kept in every version; and batches that change plan.

A plan is never overwritten. What is saved under a short name that there is becomes its next
version, whatever number the text says; batches stay with the version under which they run.
"""

from dataclasses import dataclass
from typing import Final

from service.ageing.plan_keeping import said_outright
from service.ageing.plan_reading import PlanFile, with_value
from service.ageing.plans import Plan, parse_plan, shipped_texts
from service.api.naming import checked_name, free_slug
from service.api.refusals import RefusedError
from service.errors import PlanError, UnknownError
from service.judging import Plans
from service.store import plans as plan_store
from service.store import wheels
from service.store.ageing_tables import PlanEdition
from service.store.database import Session
from service.store.tables import Batch
from service.store.turns import take_turn

LONGEST_TEXT: Final = 40_000
"""Signs; our choice: the longest plan that comes with the service has a third of it."""


class PlanRefusedError(RefusedError):
    """The text is no plan; the message and `line` say where, and how to mend it."""

    def __init__(self, error: PlanError) -> None:
        super().__init__(str(error))
        self.line = error.line


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a plan with its text.

    Attributes:
        plan: What it says.
        text: Its file.
        made_us: When it was saved; None for one that came with the service. [µs UTC]
        made_by: Who saved it; None for one that came with the service.
    """

    plan: Plan
    text: str
    made_us: int | None
    made_by: str | None


def newest_plans(session: Session, plans: Plans) -> dict[str, Plan]:
    """Each plan that a new batch may follow, in its newest version.

    The maker's own version of a plan goes before one that comes with the service, also when
    a later service brings a higher number.
    """
    found = dict(plans)
    for edition in plan_store.editions(session):
        if edition.made_by is None and edition.slug in plans:
            continue
        try:
            found[edition.slug] = plan_store.read(edition)
        except PlanError:
            # One that a later service wrote: it cannot be followed here.
            continue
    return found


def versions(session: Session, plans: Plans, slug: str) -> tuple[Version, ...]:
    """The versions of a plan that can be read, the newest first.

    Raises:
        UnknownError: There is no such plan.
    """
    found: dict[int, Version] = {}
    if slug in plans and (text := shipped_texts().get(slug)) is not None:
        found[plans[slug].version] = Version(plans[slug], text, None, None)
    for edition in plan_store.editions(session, slug):
        try:
            plan = plan_store.read(edition)
        except PlanError:
            continue
        made_us = None if edition.made_by is None else edition.made_us
        found[edition.version] = Version(plan, edition.text, made_us, edition.made_by)
    if not found:
        raise UnknownError(f"there is no plan {slug}")
    newest = newest_plans(session, plans)[slug].version
    return tuple(
        found[number] for number in sorted(found, key=lambda each: (each == newest, each))[::-1]
    )


def version_of(session: Session, plans: Plans, slug: str, version: int | None = None) -> Version:
    """A plan in that version, or in its newest.

    Raises:
        UnknownError: There is no such plan, or not in that version.
    """
    for each in versions(session, plans, slug):
        if version is None or each.plan.version == version:
            return each
    raise UnknownError(f"there is no version {version} of the plan {slug}")


def editable(version: Version) -> str:
    """The text of a version as it is given to be edited: what it means stands in its lines."""
    return said_outright(version.text, "the plan")


def save_plan(
    session: Session, plans: Plans, text: str, by: str, now_us: int, slug: str | None = None
) -> Plan:
    """Keep an edited plan: as the next version of the one of that short name, or as a new one.

    Sent twice, it is kept once.

    Args:
        session: The store.
        plans: The plans that come with the service.
        text: The plan's file; its version is set here.
        by: Who saves it.
        now_us: When. [µs UTC]
        slug: The short name that the text must have; any when None.

    Raises:
        PlanRefusedError: The text is no plan.
    """
    text = _clean(text)
    plan = _read(text)
    if slug is not None and plan.slug != slug:
        raise PlanRefusedError(
            _at_top(text, "slug", f'write slug = "{slug}", or save it as a copy')
        )
    take_turn(session)
    return _keep(session, plans, text, plan.slug, by, now_us)


def copy_plan(session: Session, plans: Plans, text: str, name: str, by: str, now_us: int) -> Plan:
    """Keep a plan under a new name, with a short name made from it, as version 1.

    Raises:
        PlanRefusedError: The text is no plan.
        RefusedError: There is a plan of that name already, or the name cannot be one.
    """
    name = checked_name(name, "a plan")
    if any(sign in name for sign in '"\\'):
        raise RefusedError("the name of a plan has no quotes and no backslash")
    text = _clean(text)
    _read(text)
    take_turn(session)
    known = newest_plans(session, plans)
    if any(each.name.casefold() == name.casefold() for each in known.values()):
        raise RefusedError(f"there is a plan {name} already; give the copy another name")
    taken = {each.replace("_", "-") for each in known}
    taken |= {each.slug.replace("_", "-") for each in plan_store.editions(session)}
    stem = free_slug(name, taken).replace("-", "_")
    slug = stem if stem[0].isalpha() else f"plan_{stem}"[:40]
    text = _with(_with(text, "name", f'"{name}"'), "slug", f'"{slug}"')
    return _keep(session, plans, text, slug, by, now_us)


def change_plan(
    session: Session,
    plans: Plans,
    batch_id: int,
    slug: str,
    by: str,
    now_us: int,
    version: int | None = None,
) -> Batch:
    """From now on a batch ages by that plan, in its newest version unless one is named.

    Stages that are over keep the plan under which they were lived.

    Raises:
        UnknownError: There is no such batch or plan.
        RefusedError: Its wheels have lived stages that the plan does not have.
    """
    take_turn(session)
    batch = wheels.batch(session, batch_id)
    plan = version_of(session, plans, slug, version).plan
    if (batch.plan, batch.plan_version) == (plan.slug, plan.version):
        return batch
    lived = {
        each.stage
        for wheel in wheels.wheels_of(session, batch_id)
        if wheel.id is not None
        for each in wheels.stages(session, wheel.id)
    }
    missing = sorted(lived - {stage.slug for stage in plan.stages})
    if missing:
        raise RefusedError(
            f"{plan.name}, version {plan.version}, has no stage {', '.join(missing)}, and wheels"
            f" of {batch.name} have lived it; add the stage to the plan, or keep the batch's plan"
        )
    for each in (batch.plan, batch.plan_version), (plan.slug, plan.version):
        plan_store.keep_shipped(session, *each, now_us)
    plan_store.change(session, batch, plan, now_us, by)
    return batch


def _keep(session: Session, plans: Plans, text: str, slug: str, by: str, now_us: int) -> Plan:
    newest = newest_plans(session, plans).get(slug)
    highest = plan_store.newest(session, slug)
    numbers = [plans[slug].version] if slug in plans else []
    numbers += [highest.version] if highest is not None else []
    if newest is not None:
        same = version_of(session, plans, slug)
        if _with(text, "version", str(newest.version)) in {same.text, editable(same)}:
            return same.plan
    version = max(numbers, default=0) + 1
    text = _with(text, "version", str(version))
    plan = _read(text)
    assert (plan.slug, plan.version) == (slug, version)  # `with_value` wrote both
    if slug in plans:
        plan_store.keep_shipped(session, slug, plans[slug].version, now_us)
    plan_store.add(
        session,
        PlanEdition(slug=slug, version=version, text=text, made_us=now_us, made_by=by),
    )
    return plan


def _clean(text: str) -> str:
    """The text with plain line ends, one at its end; browsers send two signs for each."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").strip() + "\n"
    if len(text) > LONGEST_TEXT:
        raise RefusedError(f"a plan has at most {LONGEST_TEXT:,} signs")
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise RefusedError("the text holds half a sign; paste it again") from None
    return text


def _read(text: str) -> Plan:
    try:
        return parse_plan(text, "the plan")
    except PlanError as error:
        raise PlanRefusedError(error) from None


def _with(text: str, key: str, value: str) -> str:
    try:
        return with_value(text, "the plan", key, value)
    except PlanError as error:
        raise PlanRefusedError(error) from None


def _at_top(text: str, key: str, mend: str) -> PlanError:
    """A mistake at a key at the top of a text that can be read."""
    return PlanFile(text, "the plan").error((key,), f"{key} has changed", mend)
