"""The app is built whole, tells whether it is well, and ends what it began."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import build, create_app
from service.clock import DemoClock, WorldClock
from service.settings import DemoSettings, Settings


def test_the_object_graph_is_built_on_a_store_that_is_up_to_date(tmp_path: Path) -> None:
    context = build(Settings(data_folder=tmp_path))
    with TestClient(create_app(context), base_url="http://localhost") as browser:
        answer = browser.get("/api/spaces")

    assert (answer.status_code, answer.json()) == (200, [])
    assert isinstance(context.clock, WorldClock)
    assert "blue" in context.plans


def test_a_demo_has_the_demo_clock(tmp_path: Path) -> None:
    context = build(Settings(data_folder=tmp_path, demo=DemoSettings(started_us=5, speed=60.0)))
    context.engine.dispose()

    assert context.clock == DemoClock(5, 60.0)


class Work:
    """A background that does what a test wants."""

    def __init__(self, run: Callable[[threading.Event], None], *, well: bool = True) -> None:
        self._run = run
        self._well = well

    def run(self, stop: threading.Event) -> None:
        self._run(stop)

    def is_well(self) -> bool:
        return self._well


def test_the_background_runs_as_long_as_the_app(tmp_path: Path) -> None:
    began, ended = threading.Event(), threading.Event()
    names = []

    def watch(stop: threading.Event) -> None:
        names.append(threading.current_thread().name)
        began.set()
        stop.wait(30)
        ended.set()

    context = build(Settings(data_folder=tmp_path))
    with TestClient(create_app(context, Work(watch)), base_url="http://localhost") as browser:
        assert began.wait(10)
        well = browser.get("/healthz")
        assert not ended.is_set()

    assert well.json() == {"status": "ok"}
    assert ended.is_set()
    assert names == ["watch"]


def test_the_health_tells_when_the_watch_has_failed(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    failed = threading.Event()

    def watch(_stop: threading.Event) -> None:
        failed.set()
        raise RuntimeError("planted")

    context = build(Settings(data_folder=tmp_path))
    with TestClient(create_app(context, Work(watch)), base_url="http://localhost") as browser:
        assert failed.wait(10)
        for thread in threading.enumerate():
            if thread.name == "watch":
                thread.join(10)
        answer = browser.get("/healthz")

    assert (answer.status_code, answer.json()) == (503, {"status": "failing", "failing": ["watch"]})
    assert "stands still" in caplog.text


def test_the_health_tells_when_the_rounds_of_the_watch_fail(tmp_path: Path) -> None:
    context = build(Settings(data_folder=tmp_path))
    failing = Work(assert_set, well=False)
    with TestClient(create_app(context, failing), base_url="http://localhost") as browser:
        answer = browser.get("/healthz")

    assert (answer.status_code, answer.json()) == (503, {"status": "failing", "failing": ["watch"]})


def assert_set(stop: threading.Event) -> None:
    assert stop.wait(30)


def test_the_health_tells_when_the_store_does_not_answer(tmp_path: Path) -> None:
    context = build(Settings(data_folder=tmp_path))
    with TestClient(create_app(context), base_url="http://localhost") as browser:
        with context.engine.begin() as connection:
            connection.exec_driver_sql("ALTER TABLE site RENAME TO elsewhere")
        answer = browser.get("/healthz")

    assert (answer.status_code, answer.json()) == (503, {"status": "failing", "failing": ["store"]})
