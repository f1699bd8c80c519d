"""What the API answers about care: dues, visits, gates, and what a touch has entered."""

import json
from datetime import date
from typing import Annotated, Self

from pydantic import BeforeValidator, Field

from service.ageing.occurrences import Occurrence
from service.ageing.schedule import Due, Standing
from service.ageing.tended import Outcome
from service.ageing.visits import Visit
from service.ageing.work import Place, Work
from service.api.moments import Instant
from service.api.shapes import Answer
from service.store.ageing_tables import CareRecord, GateAnswer
from service.tending.care import CareNow
from service.tending.gates import GateNow

WordsKept = Annotated[tuple[str, ...], BeforeValidator(json.loads)]
"""Words that the store keeps as JSON."""


class TendedAnswer(Answer):
    """A wheel by its number and its names."""

    id: int
    label: str
    batch: str


class DueAnswer(Answer):
    """A care that comes up, with its window and how it stands today.

    `done_on` is the box on which it is done, missing where it is done on each wheel.
    """

    work: Work
    place: Place
    done_on: int | None = Field(description="The space of the box; null for care of a wheel.")
    space_id: int | None
    wheels: tuple[TendedAnswer, ...]
    opens: date
    expected: date
    latest: date
    standing: Standing
    overdue_days: int
    last_done: date | None
    put_off_until: date | None
    words: str
    why: str
    source: str

    @classmethod
    def of(cls, each: Due, now: CareNow) -> Self:
        """A due as it stands."""
        return cls(
            work=each.work,
            place=each.subject.place,
            done_on=each.subject.number if each.subject.place is Place.BOX else None,
            space_id=each.space,
            wheels=tuple(TendedAnswer.model_validate(now.wheels[one]) for one in each.wheels),
            opens=each.opens,
            expected=each.expected,
            latest=each.latest,
            standing=each.standing(now.today),
            overdue_days=each.overdue_days(now.today),
            last_done=each.last_done,
            put_off_until=each.put_off,
            words=each.rule.words,
            why=each.why,
            source=each.rule.source,
        )


class ForeseenAnswer(Answer):
    """A care as it will come up again, if what comes before it is done as proposed; an estimate."""

    work: Work
    place: Place
    done_on: int | None = Field(description="The space of the box; null for care of a wheel.")
    space_id: int | None
    wheel_ids: tuple[int, ...]
    opens: date
    expected: date
    latest: date

    @classmethod
    def of(cls, each: Occurrence) -> Self:
        """An occurrence as it is foreseen."""
        due = each.due
        return cls(
            work=due.work,
            place=due.subject.place,
            done_on=due.subject.number if due.subject.place is Place.BOX else None,
            space_id=due.space,
            wheel_ids=due.wheels,
            opens=each.opens,
            expected=each.expected,
            latest=each.latest,
        )


class VisitAnswer(Answer):
    """One opening of an outermost space, and what is done in it.

    `due` is what is due whatever is done before; `foreseen` hangs on the visits before, and so
    does the visit itself where `is_foreseen` says so.
    """

    day: date
    space_id: int | None
    due: tuple[DueAnswer, ...]
    foreseen: tuple[ForeseenAnswer, ...]
    is_foreseen: bool

    @classmethod
    def of(cls, visit: Visit, now: CareNow) -> Self:
        """A visit as it is proposed."""
        return cls(
            day=visit.day,
            space_id=visit.space,
            due=tuple(DueAnswer.of(each, now) for each in visit.due),
            foreseen=tuple(ForeseenAnswer.of(each) for each in visit.foreseen),
            is_foreseen=visit.is_foreseen,
        )


class OpeningsAnswer(Answer):
    """How often outermost spaces are opened by these visits, and without them."""

    planned: int
    by_expected_days: int
    saved: int


class StandingAnswer(Answer):
    """How a wheel stands before its gate today."""

    asks_now: bool
    ask_on: date
    earliest: date
    expected: date
    latest: date
    met: tuple[str, ...]
    missing: tuple[str, ...]
    questions: tuple[str, ...]
    early: bool
    late: bool


class GateNowAnswer(StandingAnswer):
    """A wheel before the gate of its stage; `next_stage` is missing where its plan ends."""

    wheel: TendedAnswer
    stage: str
    next_stage: str | None
    words: str

    @classmethod
    def of(cls, gate: GateNow) -> Self:
        """A gate as it stands."""
        wheel = gate.wheel
        return cls(
            **dict(StandingAnswer.model_validate(gate.standing)),
            wheel=TendedAnswer.model_validate(wheel),
            stage=wheel.stage.slug if wheel.stage else "",
            next_stage=wheel.next_stage.slug if wheel.next_stage else None,
            words=gate.gate.words,
        )


class CareAnswer(Answer):
    """The care of the household up to a day, in the days of its own calendar."""

    time: Instant
    zone: str
    today: date
    until: date
    due: tuple[DueAnswer, ...]
    visits: tuple[VisitAnswer, ...]
    openings: OpeningsAnswer
    gates: tuple[GateNowAnswer, ...]


class CareRecordAnswer(Answer):
    """One care as it was entered."""

    id: int
    touch: str
    work: Work
    wheel_id: int | None
    space_id: int | None
    outcome: Outcome
    time: Instant = Field(validation_alias="time_us")
    until_day: date | None
    words: str
    withdrawn: bool


class GateAnswerAnswer(Answer):
    """What was said at a gate, as it was entered."""

    id: int
    touch: str
    wheel_id: int
    stage: str
    time: Instant = Field(validation_alias="time_us")
    opened: bool
    next_stage: str | None
    ask_again_day: date | None
    reason: str
    seen: WordsKept = Field(validation_alias="seen_json")
    missing: WordsKept = Field(validation_alias="missing_json")
    withdrawn: bool


def care_rows(rows: list[CareRecord]) -> list[CareRecordAnswer]:
    """Stored care as it is answered."""
    return [CareRecordAnswer.model_validate(row) for row in rows]


def gate_row(row: GateAnswer) -> GateAnswerAnswer:
    """A stored answer at a gate as it is answered."""
    return GateAnswerAnswer.model_validate(row)
