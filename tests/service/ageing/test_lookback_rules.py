"""Rules of looking back: what is compared with what, in which order, and what is told."""

from dataclasses import replace

import numpy as np
import pytest

from service.ageing.lookback import (
    Comparison,
    Feature,
    Sight,
    Value,
    apart,
    comparable,
    compare,
)
from service.ageing.noted import Condition
from service.ageing.values import Quantity

DAY_US = 86_400_000_000
WEEK_US = 7 * DAY_US
WET = Condition.WET_RIND
THIS = Sight(1, 1, 1, 50 * DAY_US, "blue", "ripening", 30.0, {WET: True})


def windows(
    table: "np.ndarray[tuple[int, int], np.dtype[np.float64]]", seen: list[bool], spaces: int = 0
) -> list[tuple[Sight, dict[Feature, Value]]]:
    """A window a row, each of a wheel of its own, in a space of its own unless told."""
    return [
        (
            replace(
                THIS, number=at, wheel=at, space=at % spaces if spaces else at, found={WET: there}
            ),
            {
                feature: Value(None if np.isnan(value) else float(value), 1.0)
                for feature, value in zip(Feature, row, strict=True)
            },
        )
        for at, (row, there) in enumerate(zip(table, seen, strict=True))
    ]


def told(
    table: "np.ndarray[tuple[int, int], np.dtype[np.float64]]", seen: list[bool], spaces: int = 0
) -> Comparison:
    return compare(WET, windows(table, seen, spaces), WEEK_US, np.random.default_rng(1))


@pytest.mark.parametrize(
    ("other", "alike"),
    [
        (replace(THIS, age_d=90.0), True),
        (replace(THIS, stage="coat", age_d=44.0), True),
        (replace(THIS, stage="coat", age_d=44.1), False),
        (replace(THIS, family="hard"), False),
        (replace(THIS, stage=None, age_d=60.0), False),
    ],
)
def test_one_family_and_one_stage_or_much_the_same_age_compare(
    other: Sight, *, alike: bool
) -> None:
    assert comparable(THIS, other) is alike


def test_windows_of_one_wheel_do_not_overlap_and_this_one_stays() -> None:
    days = [30, 42, 44, 48, 50, 53, 57, 60, 64]
    sights = [replace(THIS, number=day, time_us=day * DAY_US) for day in days if day != 50]
    chosen = apart(THIS, sights, WEEK_US)

    assert [each.time_us // DAY_US for each in chosen] == [50, 42, 30, 57, 64]


def test_windows_of_other_wheels_may_lie_over_this_one() -> None:
    other = replace(THIS, number=2, wheel=2)

    assert apart(THIS, [other], WEEK_US) == [THIS, other]


def test_what_differs_most_comes_first_whichever_way() -> None:
    draw = np.random.default_rng(4)
    table = draw.normal(size=(16, len(Feature)))
    seen = [at < 8 for at in range(16)]
    table[:8, list(Feature).index(Feature.OPENINGS)] -= 5.0
    first = told(table, seen).rows[0]

    assert first.feature is Feature.OPENINGS
    assert first.difference is not None
    assert first.difference.delta == -1.0
    assert first.stands_out


def test_features_wholly_apart_alike_are_ranked_by_the_shift_in_their_spread() -> None:
    draw = np.random.default_rng(4)
    table = draw.normal(size=(12, len(Feature)))
    seen = [at < 6 for at in range(12)]
    table[:6, list(Feature).index(Feature.TOO_WARM)] += 6.0
    table[:6, list(Feature).index(Feature.WET)] += 60.0

    assert [row.feature for row in told(table, seen).rows[:2]] == [Feature.WET, Feature.TOO_WARM]


def apart_in(**by: float) -> Comparison:
    """Six cases and six others; by how much features lie apart, and else by nothing."""
    table = np.zeros((12, len(Feature)))
    for name, amount in by.items():
        table[:6, list(Feature).index(Feature[name])] = amount
    return told(table, [at < 6 for at in range(12)])


def test_mean_humidity_is_told_and_not_ranked() -> None:
    found = apart_in(HUMIDITY=9.0, WET=1.0)
    row = next(row for row in found.rows if row.feature is Feature.HUMIDITY)

    assert found.rows[0].feature is Feature.WET
    assert (row.chance, row.stands_out) == (None, False)
    assert row.cases is not None
    assert row.cases.middle == 9.0


def test_what_measures_one_quantity_stands_together_where_the_foremost_of_it_stands() -> None:
    draw = np.random.default_rng(4)
    table = draw.normal(size=(16, len(Feature)))
    # Wholly apart, then much, then a little.
    for feature, by in ((Feature.TOO_DRY, 9.0), (Feature.WET, 2.5), (Feature.TOO_DAMP, 1.0)):
        table[:8, list(Feature).index(feature)] += by
    order = [row.feature for row in told(table, [at < 8 for at in range(16)]).rows]

    assert order[:4] == [Feature.TOO_DRY, Feature.TOO_DAMP, Feature.HUMIDITY, Feature.WET]


def test_a_quantity_has_as_many_features_as_measure_it_and_no_other() -> None:
    of = {feature: feature.quantity for feature in Feature}

    assert [str(feature) for feature, quantity in of.items() if quantity is None] == [
        "wet",
        "openings",
        "since turned",
    ]
    assert sum(quantity is Quantity.TEMPERATURE for quantity in of.values()) == 3
    assert sum(quantity is Quantity.HUMIDITY for quantity in of.values()) == 3


@pytest.mark.parametrize(
    ("swapped", "level"), [(0, True), (1, True), (3, False)], ids=["alike", "nearly", "halfway"]
)
def test_level_with_the_first_is_what_lies_within_its_interval(
    swapped: int, *, level: bool
) -> None:
    """Of eight and eight wholly apart the interval reaches down to a delta of 0.51."""
    table = np.zeros((16, len(Feature)))
    warm, mean = (list(Feature).index(each) for each in (Feature.TOO_WARM, Feature.TEMPERATURE))
    table[:, warm] = [*range(20, 28), *range(8)]
    # Each that is swapped lies on the other side of everything.
    table[:, mean] = [*range(-swapped, 0), *range(20, 28 - swapped), *range(8)]
    found = told(table, [at < 8 for at in range(16)])

    assert found.rows[0].feature is Feature.TOO_WARM
    assert [row.feature for row in found.level_with_first] == [Feature.TEMPERATURE] * level


@pytest.mark.parametrize(
    ("foremost", "other", "level"),
    [
        ({"TOO_WARM": -2.0}, {"TOO_COLD": 1.0}, True),
        ({"TOO_WARM": 2.0}, {"TOO_COLD": 1.0}, False),
        ({"TOO_DRY": 2.0}, {"TOO_DAMP": -1.0}, True),
        ({"TOO_DRY": 2.0}, {"TOO_DAMP": 1.0}, False),
        ({"TEMPERATURE": -2.0}, {"TOO_COLD": 1.0}, True),
        ({"TEMPERATURE": -2.0}, {"TOO_WARM": 1.0}, False),
    ],
)
def test_only_what_tells_of_the_same_side_is_level(
    foremost: dict[str, float], other: dict[str, float], *, level: bool
) -> None:
    """Fewer hours too warm and more too cold both say colder; more of both say two things."""
    found = apart_in(**foremost, **other)
    told_of = {row.feature for row in (found.rows[0], *found.level_with_first)}

    assert told_of <= {Feature[name] for name in (*foremost, *other)}
    assert len(told_of) == 1 + level


def test_what_does_not_differ_or_measures_something_else_is_not_level() -> None:
    found = apart_in(TOO_WARM=2.0, WET=1.0, HUMIDITY=9.0)

    assert found.rows[0].feature in {Feature.TOO_WARM, Feature.WET}
    assert found.level_with_first == ()


def test_too_few_are_level_with_nothing() -> None:
    table = np.random.default_rng(1).normal(size=(12, len(Feature)))

    assert told(table, [at < 3 for at in range(12)]).level_with_first == ()


@pytest.mark.parametrize(("cases", "enough"), [(3, False), (4, True)])
def test_fewer_than_four_of_a_kind_are_too_few(cases: int, *, enough: bool) -> None:
    table = np.random.default_rng(1).normal(size=(12, len(Feature)))
    found = told(table, [at < cases for at in range(12)])

    assert found.enough is enough
    assert all((row.difference is not None) is enough for row in found.rows)


def test_windows_of_which_too_little_is_known_are_left_out_and_counted() -> None:
    table = np.random.default_rng(1).normal(size=(12, len(Feature)))
    table[:3, 0] = np.nan
    found = told(table, [at < 6 for at in range(12)])
    row = next(row for row in found.rows if row.feature is Feature.TOO_DRY)

    assert row.left_out == 3
    assert row.difference is None  # three cases are left
    assert row.cases is not None
    assert row.cases.count == 3


def test_wheels_in_one_air_in_the_same_days_count_once_for_chance() -> None:
    table = np.random.default_rng(1).normal(size=(24, len(Feature)))
    seen = [at % 6 < 3 for at in range(24)]
    found = told(table, seen, spaces=6)

    assert (found.cases, found.others) == (12, 12)
    assert (found.case_times, found.other_times) == (3, 3)
    assert all(row.chance is None for row in found.rows)
    assert found.rows[0].difference is not None


def test_chance_stands_out_no_more_often_than_is_said() -> None:
    """Labels without any cause: at most 1 in 20 comparisons tell of something."""
    draw = np.random.default_rng(8)
    tries, stood = 300, 0
    for _ in range(tries):
        table = draw.gamma(0.5, 8.0, size=(14, len(Feature)))
        # The hours go together, as they do in a cave.
        table[:, 1] = table[:, 0] + draw.gamma(0.5, 2.0, size=14)
        seen = (draw.permutation(14) < 6).tolist()
        stood += any(row.stands_out for row in told(table, seen).rows)

    # Four standard deviations of so many tries above 1 in 20.
    assert stood / tries <= 0.05 + 4 * (0.05 * 0.95 / tries) ** 0.5
