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
def test_one_family_and_one_stage_or_much_the_same_age_compare(other: Sight, alike: bool) -> None:  # noqa: FBT001 - a parameter of the test
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


def test_mean_humidity_is_told_and_not_ranked() -> None:
    table = np.zeros((12, len(Feature)))
    seen = [at < 6 for at in range(12)]
    table[:6, list(Feature).index(Feature.HUMIDITY)] = 9.0
    last = told(table, seen).rows[-1]

    assert (last.feature, last.chance, last.stands_out) == (Feature.HUMIDITY, None, False)
    assert last.cases is not None
    assert last.cases.middle == 9.0


@pytest.mark.parametrize(("cases", "enough"), [(3, False), (4, True)])
def test_fewer_than_four_of_a_kind_are_too_few(cases: int, enough: bool) -> None:  # noqa: FBT001 - a parameter of the test
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
