"""When a warning is raised and when it returns: seen, gone, taken over."""

import json

from hypothesis import given
from hypothesis import strategies as st

from service.ageing.ahead import FORESEEN, Standing, StepRule, Turn, take_step


def turns(seen: list[bool], rule: StepRule = FORESEEN) -> list[tuple[int, Turn]]:
    """The changes over steps numbered from 0."""
    standing, found = Standing(), []
    for at_us, there in enumerate(seen):
        standing, turn = take_step(standing, at_us, seen=there, taken_over=False, rule=rule)
        if turn is not None:
            found.append((at_us, turn))
    return found


def test_a_warning_that_is_seen_once_is_not_raised() -> None:
    assert turns([True, False, True, False]) == []


def test_a_warning_is_raised_at_the_second_step_in_a_row() -> None:
    assert turns([False, True, True, True]) == [(2, Turn.RAISED)]


def test_a_warning_returns_when_it_was_gone_for_two_hours() -> None:
    """Six steps of twenty minutes; five are not enough."""
    assert turns([True, True, *[False] * 5, True]) == [(1, Turn.RAISED)]
    assert turns([True, True, *[False] * 6]) == [(1, Turn.RAISED), (7, Turn.RETURNED)]


def test_a_warning_ends_at_once_when_the_alarm_that_it_foretold_takes_over() -> None:
    raised = Standing(seen=2, since_us=0, raised_us=1)

    after, turn = take_step(raised, 2, seen=True, taken_over=True, rule=FORESEEN)

    assert (turn, after.active) == (Turn.TAKEN_OVER, False)


def test_a_warning_says_nothing_while_its_alarm_is_raised() -> None:
    standing = Standing()
    for at_us in range(4):
        standing, turn = take_step(standing, at_us, seen=True, taken_over=True, rule=FORESEEN)
        assert turn is None

    assert standing == Standing()


@given(st.lists(st.booleans()))
def test_raised_and_returned_alternate(seen: list[bool]) -> None:
    kinds = [turn for _, turn in turns(seen)]

    assert kinds[::2] == [Turn.RAISED] * len(kinds[::2])
    assert kinds[1::2] == [Turn.RETURNED] * len(kinds[1::2])


@given(st.lists(st.booleans(), max_size=20))
def test_what_is_known_goes_through_json(seen: list[bool]) -> None:
    standing = Standing()
    for at_us, there in enumerate(seen):
        standing, _ = take_step(standing, at_us, seen=there, taken_over=False, rule=FORESEEN)

    assert Standing.from_dict(json.loads(json.dumps(standing.to_dict()))) == standing
