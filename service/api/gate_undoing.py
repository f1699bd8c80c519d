"""The way back through a gate: stage and space of a wheel as they were before.

Undoing refuses where something was entered since that rests on what is undone, for no guess of
ours may change what the keeper said later.
"""

from collections.abc import Sequence
from typing import TypeVar

from service.ageing.work import Work
from service.api.refusals import RefusedError
from service.store import gates, wheels
from service.store.ageing_tables import CareRecord, GateAnswer
from service.store.database import Session
from service.store.tables import StageLived, WheelPlacement

_Span = TypeVar("_Span", StageLived, WheelPlacement)


def undo_answer(session: Session, answer: GateAnswer) -> None:
    """Let what was said at a gate count no longer; what followed from it never was.

    Raises:
        RefusedError: The wheel has gone on since.
    """
    if answer.opened and answer.next_stage is None:
        _undo_end(session, answer)
    elif answer.opened:
        lived = _lasting_since(answer.time_us, wheels.stages(session, answer.wheel_id))
        if lived is None or lived.stage != answer.next_stage:
            name = wheels.wheel(session, answer.wheel_id).label
            raise RefusedError(
                f"wheel {name} has gone on since, to another stage or to its end;"
                " undo what was entered last first"
            )
        gates.unbegin_stage(session, answer.wheel_id, answer.time_us)
    gates.withdraw(session, answer)


def undo_move(session: Session, row: CareRecord) -> None:
    """Put a wheel back where it was before a move; nothing for any other care.

    Raises:
        RefusedError: The wheel has been moved since.
    """
    if row.work != Work.MOVE or row.wheel_id is None or row.space_id is None:
        return
    stay = _lasting_since(row.time_us, wheels.placements(session, row.wheel_id))
    if stay is None or stay.space_id != row.space_id:
        name = wheels.wheel(session, row.wheel_id).label
        raise RefusedError(
            f"wheel {name} has been moved since; undo what was entered last first,"
            " or move it back by hand"
        )
    gates.unplace_wheel(session, row.wheel_id, row.time_us)


def _lasting_since(time_us: int, spans: Sequence[_Span]) -> _Span | None:
    """The newest of a wheel's stages or stays, if it began at that time and lasts still."""
    newest = spans[-1] if spans else None
    is_it = newest is not None and newest.to_us is None and newest.from_us == time_us
    return newest if is_it else None


def _undo_end(session: Session, answer: GateAnswer) -> None:
    wheel = wheels.wheel(session, answer.wheel_id)
    placed = any(stay.to_us is None for stay in wheels.placements(session, answer.wheel_id))
    lives = any(lived.to_us is None for lived in wheels.stages(session, answer.wheel_id))
    if wheel.ended_us != answer.time_us or placed or lives:
        raise RefusedError(
            f"wheel {wheel.label} was placed or begun anew since its end;"
            " undo what was entered last first"
        )
    gates.unend_wheel(session, answer.wheel_id, answer.time_us)
