"""What a keeper does at a gate: open it, say "not yet", or end a wheel.

A gate opens on what was seen. Early, late or with something missing it opens too, with the
keeper's reason, which is kept. The touch makes all of it undoable: see `care_actions.undo`.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.ageing.gates import GateStanding
from service.ageing.moments import day_words
from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api.care_actions import (
    LONGEST_WORDS,
    OTHER_TOUCH,
    Touch,
    check_holds,
    checked_touch,
    day_ahead,
    move,
    when_us,
)
from service.api.lifetime import check_lives, check_not_ended
from service.api.naming import checked_words
from service.api.refusals import RefusedError
from service.judging import Plans
from service.store import gates, places, wheels
from service.store.ageing_tables import CareRecord, GateAnswer
from service.store.database import Session
from service.store.turns import take_turn
from service.tending.gates import gate_of, wheel_tended


class Ended(StrEnum):
    """How a wheel ends."""

    EATEN = "eaten"
    GIVEN_AWAY = "given away"
    THROWN_AWAY = "thrown away"


@dataclass(frozen=True, slots=True)
class Said:
    """What is said at the gate of a stage.

    Attributes:
        opened: Whether the wheel goes on to the next stage.
        stage: The stage whose gate is meant; None for the one that each wheel lives.
        seen: What was seen at the gate itself, in the gate's own words.
        reason: Why it opens early, late or with something missing; the keeper's own words.
        ask_again: When to ask again, for a gate that stays closed.
        space_id: Where the wheels go; None where they stay.
        at: An instant, or a day of the household's calendar; None for now. [µs UTC]
    """

    opened: bool
    stage: str | None = None
    seen: tuple[str, ...] = ()
    reason: str = ""
    ask_again: date | None = None
    space_id: int | None = None
    at: int | date | None = None


def answer_gate(
    session: Session, plans: Plans, wheel_ids: Sequence[int], said: Said, touch: Touch
) -> Sequence[GateAnswer]:
    """Enter what is said of wheels at their gates, all in one touch.

    Returns:
        What the touch has entered; the same again when it is sent again.

    Raises:
        UnknownError: There is no such wheel or space.
        RefusedError: A wheel has ended, lives no stage or another one; the day cannot be; or
            the gate is early, late or something is missing, and there is no reason.
    """
    checked_touch(touch.name)
    take_turn(session)
    known = gates.of_touch(session, touch.name)
    if known:
        if not {row.wheel_id for row in known}.issuperset(wheel_ids) or any(
            row.opened != said.opened or _is_end(row) for row in known
        ):
            raise RefusedError(OTHER_TOUCH)
        return known
    check_holds(session, touch.name)
    if not wheel_ids:
        raise RefusedError("choose one wheel or more")
    ask_again = _ask_again(session, said, touch.now_us)
    if said.space_id is not None:
        places.space(session, said.space_id)
    at_us = when_us(session, said.at, touch.now_us)
    return [
        _answer(session, plans, wheel_id, said, ask_again, at_us, touch)
        for wheel_id in dict.fromkeys(wheel_ids)
    ]


def end_wheel(
    session: Session, wheel_id: int, how: Ended, words: str, at: int | date | None, touch: Touch
) -> GateAnswer:
    """The wheel is eaten, given away or thrown away; it is in no space and asks for no care.

    Returns:
        What the touch has entered; the same again when it is sent again.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: It has ended already, or was placed or began a stage later than that.
    """
    checked_touch(touch.name)
    take_turn(session)
    known = gates.of_touch(session, touch.name)
    if known:
        if known[0].wheel_id != wheel_id or not _is_end(known[0]):
            raise RefusedError(OTHER_TOUCH)
        return known[0]
    check_holds(session, touch.name)
    at_us = when_us(session, at, touch.now_us)
    check_not_ended(session, wheel_id)
    check_lives(session, wheel_id, at_us)
    lived = wheels.stages(session, wheel_id)
    if at is None:
        at_us = _after(session, wheel_id, at_us)
    _check_newest(session, wheel_id, at_us)
    gates.end_wheel(session, wheel_id, how, at_us)
    return gates.enter(
        session,
        GateAnswer(
            touch=touch.name,
            wheel_id=wheel_id,
            stage=lived[-1].stage if lived else "",
            time_us=at_us,
            opened=True,
            next_stage=None,
            reason=": ".join(
                part for part in (how.value, checked_words(words, LONGEST_WORDS)) if part
            ),
            made_by=touch.by,
            entered_us=touch.now_us,
        ),
    )


def asked_of(words: str) -> str:
    """What a gate asks, without what was seen of it so far.

    Examples:
        >>> asked_of("faces dry: moist seen Wed 25 Nov")
        'faces dry'
    """
    return words.partition(": ")[0]


def is_among(words: str, seen: Sequence[str]) -> bool:
    """Whether what a gate asks was seen; what was seen before changes with the day."""
    return words in seen or asked_of(words) in seen


def _ask_again(session: Session, said: Said, now_us: int) -> date | None:
    if said.opened:
        if said.ask_again is not None:
            raise RefusedError("a gate that opens is not asked again")
        return None
    if said.space_id is not None:
        raise RefusedError("a wheel goes on only through an open gate; move it by itself")
    if said.ask_again is None:
        raise RefusedError("say on which day to ask again")
    return day_ahead(session, said.ask_again, now_us)


def _answer(
    session: Session,
    plans: Plans,
    wheel_id: int,
    said: Said,
    ask_again: date | None,
    at_us: int,
    touch: Touch,
) -> GateAnswer:
    check_not_ended(session, wheel_id)
    check_lives(session, wheel_id, at_us)
    wheel = wheel_tended(session, plans, wheel_id, touch.now_us)
    if wheel.stage is None:
        raise RefusedError(f"wheel {wheel.label} lives no stage of its plan")
    if said.stage is not None and said.stage != wheel.stage.slug:
        raise RefusedError(f"wheel {wheel.label} is in {wheel.stage.name} by now; look at it again")
    if said.opened and said.at is None:
        at_us = _after(session, wheel_id, at_us)
    gate = gate_of(session, wheel, at_us)
    if gate is None:
        raise RefusedError(
            f"wheel {wheel.label} went on from {wheel.stage.name} already, at a time that is still"
            " to come: the clock of this machine was ahead then, or is behind now; put it right, or"
            " undo that step"
        )
    asked = (*gate.missing, *gate.questions)
    missing = [each for each in asked if not is_among(each, said.seen)]
    next_stage = None
    if said.opened:
        next_stage = wheel.next_stage
        if next_stage is None:
            raise RefusedError(
                "that is the last stage of its plan; say whether it is eaten, given away or"
                " thrown away"
            )
        _check_reason(gate, missing, said.reason)
        _check_newest(session, wheel_id, at_us)
        wheels.begin_stage(session, wheel_id, next_stage.slug, at_us)
        if said.space_id is not None:
            move(session, wheel_id, said.space_id, _move_row(wheel_id, at_us, touch))
    return gates.enter(
        session,
        GateAnswer(
            touch=touch.name,
            wheel_id=wheel_id,
            stage=wheel.stage.slug,
            time_us=at_us,
            opened=said.opened,
            next_stage=next_stage.slug if next_stage else None,
            ask_again_day=ask_again.isoformat() if ask_again else None,
            reason=checked_words(said.reason, LONGEST_WORDS),
            seen_json=json.dumps(
                [*gate.met, *(asked_of(each) for each in asked if is_among(each, said.seen))]
            ),
            missing_json=json.dumps(missing),
            made_by=touch.by,
            entered_us=touch.now_us,
        ),
    )


def _is_end(row: GateAnswer) -> bool:
    """Whether it says that the wheel is no more, for no stage follows."""
    return row.opened and row.next_stage is None


def _check_reason(gate: GateStanding, missing: Sequence[str], reason: str) -> None:
    if checked_words(reason, LONGEST_WORDS) or not (gate.early or gate.late or missing):
        return
    if gate.early:
        what = f"it is early, before {day_words(gate.earliest)}"
    elif gate.late:
        what = f"it is late, after {day_words(gate.latest)}"
    else:
        what = f"something is missing: {'; '.join(missing)}"
    raise RefusedError(f"{what}; say why you go on all the same")


def _after(session: Session, wheel_id: int, at_us: int) -> int:
    """Now, or just after the newest that was entered, for a browser's clock may be ahead."""
    newest = [lived.from_us for lived in wheels.stages(session, wheel_id)]
    newest += [stay.from_us for stay in wheels.placements(session, wheel_id)]
    return max([at_us, *(from_us + 1 for from_us in newest)])


def _check_newest(session: Session, wheel_id: int, at_us: int) -> None:
    """See to it that nothing was entered of later times, which a way back would lose."""
    for what, spans in (
        ("began a stage", wheels.stages(session, wheel_id)),
        ("was placed", wheels.placements(session, wheel_id)),
    ):
        if spans and (spans[-1].from_us >= at_us or (spans[-1].to_us or 0) > at_us):
            raise RefusedError(f"the wheel {what} later than that; enter it as of now")


def _move_row(wheel_id: int, at_us: int, touch: Touch) -> CareRecord:
    return CareRecord(
        touch=touch.name,
        work=Work.MOVE,
        wheel_id=wheel_id,
        outcome=Outcome.DONE,
        time_us=at_us,
        made_by=touch.by,
        entered_us=touch.now_us,
    )
