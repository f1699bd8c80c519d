"""Working ahead for the pages: once, only while the watch rests, and not after the end."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from service.api.context import Context
from service.clock import WorldClock
from service.living.climate import climate
from service.living.memory import Memory
from service.living.now import surfaces_now
from service.planning.ahead import plans_ahead
from service.store import weighings
from service.watch.rounds import Watch
from service.watch.warming import Shared, Warmer
from tests import builders

WAIT_S = 30.0


class Home:
    """Larch Lane with a warmer."""

    def __init__(self, folder: Path) -> None:
        self.context: Context = builders.larch_lane(folder)
        self.resting = threading.Event()
        self.resting.set()
        self.stop = threading.Event()
        self.warmer = Warmer(
            self.context.sessions,
            self.context.clock,
            self.context.plans,
            Shared(self.context.memory, self.context.behaviours),
            self.resting,
        )

    def turn(self) -> bool:
        return self.warmer.turn(self.stop)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A home in which the watch rests."""
    return Home(tmp_path)


def test_what_pages_ask_for_is_in_the_memory_after_a_turn(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert home.turn()
    context, now_us = home.context, builders.NOW_US
    asked: list[str] = []
    original = Memory.recall

    def counted(memory: Memory, kind: str, key: object, work_out: Callable[[], object]) -> object:
        def told() -> object:
            asked.append(kind)
            return work_out()

        return original(memory, kind, key, told)

    monkeypatch.setattr(Memory, "recall", counted)
    with context.sessions() as session:
        surfaces_now(session, context.plans, now_us, context.memory)
        plans_ahead(session, context.plans, now_us, context.memory)
        climate(session, context.plans, 1, now_us, context.memory)

    # What is told of this very minute may have gone for another wheel's; nothing else has.
    assert set(asked) <= {"climate"}


def test_warm_and_cold_tell_the_same(home: Home) -> None:
    home.turn()
    context, now_us = home.context, builders.NOW_US
    with context.sessions() as session:
        warm, cold = (
            (
                surfaces_now(session, context.plans, now_us, memory),
                [each.moving for each in plans_ahead(session, context.plans, now_us, memory)],
            )
            for memory in (context.memory, Memory())
        )

    assert warm == cold


def test_nothing_new_is_nothing_to_do(home: Home) -> None:
    assert home.turn()

    assert not home.turn()


def test_a_weighing_is_something_to_do_at_once(home: Home) -> None:
    home.turn()
    with home.context.sessions() as session:
        weighings.enter(session, 1, builders.NOW_US - builders.HOUR_US, 1_900.0)

    assert home.turn()


def test_a_rest_that_a_clock_set_back_would_lengthen_is_over(home: Home) -> None:
    home.turn()
    assert home.warmer._seen is not None
    home.warmer._seen = home.warmer._seen[0], (0, 0)
    home.warmer._rested_us = WorldClock().now_us() + 3 * builders.DAY_US

    assert home.turn()


def test_it_waits_until_the_watch_rests(home: Home) -> None:
    home.resting.clear()
    thread = threading.Thread(target=home.warmer.run, args=(home.stop,))
    thread.start()
    thread.join(0.2)
    before = home.context.memory.count()
    home.stop.set()
    thread.join(WAIT_S)

    assert before == 0
    assert not thread.is_alive()


def test_told_to_stop_it_begins_nothing_more(home: Home) -> None:
    home.stop.set()

    assert not home.turn()
    assert home.context.memory.count() == 0


def test_the_watch_works_through_the_memory_that_it_is_given(home: Home) -> None:
    context = home.context
    Watch(context.sessions, context.clock, context.plans, memory=context.memory).look_ahead()

    assert context.memory.count() > 0


def test_the_watch_rests_only_between_its_rounds(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    context, rested = home.context, []
    watch = Watch(context.sessions, context.clock, context.plans)
    monkeypatch.setattr(watch, "round", lambda: rested.append(watch.resting.is_set()))
    monkeypatch.setattr(watch, "look_ahead", lambda: rested.append(watch.resting.is_set()))
    thread = threading.Thread(target=watch.run, args=(home.stop,))
    thread.start()
    between = watch.resting.wait(WAIT_S)
    home.stop.set()
    thread.join(WAIT_S)

    assert between
    assert rested
    assert not any(rested)


def test_a_failure_ends_only_the_turn(
    home: Home, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    failed = threading.Event()

    def turn(_stop: threading.Event) -> bool:
        failed.set()
        raise ValueError("planted")

    monkeypatch.setattr(home.warmer, "turn", turn)
    thread = threading.Thread(target=home.warmer.run, args=(home.stop,))
    thread.start()
    assert failed.wait(WAIT_S)
    home.stop.set()
    thread.join(WAIT_S)

    assert not thread.is_alive()
    assert "working ahead failed" in caplog.text
