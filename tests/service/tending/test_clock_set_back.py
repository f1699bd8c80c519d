"""What was entered while the clock was ahead, after it is set back."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import care_actions, gate_actions
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.api.gate_actions import Said
from service.api.refusals import RefusedError
from service.clock import DAY_US, HOUR_US
from service.store import wheels
from service.tending.care import care_now
from tests import builders

NOW_US = builders.NOW_US
TODAY = date(2026, 11, 25)
WHITE = 5
"""A wheel whose gate asks today."""
OPENED = Said(opened=True, stage="coat", reason="it is white all over")


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    return builders.larch_lane(tmp_path)


def asking(context: Context, now_us: int) -> set[int]:
    with context.sessions() as session:
        return {gate.wheel.id for gate in care_now(session, context.plans, now_us).asking}


def say(context: Context, said: Said, name: str, now_us: int) -> None:
    with context.sessions() as session:
        touch = Touch(name, "Ann", now_us)
        gate_actions.answer_gate(session, context.plans, [WHITE], said, touch)


@pytest.mark.parametrize("ahead_us", [HOUR_US, 3 * DAY_US, 400 * DAY_US])
def test_a_gate_that_was_passed_is_not_asked_again(lane: Context, ahead_us: int) -> None:
    assert WHITE in asking(lane, NOW_US)

    say(lane, OPENED, "opened-ahead", NOW_US + ahead_us)

    assert WHITE not in asking(lane, NOW_US)
    assert WHITE + 1 in asking(lane, NOW_US)


def test_a_gate_that_was_passed_is_not_passed_again(lane: Context) -> None:
    say(lane, OPENED, "opened-ahead", NOW_US + DAY_US)

    with pytest.raises(RefusedError, match=r"went on from .* already"):
        say(lane, OPENED, "opened-again", NOW_US)
    with lane.sessions() as session:
        assert len(wheels.stages(session, WHITE)) == 2


def test_undone_it_asks_again(lane: Context) -> None:
    say(lane, OPENED, "opened-ahead", NOW_US + DAY_US)
    with lane.sessions() as session:
        care_actions.undo(session, "opened-ahead")

    assert WHITE in asking(lane, NOW_US)


def test_of_two_words_at_a_gate_the_one_said_last_holds(lane: Context) -> None:
    def not_yet(days: int) -> Said:
        return Said(opened=False, stage="coat", ask_again=TODAY + timedelta(days=days))

    say(lane, not_yet(1), "said-ahead", NOW_US + HOUR_US)
    say(lane, not_yet(3), "said-after", NOW_US)

    assert WHITE not in asking(lane, NOW_US + 2 * DAY_US)
    assert WHITE in asking(lane, NOW_US + 3 * DAY_US)


def test_a_word_said_ahead_does_not_win_again_once_its_day_comes(lane: Context) -> None:
    def not_yet(ask_again: date) -> Said:
        return Said(opened=False, stage="coat", ask_again=ask_again)

    say(lane, not_yet(TODAY + timedelta(days=4)), "said-ahead", NOW_US + 2 * DAY_US)
    say(lane, not_yet(TODAY + timedelta(days=1)), "said-after", NOW_US)

    assert WHITE in asking(lane, NOW_US + DAY_US)
    assert WHITE in asking(lane, NOW_US + 2 * DAY_US)


def test_care_done_ahead_is_asked_for_once_more_and_then_rests(lane: Context) -> None:
    """Asked once too often does less harm than a year in which no wheel is turned."""

    def turned(name: str, now_us: int) -> None:
        with lane.sessions() as session:
            touch = Touch(name, "Ann", now_us)
            care_actions.enter_care(session, Given(Work.TURN, Outcome.DONE, (WHITE,)), touch)

    def expected() -> date:
        with lane.sessions() as session:
            now = care_now(session, lane.plans, NOW_US)
        return next(each.expected for each in now.of_wheel(WHITE) if each.work is Work.TURN)

    turned("turned-ahead", NOW_US + 400 * DAY_US)
    assert expected() <= TODAY

    turned("turned-now", NOW_US)
    assert expected() > TODAY
