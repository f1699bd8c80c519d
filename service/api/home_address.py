"""Where the pages are found from outside: on labels, in codes and in the calendar."""

from urllib.parse import urlsplit

from fastapi import Request

from service.api.access import is_loopback
from service.settings import Settings


def home_address(request: Request, settings: Settings) -> str:
    """The address of the pages without a path: that of the settings, else by which one asked."""
    if settings.web.address is not None:
        return settings.web.address
    return f"{request.scope['scheme']}://{request.headers.get('host', '')}"


def is_reachable(home: str) -> bool:
    """Whether a phone can get there: not by an address that means whoever reads it.

    Examples:
        >>> is_reachable("https://cave.example"), is_reachable("http://127.0.0.1:8000")
        (True, False)
    """
    try:
        host = urlsplit(home).hostname or ""
    except ValueError:
        return False
    return bool(host) and not is_loopback(host)
