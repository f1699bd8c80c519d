"""Plans in the store: each version as the text of its file, kept for good; changes of plan."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from sqlmodel import Session, col, select

from service.ageing.plan_reading import with_value
from service.ageing.plans import Plan, parse_plan, shipped_texts
from service.errors import PlanError
from service.store.ageing_tables import PlanChange, PlanEdition
from service.store.tables import Batch


def find(session: Session, slug: str, version: int) -> PlanEdition | None:
    """That version of that plan; None when the store has it not."""
    return session.exec(
        select(PlanEdition).where(
            col(PlanEdition.slug) == slug, col(PlanEdition.version) == version
        )
    ).first()


def newest(session: Session, slug: str) -> PlanEdition | None:
    """The newest version of a plan in the store."""
    return session.exec(
        select(PlanEdition)
        .where(col(PlanEdition.slug) == slug)
        .order_by(col(PlanEdition.version).desc())
        .limit(1)
    ).first()


def editions(session: Session, slug: str | None = None) -> Sequence[PlanEdition]:
    """All versions in the store, or those of one plan; by short name, the oldest first."""
    query = select(PlanEdition).order_by(col(PlanEdition.slug), col(PlanEdition.version))
    if slug is not None:
        query = query.where(col(PlanEdition.slug) == slug)
    return session.exec(query).all()


def add(session: Session, edition: PlanEdition) -> PlanEdition:
    """Keep a version of a plan; its text has been read and found good."""
    session.add(edition)
    session.flush()
    return edition


def keep_shipped(session: Session, slug: str, version: int, now_us: int) -> None:
    """Keep the text of a plan that came with the service, if it still comes in that version.

    So a batch that runs under it keeps it when a later service brings another.
    """
    if find(session, slug, version) is not None:
        return
    text = shipped_texts().get(slug)
    if text is not None and _read(text, f"{slug}.toml").version == version:
        add(session, PlanEdition(slug=slug, version=version, text=text, made_us=now_us))


def keep_running(session: Session, now_us: int) -> None:
    """Keep the plans under which batches run, as far as they came with this service.

    And those whose number another text has taken, for they would be found nowhere.
    """
    running = session.exec(select(Batch.plan, Batch.plan_version).distinct()).all()
    for slug, version in running:
        keep_shipped(session, slug, version, now_us)
    _keep_beside_own(session, now_us)


def read(edition: PlanEdition) -> Plan:
    """The plan of an edition; its text is read once, as it never changes.

    Raises:
        PlanError: This version of the service cannot read it.
    """
    return _read(edition.text, f"{edition.slug}.toml")


def changes(session: Session, batch_id: int) -> Sequence[PlanChange]:
    """When a batch went over to another plan or version, the oldest change first."""
    return session.exec(
        select(PlanChange)
        .where(col(PlanChange.batch_id) == batch_id)
        .order_by(col(PlanChange.time_us), col(PlanChange.id))
    ).all()


def change(session: Session, batch: Batch, plan: Plan, now_us: int, by: str | None) -> None:
    """From now on that batch ages by that plan, in its version; the change is kept."""
    assert batch.id is not None  # it was stored
    session.add(
        PlanChange(
            batch_id=batch.id,
            time_us=now_us,
            from_plan=batch.plan,
            from_version=batch.plan_version,
            to_plan=plan.slug,
            to_version=plan.version,
            made_by=by,
        )
    )
    batch.plan, batch.plan_version = plan.slug, plan.version
    session.add(batch)
    session.flush()


def _keep_beside_own(session: Session, now_us: int) -> None:
    """Keep each shipped plan whose number another text has taken, under the next free number.

    So it can be read, copied and followed, though an edit of the maker's own was saved under
    that number before this service came.
    """
    for slug, text in shipped_texts().items():
        plan = _read(text, f"{slug}.toml")
        if find(session, slug, plan.version) is None:
            continue
        known = editions(session, slug)
        if any(_says(edition, plan) for edition in known):
            continue
        number = known[-1].version + 1
        text_then = with_value(text, f"{slug}.toml", "version", str(number))
        add(session, PlanEdition(slug=slug, version=number, text=text_then, made_us=now_us))


def _says(edition: PlanEdition, plan: Plan) -> bool:
    """Whether an edition came with a service and says what that plan says, under any number."""
    if edition.made_by is not None:
        return False
    try:
        return replace(read(edition), version=plan.version) == plan
    except PlanError:
        return False


@lru_cache(maxsize=256)
def _read(text: str, name: str) -> Plan:
    return parse_plan(text, name)
