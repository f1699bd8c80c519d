"""The composition root: builds the real object graph, and the app that serves it.

Pages are not imported here, for `dashboards` may import the service and not the other way
round; whoever starts the service includes their router in the app.
"""

import logging
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from typing import Any, Final, Protocol

from fastapi import FastAPI
from fastapi.middleware import Middleware
from fastapi.responses import JSONResponse

from service.ageing.plans import shipped_plans
from service.api import (
    alarms,
    calendar,
    care,
    household,
    lookback,
    makes,
    observations,
    planner,
    plans,
    problems,
    quarantine,
    sensors,
    spaces,
    wheels,
)
from service.api.access import HEALTH_PATH, check_may_serve
from service.api.attempts import Attempts
from service.api.context import Context
from service.api.gate import Gate
from service.api.too_large import WellFormedApp
from service.clock import Clock, DemoClock, WorldClock
from service.notify.channels import Channels
from service.notify.sender import Sender
from service.settings import Settings
from service.store import plans as plan_store
from service.store.database import migrate, open_engine, session_maker
from service.store.health import is_reachable
from service.store.turns import take_turn
from service.watch.rounds import Watch
from service.watch.warming import Shared, Warmer


class Background(Protocol):
    """Work that goes on beside the requests."""

    def run(self, stop: threading.Event) -> None:
        """Go on until `stop` is set."""

    def is_well(self) -> bool:
        """Whether it does what it is for."""


LARGEST_BODY: Final = 64 * 1024
"""Bytes of a request's body; a route that takes photographs may set its own limit."""
_LONGEST_STOP_S: Final = 30.0
_ROUNDS_TO_WORRY: Final = 3
"""So many failed rounds of the watch in a row mean that no alarm would come. Our choice."""
_LOG: Final = logging.getLogger(__name__)


def build(settings: Settings) -> Context:
    """The object graph of one process, on a store that is brought up to date first."""
    migrate(settings.database)
    engine = open_engine(settings.database)
    demo = settings.demo
    clock = WorldClock() if demo is None else DemoClock(demo.started_us, demo.speed)
    sessions = session_maker(engine)
    with sessions() as session:
        take_turn(session)
        # A batch that was entered before plans were kept, or by hand, keeps its plan from now on.
        plan_store.keep_running(session, clock.now_us())
    return Context(
        settings=settings,
        clock=clock,
        engine=engine,
        sessions=sessions,
        plans=shipped_plans(),
    )


class WatchAndSend:
    """Watches over new readings, sends notices, and works ahead for the pages, each in a thread.

    Raises:
        SettingsError: A channel's address cannot be one.
    """

    def __init__(self, context: Context) -> None:
        channels = Channels(context.settings.notices.channels)
        self._watch = Watch(
            context.sessions,
            context.clock,
            context.plans,
            channels.labels,
            care_at=context.settings.notices.care_time,
            memory=context.memory,
        )
        self._warmer = Warmer(
            context.sessions,
            context.clock,
            context.plans,
            Shared(context.memory, context.behaviours),
            self._watch.resting,
        )
        self._sender = Sender(context.sessions, channels)

    def run(self, stop: threading.Event) -> None:
        """Go on until `stop` is set."""
        sending = threading.Thread(
            target=self._sender.run, args=(stop,), name="sender", daemon=True
        )
        warming = threading.Thread(
            target=self._warmer.run, args=(stop,), name="warmer", daemon=True
        )
        sending.start()
        warming.start()
        self._watch.run(stop)
        sending.join(_LONGEST_STOP_S)
        warming.join(_LONGEST_STOP_S)

    def is_well(self) -> bool:
        """Whether the watch's rounds succeed; one that fails now and then is no matter."""
        return self._watch.failed_rounds < _ROUNDS_TO_WORRY


def create_app(
    context: Context, background: Background | None = None, world: Clock | None = None
) -> FastAPI:
    """The app over that object graph, which it closes at its end.

    Every path is closed to strangers but for `service.api.access.OPEN_PATHS`, also those that
    are added to the app later.

    Args:
        context: The object graph.
        background: Runs in a thread of its own from the app's start to its end.
        world: The clock for sign-ins, which never runs fast; the machine's unless given.

    Raises:
        SettingsError: The settings would let strangers in, and nobody could sign in.
    """
    with context.sessions() as session:
        check_may_serve(context.settings, session)
    watch = _Watch(background)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        watch.start()
        try:
            yield
        finally:
            watch.stop()
            context.engine.dispose()

    world = WorldClock() if world is None else world
    app = WellFormedApp(
        title="Wheelward",
        version="1",
        openapi_url="/api/openapi.json",
        # Their pages load scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        max_body_size=LARGEST_BODY,
        middleware=[Middleware(Gate, context=context, world=world)],
    )
    app.state.context = context
    app.state.attempts = Attempts()
    app.state.world = world
    problems.plug_in(app)
    for part in (
        spaces,
        wheels,
        alarms,
        sensors,
        quarantine,
        household,
        makes,
        observations,
        lookback,
        care,
        plans,
        planner,
        calendar,
    ):
        app.include_router(part.router, prefix="/api")
    app.include_router(observations.photo_router, include_in_schema=False)
    app.include_router(calendar.feed_router)

    @app.get(HEALTH_PATH, include_in_schema=False)
    def health() -> JSONResponse:
        """Whether the service works, and which part does not; nothing else."""
        parts = {"store": is_reachable(context.engine), "watch": watch.is_well()}
        failing = [name for name, well in parts.items() if not well]
        content: dict[str, Any] = {"status": "failing" if failing else "ok"}
        if failing:
            content["failing"] = failing
        status = HTTPStatus.SERVICE_UNAVAILABLE if failing else HTTPStatus.OK
        return JSONResponse(content, status)

    return app


class _Watch:
    """The background work in its thread."""

    def __init__(self, background: Background | None) -> None:
        self._background = background
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, if there is anything to do."""
        if self._background is not None:
            self._stop.clear()
            self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """Ask it to end, and wait for it."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(_LONGEST_STOP_S)

    def is_well(self) -> bool:
        """Whether it runs, or has nothing to do."""
        if self._thread is None or self._background is None:
            return True
        return self._thread.is_alive() and self._background.is_well()

    def _run(self) -> None:
        assert self._background is not None
        try:
            self._background.run(self._stop)
        except Exception:  # noqa: BLE001  # the edge of the thread; /healthz tells of its end
            _LOG.exception("the watch has failed and stands still")
