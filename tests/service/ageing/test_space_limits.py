"""The tightest target of the wheels in a space, who sets it, and who cannot agree."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.limits import QuantityTarget, SpaceTarget, tightest, wheels_outside
from service.ageing.values import Direction, Quantity, Range, Target


def humidity(low: float, high: float) -> Target:
    return Target(temperature_c=None, humidity_pct=Range(low, high))


def test_the_common_range_sets_the_limits() -> None:
    target = tightest([(1, humidity(85, 92)), (2, humidity(88, 96))]).humidity_pct

    assert target.common == target.limits == Range(88, 92)
    assert target.set_by(Direction.BELOW) == (2,)
    assert target.set_by(Direction.ABOVE) == (1,)
    assert target.conflict == ()


def test_wheels_with_the_same_end_set_it_together() -> None:
    target = tightest([(1, humidity(85, 92)), (2, humidity(85, 90))]).humidity_pct

    assert target.low_set_by == (1, 2)
    assert target.high_set_by == (2,)


def test_ranges_that_touch_agree_on_one_value() -> None:
    target = tightest([(1, humidity(80, 88)), (2, humidity(88, 96))]).humidity_pct

    assert target.common == Range(88, 88)
    assert target.conflict == ()


def test_wheels_that_cannot_agree_are_found_and_the_others_are_not() -> None:
    wheels = [(1, humidity(80, 85)), (2, humidity(90, 95)), (3, humidity(84, 92))]

    target = tightest(wheels).humidity_pct

    assert target.common is None
    assert target.conflict == (1, 2)


def test_without_agreement_an_alarm_waits_until_the_air_suits_none() -> None:
    target = tightest([(1, humidity(80, 85)), (2, humidity(90, 95))]).humidity_pct

    assert target.limits == Range(80, 95)
    assert (target.low_set_by, target.high_set_by) == ((1,), (2,))


def test_a_wheel_that_asks_nothing_sets_nothing() -> None:
    target = tightest([(1, humidity(80, 85)), (2, Target(Range(1, 5), None))])

    assert target.of(Quantity.HUMIDITY).limits == Range(80, 85)
    assert target.of(Quantity.TEMPERATURE).low_set_by == (2,)


def test_an_empty_space_has_no_limits() -> None:
    target = tightest([])

    assert target == SpaceTarget(QuantityTarget(), QuantityTarget())
    assert target.humidity_pct.limit(Direction.BELOW) is None


def test_each_side_has_its_limit() -> None:
    target = tightest([(1, humidity(80, 85))]).humidity_pct

    assert target.limit(Direction.BELOW) == 80
    assert target.limit(Direction.ABOVE) == 85


RANGES = st.tuples(st.integers(0, 99), st.integers(0, 99)).map(
    lambda ends: humidity(min(ends), max(ends))
)


@given(st.lists(RANGES, min_size=1, max_size=8))
def test_a_conflict_is_exactly_a_pair_that_shares_nothing(targets: list[Target]) -> None:
    asked = [target.humidity_pct for target in targets if target.humidity_pct]
    apart = {
        wheel
        for wheel, one in enumerate(asked)
        if any(one.high < other.low or other.high < one.low for other in asked)
    }

    target = tightest(enumerate(targets)).humidity_pct

    assert set(target.conflict) == apart
    assert (target.common is None) == bool(apart)


@pytest.mark.parametrize(("value", "wheels"), [(85.0, ()), (84.9, (2,)), (79.9, (1, 2))])
def test_an_alarm_names_the_wheels_that_are_out_of_range(
    value: float, wheels: tuple[int, ...]
) -> None:
    targets = [(1, humidity(80, 90)), (2, humidity(85, 92)), (3, Target(Range(8, 12), None))]

    assert wheels_outside(targets, Quantity.HUMIDITY, value, Direction.BELOW) == wheels
