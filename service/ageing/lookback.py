"""Looking back: the days before a condition was seen, beside comparable days without it.

Features of the climate before observations with the condition (cases) stand beside those
before observations in which it was looked for and not there. What differs most comes first.
That something goes along with a condition does not say that it made it, and nothing here
claims so.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain, groupby
from typing import Final

import numpy as np

from service.ageing.noted import Condition
from service.ageing.values import Quantity
from service.science.rank_difference import RankDifference, chance_of_largest, rank_difference
from service.science.signals import BoolArray, FloatArray

AGE_RANGE_D: Final = 14.0
"""Wheels of one family in different stages are comparable within this difference of age. [d]
Our choice."""
FEWEST: Final = 4
"""Fewer in either group are too few to compare. Our choice: with four and four, chance alone
sets the groups wholly apart in 1 of 35 comparisons of one feature."""
LEAST_COVERED: Final = 0.7
"""A feature counts where so much of its window is known. [1] Our choice."""
RARE: Final = 0.05
"""What chance alone does in no more than this share of comparisons stands out. [1]"""


class Feature(StrEnum):
    """What is told of the days before an observation."""

    TOO_DRY = "too dry"
    TOO_DAMP = "too damp"
    TOO_COLD = "too cold"
    TOO_WARM = "too warm"
    WET = "wet"
    OPENINGS = "openings"
    TEMPERATURE = "mean temperature"
    HUMIDITY = "mean humidity"
    SINCE_TURNED = "since turned"

    @property
    def unit(self) -> str:
        """The unit in which the service keeps it; openings have none."""
        return _UNITS.get(self, "h")

    @property
    def quantity(self) -> Quantity | None:
        """The quantity of the air that it is another measure of; None where it stands alone."""
        return _QUANTITIES.get(self)


_UNITS: Final = {
    Feature.OPENINGS: "",
    Feature.TEMPERATURE: "°C",
    Feature.HUMIDITY: "%RH",
    Feature.SINCE_TURNED: "d",
}
_QUANTITIES: Final = {
    Feature.TOO_DRY: Quantity.HUMIDITY,
    Feature.TOO_DAMP: Quantity.HUMIDITY,
    Feature.HUMIDITY: Quantity.HUMIDITY,
    Feature.TOO_COLD: Quantity.TEMPERATURE,
    Feature.TOO_WARM: Quantity.TEMPERATURE,
    Feature.TEMPERATURE: Quantity.TEMPERATURE,
}
_LESS: Final = frozenset({Feature.TOO_DRY, Feature.TOO_COLD})
"""The more of these hours, the less of the quantity."""

BESIDE: Final = frozenset({Feature.HUMIDITY})
"""Told beside the others and not ranked: a mean humidity says once more, and more bluntly, what
the hours too dry and too damp say."""


@dataclass(frozen=True, slots=True)
class Value:
    """A feature of one window.

    Attributes:
        amount: Hours and openings as for the whole window, means as they are; None where too
            little of the window is known.
        covered: How much of the window is known. [1]
    """

    amount: float | None
    covered: float


@dataclass(frozen=True, slots=True)
class Sight:
    """A look at a wheel, or a regular time at which nobody noted anything of the kind.

    Attributes:
        number: Of the observation; None at a regular time.
        wheel: The wheel.
        space: Where it was; None when nowhere.
        time_us: When; the window ends here. [µs UTC]
        family: The family of its plan.
        stage: The stage that it lived.
        age_d: Its age. [d]
        found: The conditions looked for, with whether they were there.
    """

    number: int | None
    wheel: int
    space: int | None
    time_us: int
    family: str
    stage: str | None
    age_d: float
    found: Mapping[Condition, bool]


@dataclass(frozen=True, slots=True)
class Group:
    """What a feature was in one group: how many are known, and their quartiles."""

    count: int
    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class Row:
    """One feature in both groups.

    Attributes:
        feature: Which.
        cases: Before the condition was there; None where it is known of none.
        others: Before it was not there.
        left_out: Windows of which too little is known.
        difference: How far the cases lie above the others; None where there are too few.
        chance: How often chance alone makes the largest of all differences as large; None
            where the observations come from too few separate times. [1]
    """

    feature: Feature
    cases: Group | None
    others: Group | None
    left_out: int
    difference: RankDifference | None
    chance: float | None

    @property
    def stands_out(self) -> bool:
        """Whether chance alone would rarely do that."""
        return self.chance is not None and self.chance <= RARE

    @property
    def higher(self) -> float:
        """How far the cases lie towards more of what is measured; 0 where it is not known. [1]"""
        delta = self.difference.delta if self.difference is not None else 0.0
        return -delta if self.feature in _LESS else delta


@dataclass(frozen=True, slots=True)
class Comparison:
    """Windows before a condition beside windows without it.

    Attributes:
        condition: What was seen.
        rows: The features, that which differs most first, with the others of its quantity; then
            that which differs most of the rest, and so on.
        cases: Windows before the condition was there.
        others: Windows before it was not there.
        regular: How many of the others are regular times and no looks.
        case_times: Separate stretches of air from which the cases come.
        other_times: The same of the others.
    """

    condition: Condition
    rows: tuple[Row, ...]
    cases: int
    others: int
    regular: int
    case_times: int
    other_times: int

    @property
    def enough(self) -> bool:
        """Whether both groups are large enough to compare."""
        return min(self.cases, self.others) >= FEWEST

    @property
    def level_with_first(self) -> tuple[Row, ...]:
        """What tells the same of the first row's quantity, and lies as far as its interval apart.

        Hours too warm and a higher mean temperature say nearly the same, so few looks tell that
        one of them goes along with the condition, and do not tell which.
        """
        first = self.rows[0]
        if first.difference is None or first.feature.quantity is None:
            return ()
        side = 1 if first.higher > 0 else -1
        sure = first.difference.low if first.difference.delta > 0 else -first.difference.high
        return tuple(
            row
            for row in self.rows[1:]
            if row.feature.quantity is first.feature.quantity
            and row.feature not in BESIDE
            and side * row.higher > max(0.0, sure)
        )


def comparable(this: Sight, other: Sight) -> bool:
    """Whether two looks are at wheels alike: one family, and one stage or much the same age."""
    alike = this.stage is not None and this.stage == other.stage
    return this.family == other.family and (alike or abs(this.age_d - other.age_d) <= AGE_RANGE_D)


def apart(this: Sight, sights: Iterable[Sight], window_us: int) -> list[Sight]:
    """The sights whose windows do not overlap on one wheel; `this` is always among them.

    On its own wheel they are taken outwards from `this`, on others from the newest back,
    whatever was seen.
    """
    by_wheel = sorted(sights, key=lambda each: (each.wheel, -each.time_us, each.number or 0))
    chosen = [this]
    for wheel, group in groupby(by_wheel, key=lambda each: each.wheel):
        rows = list(group)
        if wheel != this.wheel:
            chosen += _spaced(rows, None, window_us)
            continue
        chosen += _spaced([each for each in rows if each.time_us < this.time_us], this, window_us)
        later = [each for each in reversed(rows) if each.time_us > this.time_us]
        chosen += _spaced(later, this, window_us)
    return chosen


def _spaced(rows: Iterable[Sight], after: Sight | None, window_us: int) -> list[Sight]:
    """Those of the rows that keep a window's distance from the one taken before."""
    taken: list[Sight] = []
    for each in rows:
        if after is None or abs(each.time_us - after.time_us) >= window_us:
            taken.append(each)
            after = each
    return taken


def compare(
    condition: Condition,
    windows: Sequence[tuple[Sight, Mapping[Feature, Value]]],
    window_us: int,
    generator: np.random.Generator,
) -> Comparison:
    """Set the windows before a condition beside those without it, and rank the features.

    They are ranked by Cliff's delta; where two are wholly apart alike, by the shift in their
    own spread. Features of one quantity are seldom two findings, so they stand together, placed
    by that of them which differs most. Wheels that lay in one space in the same days breathed
    one air: for the question of chance they count once on each side, for the ranking and its n
    each for itself.

    Args:
        condition: What was seen.
        windows: Looks that tell of the condition, with what is known of the days before them.
        window_us: Length of the windows. [µs]
        generator: Deals the labels of the groups.
    """
    table = np.array(
        [[_or_nan(values.get(feature)) for feature in Feature] for _, values in windows]
    ).reshape(len(windows), len(Feature))
    is_case = np.array([sight.found[condition] for sight, _ in windows], dtype=bool)
    sides = _once_each(table, is_case, [sight for sight, _ in windows], window_us)
    case_times = int(sides[1].sum())
    other_times = sides[1].size - case_times
    ranked = [place for place, feature in enumerate(Feature) if feature not in BESIDE]
    chances: dict[int, float] = {}
    if min(case_times, other_times) >= FEWEST:
        found = chance_of_largest(sides[0][:, ranked], sides[1], generator)
        chances = dict(zip(ranked, found.tolist(), strict=True))
    rows = [
        _row(feature, table[:, place], is_case, chances.get(place))
        for place, feature in enumerate(Feature)
    ]
    return Comparison(
        condition=condition,
        rows=_ranked(rows),
        cases=int(is_case.sum()),
        others=int((~is_case).sum()),
        regular=sum(sight.number is None for sight, _ in windows),
        case_times=case_times,
        other_times=other_times,
    )


def _row(feature: Feature, column: FloatArray, is_case: BoolArray, chance: float | None) -> Row:
    known = np.isfinite(column)
    cases, others = column[known & is_case], column[known & ~is_case]
    enough = min(cases.size, others.size) >= FEWEST
    return Row(
        feature=feature,
        cases=_group(cases),
        others=_group(others),
        left_out=int((~known).sum()),
        difference=rank_difference(cases, others) if enough else None,
        chance=chance if enough else None,
    )


def _ranked(rows: Iterable[Row]) -> tuple[Row, ...]:
    together: dict[str, list[Row]] = {}
    for row in sorted(rows, key=_rank):
        together.setdefault(row.feature.quantity or row.feature, []).append(row)
    return tuple(chain.from_iterable(together.values()))


def _rank(row: Row) -> tuple[float, float]:
    if row.feature in BESIDE:
        return 3.0, 0.0
    if row.difference is None:
        return 2.0, 0.0
    return -abs(row.difference.delta), -abs(row.difference.spreads)


def _group(values: FloatArray) -> Group | None:
    if not values.size:
        return None
    low, middle, high = np.quantile(values, (0.25, 0.5, 0.75)).tolist()
    return Group(values.size, low, middle, high)


def _or_nan(value: Value | None) -> float:
    return float("nan") if value is None or value.amount is None else value.amount


def _once_each(
    table: FloatArray, is_case: BoolArray, sights: Sequence[Sight], window_us: int
) -> tuple[FloatArray, BoolArray]:
    """One row for each stretch of one air and each side, the median of its windows."""
    order = sorted(range(len(sights)), key=lambda at: (sights[at].space or 0, sights[at].time_us))
    stretches: list[list[int]] = []
    for at in order:
        first = sights[stretches[-1][0]] if stretches else None
        here = sights[at]
        if first and first.space == here.space and here.time_us - first.time_us < window_us:
            stretches[-1].append(at)
        else:
            stretches.append([at])
    rows, sides = [], []
    for stretch in stretches:
        for side in (True, False):
            part = [at for at in stretch if bool(is_case[at]) is side]
            if part:
                rows.append(_medians(table[part]))
                sides.append(side)
    return np.array(rows).reshape(len(rows), table.shape[1]), np.array(sides, dtype=bool)


def _medians(rows: FloatArray) -> FloatArray:
    """The median of each column; NaN where no row knows it."""
    columns = [column[np.isfinite(column)] for column in rows.T]
    return np.array([np.median(each) if each.size else np.nan for each in columns])
