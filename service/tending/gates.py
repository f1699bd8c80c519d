"""How wheels stand before the gates of their stages, from what the store holds."""

from dataclasses import dataclass
from datetime import date

from service.ageing.gates import GateStanding, NotYet, standing
from service.ageing.work import Gate
from service.errors import UnknownError
from service.judging import Plans
from service.store import gates, wheels
from service.store.ageing_tables import GateAnswer
from service.store.database import Session
from service.tending.days import day_of
from service.tending.facts import Tended, tended, zones_of


@dataclass(frozen=True, slots=True)
class GateNow:
    """A wheel before the gate of the stage that it lives.

    Attributes:
        wheel: The wheel.
        gate: What the gate asks.
        standing: When it asks, what was seen, what is missing.
    """

    wheel: Tended
    gate: Gate
    standing: GateStanding


def wheel_tended(session: Session, plans: Plans, wheel_id: int, now_us: int) -> Tended:
    """One wheel as care sees it.

    Raises:
        UnknownError: There is no such wheel, or it has ended.
    """
    for wheel in tended(session, plans, now_us):
        if wheel.id == wheel_id:
            return wheel
    raise UnknownError(f"there is no wheel {wheel_id} that could be tended")


def gate_of(session: Session, wheel: Tended, at_us: int) -> GateStanding | None:
    """How a wheel stands before its gate at a time; None when it stands before none.

    That is so when it lives no stage, or has gone on from it already: what the maker passed stays
    passed, also where the clock was ahead then and was set back since.
    """
    if wheel.stage is None or wheel.days.stage is None or _has_gone_on(session, wheel):
        return None
    zones = zones_of(session)
    answers = [
        # In the order of the record, for a clock that was set back tells none.
        NotYet(day_of(row.time_us, zones), date.fromisoformat(row.ask_again_day), row.id or 0)
        for row in gates.of_wheel(session, wheel.id)
        if _is_not_yet(row, wheel) and row.ask_again_day is not None
    ]
    return standing(
        wheel.stage.gate,
        wheel.days.made,
        wheel.days.stage.from_day,
        wheel.days.seen,
        answers,
        day_of(at_us, zones),
    )


def gates_now(session: Session, tending: tuple[Tended, ...], now_us: int) -> tuple[GateNow, ...]:
    """Every wheel that stands before a gate."""
    return tuple(
        GateNow(wheel, wheel.stage.gate, found)
        for wheel in tending
        if wheel.stage is not None
        for found in (gate_of(session, wheel, now_us),)
        if found is not None
    )


def _has_gone_on(session: Session, wheel: Tended) -> bool:
    """Whether a later stage than the one that it lives by the clock has been begun."""
    lived = wheels.stages(session, wheel.id)
    return bool(lived) and lived[-1].from_us > (wheel.stage_from_us or 0)


def _is_not_yet(row: GateAnswer, wheel: Tended) -> bool:
    """Whether an answer kept the gate shut at which the wheel stands now."""
    return (
        not row.opened
        and wheel.stage is not None
        and row.stage == wheel.stage.slug
        and wheel.stage_from_us is not None
        and row.time_us >= wheel.stage_from_us
    )
