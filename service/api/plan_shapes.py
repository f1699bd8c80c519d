"""What the API answers about plans: their stages, gates, care and versions."""

from pydantic import AliasPath, Field

from service.ageing.plans import Kind
from service.ageing.work import Counted, Firmness, Place, Rind, Smell, Trigger, Work
from service.api.moments import Instant
from service.api.shapes import Answer, RangeAnswer


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
