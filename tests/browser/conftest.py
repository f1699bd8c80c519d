"""Debian's Chromium, and the site served to it on a free loopback port."""

import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field

import pytest
import uvicorn
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    Response,
    sync_playwright,
)

from dashboards.site import site
from service.api.context import Context

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
START_WITHIN_S = 20.0
BAD = 400


@dataclass
class Watched:
    """A page with all that went wrong on it."""

    page: Page
    wrongs: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for all tests; each test opens a context of its own."""
    with sync_playwright() as playwright:
        program = shutil.which("chromium") or "/usr/bin/chromium"
        browser = playwright.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def serve() -> Iterator[Callable[[Context], str]]:
    """Serves the site over a household; gives its address."""
    with ExitStack() as served:
        yield lambda context: served.enter_context(served_site(context))


@contextlib.contextmanager
def served_site(context: Context, *, compressed: bool = False) -> Iterator[str]:
    """The site over a household, served on a free loopback port; its address."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
        app = site(context)
        if compressed:
            app.state.renderer.assets.prepare().join()
        config = uvicorn.Config(app, log_level="warning", lifespan="on")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        until_s = time.monotonic() + START_WITHIN_S
        while not server.started and time.monotonic() < until_s:
            time.sleep(0.01)
        assert server.started
        try:
            yield f"http://127.0.0.1:{port}"
        finally:
            server.should_exit = True
            thread.join(START_WITHIN_S)


@pytest.fixture
def open_browser(chromium: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Opens a browser of its own, without cookies, with the size and theme given."""
    opened: list[BrowserContext] = []

    def open_one(
        width: int = 390, height: int = 844, theme: str = "light", *, scripts: bool = True
    ) -> BrowserContext:
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if theme == "dark" else "light",
            java_script_enabled=scripts,
        )
        opened.append(context)
        return context

    yield open_one
    for context in opened:
        context.close()


@pytest.fixture
def watched() -> Callable[[BrowserContext], Watched]:
    """Opens a page in a browser and notes what goes wrong on it."""

    def open_page(context: BrowserContext) -> Watched:
        found = Watched(context.new_page())
        page = found.page

        def note_failure(request: Request) -> None:
            # What a page still fetches when one goes on to the next is cut off, not wrong.
            if request.failure != "net::ERR_ABORTED":
                found.wrongs.append(f"failed {request.url}: {request.failure}")

        def note_message(said: ConsoleMessage) -> None:
            if said.type in {"error", "warning"}:
                found.wrongs.append(said.text)

        def note_answer(answer: Response) -> None:
            if answer.status >= BAD:
                found.wrongs.append(f"{answer.status} {answer.url}")

        page.on("console", note_message)
        page.on("pageerror", lambda error: found.wrongs.append(str(error)))
        page.on("requestfailed", note_failure)
        page.on("response", note_answer)
        return found

    return open_page
