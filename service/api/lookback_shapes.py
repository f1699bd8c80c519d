"""What the API answers of the days before an observation, beside those before others."""

import math
from collections.abc import Mapping

from pydantic import Field

from service.ageing.lookback import Comparison, Feature, Group, Row, Value
from service.ageing.noted import Condition
from service.ageing.values import Quantity
from service.api.moments import Instant
from service.api.shapes import Answer
from service.recalling.looking_back import LookBack
from service.science.rank_difference import RankDifference


class FeatureAnswer(Answer):
    """A feature of the window."""

    feature: Feature
    unit: str = Field(description="h, d, °C or %RH; empty for openings.")
    amount: float | None = Field(description="Null where too little of the window is known.")
    covered: float = Field(description="Part of the window that is known.")
    low: float | None = Field(None, description="Of wet hours, 9 times in 10.")
    high: float | None = None


class GroupAnswer(Answer):
    """A feature in one group of windows: how many, and their quartiles."""

    count: int
    low: float
    middle: float
    high: float


class DifferenceAnswer(Answer):
    """How far the cases lie above the others."""

    delta: float = Field(description="Cliff's delta, from -1 to 1.")
    low: float = Field(description="Ends of its 95 % interval (Newcombe 2006, method 5).")
    high: float
    shift: float = Field(description="By how much higher, after Hodges and Lehmann.")


class RowAnswer(Answer):
    """One feature, in this window and in both groups."""

    feature: Feature
    quantity: Quantity | None = Field(
        description="Rows of one quantity stand together; null where a row stands alone."
    )
    unit: str
    this: float | None
    cases: GroupAnswer | None
    others: GroupAnswer | None
    left_out: int = Field(description="Windows of which too little is known.")
    difference: DifferenceAnswer | None = Field(description="Null where there are too few.")
    chance: float | None = Field(
        description="How often chance alone makes the largest of all differences as large."
    )
    stands_out: bool


class ComparisonAnswer(Answer):
    """Windows before the condition beside windows without it; never a cause."""

    condition: Condition
    enough: bool
    cases: int
    others: int
    regular: int = Field(description="Of the others: regular times at which nobody looked.")
    case_times: int = Field(description="Separate stretches of air from which the cases come.")
    other_times: int
    rows: tuple[RowAnswer, ...]


class LookBackAnswer(Answer):
    """The days before an observation."""

    wheel_id: int
    observation_id: int
    from_: Instant = Field(serialization_alias="from")
    to: Instant
    days: int
    seen: tuple[Condition, ...]
    features: tuple[FeatureAnswer, ...]
    comparison: ComparisonAnswer | None
    note: str


NOTE = (
    "What differs goes along with what was seen; it is not shown to have made it. The more"
    " features are compared, the likelier one of them differs by chance."
)


def look_back_answer(found: LookBack) -> LookBackAnswer:
    """A look back as it goes out."""
    number = found.sight.number
    assert number is not None  # it is an observation
    return LookBackAnswer(
        wheel_id=found.sight.wheel,
        observation_id=number,
        from_=found.from_us,
        to=found.sight.time_us,
        days=found.days,
        seen=found.seen,
        features=tuple(_feature(found, feature) for feature in Feature),
        comparison=_comparison(found.comparison, found.values) if found.comparison else None,
        note=NOTE,
    )


def _feature(found: LookBack, feature: Feature) -> FeatureAnswer:
    value = found.values[feature]
    band = found.wet_band_h if feature is Feature.WET else None
    return FeatureAnswer(
        feature=feature,
        unit=feature.unit,
        amount=_rounded(value.amount),
        covered=round(value.covered, 3),
        low=_rounded(band.low) if band else None,
        high=_rounded(band.high) if band else None,
    )


def _comparison(found: Comparison, values: Mapping[Feature, Value]) -> ComparisonAnswer:
    return ComparisonAnswer(
        condition=found.condition,
        enough=found.enough,
        cases=found.cases,
        others=found.others,
        regular=found.regular,
        case_times=found.case_times,
        other_times=found.other_times,
        rows=tuple(_row(row, values[row.feature].amount) for row in found.rows),
    )


def _row(row: Row, this: float | None) -> RowAnswer:
    return RowAnswer(
        feature=row.feature,
        quantity=row.feature.quantity,
        unit=row.feature.unit,
        this=_rounded(this),
        cases=_group(row.cases),
        others=_group(row.others),
        left_out=row.left_out,
        difference=_difference(row.difference),
        chance=_rounded(row.chance),
        stands_out=row.stands_out,
    )


def _group(group: Group | None) -> GroupAnswer | None:
    return None if group is None else GroupAnswer.model_validate(group)


def _difference(found: RankDifference | None) -> DifferenceAnswer | None:
    return None if found is None else DifferenceAnswer.model_validate(found)


def _rounded(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 4)
