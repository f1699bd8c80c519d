"""The care of one wheel on its page: what comes next, what was done, and its gate."""

from dataclasses import dataclass

from dashboards.care_words import (
    answer_words,
    near_day,
    record_words,
    standing_words,
    work_words,
)
from dashboards.pages.care import spaces_named, stages_named
from dashboards.pages.rendering import Household
from dashboards.words import counted, listed, short
from service.ageing.schedule import Standing
from service.ageing.work import Work
from service.api.context import Context
from service.api.gate_actions import Ended
from service.store import care, gates, wheels
from service.store.database import Session
from service.tending.care import CareNow
from service.tending.days import day_of
from service.tending.gates import GateNow

_MOST_SHOWN = 120
"""About half a year of care; the API tells all of it."""


@dataclass(frozen=True, slots=True)
class Next:
    """One care that comes up."""

    title: str
    standing: str
    why: str
    overdue: bool


@dataclass(frozen=True, slots=True)
class Past:
    """One line of what was done; `also` says how many others go with it when it is undone."""

    touch: str
    time_us: int
    words: str
    by: str
    also: str


@dataclass(frozen=True, slots=True)
class TendedBlock:
    """What stands on the page of a wheel.

    Attributes:
        next: What comes up, the most pressing first.
        past: What was done, the newest first.
        more: Whether there is more of it.
        gate: The words of the link to its gate; empty where there is none.
        ended: How and when it ended; empty while it has not.
        ends: How a wheel may end.
        edition: Of the page, for the names of its touches.
    """

    next: tuple[Next, ...]
    past: tuple[Past, ...]
    more: bool
    gate: str
    ended: str
    ends: tuple[Ended, ...]
    edition: str


def tended_block(
    session: Session, context: Context, household: Household, now: CareNow, wheel_id: int
) -> TendedBlock:
    """The care of one wheel."""
    wheel = wheels.wheel(session, wheel_id)
    past = _past(session, context, household, wheel_id)
    ended = ""
    if wheel.ended_us is not None:
        how = (wheel.ended_how or "ended").capitalize()
        ended = f"{how} {household.words.moment(wheel.ended_us)}."
    here = next((each for each in now.gates if each.wheel.id == wheel_id), None)
    return TendedBlock(
        next=tuple(
            Next(
                title=work_words(each.work),
                standing=standing_words(each, now.today),
                why=each.why,
                overdue=each.standing(now.today) is Standing.OVERDUE,
            )
            for each in now.of_wheel(wheel_id)
        ),
        past=tuple(past[:_MOST_SHOWN]),
        more=len(past) > _MOST_SHOWN,
        gate=_gate_words(here, now) if here is not None else "",
        ended=ended,
        ends=tuple(Ended),
        edition=care.edition(session),
    )


def _gate_words(here: GateNow, now: CareNow) -> str:
    following = here.wheel.next_stage
    onward = f"Go on to {short(following.name)}?" if following else "Is it eaten?"
    if here.standing.asks_now:
        return onward
    return f"{onward} Asked {near_day(here.standing.ask_on, now.today)}"


def _past(session: Session, context: Context, household: Household, wheel_id: int) -> list[Past]:
    """What was done with a wheel and its boxes, and said at its gates; the newest first."""
    today = day_of(household.now_us, household.words.zone)
    spaces = spaces_named(session)
    stages = stages_named(session, context, [wheel_id])
    stays = wheels.placements(session, wheel_id)
    answers = gates.of_wheel(session, wheel_id)
    through = {row.touch for row in answers}
    rows = [
        (row.touch, row.time_us, record_words(row, spaces, today), row.made_by)
        for row in care.of_subjects(
            session, wheel_id, {stay.space_id for stay in stays}, _MOST_SHOWN + 1
        )
        # Care of a box counts for the wheels that lay in it.
        if row.wheel_id is not None
        or any(
            stay.space_id == row.space_id
            and stay.from_us <= row.time_us
            and (stay.to_us is None or row.time_us < stay.to_us)
            for stay in stays
        )
        # A move through a gate is told with the gate.
        if not (row.work == Work.MOVE and row.touch in through)
    ]
    rows += [
        (row.touch, row.time_us, answer_words(row, stages, today), row.made_by) for row in answers
    ]
    touches: dict[str, list[tuple[int, str, str | None]]] = {}
    for touch, time_us, words, by in rows:
        touches.setdefault(touch, []).append((time_us, words, by))
    past = [
        Past(
            touch=touch,
            time_us=max(time_us for time_us, _, _ in said),
            words=". ".join(words for _, words, _ in said),
            by=said[0][2] or "",
            also=_also(session, touch, wheel_id),
        )
        for touch, said in touches.items()
    ]
    return sorted(past, key=lambda each: each.time_us, reverse=True)


def _also(session: Session, touch: str, wheel_id: int) -> str:
    """What else is undone with a touch, in words: other wheels, and the works beside."""
    done, said = care.of_touch(session, touch), gates.of_touch(session, touch)
    together = {row.wheel_id for row in done} | {row.wheel_id for row in said}
    others = len(together - {None, wheel_id})
    told = [counted(others, "other wheel")] if others else []
    # A move through a gate is told with the gate.
    works = list(dict.fromkeys(row.work for row in done)) if not said else []
    if len(works) > 1:
        told.append(f"all of {listed(works)}")
    return f"with {' and '.join(told)} of that touch" if told else ""
