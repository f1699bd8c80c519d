"""What the API answers: shapes that are filled from the service's own values by name."""

from pydantic import AliasPath, BaseModel, ConfigDict, Field

from service.ageing.lifecycle import AlarmState, Priority
from service.ageing.plans import Kind
from service.ageing.values import Direction, Quantity
from service.ageing.work import Counted, Firmness, Place, Rind, Smell, Trigger, Work
from service.api.moments import Instant
from service.store.tables import SpaceKind


class Answer(BaseModel):
    """Any part of an answer; `model_validate` fills it from an object's attributes."""

    model_config = ConfigDict(from_attributes=True, frozen=True, validate_by_name=True)


class RangeAnswer(Answer):
    """A closed range; both ends belong to it."""

    low: float
    high: float


class AirNowAnswer(Answer):
    """The newest reading that speaks for a space."""

    sensor_id: int
    sensor_name: str
    time: Instant = Field(validation_alias="time_us")
    temperature_c: float | None
    humidity_pct: float | None
    dew_point_c: float | None
    fresh: bool


class QuantityTargetAnswer(Answer):
    """What the wheels of a space ask of one quantity, and which wheels cannot agree."""

    limits: RangeAnswer | None
    low_set_by: tuple[int, ...]
    high_set_by: tuple[int, ...]
    conflict: tuple[int, ...]


class SpaceTargetAnswer(Answer):
    """What the wheels of a space ask of its air."""

    temperature_c: QuantityTargetAnswer
    humidity_pct: QuantityTargetAnswer


class SpaceAnswer(Answer):
    """One space as it stands."""

    id: int
    slug: str
    name: str
    kind: SpaceKind
    parent_id: int | None
    board: int
    air: AirNowAnswer | None
    target: SpaceTargetAnswer
    wheel_ids: tuple[int, ...]


class NewSpaceAnswer(Answer):
    """A space that was just entered."""

    id: int
    slug: str
    name: str
    kind: SpaceKind
    parent_id: int | None
    board: int


class AirAnswer(Answer):
    """The air of a space over time, in columns; a row of nulls stands in each silence."""

    space_id: int
    from_: Instant = Field(alias="from")
    to: Instant
    readings: int = Field(description="How many readings there are before thinning.")
    corrected: bool = Field(description="Whether a correction of a sensor may touch a humidity.")
    time: list[Instant]
    temperature_c: list[float | None]
    humidity_pct: list[float | None]
    dew_point_c: list[float | None]


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


class DaysAnswer(Answer):
    """A window of whole days, from when they count, and who says so. [d]"""

    earliest: int
    expected: int
    latest: int
    counted: Counted
    source: str


class GateAnswer(Answer):
    """What must be seen before a stage ends, and when to ask."""

    words: str
    days: DaysAnswer
    coat_pct: float | None
    rind: tuple[Rind, ...]
    firmness: tuple[Firmness, ...]
    questions: tuple[str, ...]
    source: str | None


class CareRuleAnswer(Answer):
    """A care that a stage asks for: recurring, once, or when something is seen."""

    work: Work
    place: Place
    words: str
    source: str
    every: DaysAnswer | None
    once: DaysAnswer | None
    trigger: Trigger | None


class StageAnswer(Answer):
    """A stage of a plan."""

    slug: str
    name: str
    temperature_c: RangeAnswer | None = Field(validation_alias=AliasPath("target", "temperature_c"))
    humidity_pct: RangeAnswer | None = Field(validation_alias=AliasPath("target", "humidity_pct"))
    gate: GateAnswer
    care: tuple[CareRuleAnswer, ...]
    advice: str


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


class LengthAnswer(Answer):
    """How long a stage lasts. [d]"""

    earliest: float
    expected: float
    latest: float


class PlanStageAnswer(StageAnswer):
    """A stage of a plan with its length and the sources of its ranges."""

    wrapped: bool = Field(description="Whether it is lived under a wrap.")
    in_kitchen_fridge: bool = Field(description="Whether it is lived in the kitchen fridge.")
    length_days: LengthAnswer
    temperature_source: str | None
    humidity_source: str | None
    humidity_where: str | None


class ReadinessAnswer(Answer):
    """How far a wheel has ripened when it feels so, in days at the reference temperature."""

    from_stage: str
    days: tuple[tuple[Firmness, DaysAnswer], ...]


class PlanAnswer(Answer):
    """The ageing plan of a style."""

    slug: str
    name: str
    version: int
    family: str
    kind: Kind
    smell: Smell
    reference_temperature_c: float
    readiness: ReadinessAnswer
    stages: tuple[PlanStageAnswer, ...]


class PlanTextAnswer(PlanAnswer):
    """A plan in one of its versions, with the text of its file."""

    text: str
    made: Instant | None = Field(description="When it was saved; null if it came with the service.")
    made_by: str | None
    versions: tuple[int, ...] = Field(description="All versions that are kept, the newest first.")


class BatchPlanAnswer(Answer):
    """The plan under which a batch runs."""

    batch_id: int
    plan: str
    version: int


class SiteAnswer(Answer):
    """The household."""

    slug: str
    name: str
    time_zone: str
    fahrenheit: bool


class ReadingAnswer(Answer):
    """One reading, as received."""

    time: Instant = Field(validation_alias="time_us")
    temperature_c: float | None
    humidity_pct: float | None


class SensorStayAnswer(Answer):
    """Where a sensor stands, and since when."""

    space_id: int
    space: str
    from_: Instant = Field(alias="from")


class SensorAnswer(Answer):
    """One sensor."""

    id: int
    key: str
    name: str
    first_seen: Instant
    state: str = Field(
        description="placed; new, not placed; not placed any more; or in a salt test"
    )
    placement: SensorStayAnswer | None
    last_reading: ReadingAnswer | None
    battery_pct: float | None
    battery_v: float | None
    link: str | None
    temperature_lag_s: float | None
    humidity_lag_s: float | None


class BrowserAnswer(Answer):
    """A browser that is signed in."""

    id: int
    device: str
    since: Instant = Field(validation_alias="created_us")
    expires: Instant = Field(validation_alias="expires_us")
    this_one: bool


class AlarmAnswer(Answer):
    """One alarm, from raised to normal."""

    id: int
    kind: str
    state: AlarmState
    priority: Priority
    space_id: int | None
    space: str | None
    sensor_id: int | None
    sensor: str | None
    raised: Instant = Field(validation_alias="raised_us")
    returned: Instant | None = Field(validation_alias="returned_us")
    acknowledged: Instant | None = Field(validation_alias="acknowledged_us")
    acknowledged_by: str | None
    limit: float | None = Field(description="In °C or %RH, by the kind.")
    extreme: float | None = Field(description="In °C or %RH, by the kind.")
    wheels: str
    title: str
    body: str


class FeedAnswer(Answer):
    """The path of the calendar's secret address, and since when it answers."""

    path: str
    made: Instant
