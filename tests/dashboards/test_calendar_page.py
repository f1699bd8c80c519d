"""The calendar's address on the page, and the feed behind it."""

import re

import vobject
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import calendar, people
from tests.builders import NOW_US


def address_of(client: TestClient) -> str:
    client.post("/calendar")
    found = re.search(r"/calendar/[A-Za-z0-9_-]{43}\.ics", client.get("/calendar").text)
    assert found is not None
    return found.group()


def test_calendar_has_no_address_until_the_maker_asks_for_one(client: TestClient) -> None:
    assert ".ics" not in client.get("/calendar").text
    assert ".ics" in address_of(client)


def test_feed_is_a_valid_calendar_with_links_to_the_pages(client: TestClient) -> None:
    answer = client.get(address_of(client))

    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    read = vobject.readOne(answer.text)
    assert read.validate(raiseException=True)
    assert len(read.vevent_list) > 0
    assert len(read.vtodo_list) > 0
    assert all(each.url.value.startswith("http://localhost/") for each in read.vevent_list)


def test_feed_asked_twice_says_the_same(client: TestClient) -> None:
    path = address_of(client)

    assert client.get(path).content == client.get(path).content


def test_replaced_address_answers_no_more(client: TestClient) -> None:
    first = address_of(client)
    second = address_of(client)

    assert client.get(first).status_code == 404
    assert client.get(second).status_code == 200


def test_closed_calendar_answers_at_no_address(client: TestClient) -> None:
    path = address_of(client)
    client.post("/calendar/close")

    assert client.get(path).status_code == 404
    assert ".ics" not in client.get("/calendar").text


def test_page_with_the_secret_is_kept_by_no_browser(client: TestClient) -> None:
    client.post("/calendar")

    assert client.get("/calendar").headers["cache-control"] == "no-store"


def test_api_gives_and_replaces_the_address(client: TestClient, lane: Context) -> None:
    assert client.get("/api/calendar/feed").status_code == 404
    made = client.post("/api/calendar/feed")

    assert made.status_code == 201
    assert client.get("/api/calendar/feed").json() == made.json()
    assert client.get(made.json()["path"]).status_code == 200
    client.delete("/api/calendar/feed")
    with lane.sessions() as session:
        assert calendar.feed(session) is None


def test_feed_needs_no_sign_in_and_the_rest_does(lane: Context, client: TestClient) -> None:
    path = address_of(client)
    with lane.sessions() as session:
        people.add_person(session, "Ann", "a digest", NOW_US)

    assert client.get(path).status_code == 200
    assert client.get("/calendar").status_code == 303
    assert client.get("/api/calendar/feed").status_code == 401
