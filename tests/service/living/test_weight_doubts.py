"""Which weights are asked about before they are entered, and which are not."""

from collections.abc import Callable

import pytest

from service.living.values import WheelClimate
from service.living.weight_doubts import weight_doubt
from tests import builders
from tests.service.living.conftest import House

NEW_G = 430.0


def hardly_weighed(house: House) -> WheelClimate:
    """A small blue in a box with ten days of air that was weighed twice, last at 424 g."""
    house.air(house.box, builders.steady(10.0), builders.steady(90.0), hours=240)
    wheel_id = house.wheel(house.box)
    house.weigh(wheel_id, 428.0, hours_ago=144)
    house.weigh(wheel_id, 424.0, hours_ago=48)
    return house.climate(wheel_id)


def band_of(climate: WheelClimate) -> tuple[float, float, float]:
    """Low end, middle and high end of what it should weigh now. [g]"""
    assert climate.weight is not None
    past = climate.weight.past
    return float(past.low[-1]), float(past.grams[-1]), float(past.high[-1])


def test_what_is_expected_is_not_asked_about(house: House) -> None:
    climate = hardly_weighed(house)
    low, middle, high = band_of(climate)

    assert [weight_doubt(climate, NEW_G, grams) for grams in (low, middle, high)] == [None] * 3


def test_a_gram_more_is_the_scale_s_own_error(house: House) -> None:
    """Two standard deviations of 1.5 g, as `science.weighing` takes them, make 3.5 g by chance."""
    climate = hardly_weighed(house)

    assert weight_doubt(climate, NEW_G, 425.0) is None
    assert weight_doubt(climate, NEW_G, 427.0) is None


def test_a_heavier_wheel_is_asked_about_with_what_it_weighed(house: House) -> None:
    doubt = weight_doubt(hardly_weighed(house), NEW_G, 428.0)

    assert doubt is not None
    assert doubt.heavier_than_g == 424.0


@pytest.mark.parametrize("off", [lambda g: g - 100.0, lambda g: g / 10, lambda g: g * 2])
def test_a_jump_is_asked_about_with_what_was_expected(
    house: House, off: Callable[[float], float]
) -> None:
    climate = hardly_weighed(house)
    low, middle, high = band_of(climate)
    doubt = weight_doubt(climate, NEW_G, off(middle))

    assert doubt is not None
    assert doubt.expected_g is not None
    assert (doubt.expected_g.low, doubt.expected_g.high) == (low, high)


def test_the_edge_of_the_band_s_double_is_where_asking_begins(house: House) -> None:
    """Worked out by hand: twice the root of the band's reach and of the scale's 2.47 g squared."""
    climate = hardly_weighed(house)
    low, middle, _ = band_of(climate)
    reach = 2 * ((middle - low) ** 2 + 2.4673**2) ** 0.5

    assert weight_doubt(climate, NEW_G, middle - reach + 0.05) is None
    assert weight_doubt(climate, NEW_G, middle - reach - 0.05) is not None


def test_a_wheel_that_was_never_weighed_is_compared_with_its_weight_when_new(house: House) -> None:
    """Of its air nothing is known, so nothing is expected."""
    climate = house.climate(house.wheel(house.box))

    assert weight_doubt(climate, NEW_G, 300.0) is None
    doubt = weight_doubt(climate, NEW_G, 440.0)

    assert doubt is not None
    assert (doubt.heavier_than_g, doubt.expected_g) == (NEW_G, None)
