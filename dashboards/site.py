"""The whole site, as uvicorn starts it by name: the service's app with pages and files."""

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware

from dashboards import assets
from dashboards.pages import (
    alarms,
    batches,
    calendar,
    care,
    demo,
    gate,
    household,
    lookback,
    make,
    make_sums,
    more,
    observations,
    planner,
    plans,
    quarantine,
    sensor,
    sensors,
    shelf,
    sign_in,
    spaces,
    weighing,
    wheels,
)
from dashboards.pages.rendering import Renderer, error_page
from service import settings
from service.api.context import Context
from service.app import Background, WatchAndSend, build, create_app
from service.clock import Clock

_LEAST_BYTES = 800
"""Below this, compressing an answer saves no packet."""


def create() -> FastAPI:
    """The site over the settings of the environment."""
    context = build(settings.load())
    app = site(context, WatchAndSend(context))
    app.state.renderer.assets.prepare()
    return app


def site(
    context: Context, background: Background | None = None, world: Clock | None = None
) -> FastAPI:
    """The site over an object graph; see `service.app.create_app`."""
    app = create_app(context, background, world)
    files = assets.Assets(context.settings.data_folder / "pages")
    app.state.renderer = Renderer(files)
    app.state.error_page = error_page
    # Around the gate, so that what it answers is compressed too.
    app.add_middleware(GZipMiddleware, minimum_size=_LEAST_BYTES)
    app.include_router(assets.routes(files))
    for part in (
        shelf,
        care,
        gate,
        wheels,
        observations,
        weighing,
        lookback,
        spaces,
        alarms,
        sensors,
        quarantine,
        sensor,
        household,
        more,
        plans,
        make_sums,  # before the pages of one make day, whose number its address could be
        make,
        batches,
        planner,
        calendar,
        sign_in,
        demo,
    ):
        app.include_router(part.router, include_in_schema=False)
    return app
