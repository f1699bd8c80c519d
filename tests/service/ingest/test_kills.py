"""Whoever is killed, and whenever: no reading is lost and none is stored twice."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from sqlalchemy import func
from sqlmodel import col, select

from sensors.payloads import Sample, encode, topic_of
from service.broker import PrivateBroker, Role
from service.clock import US_PER_S, WorldClock
from service.store import places, quarantine
from service.store.database import SessionMaker
from service.store.tables import Reading

pytestmark = pytest.mark.broker

SENSORS = 4
Row = tuple[str, int, float | None, float | None]


def readings_of(sensor: int, count: int) -> list[Sample]:
    """Readings that end now, one a second, each with values of its own."""
    first_us = WorldClock().now_us() - count * US_PER_S
    return [
        Sample(f"home/s{sensor}", first_us + n * US_PER_S, 10.0 + n / 8192, 90.0 - n / 8192)
        for n in range(count)
    ]


class Publisher:
    """A sensor that publishes its readings in small packs at a pace, each until acknowledged.

    mosquitto 2.0.11 acknowledges a moment before it saves: killed in that moment it loses what
    it has just acknowledged, at most one message of each sensor. So a sensor that comes back
    sends its last few messages again; what was stored already adds no row.
    """

    WINDOW = 20
    """Messages under way at most, also while the broker is away, as a sensor of ours has it."""

    RECENT = 64
    """Covers those under way and what the broker had answered for and not yet saved."""

    def __init__(
        self, broker: PrivateBroker, sensor: int, count: int, a_second: int, a_pack: int
    ) -> None:
        self.readings = readings_of(sensor, count)
        self._topic = topic_of("home", f"s{sensor}")
        self._a_pack = a_pack
        self._pause_s = 20 * a_pack / a_second
        self._recent: deque[bytes] = deque(maxlen=self.RECENT)
        self._counting = threading.Lock()
        self._unanswered = 0
        self._connections = 0
        settings = broker.settings(Role.SENSOR)
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        assert settings.password is not None
        self._client.username_pw_set(settings.username, settings.password.get_secret_value())
        self._client.on_connect = self._come_back
        self._client.on_publish = self._count_answer
        self._client.reconnect_delay_set(1, 1)
        self._client.connect_async(settings.host, settings.port)
        self._thread = threading.Thread(target=self._publish)

    def start(self) -> None:
        self._client.loop_start()
        self._thread.start()

    def finish(self, within_s: float) -> bool:
        """Wait until the broker has answered for every message; whether that came true."""
        until_s = time.monotonic() + within_s
        self._thread.join(within_s)
        while (waiting := self._thread.is_alive() or self._unanswered) and (
            time.monotonic() < until_s
        ):
            time.sleep(0.01)
        self._client.disconnect()
        self._client.loop_stop()
        return not waiting

    def _publish(self) -> None:
        for n, start in enumerate(range(0, len(self.readings), self._a_pack)):
            payload = encode("", self.readings[start : start + self._a_pack])
            while self._unanswered >= self.WINDOW:
                time.sleep(0.002)
            self._recent.append(payload)
            self._send(payload)
            if n % 20 == 0:
                time.sleep(self._pause_s)

    def _send(self, payload: bytes) -> None:
        with self._counting:
            self._unanswered += 1
        # paho keeps a message until its PUBACK, across connections.
        self._client.publish(self._topic, payload, qos=1)

    def _come_back(self, *_: object) -> None:
        self._connections += 1
        if self._connections > 1:
            for payload in tuple(self._recent):
                self._send(payload)

    def _count_answer(self, *_: object) -> None:
        with self._counting:
            self._unanswered -= 1


@contextmanager
def published(
    broker: PrivateBroker, count: int, a_second: int, a_pack: int = 1
) -> Iterator[list[Publisher]]:
    """Several sensors that publish `count` readings together during the block."""
    publishers = [
        Publisher(broker, sensor, count // SENSORS, a_second // SENSORS, a_pack)
        for sensor in range(SENSORS)
    ]
    for publisher in publishers:
        publisher.start()
    try:
        yield publishers
    finally:
        done = [publisher.finish(60) for publisher in publishers]
    assert all(done)


def sent(publishers: list[Publisher]) -> set[Row]:
    return {
        (one.sensor, one.time_us, one.temperature_c, one.humidity_pct)
        for publisher in publishers
        for one in publisher.readings
    }


def number_stored(sessions: SessionMaker) -> int:
    with sessions() as session:
        return session.exec(select(func.count()).select_from(Reading)).one()


def stored(sessions: SessionMaker) -> list[Row]:
    with sessions() as session:
        keys = {sensor.id: sensor.key for sensor in places.sensors(session)}
        found = session.exec(
            select(
                Reading.sensor_id, Reading.time_us, Reading.temperature_c, Reading.humidity_pct
            ).order_by(col(Reading.sensor_id), col(Reading.time_us))
        )
        return [(keys[row[0]], *row[1:]) for row in found]


def test_a_worker_that_is_killed_loses_nothing_and_doubles_nothing(
    broker: PrivateBroker,
    url: str,
    sessions: SessionMaker,
    working: Callable[..., Any],
    comes_true: Callable[..., bool],
) -> None:
    """20,000 readings, 36 kills: a dozen at each place where one could lose or double."""
    count, lives = 20_000, 36
    with working(broker.settings()):
        pass  # From here on the broker keeps what is published for the worker's session.
    settings = broker.settings()
    assert settings.password is not None
    reachable = json.dumps(
        settings.model_dump() | {"password": settings.password.get_secret_value()}
    )
    program = str(Path(__file__).with_name("doomed_worker.py"))
    with published(broker, count, a_second=1400, a_pack=2) as publishers, ExitStack() as survivor:
        doomed = subprocess.run(
            [sys.executable, program, reachable, url, str(lives)],
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert doomed.returncode == 0, doomed.stderr
        done = json.loads(doomed.stdout)
        worker = survivor.enter_context(working(broker.settings()))
        assert comes_true(lambda: number_stored(sessions) >= count, 60)
    rows = stored(sessions)

    assert min(done["kills"].values()) >= 10
    assert sum(done["kills"].values()) == lives
    assert len(rows) == count
    assert set(rows) == sent(publishers)
    with sessions() as session:
        assert quarantine.count(session) == 0
    # Without repeats no kill fell between a commit and its acknowledgement.
    assert done["repeats"] + worker.tally.repeats > 0


def test_a_broker_that_is_killed_loses_nothing(
    broker: PrivateBroker,
    sessions: SessionMaker,
    working: Callable[..., Any],
    comes_true: Callable[..., bool],
) -> None:
    count, kills = 3_000, 6
    with working(broker.settings()):
        with published(broker, count, a_second=400) as publishers:
            for kill in range(1, kills + 1):
                # Each kill waits for new readings, so that it falls into the traffic.
                assert comes_true(
                    lambda kill=kill: number_stored(sessions) >= kill * count // (kills + 2), 60
                )
                pid = broker.pid
                assert pid is not None
                os.kill(pid, signal.SIGKILL)
                assert comes_true(lambda: broker.pid is None)
                broker.start()
        assert comes_true(lambda: number_stored(sessions) >= count, 60)
    rows = stored(sessions)

    assert len(rows) == count
    assert set(rows) == sent(publishers)
    with sessions() as session:
        assert quarantine.count(session) == 0
