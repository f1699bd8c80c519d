"""The gate before every route: host, origin, sign-in; and the headers on every answer.

It is middleware and not a dependency of routes, so that a route that is added later, a mounted
folder or a path that does not exist is closed too.
"""

from dataclasses import dataclass
from http import HTTPStatus
from typing import Final
from urllib.parse import quote, urlsplit

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.access import (
    COOKIE,
    HEALTH_PATH,
    SIGN_IN_PATH,
    cookie_header,
    is_loopback,
    is_open,
    sign_in_needed,
)
from service.api.context import Context
from service.api.people import ANYONE_HERE, Asker, asker_with
from service.api.problems import Problem, is_api
from service.clock import Clock
from service.store.failures import DBAPIError, cannot_write

CONTENT_SECURITY_POLICY: Final = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline';"
    " script-src 'self'; connect-src 'self'; object-src 'none'; base-uri 'none';"
    " form-action 'self'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, and no script inside a page. Plotly writes styles into its charts,
hence the one exception; data and blob are its pictures to save."""

_HEADERS: Final = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    # Kept by the browser, but asked for again each time, so that signing out takes hold.
    "cache-control": "private, no-cache",
}
_CHANGES_NOTHING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_FROM_ELSEWHERE: Final = frozenset({"cross-site", "same-site"})


@dataclass(frozen=True, slots=True)
class _Standing:
    """How whoever asks stands: whether a sign-in is needed, and who has signed in."""

    needed: bool
    asker: Asker | None


class Gate:
    """Lets a request through to the routes, or answers it itself."""

    def __init__(self, app: ASGIApp, context: Context, world: Clock) -> None:
        self._app = app
        self._context = context
        self._world = world

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            # There are no web sockets here; a close before the handshake is a refusal.
            await send({"type": "websocket.close", "code": 1008})
            return
        request = Request(scope)
        # Not request.url, which is put together from the Host field: where the framework does
        # not check that field, a host such as "here/healthz?" makes any path look open.
        path: str = scope["path"]
        cookie: str | None = None

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                complete_headers(MutableHeaders(scope=message), cookie)
            await send(message)

        if path == HEALTH_PATH:
            # It must answer even when the store, and with it the sign-ins, cannot be reached.
            request.state.asker = None
            await self._app(scope, receive, send_with_headers)
            return
        standing = await run_in_threadpool(self._standing, request.cookies.get(COOKIE))
        request.state.asker = standing.asker
        if standing.asker is not None and standing.asker.prolonged:
            cookie = cookie_header(request.cookies[COOKIE], is_secure=scope["scheme"] == "https")
        refusal = _refusal(request, path, standing)
        await (refusal or self._app)(scope, receive, send_with_headers)

    def _standing(self, secret: str | None) -> _Standing:
        try:
            return self._standing_as(secret, may_prolong=True)
        except DBAPIError as error:
            if not cannot_write(error):
                raise
            # Who cannot be kept signed in for longer may look all the same.
            return self._standing_as(secret, may_prolong=False)

    def _standing_as(self, secret: str | None, *, may_prolong: bool) -> _Standing:
        with self._context.sessions() as session:
            if not sign_in_needed(self._context.settings, session):
                return _Standing(needed=False, asker=ANYONE_HERE)
            now_us = self._world.now_us()
            asker = asker_with(session, secret, now_us, may_prolong=may_prolong)
            return _Standing(needed=True, asker=asker)


def complete_headers(headers: MutableHeaders, cookie: str | None = None) -> None:
    """Set what every answer carries, unless its route has set it."""
    for name, value in _HEADERS.items():
        headers.setdefault(name, value)
    # A route that has just signed in or out has the last word on the cookie.
    if cookie is not None and "set-cookie" not in headers:
        headers.append("set-cookie", cookie)


def _refusal(request: Request, path: str, standing: _Standing) -> Response | None:
    """The answer to a request that may not go on; None when it may."""
    host = request.headers.get("host", "")
    if not standing.needed and not _is_from_here(request, host):
        return Problem(
            HTTPStatus.MISDIRECTED_REQUEST,
            "without a keeper this service answers only on this machine, as localhost or 127.0.0.1",
        )
    if request.method not in _CHANGES_NOTHING and _is_from_elsewhere(request, host):
        return Problem(HTTPStatus.FORBIDDEN, "another site may not change anything here")
    if standing.asker is not None or is_open(path):
        return None
    if is_api(path):
        return Problem(
            HTTPStatus.UNAUTHORIZED,
            f"sign in first, at {SIGN_IN_PATH}",
            {"WWW-Authenticate": "Cookie"},
        )
    return RedirectResponse(_sign_in_address(request, path), HTTPStatus.SEE_OTHER)


def _sign_in_address(request: Request, path: str) -> str:
    if request.method not in _CHANGES_NOTHING or path == "/":
        return SIGN_IN_PATH
    query = request.scope["query_string"].decode("latin-1")
    asked = quote(path) + (f"?{query}" if query else "")
    return f"{SIGN_IN_PATH}?next={quote(asked, safe='')}"


def _is_from_here(request: Request, host: str) -> bool:
    """Whether a request names this machine, and does not come in from another one.

    A page elsewhere may give its own name the address 127.0.0.1 and then read our answers as
    its own, but the Host field still carries that name. A proxy on this machine that forwards
    for others, though nobody has been entered, shows by the address that it passes on.
    """
    name = urlsplit(f"//{host}").hostname if _is_plain(host) else None
    client = request.client.host if request.client else None
    return name is not None and is_loopback(name) and (client is None or _is_near(client))


def _is_plain(host: str) -> bool:
    try:
        return urlsplit(f"//{host}").netloc == host and "@" not in host
    except ValueError:
        return False


def _is_near(client: str) -> bool:
    # A client without an address, such as a Unix socket's, cannot be far.
    return is_loopback(client) or not any(sign in client for sign in ".:")


def _is_from_elsewhere(request: Request, host: str) -> bool:
    """Whether a browser says that another site's page sent this. Other tools say nothing."""
    if request.headers.get("sec-fetch-site") in _FROM_ELSEWHERE:
        return True
    origin = request.headers.get("origin")
    if origin is None:
        return False
    scheme, _, rest = origin.partition("://")
    return scheme not in {"http", "https"} or rest.lower() != host.lower()
