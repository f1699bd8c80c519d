"""Ingest against yardsticks in the same run: the worker on Debian's mosquitto."""

import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from sqlalchemy import func
from sqlmodel import select

from sensors.payloads import Sample, encode, topic_of
from service.broker import PrivateBroker, Role
from service.clock import US_PER_S, WorldClock
from service.ingest.inbox import BATCH_MESSAGES
from service.ingest.link import READINGS_FILTER, RECEIVE_MAXIMUM
from service.ingest.memory import SensorMemory
from service.ingest.messages import Message
from service.ingest.storing import store
from service.ingest.worker import IngestWorker
from service.settings import BrokerSettings
from service.store import places
from service.store.database import SessionMaker, migrate, open_engine, session_maker
from service.store.tables import Reading

MESSAGES = 4_000
ROUNDS = 3
LONE_READINGS = 15
PAUSE_S = 0.3
"""Long enough that each of the lone readings has a commit of its own."""
HISTORY_READINGS, A_PACK = 240_000, 60
TOPIC = topic_of("larch-lane", "cave-air")


def rows() -> Iterator[tuple[str, str]]:
    """What was measured, and the figure in words."""
    with tempfile.TemporaryDirectory() as folder:
        bare, worker = [], []
        for attempt in range(ROUNDS):
            room = Path(folder) / str(attempt)
            bare.append(MESSAGES / bare_subscriber_s(room / "bare"))
            worker.append(MESSAGES / worker_s(room / "worker"))
        one_by_one = MESSAGES / one_commit_a_message_s(Path(folder) / "one")
        ours, counted = statistics.median(worker), statistics.median(bare)
        yield (
            "ingest of a backlog, worker / bare paho subscriber that only counts",
            f"{ours / counted:.2f} ({ours:,.0f} / {counted:,.0f} messages a second)",
        )
        batched = MESSAGES / batched_s(Path(folder) / "batched")
        yield (
            "storing, batches of 500 / one SQLModel add and commit a message",
            f"{batched / one_by_one:.1f} ({batched:,.0f} / {one_by_one:,.0f} a second)",
        )
        yield (
            "ingest of a backlog / one SQLModel add and commit a message without a broker",
            f"{ours / one_by_one:.2f}",
        )
        lone = lone_readings_s(Path(folder) / "lone")
        yield (
            "lone reading, from publish to stored",
            f"median {statistics.median(lone):.3f} s, longest {max(lone):.3f} s of {len(lone)}",
        )
        yield (
            f"history of {HISTORY_READINGS:,} readings in packs of {A_PACK}",
            f"{history_s(Path(folder) / 'history'):.1f} s",
        )


def bare_subscriber_s(folder: Path) -> float:
    """A paho subscriber on the same backlog that acknowledges at once and only counts."""
    with PrivateBroker(folder) as broker:
        subscribed, done = threading.Event(), threading.Event()
        count = 0

        def tick(*_: object) -> None:
            nonlocal count
            count += 1
            if count == MESSAGES:
                done.set()

        client = make_client(broker.settings())
        client.on_message = tick
        client.on_subscribe = lambda *_: subscribed.set()
        connect(client, broker.settings())
        client.subscribe(READINGS_FILTER, qos=1)
        assert subscribed.wait(10)
        client.disconnect()
        client.loop_stop()
        publish_all(broker)
        began_s = time.perf_counter()
        connect(client, broker.settings())
        assert done.wait(60)
        took_s = time.perf_counter() - began_s
        client.disconnect()
        client.loop_stop()
        return took_s


def worker_s(folder: Path) -> float:
    """The real worker on a backlog: decoded, checked, committed, acknowledged."""
    with PrivateBroker(folder / "broker") as broker, new_store(folder) as sessions:
        with working(broker, sessions):
            pass
        publish_all(broker)
        began_s = time.perf_counter()
        with working(broker, sessions) as worker:
            assert comes_true(lambda: worker.tally.rows == MESSAGES, within_s=60)
            return time.perf_counter() - began_s


def lone_readings_s(folder: Path) -> list[float]:
    """From publish to visible in the store, one reading at a time."""
    taken_s = []
    with (
        PrivateBroker(folder / "broker") as broker,
        new_store(folder) as sessions,
        working(broker, sessions) as worker,
    ):
        sensor = make_client(broker.settings(Role.SENSOR))
        connect(sensor, broker.settings(Role.SENSOR))
        for before, payload in enumerate(payloads(LONE_READINGS)):
            time.sleep(PAUSE_S)
            began_s = time.perf_counter()
            sensor.publish(TOPIC, payload, qos=1)
            assert comes_true(lambda: worker.tally.rows > before, within_s=10)  # noqa: B023 (asked at once)
            taken_s.append(time.perf_counter() - began_s)
        sensor.disconnect()
        sensor.loop_stop()
    return taken_s


def one_commit_a_message_s(folder: Path) -> float:
    """The plain way: a row object, an add and a commit for each message; decoding left out."""
    with new_store(folder) as sessions:
        with sessions() as session:
            sensor = places.sensor_for(session, "larch-lane/cave-air", 0)
            assert sensor.id is not None
            sensor_id = sensor.id
        began_s = time.perf_counter()
        for n in range(MESSAGES):
            with sessions() as session:
                row = Reading(sensor_id=sensor_id, time_us=n, temperature_c=11.5, humidity_pct=92.5)
                session.add(row)
        return time.perf_counter() - began_s


def batched_s(folder: Path) -> float:
    """Our decode-and-store code on the same messages without a broker, decoding included."""
    with new_store(folder) as sessions:
        return store_all(sessions, payloads(MESSAGES))


def history_s(folder: Path) -> float:
    """Weeks of readings in packs, as the demo loads them."""
    start_us = WorldClock().now_us() - HISTORY_READINGS * US_PER_S
    samples = [
        Sample("", start_us + n * US_PER_S, 10.0 + n % 97 / 64, 90.0 - n % 89 / 64)
        for n in range(HISTORY_READINGS)
    ]
    packs = [encode("", samples[n : n + A_PACK]) for n in range(0, HISTORY_READINGS, A_PACK)]
    with new_store(folder) as sessions:
        return store_all(sessions, packs)


def store_all(sessions: SessionMaker, lot: Sequence[bytes]) -> float:
    """Seconds to store a lot of payloads in batches; all of it must arrive."""
    memory = SensorMemory()
    began_s = time.perf_counter()
    now_us = WorldClock().now_us()
    readings = 0
    for start in range(0, len(lot), BATCH_MESSAGES):
        batch = [Message(TOPIC, one, now_us) for one in lot[start : start + BATCH_MESSAGES]]
        with sessions() as session:
            readings += store(session, batch, (), memory).rows
    took_s = time.perf_counter() - began_s
    with sessions() as session:
        assert session.exec(select(func.count()).select_from(Reading)).one() == readings
    return took_s


def publish_all(broker: PrivateBroker) -> None:
    """Publish all messages and return when the broker has answered for each."""
    answered = threading.Semaphore(0)
    sensor = make_client(broker.settings(Role.SENSOR))
    sensor.on_publish = lambda *_: answered.release()
    connect(sensor, broker.settings(Role.SENSOR))
    for payload in payloads(MESSAGES):
        sensor.publish(TOPIC, payload, qos=1)
    for _ in range(MESSAGES):
        assert answered.acquire(timeout=60)
    sensor.disconnect()
    sensor.loop_stop()


def payloads(count: int) -> list[bytes]:
    """That many packs of one reading, a second apart, the last one now."""
    start_us = WorldClock().now_us() - count * US_PER_S
    return [encode("", [Sample("", start_us + n * US_PER_S, 11.5, 92.5)]) for n in range(count)]


@contextmanager
def working(broker: PrivateBroker, sessions: SessionMaker) -> Iterator[IngestWorker]:
    """The worker, listening."""
    worker = IngestWorker(broker.settings(), (), sessions, WorldClock())
    stop = threading.Event()
    thread = threading.Thread(target=worker.run, args=(stop,))
    thread.start()
    try:
        assert comes_true(lambda: worker.is_listening, within_s=10)
        yield worker
    finally:
        stop.set()
        thread.join()


@contextmanager
def new_store(folder: Path) -> Iterator[SessionMaker]:
    """A migrated store in that folder."""
    url = f"sqlite:///{folder / 'store.db'}"
    folder.mkdir(parents=True, exist_ok=True)
    migrate(url)
    engine = open_engine(url)
    try:
        yield session_maker(engine)
    finally:
        engine.dispose()


def make_client(settings: BrokerSettings) -> Client:
    """A client with a fixed name and the password of its role."""
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=f"bench-{settings.username}",
        protocol=MQTTProtocolVersion.MQTTv5,
    )
    assert settings.password is not None
    client.username_pw_set(settings.username, settings.password.get_secret_value())
    return client


def connect(client: Client, settings: BrokerSettings) -> None:
    """Connect with a session that lasts, and the worker's own receive maximum."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # paho's own
    properties.ReceiveMaximum = RECEIVE_MAXIMUM
    properties.SessionExpiryInterval = 600
    client.connect(settings.host, settings.port, clean_start=False, properties=properties)
    client.loop_start()


def comes_true(condition: Callable[[], bool], within_s: float) -> bool:
    """Whether a condition comes true in time."""
    until_s = time.perf_counter() + within_s
    while not (met := condition()) and time.perf_counter() < until_s:
        time.sleep(0.001)
    return met


if __name__ == "__main__":
    for name, figure in rows():
        print(f"{name}: {figure}")
