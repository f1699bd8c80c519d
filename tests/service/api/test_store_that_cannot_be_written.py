"""A store that another program has locked, or that is read-only: told as such, and looked at."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from dashboards.site import site
from service.api import people
from service.api.access import COOKIE
from service.api.context import Context
from service.clock import DAY_US
from tests import builders

CAVE = {"name": "Second cave", "kind": "cave"}
PASSWORD = "twelve wheels of blue"


@pytest.fixture
def world() -> builders.FixedClock:
    return builders.FixedClock()


@pytest.fixture
def browser(context: Context, world: builders.FixedClock) -> Iterator[TestClient]:
    """To which our own failures come as answers, as they would in the world."""
    with TestClient(
        site(context, world=world), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as made:
        yield made


def set_pragma(context: Context, pragma: str) -> None:
    """Let each connection of the service begin with it; those that are open begin anew."""
    event.listen(context.engine, "connect", lambda opened, _: opened.execute(f"PRAGMA {pragma}"))
    context.engine.dispose()


@pytest.fixture
def locked(context: Context) -> Iterator[None]:
    """Another program writes and does not end; the service has little patience."""
    set_pragma(context, "busy_timeout = 20")
    file = context.settings.data_folder / "wheelward.db"
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


@pytest.fixture
def read_only(context: Context) -> None:
    set_pragma(context, "query_only = ON")


@pytest.mark.usefixtures("locked")
def test_a_locked_store_is_told_with_when_to_try_again(browser: TestClient) -> None:
    answer = browser.post("/api/spaces", json=CAVE)

    assert (answer.status_code, answer.headers["retry-after"]) == (503, "60")
    assert "another program keeps the store to itself" in answer.json()["detail"]


@pytest.mark.usefixtures("locked")
def test_a_form_on_a_locked_store_gets_a_page_and_the_shelf_is_still_shown(
    browser: TestClient,
) -> None:
    page = browser.post("/household/spaces", data=CAVE)

    assert page.status_code == 503
    assert "nothing of what you sent was stored" in page.text
    assert browser.get("/care").status_code == 200


@pytest.mark.usefixtures("read_only")
def test_a_read_only_store_is_told_with_the_mend_and_can_be_looked_at(browser: TestClient) -> None:
    answer = browser.post("/api/spaces", json=CAVE)

    assert answer.status_code == 503
    assert "look who owns its file" in answer.json()["detail"]
    assert browser.get("/care").status_code == 200


@pytest.mark.parametrize("cannot", ["locked", "read_only"])
def test_a_keeper_stays_signed_in_though_it_cannot_be_noted(
    context: Context,
    browser: TestClient,
    world: builders.FixedClock,
    request: pytest.FixtureRequest,
    cannot: str,
) -> None:
    with context.sessions() as session:
        people.add_keeper(session, "Ada", PASSWORD, world.now_us())
    browser.post("/sign-in", data={"name": "Ada", "password": PASSWORD}, follow_redirects=False)
    assert COOKIE in browser.cookies
    # By then the browser is to stay signed in for longer, which would have to be stored.
    world.time_us += 2 * DAY_US
    request.getfixturevalue(cannot)

    assert browser.get("/care", follow_redirects=False).status_code == 200
