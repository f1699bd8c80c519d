"""Whatever is typed into any form of any page, the answer is a page and never a failure of ours."""

import random
import re
from collections.abc import Iterator

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from dashboards.site import site
from service.api.context import Context

CHOICES = {
    "wheel": ("1", "2", "3", "4"),
    "work": ("turn", "move", "wipe lid", "pat dry"),
    "outcome": ("done", "skip", "tomorrow"),
    "how": ("eaten", "given away"),
    "stage": ("ripening", "wrapped", "coat"),
    "plan": ("blue", "tomme"),
    "kind": ("cave", "box"),
    "unit": ("g", "kg"),
}
"""For some fields what is right, so that a form gets far enough to do something."""
ODD = (
    *("", " ", "0", "1", "2", "-1", "4294967296", "9" * 30, "nan", "inf", "1e400", "0,5", "13:19"),
    *("90", "430", "x" * 3_000, "\x00", "\r\nSet-Cookie: a=b", "<script>", "\u202eabc", "🧀" * 200),
    *("2026-11-25", "2026-11-25T14:00", "0001-01-01T00:00", "9999-12-31T23:59", "firm", "white-50"),
)
PATHS = ("1", "2", "3", "8", "0", "-1", "99999999999", "%00", "%ff", "x")
EXAMPLES = 700


@pytest.fixture
def hostile(lane: Context) -> Iterator[TestClient]:
    """A browser to which our own failures come as answers, as they would in the world."""
    browser = TestClient(
        site(lane),
        base_url="http://127.0.0.1",
        client=("127.0.0.1", 50_000),
        raise_server_exceptions=False,
        follow_redirects=False,
    )
    with browser:
        yield browser


def test_no_form_can_make_any_page_fail(hostile: TestClient) -> None:
    chance = random.Random(11)
    forms = _forms(hostile)
    entered = 0
    for _ in range(EXAMPLES):
        form = chance.choice(forms)
        path = re.sub(r"\{\w+(:\w+)?\}", lambda _: chance.choice(PATHS[:3] * 4 + PATHS), form.path)
        fields = {
            field.alias: [chance.choice(CHOICES.get(field.alias, ODD)) for _ in range(number)]
            for field in form.dependant.body_params
            for number in (chance.choice((0, 1, 1, 1, 2)),)
        }
        if "edition" in fields:
            fields["edition"] = [f"{chance.randrange(10**6)}.0-1"]

        answer = hostile.post(path, data=fields)

        assert answer.status_code < 500, (path, fields)
        entered += answer.status_code == 303
    pages = (
        "/",
        "/care",
        "/planner",
        "/planner/year",
        "/makes",
        "/wheels/2",
        "/spaces/2",
        "/plans",
    )

    assert {path: hostile.get(path).status_code for path in pages} == dict.fromkeys(pages, 200)
    assert entered >= 20  # or nothing would have come further than the types of its fields


def _forms(browser: TestClient) -> list[APIRoute]:
    """The routes of all forms, but those of signing in, which are tried elsewhere."""
    found: list[APIRoute] = []
    waiting = list(browser.app.routes)  # type: ignore[attr-defined]  # the site is an app
    while waiting:
        route = waiting.pop()
        if isinstance(route, APIRoute):
            found.append(route)
        inside = getattr(route, "original_router", route)
        waiting += getattr(inside, "routes", ())
    chosen = [
        route
        for route in found
        if "POST" in (route.methods or ())
        and route.endpoint.__module__.startswith("dashboards.pages.")
        and not route.endpoint.__module__.endswith((".sign_in", ".demo"))
    ]
    assert len(chosen) > 30
    return sorted(chosen, key=lambda route: route.path)
