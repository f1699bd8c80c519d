"""What the API answers about a space: its air, what is asked of it, and how it behaves."""

from typing import Self

from pydantic import Field

from service.ageing.values import Direction, Quantity
from service.api.moments import Instant
from service.api.shapes import Answer, RangeAnswer
from service.behaving.behaviour import Behaviour, rate_band
from service.store.tables import SpaceKind


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


class EstimateAnswer(Answer):
    """A value that is not measured: what is expected, and the range it may lie in."""

    expected: float
    low: float
    high: float


class CoolingAnswer(Answer):
    """The cooling cycle of the last two days, and the duty of the two weeks before."""

    period_s: float
    period_scatter_s: float
    duty: float
    duty_scatter: float
    duty_before: float | None
    duty_before_scatter: float | None
    changed: bool


class OpeningAnswer(Answer):
    """One opening of the door, as seen in the air."""

    time: Instant = Field(validation_alias="time_us")
    rise_k: float
    humidity_change_pct: float


class OutlookAnswer(Answer):
    """A limit that will be reached if things go on as they do."""

    quantity: Quantity
    direction: Direction
    limit: float
    level: float = Field(description="The newest value without the cooling cycle.")
    hours: EstimateAnswer


class BehaviourAnswer(Answer):
    """How a space behaves; all but the times are estimates."""

    at: Instant
    days: float = Field(description="Days of readings that it rests on.")
    cooling: CoolingAnswer | None
    openings: tuple[OpeningAnswer, ...]
    openings_per_day: EstimateAnswer | None = Field(
        description="Null where none was seen; short ones may be missed."
    )
    air_changes_per_h: EstimateAnswer | None = Field(description="The most that a shut door leaks.")
    tray_g_per_day: EstimateAnswer | None = Field(description="For each 100 l of air.")
    outlooks: tuple[OutlookAnswer, ...] = Field(description="The soonest first.")

    @classmethod
    def of(cls, found: Behaviour) -> Self:
        """The answer that tells a behaviour."""
        rhythm, water = found.rhythm, found.water
        cooling = rhythm and CoolingAnswer(
            period_s=rhythm.now.period_s,
            period_scatter_s=rhythm.now.period_scatter_s,
            duty=rhythm.now.duty,
            duty_scatter=rhythm.now.duty_scatter,
            duty_before=rhythm.before.duty if rhythm.before else None,
            duty_before_scatter=rhythm.before.duty_scatter if rhythm.before else None,
            changed=rhythm.changed,
        )
        return cls(
            at=found.at_us,
            days=found.days,
            cooling=cooling,
            openings=tuple(OpeningAnswer.model_validate(each) for each in found.openings),
            openings_per_day=_openings_per_day(found),
            air_changes_per_h=found.recovery
            and EstimateAnswer.model_validate(found.recovery.air_changes_per_h),
            tray_g_per_day=water and EstimateAnswer.model_validate(water.tray),
            outlooks=tuple(
                OutlookAnswer(
                    quantity=seen.quantity,
                    direction=seen.direction,
                    limit=seen.limit,
                    level=seen.level,
                    hours=EstimateAnswer(
                        expected=seen.forecast.expected_s / 3_600,
                        low=seen.forecast.low_s / 3_600,
                        high=seen.forecast.high_s / 3_600,
                    ),
                )
                for seen in found.outlooks
            ),
        )


def _openings_per_day(found: Behaviour) -> EstimateAnswer | None:
    """How often the door is opened a day; None where too little is known to say."""
    if not found.openings or found.days <= 0:
        return None
    band = rate_band(found)
    return EstimateAnswer(expected=len(found.openings) / found.days, low=band.low, high=band.high)
