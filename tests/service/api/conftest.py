"""A store with a little of Larch Lane in it, and browsers on the app that serves it.

The cave is space 1, the blue box in it space 2. Sensor 1 stands in the cave and has told two
hours of air, one reading a minute, with a silence of half an hour; sensor 2 is new. Batch 1 has
wheels 1 and 2, which are in the box in their first stage. The time is noon, and stands still.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from sensors.moments import from_iso
from service.ageing.plans import shipped_plans
from service.api import actions, naming
from service.api.context import Context
from service.api.passwords import hash_password
from service.app import create_app
from service.clock import US_PER_S, DemoClock
from service.settings import Settings, WebSettings
from service.store.air import NewReading, add_readings
from service.store.database import migrate, open_engine, session_maker
from service.store.people import add_person
from service.store.places import sensor_for
from service.store.tables import SpaceKind
from tests import builders

NOW_US = from_iso("2026-11-25T12:00:00Z")
MINUTE_US = 60 * US_PER_S


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store that was brought up to date once, to be copied."""
    folder = tmp_path_factory.mktemp("empty")
    migrate(Settings(data_folder=folder).database)
    return folder


@pytest.fixture(scope="session")
def filled_store(empty_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a little of Larch Lane in it, to be copied."""
    folder = tmp_path_factory.mktemp("filled")
    with _opened(empty_store, folder) as context, context.sessions() as session:
        _fill(session, context)
    return folder


@pytest.fixture
def empty(empty_store: Path, tmp_path: Path) -> Iterator[Context]:
    """The object graph on loopback over an empty store."""
    with _opened(empty_store, tmp_path) as context:
        yield context


@pytest.fixture
def context(filled_store: Path, tmp_path: Path) -> Iterator[Context]:
    """The object graph on loopback over a store with a little of Larch Lane in it."""
    with _opened(filled_store, tmp_path) as context:
        yield context


@contextmanager
def _opened(store: Path, folder: Path) -> Iterator[Context]:
    """The object graph over a copy of a store, as the composition root would build it."""
    shutil.copy(store / "wheelward.db", folder)
    settings = Settings(data_folder=folder)
    engine = open_engine(settings.database)
    yield Context(
        settings=settings,
        clock=DemoClock(NOW_US, 1e-15),
        engine=engine,
        sessions=session_maker(engine),
        plans=shipped_plans(),
    )
    engine.dispose()


@pytest.fixture
def client(context: Context) -> Iterator[TestClient]:
    """A browser on this machine; no keeper has been entered."""
    with TestClient(create_app(context), base_url="http://127.0.0.1:8000") as browser:
        yield browser


@pytest.fixture
def clock() -> builders.FixedClock:
    """Noon, until a test moves it."""
    return builders.FixedClock(NOW_US)


@pytest.fixture
def moving(context: Context, clock: builders.FixedClock) -> Context:
    """The same store under a clock that a test moves."""
    return replace(context, clock=clock)


@pytest.fixture
def api(moving: Context) -> Iterator[TestClient]:
    """A browser on this machine, to which our own failures come as answers."""
    with TestClient(
        create_app(moving), base_url="http://127.0.0.1:8000", raise_server_exceptions=False
    ) as browser:
        yield browser


@pytest.fixture
def maker(moving: Context) -> TestClient:
    """A browser on this machine, by a clock that the test sets."""
    return TestClient(create_app(moving), base_url="http://127.0.0.1:8000")


@pytest.fixture
def made(maker: TestClient) -> dict[str, Any]:
    """A make day of a raw-milk blue that begins at noon."""
    body = {"name": "December blue", "plan": "blue", "raw_milk": True}
    answer = maker.post("/api/makes", json=body)
    assert answer.status_code == 201
    found: dict[str, Any] = answer.json()
    return found


@pytest.fixture(scope="session")
def password_hash() -> str:
    """The hash of Anna's password; worked out once, for it is slow on purpose."""
    return hash_password("rind and paste")


@pytest.fixture
def guarded(context: Context, password_hash: str) -> Context:
    """The same served beyond this machine, with Anna as its keeper."""
    with context.sessions() as session:
        add_person(session, "Anna", password_hash, NOW_US)
    settings = context.settings.model_copy(update={"web": WebSettings(host="0.0.0.0")})
    return replace(context, settings=settings)


@pytest.fixture
def stranger(guarded: Context) -> Iterator[TestClient]:
    """A browser somewhere that has not signed in."""
    with TestClient(
        create_app(guarded), base_url="http://cave.example", follow_redirects=False
    ) as browser:
        yield browser


def _fill(session: Session, context: Context) -> None:
    naming.set_site(session, "Larch Lane", "larch-lane", "Europe/Vienna", 0, fahrenheit=False)
    cave = actions.add_space(session, "Garage cave", SpaceKind.CAVE, None)
    box = actions.add_space(session, "Blue box", SpaceKind.BOX, cave.id)
    for key in ("larch-lane/cave-air", "larch-lane/spare"):
        sensor_for(session, key, NOW_US)
    add_readings(
        session,
        [
            NewReading(1, NOW_US - ago * MINUTE_US, 10.0 + ago / 1_000, 90.0 - ago / 100)
            for ago in range(120)
            if not 30 <= ago < 60
        ],
    )
    actions.place_sensor(session, 1, cave.id, None, NOW_US)
    actions.add_batch(
        session,
        context.plans,
        "Blue of November",
        "blue",
        NOW_US - 1_440 * MINUTE_US,
        [actions.EnteredWheel(90.0, 70.0, 430.0)] * 2,
        box.id,
        None,
        NOW_US,
    )
