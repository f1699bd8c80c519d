"""Rules of the difference by ranks."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from service.errors import OutOfRangeError
from service.science.rank_difference import chance_of_largest, delta_interval, rank_difference

numbers = some.lists(some.integers(-20, 20), min_size=1, max_size=12).map(
    lambda found: np.array(found, dtype=float)
)


@given(numbers, numbers)
def test_turning_the_groups_round_turns_the_sign(
    first: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    second: "np.ndarray[tuple[int], np.dtype[np.float64]]",
) -> None:
    one, other = rank_difference(first, second), rank_difference(second, first)

    # Roots of one equation, found from either end.
    assert (one.delta, one.shift) == pytest.approx((-other.delta, -other.shift), abs=1e-12)
    assert (one.low, one.high) == pytest.approx((-other.high, -other.low), abs=1e-6)


@given(numbers, numbers)
def test_delta_lies_within_its_interval_and_that_within_one(
    first: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    second: "np.ndarray[tuple[int], np.dtype[np.float64]]",
) -> None:
    found = rank_difference(first, second)

    assert -1 <= found.low <= found.delta <= found.high <= 1


@given(numbers, numbers)
def test_a_stretched_scale_changes_no_delta(
    first: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    second: "np.ndarray[tuple[int], np.dtype[np.float64]]",
) -> None:
    # Whole numbers to the third power keep their order exactly.
    assert rank_difference(first**3, second**3).delta == rank_difference(first, second).delta


def test_one_wild_value_moves_nothing_beyond_its_rank() -> None:
    first, second = np.array([5.0, 6.0, 7.0, 8.0]), np.array([1.0, 2.0, 3.0, 4.0])
    wild = np.array([5.0, 6.0, 7.0, 8e6])

    assert rank_difference(wild, second).delta == rank_difference(first, second).delta


def test_groups_wholly_apart_without_spread_are_infinitely_many_spreads_apart() -> None:
    found = rank_difference(np.full(4, 3.0), np.zeros(4))

    assert (found.delta, found.spreads) == (1.0, math.inf)


@pytest.mark.parametrize(
    ("first", "second"), [([], [1.0]), ([1.0], []), ([math.nan], [1.0]), ([1.0], [math.inf])]
)
def test_groups_that_cannot_be_compared_are_refused(
    first: list[float], second: list[float]
) -> None:
    with pytest.raises(OutOfRangeError):
        rank_difference(np.array(first), np.array(second))


@pytest.mark.parametrize("delta", [-1.01, 1.01, math.nan])
def test_a_delta_that_cannot_be_has_no_interval(delta: float) -> None:
    with pytest.raises(OutOfRangeError):
        delta_interval(delta, 5, 5)


def test_chance_is_the_larger_the_more_features_are_asked() -> None:
    draw = np.random.default_rng(3)
    values = draw.normal(size=(20, 9))
    is_case = np.arange(20) < 9
    values[is_case, 0] += 1.2
    alone = chance_of_largest(values[:, :1], is_case, np.random.default_rng(1))[0]
    among = chance_of_largest(values, is_case, np.random.default_rng(1))[0]

    assert among > 2 * alone


def test_a_feature_known_in_one_group_only_is_no_evidence() -> None:
    values = np.column_stack([np.arange(10.0), np.where(np.arange(10) < 5, 1.0, np.nan)])
    chances = chance_of_largest(values, np.arange(10) < 5, np.random.default_rng(1))

    assert chances[1] == 1.0


def test_the_same_generator_gives_the_same_chances() -> None:
    values = np.random.default_rng(2).normal(size=(30, 4))
    is_case = np.arange(30) < 12
    one, other = (chance_of_largest(values, is_case, np.random.default_rng(7)) for _ in "ab")

    assert one.tolist() == other.tolist()
