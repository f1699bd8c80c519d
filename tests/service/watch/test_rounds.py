"""The watch at work: more than one at once, faults, and its speed on a long history."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlmodel import Session

from service.store import conditions
from service.store.conditions import OvertakenError
from service.watch.rounds import Watch

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder, LarderMaker


def test_two_watches_at_once_enter_every_alarm_once(
    make_larder: LarderMaker, tmp_path: Path
) -> None:
    larder = make_larder(tmp_path)
    larder.stand()
    larder.shelve()
    for spell in range(4):
        larder.steady(240 * spell, 240 * spell + 120, humidity=70)
        larder.steady(240 * spell + 120, 240 * spell + 240)
    watches = [larder.another_watch() for _ in range(2)]
    both = threading.Barrier(2)
    entered: list[int] = []

    def work(watch: Watch) -> None:
        for minute in range(100, 1100, 100):
            both.wait(20)
            larder.clock.time_us = 1_795_608_000_000_000 + minute * 60_000_000
            both.wait(20)
            entered.append(watch.round())

    threads = [threading.Thread(target=work, args=(watch,)) for watch in watches]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    dry = [alarm for alarm in larder.alarms() if alarm.kind == "humidity_below"]

    assert len(dry) == 4
    # Four raised and returned; the silence after the last reading is raised as well.
    assert sum(entered) == 9


def test_a_condition_moved_on_by_another_is_not_moved_again(larder: Larder) -> None:
    with larder.sessions() as session:
        seen = conditions.watch_sensor(session, larder.sensor_id, "sensor_silent")
    with larder.sessions() as session:
        conditions.advance(session, seen, 1, "{}")

    with larder.sessions() as session, pytest.raises(OvertakenError):
        conditions.advance(session, seen, 2, "{}")


def test_a_fault_does_not_end_the_watch(
    larder: Larder, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.watch.rounds._LOOK_EVERY_S", 0.01)
    stop = threading.Event()
    rounds = 0

    @contextmanager
    def sessions() -> Iterator[Session]:
        nonlocal rounds
        rounds += 1
        if rounds == 1:
            raise OSError("the disk is full")
        stop.set()
        with larder.sessions() as session:
            yield session

    with caplog.at_level(logging.ERROR):
        Watch(sessions, larder.clock, {}).run(stop)

    assert rounds > 1
    assert "a round of the watch failed" in caplog.text
