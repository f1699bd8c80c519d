"""Which wheels fit together, who is outside, and what mends it, on planted households."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.coming import StageAhead, Window, one_day
from service.ageing.limits import tightest
from service.ageing.mending import Guest, Home, Mend, spells
from service.ageing.plans import shipped_plans
from service.ageing.together import fit_of
from service.ageing.values import Quantity, Range, Target

TODAY = date(2026, 11, 25)
STAGE = shipped_plans()["blue"].stages[0]
CAVE, BOX, FRIDGE, DRY = 1, 2, 3, 4
HOMES = (
    Home(CAVE, None, kitchen=False, mean_c=11.0),
    Home(BOX, CAVE, kitchen=False, mean_c=11.0),
    Home(FRIDGE, None, kitchen=True, mean_c=4.0),
    Home(DRY, None, kitchen=False, mean_c=11.5),
)


def target(temperature: tuple[float, float] | None, humidity: tuple[float, float] | None) -> Target:
    return Target(
        Range(*temperature) if temperature else None, Range(*humidity) if humidity else None
    )


def guest(wheel: int, space: int, *stages: tuple[int, Target, str], batch: int = 0) -> Guest:
    """A wheel in a space with its stages: until how many days from now, what it asks, its name."""
    ahead = []
    begins = one_day(TODAY - timedelta(days=3))
    for until, asks, slug in stages:
        end = TODAY + timedelta(days=until)
        ends = Window(end - timedelta(days=1), end, end + timedelta(days=1))
        ahead.append(StageAhead(replace(STAGE, slug=slug, target=asks), begins, ends))
        begins = ends
    return Guest(wheel, batch or wheel, space, tuple(ahead), TODAY)


DAMP = target((9, 13), (92, 97))
MIDDLE = target((8, 14), (86, 93))
ARID = target((8, 14), (70, 80))


def test_wheels_that_share_a_range_fit() -> None:
    fit = fit_of([(1, DAMP), (2, MIDDLE)])

    assert fit.holds
    assert fit.humidity_pct == Range(92, 93)
    assert fit.temperature_c == Range(9, 13)
    assert fit.outside == ()


def test_the_fewest_are_outside() -> None:
    fit = fit_of([(1, DAMP), (2, ARID), (3, MIDDLE)])

    assert fit.clash == (Quantity.HUMIDITY,)
    assert fit.outside == (2,)
    assert fit.rest_humidity_pct == Range(92, 93)


ranges = st.none() | st.tuples(st.integers(0, 20), st.integers(0, 6)).map(
    lambda each: Range(float(each[0]), float(each[0] + each[1]))
)
asked = st.lists(st.builds(Target, ranges, ranges), min_size=1, max_size=6)


@given(targets=asked)
def test_no_smaller_group_outside_would_do(targets: list[Target]) -> None:
    """Compared with trying every group there is."""
    wheels = list(enumerate(targets))

    def agree(group: list[tuple[int, Target]]) -> bool:
        found = tightest(group)
        return not any(found.of(quantity).conflict for quantity in Quantity)

    most = max(
        size
        for size in range(len(wheels) + 1)
        for group in combinations(wheels, size)
        if agree(list(group))
    )

    fit = fit_of(wheels)

    assert len(fit.outside) == len(wheels) - most
    assert agree([each for each in wheels if each[0] not in fit.outside])
    assert fit.holds == (not fit.outside)


def test_a_dry_wheel_among_damp_ones_is_mended_by_the_dry_cave_or_a_box_of_its_own() -> None:
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, ARID, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.fit.outside == (3,)
    assert now.mends == (
        # The box in the cave is empty, so it serves as well as a new one.
        Mend((3,), BOX, known=True),
        Mend((3,), DRY, known=True),
        Mend((3,), None, known=True),
    )


def test_a_move_that_harms_the_other_space_is_no_mend() -> None:
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, ARID, "r"))]
    guests += [guest(4, DRY, (30, DAMP, "r")), guest(5, BOX, (30, DAMP, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.mends == (Mend((3,), None, known=True),)


def test_a_box_does_not_mend_a_clash_of_temperature() -> None:
    cold = target((1, 5), None)
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, BOX, (30, cold, "r"))]

    (cave,) = spells(guests, HOMES, CAVE, TODAY, 20)
    (box,) = spells(guests, HOMES, BOX, TODAY, 20)

    assert cave.fit.clash == box.fit.clash == (Quantity.TEMPERATURE,)
    assert cave.mends == (Mend((3,), FRIDGE, known=True),)


def test_boxes_of_one_cave_share_no_humidity() -> None:
    guests = [guest(1, CAVE, (30, ARID, "r")), guest(2, BOX, (30, DAMP, "r"))]

    assert spells(guests, HOMES, CAVE, TODAY, 20)[0].fit.holds
    assert spells(guests, HOMES, BOX, TODAY, 20)[0].fit.humidity_pct == Range(92, 97)


def test_a_space_of_unknown_temperature_is_named_as_such() -> None:
    homes = (*HOMES[:1], replace(HOMES[3], mean_c=None))
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, ARID, "r"))]

    (now,) = spells(guests, homes, CAVE, TODAY, 20)

    assert now.mends[0] == Mend((3,), DRY, known=False)


def test_coming_stages_clash_only_from_when_they_begin() -> None:
    guests = [
        guest(1, CAVE, (10, MIDDLE, "r"), (40, ARID, "late")),
        guest(2, CAVE, (60, DAMP, "r")),
    ]

    found = spells(guests, HOMES, CAVE, TODAY, 50)

    assert [(s.from_day, s.to_day) for s in found] == [
        (TODAY, TODAY + timedelta(days=10)),
        (TODAY + timedelta(days=10), TODAY + timedelta(days=40)),
        (TODAY + timedelta(days=40), TODAY + timedelta(days=50)),
    ]
    assert [spell.fit.holds for spell in found] == [True, False, True]
    assert found[2].wheels == (2,)


def test_a_wheel_is_expected_to_leave_the_cave_for_the_kitchen_fridge() -> None:
    cold = target((1, 5), None)
    guests = [
        guest(1, CAVE, (10, MIDDLE, "r"), (40, cold, "cold")),
        guest(2, CAVE, (60, MIDDLE, "r")),
    ]

    found = spells(guests, HOMES, CAVE, TODAY, 50)

    assert [spell.wheels for spell in found] == [(1, 2), (2,)]
    assert all(spell.fit.holds for spell in found)


@pytest.mark.parametrize("late", [0, -20])
def test_a_wheel_whose_gate_is_late_is_still_here_today(late: int) -> None:
    ends = one_day(TODAY)
    ahead = (StageAhead(replace(STAGE, target=ARID), one_day(TODAY + timedelta(days=late)), ends),)
    found = spells([Guest(1, 1, CAVE, ahead, TODAY)], HOMES, CAVE, TODAY, 5)

    assert found[0].wheels == (1,)
    assert found[0].fit.humidity_pct == Range(70, 80)
