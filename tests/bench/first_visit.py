"""What a visit of a page costs after a start, later, and after a fact, on Larch Lane's weeks.

The yardstick is reading the same air from the store: every space's eight weeks, cleaned, once.
All figures are processor time of this process, so that what else the machine does counts little.
"""

import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

from fastapi.testclient import TestClient

from dashboards.site import site
from service.ageing.plans import shipped_plans
from service.api.context import Context
from service.app import build
from service.clock import DAY_US, WorldClock
from service.demo.history import days_to_now_us, end_of_history_us, load_history
from service.demo.household import enter_household, read_household
from service.settings import DemoSettings, Settings
from service.store import air, places, weighings, wheels
from service.watch.warming import Shared, Warmer
from tests.builders import FixedClock

READINGS = Path("sample_readings")
PAGES = (
    ("the shelf", "/"),
    ("the planner", "/planner"),
    ("a tomme", "/wheels/1"),
    ("a blue", "/wheels/3"),
    ("a white mould", "/wheels/6"),
)
WEIGHED = 3
MOVED, MOVED_D = 3, 20
"""The blue that is taken out of its box, and how many days ago."""


def rows() -> Iterator[tuple[str, str]]:
    """What was measured, and how many times the yardstick it is."""
    now_us = WorldClock().now_us()
    with tempfile.TemporaryDirectory() as made:
        filled = Path(made) / "filled"
        _fill(filled, now_us)
        context = _opened(filled, now_us)
        yardstick_s = min(_took_s(lambda: _read_all(context)) for _ in range(3))
        context.engine.dispose()
        yield "reading all air of the household from the store", f"1 ({yardstick_s:.2f} s)"
        moved = Path(made) / "moved"
        shutil.copytree(filled, moved)
        _move(_opened(moved, now_us))
        visits = [(filled, name, path) for name, path in PAGES]
        for home, name, path in (*visits, (moved, "a blue that was moved", f"/wheels/{MOVED}")):
            context = _opened(home, now_us)
            with TestClient(site(context), base_url="http://127.0.0.1") as browser:
                visit = partial(_visit, browser, path)
                first_s, second_s = _took_s(visit), _took_s(visit)
            yield (
                f"first visit after a start, nothing worked ahead, of {name}",
                f"{first_s / yardstick_s:.2f} (again {second_s / yardstick_s:.2f})",
            )
        folder = Path(made) / "worked-ahead"
        shutil.copytree(filled, folder)
        yield from _worked_ahead(_opened(folder, now_us), yardstick_s)


def _worked_ahead(context: Context, yardstick_s: float) -> Iterator[tuple[str, str]]:
    resting, stop = threading.Event(), threading.Event()
    resting.set()
    shared = Shared(context.memory, context.behaviours)
    warmer = Warmer(context.sessions, context.clock, context.plans, shared, resting)

    def told(label: str, cost_s: float) -> tuple[str, str]:
        return label, f"{cost_s / yardstick_s:.2f}"

    with TestClient(site(context), base_url="http://127.0.0.1") as browser:
        yield told("all that the background works ahead", _took_s(lambda: warmer.turn(stop)))
        for name, path in PAGES:
            cost_s = _took_s(partial(_visit, browser, path))
            yield told(f"first visit after that of {name}", cost_s)
        with context.sessions() as session:
            weighings.enter(session, WEIGHED, context.clock.now_us() - 60_000_000, 400.0)
        for name, path in (PAGES[0], PAGES[3], PAGES[1]):
            cost_s = _took_s(partial(_visit, browser, path))
            yield told(f"right after a weighing: {name}", cost_s)


def _fill(folder: Path, now_us: int) -> None:
    household = read_household(READINGS / "larch_lane.json")
    shift_us = days_to_now_us(end_of_history_us(READINGS, household), now_us)
    context = _opened(folder, now_us)
    with context.sessions() as session:
        enter_household(session, household, shipped_plans(), shift_us)
    load_history(context.sessions, READINGS, household, shift_us, now_us, lambda _part: None)
    context.engine.dispose()


def _move(context: Context) -> None:
    """Take a wheel out of its box and lay it on the shelf of the cave."""
    with context.sessions() as session:
        box = places.space(session, wheels.placements(session, MOVED)[-1].space_id)
        from_us = context.clock.now_us() - MOVED_D * DAY_US
        wheels.place_wheel(session, MOVED, box.parent_id, from_us)
    context.engine.dispose()


def _opened(folder: Path, now_us: int) -> Context:
    """An object graph that has worked nothing out, as after a start; its time stands still."""
    demo = DemoSettings(started_us=now_us, speed=1.0)
    return replace(build(Settings(data_folder=folder, demo=demo)), clock=FixedClock(now_us))


def _read_all(context: Context) -> None:
    now_us = context.clock.now_us()
    with context.sessions() as session:
        for space in places.spaces(session):
            assert space.id is not None  # it comes from the store
            air.space_history(session, space.id, now_us - 70 * DAY_US, now_us, cleaned=True)


def _visit(browser: TestClient, path: str) -> None:
    assert browser.get(path).is_success


def _took_s(work: Callable[[], object]) -> float:
    """Seconds of the processor, resting not counted."""
    began_s = time.process_time()
    work()
    return time.process_time() - began_s
