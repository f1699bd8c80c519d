"""A store, a broker, a sensor and a worker for the tests of ingest."""

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from sqlalchemy import Engine

from sensors.payloads import Mapping
from service.broker import PrivateBroker, Role
from service.clock import WorldClock
from service.ingest.link import Acknowledge, acknowledge_batch
from service.ingest.worker import IngestWorker
from service.settings import BrokerSettings
from service.store.database import SessionMaker, migrate, open_engine, session_maker

Publish = Callable[..., None]
Working = Callable[..., AbstractContextManager[IngestWorker]]
ComesTrue = Callable[..., bool]


@pytest.fixture
def url(tmp_path: Path) -> str:
    """A migrated store of one test."""
    store = f"sqlite:///{tmp_path / 'store.db'}"
    migrate(store)
    return store


@pytest.fixture
def engine(url: str) -> Iterator[Engine]:
    opened = open_engine(url)
    yield opened
    opened.dispose()


@pytest.fixture
def sessions(engine: Engine) -> SessionMaker:
    return session_maker(engine)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[PrivateBroker]:
    with PrivateBroker(tmp_path / "broker") as running:
        yield running


@pytest.fixture
def comes_true() -> ComesTrue:
    """A bounded wait: whether a condition comes true in time."""

    def wait(condition: Callable[[], bool], within_s: float = 10.0) -> bool:
        until_s = time.monotonic() + within_s
        while not (met := condition()) and time.monotonic() < until_s:
            time.sleep(0.005)
        return met

    return wait


@pytest.fixture
def publish(broker: PrivateBroker) -> Iterator[Publish]:
    """A sensor that publishes with QoS 1 and returns once the broker has answered."""
    settings = broker.settings(Role.SENSOR)
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    assert settings.password is not None
    client.username_pw_set(settings.username, settings.password.get_secret_value())
    client.reconnect_delay_set(1, 1)
    client.connect(settings.host, settings.port)
    client.loop_start()

    def send(topic: str, payload: bytes, *, retain: bool = False) -> None:
        client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(10)

    yield send
    client.disconnect()
    client.loop_stop()


@pytest.fixture
def working(sessions: SessionMaker, comes_true: ComesTrue) -> Working:
    """Runs a worker beside the test for the length of a block, by default until it listens."""

    @contextmanager
    def run(
        settings: BrokerSettings,
        mappings: Sequence[Mapping] = (),
        acknowledge: Acknowledge = acknowledge_batch,
        *,
        wait_for_broker: bool = True,
    ) -> Iterator[IngestWorker]:
        worker = IngestWorker(settings, mappings, sessions, WorldClock(), acknowledge=acknowledge)
        stop = threading.Event()
        thread = threading.Thread(target=worker.run, args=(stop,))
        thread.start()
        try:
            if wait_for_broker:
                assert comes_true(lambda: worker.is_listening)
            yield worker
        finally:
            stop.set()
            thread.join(20)
            assert not thread.is_alive()

    return run
