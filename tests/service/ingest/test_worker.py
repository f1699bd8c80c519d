"""The worker on a real broker: quick, patient, and stopped by nothing that comes in."""

import logging
import statistics
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from pydantic import SecretStr
from sqlalchemy import Engine, event, func, text
from sqlmodel import col, select

from sensors.payloads import Mapping, Sample, encode
from service.broker import PrivateBroker
from service.clock import US_PER_S, WorldClock
from service.ingest.inbox import Received
from service.ingest.process import run
from service.settings import BrokerSettings, Settings
from service.store import quarantine
from service.store.database import SessionMaker
from service.store.tables import Quarantine, Reading, Sensor

pytestmark = pytest.mark.broker

TOPIC = "caves/larch-lane/cave-air/senml"
UNTIMED = b'[{"n":"temperature","u":"Cel","v":11.5}]'

Working = Callable[..., Any]
Publish = Callable[..., None]
ComesTrue = Callable[..., bool]


def reading(minutes_ago: int, temperature_c: float = 11.5) -> bytes:
    time_us = WorldClock().now_us() // US_PER_S * US_PER_S - minutes_ago * 60 * US_PER_S
    return encode("", [Sample("", time_us, temperature_c, 92.5)])


def number(sessions: SessionMaker, table: type[Reading] | type[Quarantine] = Reading) -> int:
    with sessions() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def test_a_lone_reading_is_stored_within_a_quarter_of_a_second(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    taken_s = []
    with working(broker.settings()):
        for n in range(1, 10):
            payload = reading(n)
            began_s = time.monotonic()
            publish(TOPIC, payload)
            assert comes_true(lambda n=n: number(sessions) == n)
            taken_s.append(time.monotonic() - began_s)

    # The median, for a busy machine may hold up any one of them.
    assert statistics.median(taken_s) < 0.25


def test_one_bad_message_after_another_does_not_stop_the_worker(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    bad = [b"", b"\x00\xff", b"[" * 60_000, b'[{"n":"temperature","u":"Cel","v":1e999}]', b"{}"]
    with working(broker.settings()):
        for payload in bad:
            publish(TOPIC, payload)
        publish(TOPIC, reading(0))
        assert comes_true(lambda: number(sessions) == 1)
        assert comes_true(lambda: number(sessions, Quarantine) == len(bad))
    with sessions() as session:
        assert {entry.payload for entry in quarantine.newest(session, 10)} == set(bad)


def test_the_longest_names_that_the_broker_lets_through_do_no_harm(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    everything = Mapping("shed/#", temperature="/t")
    topics = ["shed/" + "x" * 60_000, "shed/🧀 '\"; drop table reading", "shed/a//b/ /c"]
    with working(broker.settings(), [everything]):
        for topic in topics:
            publish(topic, b'{"t": 11.5}')
        assert comes_true(lambda: number(sessions) + number(sessions, Quarantine) == 3)

    assert number(sessions) == 2


def test_the_worker_waits_for_a_broker_that_is_not_there_yet(
    tmp_path: Path, working: Working, comes_true: ComesTrue, caplog: pytest.LogCaptureFixture
) -> None:
    late = PrivateBroker(tmp_path / "late")
    with caplog.at_level(logging.INFO), working(late.settings(), wait_for_broker=False) as worker:
        assert comes_true(lambda: "cannot reach the broker" in caplog.text)
        assert not comes_true(lambda: worker.is_listening, 1.0)
        with late:
            assert comes_true(lambda: worker.is_listening)
            told = caplog.text.count("cannot reach the broker")

    # Several attempts, one line.
    assert told == 1


def test_a_wrong_password_is_told_once_and_not_in_the_log(
    broker: PrivateBroker, working: Working, comes_true: ComesTrue, caplog: pytest.LogCaptureFixture
) -> None:
    wrong = broker.settings().model_copy(update={"password": SecretStr("mistaken")})
    with caplog.at_level(logging.INFO), working(wrong, wait_for_broker=False) as worker:
        assert comes_true(lambda: "refuses the worker" in caplog.text)
        assert not comes_true(lambda: worker.is_listening, 1.5)

    assert caplog.text.count("refuses the worker") == 1
    assert "mistaken" not in caplog.text


def test_what_is_published_while_the_worker_is_away_waits_for_it(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    with working(broker.settings()):
        pass
    for n in range(50):
        publish(TOPIC, reading(n))
    assert number(sessions) == 0
    with working(broker.settings()):
        assert comes_true(lambda: number(sessions) == 50)


def test_the_worker_says_that_it_listens_only_once_nothing_published_is_missed(
    broker: PrivateBroker,
    working: Working,
    comes_true: ComesTrue,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """The broker keeps nothing for a session that it has never seen."""
    monkeypatch.setattr(Client, "subscribe", lambda *_: None)
    with (
        caplog.at_level(logging.INFO),
        working(broker.settings(), wait_for_broker=False) as worker,
    ):
        assert comes_true(worker._link._client.is_connected)

        assert not comes_true(lambda: "listening" in caplog.text, within_s=0.5)
        assert not worker.is_listening


def test_a_reading_that_is_delivered_again_adds_no_row_even_without_a_time_of_its_own(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    """Stored, but the connection ends before the acknowledgement."""
    forgotten: list[Received] = []

    def forget(_client: Client, batch: Sequence[Received]) -> None:
        forgotten.extend(batch)

    with working(broker.settings(), acknowledge=forget) as worker:
        publish(TOPIC, UNTIMED)
        publish(TOPIC, reading(60))
        assert comes_true(lambda: len(forgotten) == 2)
        broker.stop()
        broker.start()
        assert comes_true(lambda: len(forgotten) == 4)
        assert worker.tally.repeats == 2

    assert number(sessions) == 2


def test_a_late_acknowledgement_is_not_sent_on_another_connection(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    """A packet id names a message on its connection only; on the next it may be another."""
    offered: list[Received] = []
    reached = threading.Event()
    gone = threading.Event()

    def cut_off(client: Client, batch: Sequence[Received]) -> None:
        offered.extend(batch)
        for received in batch:
            client.ack(received.packet_id, received.qos)

    with working(broker.settings(), acknowledge=cut_off) as worker:
        inner = worker._store

        def store_slowly(*arguments: Any) -> Any:
            reached.set()
            assert gone.wait(10)
            return inner(*arguments)

        worker._store = store_slowly
        publish(TOPIC, reading(0))
        assert reached.wait(10)
        broker.stop()
        assert comes_true(lambda: not worker.is_listening)
        gone.set()
        assert comes_true(lambda: number(sessions) == 1)
        broker.start()
        assert comes_true(lambda: len(offered) == 1)
        assert worker.tally.messages == 2

    assert offered[0].message.is_repeat


def test_a_full_disk_holds_readings_back_and_loses_none(
    broker: PrivateBroker,
    engine: Engine,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
    caplog: pytest.LogCaptureFixture,
) -> None:
    pages = {"most": 1}
    # Each session sets it, for the pool may give it any connection.
    event.listen(
        engine,
        "begin",
        lambda connection: connection.exec_driver_sql(f"PRAGMA max_page_count={pages['most']}"),
    )
    payloads = [
        encode(
            "",
            [
                Sample("", 10**15 * 17 // 10 + (60 * n + m) * US_PER_S, 11.0, 90.0)
                for m in range(60)
            ],
        )
        for n in range(20)
    ]
    with caplog.at_level(logging.INFO), working(broker.settings()) as worker:
        for payload in payloads:
            publish(TOPIC, payload)
        assert comes_true(lambda: "database or disk is full" in caplog.text)
        assert worker.tally.messages == 0
        pages["most"] = 2**30
        assert comes_true(lambda: number(sessions) == 1200)
        assert comes_true(lambda: "the store works again" in caplog.text)

    assert number(sessions, Quarantine) == 0
    assert caplog.text.count("the store fails") == 1


def test_a_message_that_the_store_refuses_does_not_hold_up_the_others(
    broker: PrivateBroker,
    engine: Engine,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    with engine.begin() as connection:
        connection.execute(
            text(
                "CREATE TRIGGER planted BEFORE INSERT ON reading WHEN NEW.temperature_c = 66.5"
                " BEGIN SELECT RAISE(ABORT, 'a planted fault'); END"
            )
        )
    with working(broker.settings()):
        pass
    poison = reading(3, 66.5)
    for payload in (reading(1), reading(2), poison, reading(4), reading(5)):
        publish(TOPIC, payload)
    with working(broker.settings()):
        assert comes_true(lambda: number(sessions) == 4 and number(sessions, Quarantine) == 1)
    with sessions() as session:
        (entry,) = quarantine.newest(session, 10)
        assert (entry.topic, entry.payload) == (TOPIC, poison)
        assert entry.reason == "could not be stored: a planted fault"


def test_a_status_that_the_broker_kept_is_learned_at_the_first_connection(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Working,
    publish: Publish,
    comes_true: ComesTrue,
) -> None:
    publish("caves/larch-lane/cave-air/status", b"up", retain=True)

    def links() -> Sequence[str | None]:
        with sessions() as session:
            return session.exec(select(Sensor.link).order_by(col(Sensor.id))).all()

    with working(broker.settings()):
        assert comes_true(lambda: list(links()) == ["up"])


def test_a_stopped_process_keeps_its_session_and_comes_back_to_it(
    broker: PrivateBroker,
    url: str,
    tmp_path: Path,
    sessions: SessionMaker,
    publish: Publish,
    comes_true: ComesTrue,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """The way of `wheelward ingest`: from settings, until told to stop."""
    settings = Settings(data_folder=tmp_path, database_url=url, broker=broker.settings())
    for life in (1, 2):
        stop = threading.Event()
        thread = threading.Thread(target=run, args=(settings, stop))
        with caplog.at_level(logging.INFO):
            thread.start()
            assert comes_true(lambda life=life: caplog.text.count("listening to") == life)
            publish(TOPIC, reading(life))
            assert comes_true(lambda life=life: number(sessions) == life)
            stop.set()
            thread.join(10)
            assert not thread.is_alive()

    assert "starts a new session" in caplog.text
    assert "kept the session" in caplog.text


def test_a_worker_without_a_broker_stops_when_told(
    working: Working, sessions: SessionMaker
) -> None:
    nowhere = BrokerSettings(host="127.0.0.1", port=1)
    began_s = time.monotonic()
    with working(nowhere, wait_for_broker=False):
        pass

    assert time.monotonic() - began_s < 10
    assert number(sessions) == 0
