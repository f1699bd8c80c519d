"""How every page is made: one environment, the household's words, and an ETag.

The ETag leaves out the time at which the page was made, so that a page on which nothing
changed answers 304 and the browser's script only learns the time.
"""

import hashlib
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from dashboards.assets import Assets
from dashboards.drawings.groups import title_of, verdict_lines
from dashboards.drawings.marks import lone_mark
from dashboards.words import Words, counted, listed, plain, short, span, words_for
from service.api.context import Context
from service.store import alarm_records, places
from service.store.database import Session
from service.store.tables import Site

# Signs that no text of a page can hold, since names are shown without control characters.
_NOW_US, _NOW, _ETAG = "\x02now-us\x03", "\x02now\x03", "\x02etag\x03"


@dataclass(frozen=True, slots=True)
class Entry:
    """One page of the navigation.

    Attributes:
        address: Its address.
        name: Its name.
        beneath: Beginnings of the addresses that belong to it.
        told: What is found there; for those that a phone lists under "More".
    """

    address: str
    name: str
    beneath: tuple[str, ...] = ()
    told: str = ""

    def current(self, path: str) -> str:
        """What `aria-current` says of it on a page: the page itself, or a part of it."""
        if path == self.address:
            return "page"
        return "true" if any(path.startswith(each) for each in self.beneath) else ""


DAILY = (
    Entry("/", "Shelf", ("/wheels/", "/spaces/", "/batches/", "/observations/")),
    Entry("/care", "Care"),
    Entry("/planner", "Planner", ("/planner/",)),
    Entry("/makes", "Make day", ("/makes/",)),
    Entry("/alarms", "Alarms"),
)
SELDOM = (
    Entry("/plans", "Plans", ("/plans/",), "By which stages each style ages; copy one and edit it"),
    Entry("/calendar", "Calendar", (), "Visits and gates in the phone's own calendar"),
    Entry("/sensors", "Sensors", ("/sensors/", "/quarantine"), "Where each hangs and how it reads"),
    Entry(
        "/household", "Household", (), "Add spaces and wheels, move a wheel; time zone, °C or °F"
    ),
)
UNDER_MORE = (
    *SELDOM,
    Entry("/phone", "Phone", (), "Sign a phone in with a code"),
    Entry("/quarantine", "Messages not stored", (), "What could not be stored, and why"),
)
MORE = Entry(
    "/more", "More", ("/plans", "/calendar", "/sensors", "/household", "/phone", "/quarantine")
)


@dataclass(frozen=True, slots=True)
class Household:
    """What a page knows of the household before it looks at anything else."""

    name: str
    slug: str | None
    words: Words
    now_us: int
    open_alarms: int = 0


class Renderer:
    """Makes pages from templates."""

    def __init__(self, assets: Assets) -> None:
        self.assets = assets
        self._environment = Environment(
            loader=FileSystemLoader(Path(__file__).parents[1] / "templates"),
            autoescape=select_autoescape(default=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.globals.update(
            asset=assets.address,
            counted=counted,
            listed=listed,
            plotly=assets.plotly_address,
            mark=lone_mark,
            daily_pages=DAILY,
            seldom_pages=SELDOM,
            more=MORE,
            title_of=title_of,
            verdict_lines=verdict_lines,
            now_words=_NOW,
        )
        self._environment.filters.update(plain=plain, short=short, span=span, listed=listed)

    def page(
        self,
        request: Request,
        household: Household,
        template: str,
        *,
        status: int = HTTPStatus.OK,
        live: bool = True,
        **values: Any,
    ) -> Response:
        """The page, or 304 when the browser has it already."""
        context = _context(request)
        asker = getattr(request.state, "asker", None)
        text = self._environment.get_template(template).render(
            household=household,
            words=household.words,
            now_us=household.now_us,
            path=request.scope["path"],
            demo=context.settings.demo,
            speed=context.clock.speed,
            live=live,
            signed_in=asker is not None and asker.person_id is not None,
            stamps={"now_us": _NOW_US, "etag": _ETAG},
            **values,
        )
        etag = f'W/"{hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:24]}"'
        headers = {"ETag": etag, "X-Now-Us": str(household.now_us)}
        if request.headers.get("if-none-match") == etag and status == HTTPStatus.OK:
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        text = text.replace(_NOW_US, str(household.now_us)).replace(
            _NOW, household.words.moment(household.now_us)
        )
        text = text.replace(_ETAG, etag.replace('"', "&#34;"))
        # A name may hold half a surrogate pair, which has no UTF-8.
        return HTMLResponse(text.encode("utf-8", "replace"), status, headers)


def renderer(request: Request) -> Renderer:
    """The application's renderer."""
    found = request.app.state.renderer
    assert isinstance(found, Renderer)
    return found


def household_of(session: Session, context: Context) -> Household:
    """The household as its store tells it; before set-up it has no name."""
    site = places.the_site(session)
    return Household(
        name=short(site.name) if site else "Wheelward",
        slug=site.slug if site else None,
        words=_words(site),
        now_us=context.clock.now_us(),
        open_alarms=alarm_records.open_count(session),
    )


def _words(site: Site | None) -> Words:
    return words_for(site.time_zone, fahrenheit=site.fahrenheit) if site else Words()


def _words_stored(context: Context) -> Words:
    """The household's words for a page that has no session; plain ones where the store fails."""
    try:
        with context.sessions() as session:
            return _words(places.the_site(session))
    except Exception:  # noqa: BLE001 - the page that tells of a failure must not fail itself
        return Words()


def _context(request: Request) -> Context:
    found = request.app.state.context
    assert isinstance(found, Context)
    return found


def see_other(address: str) -> Response:
    """After a form: go and look there, so that a reload sends nothing twice."""
    return RedirectResponse(address, HTTPStatus.SEE_OTHER)


def error_page(request: Request, status: int, sentence: str) -> Response:
    """A page for what cannot be: one sentence, and the way back."""
    context = _context(request)
    household = Household("Wheelward", None, _words_stored(context), context.clock.now_us())
    return renderer(request).page(
        request,
        household,
        "error.html",
        status=status,
        live=False,
        sentence=sentence,
        before=_page_before(request),
    )


def _page_before(request: Request) -> str:
    """The page of this site from which the browser came, to which a refused form leads back."""
    try:
        found = urlsplit(request.headers.get("referer", ""))
    except ValueError:
        return ""
    if found.netloc != request.headers.get("host") or not found.path.startswith("/"):
        return ""
    # Two slashes at the beginning would name another site.
    path = f"/{found.path.lstrip('/')}"
    if request.method == "GET" and path == request.url.path:
        return ""
    return f"{path}?{found.query}" if found.query else path
