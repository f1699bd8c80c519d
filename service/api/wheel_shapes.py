"""What the API answers about a wheel as it stands: its stage, its verdict, its life so far."""

from pydantic import AliasPath, Field

from service.ageing.values import Direction, Quantity
from service.api.moments import Instant
from service.api.plan_shapes import StageAnswer
from service.api.shapes import Answer, RangeAnswer


class FindingAnswer(Answer):
    """One quantity outside its range: by how much, in which unit, and since when."""

    quantity: Quantity
    direction: Direction
    word: str
    amount: float
    unit: str = Field(validation_alias=AliasPath("quantity", "unit"))
    since: Instant = Field(validation_alias="since_us")
    since_is_start: bool = Field(description="False when it may have begun earlier.")


class UnknownAnswer(Answer):
    """A quantity that cannot be judged, and why."""

    quantity: Quantity
    reason: str
    last: Instant | None = Field(validation_alias="last_us")


class JudgementAnswer(Answer):
    """A wheel against its stage, in a word, with what is out of range or not known."""

    word: str
    findings: tuple[FindingAnswer, ...]
    unknown: tuple[UnknownAnswer, ...]


class VerdictAnswer(JudgementAnswer):
    """The verdict on a wheel at a time, about its air and nothing else."""

    wheel_id: int
    time: Instant
    stage: str | None
    target_temperature_c: RangeAnswer | None
    target_humidity_pct: RangeAnswer | None


class WheelAnswer(Answer):
    """One wheel as it stands."""

    id: int
    label: str
    batch_id: int
    batch: str
    plan: str
    plan_version: int
    style: str
    made: Instant = Field(validation_alias="made_us")
    day: int
    diameter_mm: float
    height_mm: float
    mass_g: float
    space_id: int | None
    stage: StageAnswer | None
    stage_from: Instant | None = Field(validation_alias="stage_from_us")
    ended: Instant | None = Field(validation_alias="ended_us")
    ended_how: str | None = Field(description="Eaten, given away or thrown away.")
    verdict: JudgementAnswer


class StayAnswer(Answer):
    """A time in which a wheel was in a space."""

    space_id: int
    from_: Instant = Field(validation_alias="from_us", serialization_alias="from")
    to: Instant | None = Field(validation_alias="to_us")


class StageLivedAnswer(Answer):
    """A time in which a wheel lived a stage."""

    stage: str
    from_: Instant = Field(validation_alias="from_us", serialization_alias="from")
    to: Instant | None = Field(validation_alias="to_us")


class WheelLifeAnswer(WheelAnswer):
    """One wheel with its life so far."""

    placements: tuple[StayAnswer, ...]
    stages: tuple[StageLivedAnswer, ...]


class BatchAnswer(Answer):
    """A batch that was just entered."""

    id: int
    wheel_ids: tuple[int, ...]
