"""Which wheels fit together, who is outside, and what mends it, on planted households."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import chain, combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.coming import StageAhead, Window, one_day
from service.ageing.guests import Guest, Home
from service.ageing.limits import tightest
from service.ageing.mending import Mend, Move, spells
from service.ageing.plans import shipped_plans
from service.ageing.together import fit_of
from service.ageing.values import Quantity, Range, Target

TODAY = date(2026, 11, 25)
STAGE = shipped_plans()["blue"].stages[0]
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


def guest(wheel: int, space: int, *stages: tuple[int, Target, str], batch: int = 0) -> Guest:
    """A wheel in a space with its stages: until how many days from now, what it asks, its name."""
    ahead = []
    begins = one_day(TODAY - timedelta(days=3))
    for until, asks, slug in stages:
        end = TODAY + timedelta(days=until)
        ends = Window(end - timedelta(days=1), end, end + timedelta(days=1))
        ahead.append(
            StageAhead(
                replace(STAGE, slug=slug, in_kitchen_fridge=slug == "kitchen", target=asks),
                begins,
                ends,
            )
        )
        begins = ends
    return Guest(wheel, batch or wheel, space, tuple(ahead), TODAY)


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


plain_ranges = st.tuples(st.integers(0, 6), st.integers(0, 3)).map(
    lambda each: Range(float(each[0]), float(each[0] + each[1]))
)
airs = st.none() | st.integers(0, 9).map(float)
MOSTLY_HERE = (1, 1, 1, 2, 3, 4)


@st.composite
def households(draw: st.DrawFn) -> tuple[list[Guest], tuple[Home, ...]]:
    """Two caves, the first with a box, and a kitchen fridge; up to six wheels of three batches."""
    homes = tuple(
        Home(space, parent, kitchen=space == 4, mean_c=draw(airs), humidity_pct=draw(airs))
        for space, parent in ((1, None), (2, 1), (3, None), (4, None))
    )
    guests = [
        guest(
            wheel,
            draw(st.sampled_from(MOSTLY_HERE)),
            (30, Target(draw(plain_ranges), draw(st.none() | plain_ranges)), "r"),
            batch=draw(st.integers(1, 3)),
        )
        for wheel in range(1, draw(st.integers(3, 6)) + 1)
    ]
    return guests, homes


Place = tuple[int, int]
"""A space, and a box that is only thought of in it; 0 for none."""


def all_fit(guests: list[Guest], homes: tuple[Home, ...], where: dict[int, Place]) -> set[Place]:
    """The places of which one air suits all, worked out plainly: each box as a space of its own."""
    caves = {home.space: home.parent or home.space for home in homes}
    asks = {each.wheel: each.ahead[0].stage.target for each in guests}
    places = {(space, 0) for space in caves} | set(where.values())
    found = set()
    for place in places:
        own = [asks[wheel] for wheel, at in where.items() if at == place]
        near = [asks[wheel] for wheel, at in where.items() if caves[at[0]] == caves[place[0]]]
        share = [
            any(
                all(each is None or each.low <= value <= each.high for each in wanted)
                for value in GRID
            )
            for wanted in (
                [each.temperature_c for each in near],
                [each.humidity_pct for each in own],
            )
        ]
        if all(share):
            found.add(place)
    return found


GRID = [float(value) for value in range(11)]
"""All ends of the planted ranges are whole numbers, so that whole numbers tell of every overlap."""


def suits(guests: list[Guest], home: Home, wheels: tuple[int, ...], *, boxed: bool) -> bool:
    asks = [each.ahead[0].stage.target for each in guests if each.wheel in wheels]
    pairs = [(home.mean_c, each.temperature_c) for each in asks]
    if not boxed:
        pairs += [(home.humidity_pct, each.humidity_pct) for each in asks]
    return all(
        value is None or wanted is None or wanted.low <= value <= wanted.high
        for value, wanted in pairs
    )


def place_of(move: Move, guests: list[Guest], homes: tuple[Home, ...], box: int) -> Place:
    caves = {home.space: home.parent or home.space for home in homes}
    first = next(each for each in guests if each.wheel == move.wheels[0])
    space = move.to if move.to is not None else caves[first.space]
    return space, box if move.boxed else 0


@given(household=households())
def test_what_is_told_to_mend_it_does(household: tuple[list[Guest], tuple[Home, ...]]) -> None:
    """Each mend is made and looked at again, by other means."""
    guests, homes = household
    by_space = {home.space: home for home in homes}
    (now,) = spells(guests, homes, 1, TODAY, 20)
    for found in now.mends:
        where = {each.wheel: (each.space, 0) for each in guests}
        concerned = [(1, 0)] if not found.left else []
        for box, move in enumerate(found.moves, start=1):
            place = place_of(move, guests, homes, box)
            concerned.append(place)
            where.update(dict.fromkeys(move.wheels, place))
            if move.to is not None:
                assert suits(guests, by_space[move.to], move.wheels, boxed=move.boxed)

        assert set(concerned) <= all_fit(guests, homes, where)


@given(household=households())
def test_no_mend_by_one_move_is_missed(household: tuple[list[Guest], tuple[Home, ...]]) -> None:
    """Compared with trying every space, and a box where they are, for those outside."""
    guests, homes = household
    (now,) = spells(guests, homes, 1, TODAY, 20)
    outside = now.fit.outside
    mending = set()
    for space, boxed in [*((home.space, False) for home in homes if home.space != 1), (1, True)]:
        home = next(each for each in homes if each.space == space)
        where = {each.wheel: (each.space, 0) for each in guests}
        where.update(dict.fromkeys(outside, (space, int(boxed))))
        if (boxed or suits(guests, home, outside, boxed=False)) and {
            (1, 0),
            (space, int(boxed)),
        } <= all_fit(guests, homes, where):
            mending.add(None if boxed else space)

    singles = {
        each.moves[0].to
        for each in now.mends
        if len(each.moves) == 1 and not each.left and not (each.moves[0].boxed and each.moves[0].to)
    }
    assert singles == (mending if now.fit.clash else set())


@given(household=households())
def test_no_parting_of_batches_in_two_is_missed(
    household: tuple[list[Guest], tuple[Home, ...]],
) -> None:
    """Compared with trying every two spaces for every two parts of the batches outside."""
    guests, homes = household
    (now,) = spells(guests, homes, 1, TODAY, 20)
    outside = [each for each in guests if each.wheel in now.fit.outside]
    batches = sorted({each.batch for each in outside})
    others = [home for home in homes if home.space != 1]
    partings = chain.from_iterable(combinations(batches, n) for n in range(1, len(batches)))

    def serves(first_batches: tuple[int, ...], one: Home, other: Home) -> bool:
        first = tuple(each.wheel for each in outside if each.batch in first_batches)
        second = tuple(each.wheel for each in outside if each.batch not in first_batches)
        where = {each.wheel: (each.space, 0) for each in guests}
        where.update(dict.fromkeys(first, (one.space, 0)))
        where.update(dict.fromkeys(second, (other.space, 0)))
        return (
            suits(guests, one, first, boxed=False)
            and suits(guests, other, second, boxed=False)
            and {(1, 0), (one.space, 0), (other.space, 0)} <= all_fit(guests, homes, where)
        )

    there_is_one = any(serves(*each) for each in product(partings, others, others))

    assert not there_is_one or any(not each.left for each in now.mends)


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
