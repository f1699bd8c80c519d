"""Make days in JSON: what comes in, with types and bounds only, and what goes out."""

from typing import Annotated, Self

from pydantic import Field, StrictBool, StrictFloat, StrictInt, model_validator

from service.ageing.making import Timer, TimerState
from service.ageing.spans import span_s
from service.api.bodies import Body, GivenId, SizeBody, Text, WheelBody
from service.api.make_marks import setting_of
from service.api.moments import GivenInstant, Instant
from service.api.shapes import Answer
from service.store.ageing_tables import MakeDay, MakeStep

Long = Annotated[str, Field(max_length=2_000)]


class MakeBody(Body):
    """A new make day; it begins now unless said otherwise."""

    name: Text
    plan: Text
    raw_milk: StrictBool | None = None
    started: GivenInstant | None = None


class MakeEditBody(Body):
    """Fields to change, and the version of the record that was seen before."""

    version: StrictInt
    name: Text | None = None
    plan: Text | None = None
    raw_milk: StrictBool | None = None
    milk: Long | None = None
    milk_l: StrictFloat | None = None
    cultures: Long | None = None
    rennet: Long | None = None
    moulds: Long | None = None
    multiplier: StrictFloat | None = None
    curd_g: StrictFloat | None = None
    salting: Text | None = None
    salt_pct: StrictFloat | None = None
    words: Long | None = None

    @model_validator(mode="after")
    def _must_keep_what_cannot_be_empty(self) -> Self:
        """A text may be emptied by an empty text; null is for numbers and choices."""
        for field in self.model_fields_set & {
            *("name", "plan", "milk", "cultures", "rennet", "moulds", "words")
        }:
            if getattr(self, field) is None:
                raise ValueError(f"{field} cannot be null")
        return self


class StepBody(Body):
    """A step: what was done, how warm, how sour; and when, null for now."""

    words: Long
    temperature_c: StrictFloat | None = None
    ph: StrictFloat | None = None
    at: GivenInstant | None = None


class TimerBody(Body):
    """A timer: for how long, in seconds or as text such as 13:19."""

    name: Text
    duration_s: StrictFloat | None = None
    duration: Text | None = None

    @model_validator(mode="after")
    def _must_say_how_long(self) -> Self:
        """Take one of the two, and understand the text while it can still be refused."""
        if (self.duration_s is None) == (self.duration is None):
            raise ValueError("give either duration_s or duration")
        if self.duration is not None:
            span_s(self.duration)
        return self

    @property
    def seconds(self) -> float:
        """For how long. [s]"""
        return span_s(self.duration or "") if self.duration_s is None else self.duration_s


class MarkBody(Body):
    """When it happened, null for now."""

    at: GivenInstant | None = None


class FlocculationBody(MarkBody):
    """When the milk flocculated, null for now, and the multiplier of the style."""

    multiplier: StrictFloat


class FinishBody(Body):
    """The wheels one by one, or a count of wheels of one size; their space and first stage."""

    wheels: Annotated[list[WheelBody], Field(max_length=200)] | None = None
    count: Annotated[int, Field(strict=True, ge=1, le=200)] | None = None
    size: SizeBody | None = None
    space_id: GivenId | None = None
    stage: Text | None = Field(None, description="The plan's first stage unless named.")


class StepAnswer(Answer):
    """One step."""

    id: int
    time: Instant = Field(validation_alias="time_us")
    words: str
    temperature_c: float | None
    ph: float | None


class TimerAnswer(Answer):
    """One timer as it stands."""

    id: int
    name: str
    started: Instant
    ends: Instant
    duration_s: float
    left_s: float
    state: TimerState
    stopped: Instant | None


class SettingAnswer(Answer):
    """A setting time. [s]"""

    flocculation_s: float
    multiplier: float
    total_s: float
    left_s: float


class MakeAnswer(Answer):
    """A make day as it stands."""

    id: int
    version: int
    name: str
    plan: str
    plan_version: int
    started: Instant
    finished: Instant | None
    batch_id: int | None
    raw_milk: bool | None
    milk: str
    milk_l: float | None
    cultures: str
    rennet: str
    moulds: str
    rennet_added: Instant | None
    flocculated: Instant | None
    multiplier: float | None
    curd_g: float | None
    salting: str | None
    salt_pct: float | None
    salt_g: float | None
    words: str


class MakeWholeAnswer(MakeAnswer):
    """A make day with its setting time, steps and timers."""

    setting: SettingAnswer | None
    cut: Instant | None
    steps: tuple[StepAnswer, ...]
    timers: tuple[TimerAnswer, ...]


class FinishedAnswer(Answer):
    """What a make day has become."""

    batch_id: int
    wheel_ids: tuple[int, ...]


def timer_answer(timer: Timer, now_us: int) -> TimerAnswer:
    """A timer as it stands at a time."""
    return TimerAnswer(
        id=timer.id,
        name=timer.name,
        started=timer.started_us,
        ends=timer.ends_us,
        duration_s=timer.duration_s,
        left_s=timer.left_s(now_us),
        state=timer.state(now_us),
        stopped=timer.stopped_us,
    )


def make_answer(day: MakeDay) -> MakeAnswer:
    """A make day by itself."""
    return MakeAnswer(**_facts(day))


def make_whole_answer(
    day: MakeDay, steps: tuple[MakeStep, ...], timers: tuple[Timer, ...], now_us: int
) -> MakeWholeAnswer:
    """A make day with all that belongs to it."""
    setting = setting_of(day)
    cut_us = None
    if setting is not None and day.rennet_us is not None:
        cut_us = day.rennet_us + round(setting.total_s * 1_000_000)
    return MakeWholeAnswer(
        **_facts(day),
        setting=None if setting is None else SettingAnswer.model_validate(setting),
        cut=cut_us,
        steps=tuple(StepAnswer.model_validate(step) for step in steps),
        timers=tuple(timer_answer(timer, now_us) for timer in timers),
    )


def _facts(day: MakeDay) -> dict[str, object]:
    renamed = {
        "started": "started_us",
        "finished": "finished_us",
        "rennet_added": "rennet_us",
        "flocculated": "flocculated_us",
    }
    return {field: getattr(day, renamed.get(field, field)) for field in MakeAnswer.model_fields}
