"""A timer of a make day that has run out: told once, by one watch, and only while it is news."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlmodel import SQLModel

from service.notify.channels import Sent
from service.notify.sender import Sender
from service.store import make_days, outbox
from service.store.ageing_tables import MakeDay
from service.store.database import open_engine, session_maker

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder, LarderMaker

START_US = 1_795_608_000_000_000
SECOND_US = 1_000_000
MINUTE_US = 60 * SECOND_US


def begin(larder: Larder, *, minutes: float = 40, finished: bool = False) -> int:
    """A make day whose timer to the cut was started at the beginning; the timer's number."""
    with larder.sessions() as session:
        day = make_days.start(
            session,
            MakeDay(
                site_id=1,
                name="Blue",
                plan="blue",
                plan_version=1,
                started_us=START_US,
                finished_us=START_US if finished else None,
            ),
        )
        assert day.id is not None
        return make_days.start_timer(session, day.id, "Cut the curd", START_US, minutes * 60).id


def tell_at(larder: Larder, minute: float) -> int:
    larder.clock.time_us = START_US + round(minute * MINUTE_US)
    return larder.watch.tell_of_timers()


def test_a_timer_is_told_of_when_its_time_is_up_and_once(larder: Larder) -> None:
    begin(larder)

    assert [tell_at(larder, minute) for minute in (0, 39.9, 40, 41)] == [0, 0, 1, 0]
    (notice,) = larder.notices()
    assert notice.title == "Cut the curd: the time is up"
    assert "Blue ran out at Wed 25 Nov 13:40" in notice.body


def test_a_stopped_timer_and_one_of_a_finished_make_day_tell_nothing(larder: Larder) -> None:
    stopped = begin(larder)
    begin(larder, finished=True)
    with larder.sessions() as session:
        make_days.stop_timer(session, 1, stopped, START_US + MINUTE_US)

    assert tell_at(larder, 50) == 0
    assert larder.notices() == ()


def test_a_time_that_was_up_long_ago_is_no_news(larder: Larder) -> None:
    begin(larder)

    assert tell_at(larder, 40 + 61) == 0
    with larder.sessions() as session:
        assert make_days.untold_timers(session, larder.clock.time_us) == ()


def test_two_watches_tell_of_a_timer_once(make_larder: LarderMaker, tmp_path: Path) -> None:
    larder = make_larder(tmp_path)
    begin(larder)
    larder.clock.time_us = START_US + 41 * MINUTE_US
    both = threading.Barrier(2)
    told: list[int] = []

    def work() -> None:
        watch = larder.another_watch()
        both.wait(20)
        for _ in range(5):
            try:
                told.append(watch.tell_of_timers())
            except Exception:  # noqa: BLE001 - a busy store is tried again by the next round
                continue

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert sum(told) == 1
    assert len(larder.notices()) == 1


def test_the_running_watch_tells_of_timers(larder: Larder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.watch.rounds._LOOK_EVERY_S", 0.01)
    begin(larder)
    larder.clock.time_us = START_US + 40 * MINUTE_US
    stop = threading.Event()
    put = outbox.put

    def put_and_stop(*arguments: object, **named: object) -> None:
        put(*arguments, **named)  # type: ignore[arg-type]  # passed on as they come
        stop.set()

    monkeypatch.setattr("service.store.outbox.put", put_and_stop)
    watch = larder.another_watch()
    watch.run(stop)

    assert [each.title for each in larder.notices()] == ["Cut the curd: the time is up"]


def test_a_fault_in_telling_leaves_the_alarms_alone(
    larder: Larder, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("service.watch.rounds._LOOK_EVERY_S", 0.01)
    stop = threading.Event()

    def fail(*_arguments: object, **_named: object) -> int:
        stop.set()
        raise OSError("the disk is full")

    monkeypatch.setattr("service.watch.rounds.tell_of_timers", fail)
    watch = larder.another_watch()
    with caplog.at_level(logging.ERROR):
        watch.run(stop)

    assert watch.failed_rounds == 0
    assert "telling of timers failed" in caplog.text


def test_the_sender_delivers_a_notice_that_belongs_to_no_alarm() -> None:
    engine = open_engine("sqlite://")
    SQLModel.metadata.create_all(engine)
    sessions = session_maker(engine)
    taken: list[str] = []

    class Phone:
        """A channel that takes everything."""

        def send(self, label: str, title: str, body: str) -> Sent:
            del label, body
            taken.append(title)
            return Sent(delivered=True, words="taken")

    with sessions() as session:
        outbox.put(session, ["phone"], title="Cut the curd", body="Now.", created_us=0)
    sent = Sender(sessions, Phone()).send_due()

    assert (sent, taken) == (1, ["Cut the curd"])
