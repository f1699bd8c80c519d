"""All surfaces as they are now: alike wheels once, wrapped ones left out, lids of boxes."""

from functools import partial

import pytest

from service.living.memory import Memory
from service.store import facts
from tests import builders
from tests.service.living.conftest import House

steady = builders.steady


def test_wheels_that_are_alike_are_told_together(house: House) -> None:
    house.air(house.box, steady(10.1), steady(93.0))
    with house.context.sessions() as session:
        sizes = [(90.0, 70.0, 430.0)] * 3
        made = builders.add_batch(session, 1, "Blue", "blue", 9, sizes, house.box, "ripening")
    other = house.wheel(house.box, "tomme")

    told = house.surfaces()

    assert [each.wheel_ids for each in told] == [(other,), tuple(made)]
    assert {each.space_id for each in told} == {house.box}


def test_a_wheel_that_is_weighed_apart_is_told_apart(house: House) -> None:
    house.air(house.box, steady(10.1), steady(93.0))
    with house.context.sessions() as session:
        sizes = [(90.0, 70.0, 430.0)] * 2
        first, second = builders.add_batch(
            session, 1, "Blue", "blue", 9, sizes, house.box, "ripening"
        )
    house.weigh(first, 425.0, hours_ago=1.0)

    assert {each.wheel_ids for each in house.surfaces()} == {(first,), (second,)}


def test_the_shelf_and_the_page_of_a_wheel_agree(house: House) -> None:
    house.air(house.cave, lambda ago: 10 + (ago % 1), steady(90.0), hours=200.0)
    wheel = house.wheel(house.cave, "tomme")
    house.weigh(wheel, 1940.0, hours_ago=150.0)
    house.weigh(wheel, 1920.0, hours_ago=5.0)

    (shelf,) = house.surfaces()
    page = house.climate(wheel).now

    assert page is not None
    # The shelf begins three days back; a wheel of 2 kg has forgotten all before by then.
    assert shelf.surface_c == pytest.approx(page.surface_c, abs=0.005)
    assert shelf.margin_k == pytest.approx(page.margin_k, abs=0.005)


def test_wrapped_and_unknown_wheels_are_left_out(house: House) -> None:
    house.air(house.fridge, steady(4.0), steady(70.0))
    house.wheel(house.fridge, stage="cold")
    house.wheel(house.box)

    assert house.surfaces() == ()


def test_sweat_is_told_before_it_comes(house: House) -> None:
    # The damp rises by 1 %RH an hour, towards saturation at the surface.
    house.air(house.cave, steady(10.0), lambda ago: 99.0 - ago if ago < 16 else 83.0)
    house.wheel(house.cave, "tomme")

    (told,) = house.surfaces()

    assert told.wet_since_us is None
    assert told.margin_k > 0
    assert told.sweats_in_h is not None
    assert told.sweats_in_h < 6


def test_a_lid_under_a_colder_cave_is_wet(house: House) -> None:
    house.air(house.cave, steady(8.0), steady(85.0))
    house.air(house.box, steady(10.0), steady(99.0))

    (lid,) = house.lids()

    assert 8.0 < lid.lid_c < 10.0
    assert lid.lid_c < lid.dew_point_c
    assert lid.wet_since_us is not None
    assert lid.film_g_m2 > 0.5


def test_a_lid_in_even_air_is_dry(house: House) -> None:
    house.air(house.cave, steady(10.0), steady(85.0))
    house.air(house.box, steady(10.0), steady(95.0))

    (lid,) = house.lids()

    assert lid.wet_since_us is None
    assert lid.film_g_m2 == 0


@pytest.mark.parametrize("missing", ["box", "cave"])
def test_a_lid_needs_air_on_both_its_sides(house: House, missing: str) -> None:
    house.air(house.cave if missing == "box" else house.box, steady(10.0), steady(95.0))

    assert house.lids() == ()


def test_the_memory_is_bounded_and_asks_once() -> None:
    memory = Memory()
    asked: list[int] = []

    def work_out(number: int) -> int:
        asked.append(number)
        return number

    for number in (1, 1, *range(2, 200)):
        memory.recall("now", number, partial(work_out, number))

    assert asked == list(range(1, 200))
    assert memory.count() < 20
    assert memory.recall("now", 199, lambda: -1) == 199


def test_the_stamp_changes_with_what_the_maker_says_and_not_with_readings(house: House) -> None:
    def stamp() -> str:
        with house.context.sessions() as session:
            return facts.stamp(session)

    sensor = house.air(house.cave, steady(10.0), steady(90.0))
    wheel = house.wheel(house.cave)
    stamps = [stamp()]
    with house.context.sessions() as session:
        builders.report(session, sensor, 0.0)
    assert stamp() == stamps[0]

    house.weigh(wheel, 420.0, hours_ago=1.0)
    stamps.append(stamp())
    house.begin(wheel, "wrapped", hours_ago=0.5)
    stamps.append(stamp())
    house.move(wheel, house.fridge, hours_ago=0.5)
    stamps.append(stamp())

    assert len(set(stamps)) == 4
