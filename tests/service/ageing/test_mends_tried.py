"""What mends wheels that do not fit, against plain trials of every place for them."""

from itertools import chain, combinations, product

from hypothesis import given
from hypothesis import strategies as st

from service.ageing.guests import Guest, Home
from service.ageing.mending import Move, spells
from service.ageing.values import Range, Target
from tests.guest_builders import TODAY, guest

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
