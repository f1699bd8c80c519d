"""Which wheels fit together, who is outside, and what mends it, on planted households."""

from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.coming import StageAhead, one_day
from service.ageing.guests import Guest, Home
from service.ageing.limits import tightest
from service.ageing.mending import Mend, Move, spells
from service.ageing.together import fit_of
from service.ageing.values import Quantity, Range, Target
from tests.guest_builders import STAGE, TODAY, guest

CAVE, BOX, FRIDGE, DRY = 1, 2, 3, 4
HOMES = (
    Home(CAVE, None, kitchen=False, mean_c=11.0, humidity_pct=90.0),
    Home(BOX, CAVE, kitchen=False, mean_c=11.0, humidity_pct=None),
    Home(FRIDGE, None, kitchen=True, mean_c=4.0, humidity_pct=55.0),
    Home(DRY, None, kitchen=False, mean_c=11.5, humidity_pct=75.0),
)


def target(temperature: tuple[float, float] | None, humidity: tuple[float, float] | None) -> Target:
    return Target(
        Range(*temperature) if temperature else None, Range(*humidity) if humidity else None
    )


def mend(*moves: Move) -> Mend:
    return Mend(moves)


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
        mend(Move((3,), DRY)),
        mend(Move((3,), None, boxed=True)),
        # The box in the cave is empty, and nobody measures how damp it is.
        mend(Move((3,), BOX, unknown=(Quantity.HUMIDITY,))),
    )


def test_a_move_that_harms_the_other_space_is_no_mend() -> None:
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, ARID, "r"))]
    guests += [guest(4, DRY, (30, DAMP, "r")), guest(5, BOX, (30, DAMP, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.mends == (mend(Move((3,), None, boxed=True)),)


def test_a_box_does_not_mend_a_clash_of_temperature() -> None:
    cold = target((1, 5), None)
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, BOX, (30, cold, "r"))]

    (cave,) = spells(guests, HOMES, CAVE, TODAY, 20)
    (box,) = spells(guests, HOMES, BOX, TODAY, 20)

    assert cave.fit.clash == box.fit.clash == (Quantity.TEMPERATURE,)
    assert cave.mends == (mend(Move((3,), FRIDGE)),)


def test_a_space_too_dry_or_too_damp_for_the_wheels_is_no_mend() -> None:
    """The dry cave has 75 %RH: right for one wheel, not for another."""
    middles = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    drier = target((8, 14), (60, 74.9))

    (right,) = spells([*middles, guest(3, CAVE, (30, ARID, "r"))], HOMES, CAVE, TODAY, 20)
    (wrong,) = spells([*middles, guest(3, CAVE, (30, drier, "r"))], HOMES, CAVE, TODAY, 20)

    assert mend(Move((3,), DRY)) in right.mends
    assert DRY not in {move.to for each in wrong.mends for move in each.moves}


def test_a_space_whose_humidity_nobody_asks_may_have_any() -> None:
    """The kitchen fridge is dry, but a wheel under its wrap does not mind."""
    wrapped = target((1, 5), None)
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, wrapped, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.mends == (mend(Move((3,), FRIDGE)),)


def test_two_batches_outside_are_parted_where_no_one_place_takes_both() -> None:
    cold, dry = target((1, 5), None), target((10, 12), (70, 80))
    guests = [guest(n, CAVE, (30, MIDDLE, "r")) for n in (1, 2, 3)]
    guests += [guest(4, CAVE, (30, cold, "r")), guest(5, CAVE, (30, dry, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.fit.outside == (4, 5)
    assert now.mends[0] == mend(Move((4,), FRIDGE), Move((5,), DRY))
    assert len(now.mends) == 3
    assert all(len(each.moves) == 2 and not each.left for each in now.mends)


def test_others_make_way_where_that_mends_it() -> None:
    """The one outside suits only the warm cave, whose wheel suits the cool one."""
    warm, cool = target((13.5, 16), (80, 90)), target((9, 13), (80, 92))
    homes = (HOMES[0], Home(DRY, None, kitchen=False, mean_c=14.0, humidity_pct=85.0))
    guests = [guest(1, CAVE, (30, cool, "r")), guest(2, CAVE, (30, cool, "r"))]
    guests += [guest(3, CAVE, (30, warm, "r"))]
    guests += [guest(4, DRY, (30, cool, "r"))]

    (now,) = spells(guests, homes, CAVE, TODAY, 20)

    assert now.mends == (mend(Move((3,), DRY), Move((4,), CAVE)),)


def test_a_move_that_leaves_some_outside_is_told_as_such() -> None:
    """Nothing here is so cold that the other batch outside could go anywhere."""
    frozen, dry = target((-4, -2), None), target((8, 14), (70, 80))
    guests = [guest(n, CAVE, (30, MIDDLE, "r")) for n in (1, 2, 3)]
    guests += [guest(4, CAVE, (30, frozen, "r")), guest(5, CAVE, (30, dry, "r"))]

    (now,) = spells(guests, HOMES, CAVE, TODAY, 20)

    assert now.fit.outside == (4, 5)
    assert Mend((Move((5,), DRY),), left=(4,)) in now.mends
    assert {each.left for each in now.mends} == {(4,)}


def test_a_cave_that_is_too_dry_serves_with_a_box_in_it() -> None:
    cellar = Home(DRY, None, kitchen=False, mean_c=14.5, humidity_pct=70.0)
    warm = target((14, 16), (88, 94))
    guests = [guest(n, CAVE, (30, target((8, 12), (88, 94)), "r")) for n in (1, 2)]
    guests += [guest(3, CAVE, (30, warm, "r"))]

    (now,) = spells(guests, (HOMES[0], cellar), CAVE, TODAY, 20)

    assert now.mends == (mend(Move((3,), DRY, boxed=True)),)


def test_boxes_of_one_cave_share_no_humidity() -> None:
    guests = [guest(1, CAVE, (30, ARID, "r")), guest(2, BOX, (30, DAMP, "r"))]

    assert spells(guests, HOMES, CAVE, TODAY, 20)[0].fit.holds
    assert spells(guests, HOMES, BOX, TODAY, 20)[0].fit.humidity_pct == Range(92, 97)


def test_a_space_of_unknown_temperature_is_named_as_such() -> None:
    homes = (*HOMES[:1], replace(HOMES[3], mean_c=None))
    guests = [guest(1, CAVE, (30, MIDDLE, "r")), guest(2, CAVE, (30, MIDDLE, "r"))]
    guests += [guest(3, CAVE, (30, ARID, "r"))]

    (now,) = spells(guests, homes, CAVE, TODAY, 20)

    assert mend(Move((3,), DRY, unknown=(Quantity.TEMPERATURE,))) in now.mends


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
        guest(1, CAVE, (10, MIDDLE, "r"), (40, cold, "kitchen")),
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
