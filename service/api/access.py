"""Who may ask what: loopback or sign-in, the few open paths, the cookie.

Everything is closed unless `OPEN_PATHS` names it; `service.api.gate` applies the rule to each
request, whatever routes there are.
"""

import re
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Annotated, Final
from urllib.parse import urlsplit

from fastapi import Depends, Request, Response

from service.api.attempts import Attempts
from service.api.people import SIGNED_IN_S, Asker, Caller
from service.api.refusals import SignInError
from service.clock import WorldClock
from service.errors import SettingsError
from service.settings import Settings
from service.store.database import Session
from service.store.people import has_people

COOKIE: Final = "wheelward"
HEALTH_PATH: Final = "/healthz"
SIGN_IN_PATH: Final = "/sign-in"
PHONE_PATH: Final = "/phone"
"""A phone's code stands after it, as in `/phone/CODE`."""


@dataclass(frozen=True, slots=True)
class OpenPath:
    """A path that answers without a sign-in, and why it must.

    Attributes:
        pattern: The whole path must match it.
        reason: Why nobody can be asked to sign in for it.
    """

    pattern: re.Pattern[str]
    reason: str


OPEN_PATHS: Final = (
    OpenPath(re.compile(re.escape(HEALTH_PATH)), "a watchdog has no keeper; it tells only ok"),
    OpenPath(re.compile(re.escape(SIGN_IN_PATH)), "it is where one signs in"),
    OpenPath(
        re.compile(re.escape(PHONE_PATH) + r"/[A-Za-z0-9_-]{20,64}"),
        "the code in it is the sign-in",
    ),
    OpenPath(
        re.compile(r"/calendar/[A-Za-z0-9_-]{43}\.ics"),
        "a calendar program cannot sign in; the secret in the address is its sign-in",
    ),
    OpenPath(
        re.compile(r"/static/[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*\.css"),
        "the page where one signs in is not bare; the style tells nothing",
    ),
)
"""All that answers without a sign-in where one is needed. Keep it this short."""


def is_open(path: str) -> bool:
    """Whether a path answers without a sign-in."""
    return any(each.pattern.fullmatch(path) for each in OPEN_PATHS)


def is_loopback(host: str) -> bool:
    """Whether a host is this machine itself, by name or address."""
    if host.lower() == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def sign_in_needed(settings: Settings, session: Session) -> bool:
    """Whether one must sign in: beyond loopback always, on loopback once there is a keeper.

    A keeper counts on loopback too, because a TLS proxy on this machine forwards the whole
    world's requests to loopback.
    """
    return not is_loopback(settings.web.host) or has_people(session)


def check_may_serve(settings: Settings, session: Session) -> None:
    """Refuse to serve beyond this machine while nobody could sign in.

    Raises:
        SettingsError: There is no keeper; the message says how to enter one.
    """
    if not is_loopback(settings.web.host) and not has_people(session):
        raise SettingsError(
            f"web.host is {settings.web.host}, which others can reach, but there is no keeper"
            " to sign in; first run: wheelward person add NAME"
        )


def give_cookie(response: Response, request: Request, secret: str) -> None:
    """Hand the browser its secret."""
    response.headers.append("set-cookie", cookie_header(secret, is_secure=_is_secure(request)))


def take_cookie(response: Response, request: Request) -> None:
    """Let the browser forget its secret."""
    response.headers.append("set-cookie", cookie_header("", is_secure=_is_secure(request), age_s=0))


def cookie_header(secret: str, *, is_secure: bool, age_s: int = SIGNED_IN_S) -> str:
    """The value of the Set-Cookie field.

    Lax and not Strict, so that the link in a notice opens its page signed in; what changes
    anything is guarded by the check of its origin.
    """
    text = f"{COOKIE}={secret}; Path=/; Max-Age={age_s}; HttpOnly; SameSite=Lax"
    return f"{text}; Secure" if is_secure else text


def safe_next(target: str | None) -> str:
    """Where to go after signing in: a path of ours, or the first page when it is another's.

    Examples:
        >>> safe_next("/wheels/3?days=7"), safe_next("//example.org/"), safe_next(None)
        ('/wheels/3?days=7', '/', '/')
    """
    if (
        target is None
        or not target.isascii()
        or not target.isprintable()
        or not target.startswith("/")
        or target.startswith("//")
        or "\\" in target
        or urlsplit(target).path in {SIGN_IN_PATH, ""}
    ):
        return "/"
    return target


def _is_secure(request: Request) -> bool:
    # uvicorn believes a proxy's word on this only where the proxy is on this machine.
    return bool(request.scope["scheme"] == "https")


def caller_of(request: Request) -> Caller:
    """Where a request comes from."""
    return Caller(
        address=request.client.host if request.client else "",
        device=request.headers.get("user-agent", ""),
    )


def _asker(request: Request) -> Asker:
    asker = _possible_asker(request)
    if asker is None:
        raise SignInError("sign in first")
    return asker


def _possible_asker(request: Request) -> Asker | None:
    asker: Asker | None = getattr(request.state, "asker", None)
    return asker


def _attempts(request: Request) -> Attempts:
    attempts = request.app.state.attempts
    assert isinstance(attempts, Attempts)
    return attempts


def _world_now_us(request: Request) -> int:
    world: WorldClock = request.app.state.world
    return world.now_us()


WithAsker = Annotated[Asker, Depends(_asker)]
"""Who asks; on an open path only if signed in, elsewhere always."""
WithPossibleAsker = Annotated[Asker | None, Depends(_possible_asker)]
"""Who asks, or None for a stranger on an open path."""
WithCaller = Annotated[Caller, Depends(caller_of)]
"""Where the request comes from."""
WithAttempts = Annotated[Attempts, Depends(_attempts)]
"""Who has tried to sign in lately."""
WithWorldTime = Annotated[int, Depends(_world_now_us)]
"""The world's time for sign-ins and codes, never the demo's. [µs UTC]"""
