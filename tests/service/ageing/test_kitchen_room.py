"""Room and smell in the kitchen fridge."""

from datetime import date, timedelta

import pytest

from service.ageing.kitchen import (
    Fridge,
    KitchenStay,
    best_fridge,
    first_too_full,
    footprint_cm2,
    kitchen_on,
)
from service.ageing.values import Range
from service.ageing.work import Smell

TODAY = date(2026, 11, 25)


def stay(wheel: int, first: int, last: int, smell: Smell = Smell.MILD) -> KitchenStay:
    """A wheel of 9 cm, from so many days from now to so many."""
    area = footprint_cm2(90.0)
    begin, end = (TODAY + timedelta(days=ahead) for ahead in (first, last))
    return KitchenStay(wheel, begin, end, area, smell)


def test_a_wheel_takes_the_square_around_it() -> None:
    found = kitchen_on([stay(1, 0, 9), stay(2, 0, 9)], 162.0, TODAY)

    assert found.taken_cm2 == pytest.approx(162.0, abs=1e-9)  # two squares of 9 cm by 9 cm
    assert found.fits is True
    assert kitchen_on([stay(1, 0, 9), stay(2, 0, 9)], 161.9, TODAY).fits is False


def test_only_those_are_in_it_whose_days_these_are() -> None:
    stays = [stay(1, 0, 3), stay(2, 3, 9), stay(3, 4, 9)]

    assert kitchen_on(stays, None, TODAY + timedelta(days=3)).wheels == (1, 2)


def test_without_a_room_nothing_is_said_to_fit() -> None:
    assert kitchen_on([stay(1, 0, 9)], None, TODAY).fits is None
    assert first_too_full([stay(1, 0, 9)], None, TODAY) is None


def test_the_first_day_without_room_is_found() -> None:
    stays = [stay(1, -5, 9), stay(2, 4, 20), stay(3, 6, 20)]

    found = first_too_full(stays, 200.0, TODAY)

    assert found is not None
    assert found.day == TODAY + timedelta(days=6)
    assert found.wheels == (1, 2, 3)


def test_strong_wheels_are_named() -> None:
    stays = [stay(1, 0, 9, Smell.STRONG), stay(2, 0, 9)]

    assert kitchen_on(stays, None, TODAY).strong == (1,)


ASKED = Range(1.0, 5.0)


@pytest.mark.parametrize(
    ("fridges", "chosen"),
    [
        # Its temperature suits; of equals the first entered.
        ([Fridge(1, 7.0, None, None), Fridge(2, 4.0, None, None)], 2),
        ([Fridge(1, 3.0, None, None), Fridge(2, 4.0, None, None)], 1),
        ([Fridge(1, 5.0, None, None), Fridge(2, 4.0, None, None)], 1),
        # One that nobody measures comes between those that suit and those that do not.
        ([Fridge(1, None, None, None), Fridge(2, 4.0, None, None)], 2),
        ([Fridge(1, 5.1, None, None), Fridge(2, None, None, None)], 2),
        # Of those that do not suit the nearest.
        ([Fridge(1, 9.0, None, None), Fridge(2, -0.5, None, None)], 2),
        # A board too small for the wheel never serves while another does.
        ([Fridge(1, 4.0, 80.0, None), Fridge(2, 9.0, 81.0, None)], 2),
        # Of those that suit the one with room today; but warmth goes before room.
        ([Fridge(1, 4.0, 100.0, 81.0), Fridge(2, 4.0, 162.0, 81.0)], 2),
        ([Fridge(1, 4.0, 100.0, 81.0), Fridge(2, 6.0, 162.0, 0.0)], 1),
    ],
)
def test_a_wheel_of_9_cm_is_planned_for_the_fridge_that_suits_it(
    fridges: list[Fridge], chosen: int
) -> None:
    assert best_fridge(fridges, ASKED, 81.0).space == chosen


def test_where_a_plan_asks_nothing_of_a_fridge_a_measured_one_is_taken() -> None:
    fridges = [Fridge(1, None, None, None), Fridge(2, 9.0, None, None)]

    assert best_fridge(fridges, None, 81.0).space == 2
