"""What could not be stored is shown, tried again, and thrown away after a question."""

import html
import re

from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import quarantine
from tests import builders
from tests.page_words import words_of


def keep(lane: Context, *reasons: str) -> None:
    with lane.sessions() as session:
        for reason in reasons:
            quarantine.keep(session, builders.NOW_US, "caves/x/y/senml", b"{}", reason)


def asked(client: TestClient) -> tuple[str, dict[str, str]]:
    """The page that asks, from the first kind's link, and what its form would send."""
    links = re.findall(r'href="(/quarantine/away\?[^"]+)"', client.get("/quarantine").text)
    page = client.get(html.unescape(links[0])).text
    fields = re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page)
    return words_of(page), {name: html.unescape(value) for name, value in fields}


def test_the_question_names_the_number_and_the_reason(lane: Context, client: TestClient) -> None:
    keep(lane, *(f"{number} %RH is <none> & such" for number in range(130, 135)))

    words, fields = asked(client)

    assert "Throw away 5 messages?" in words
    assert "… %RH is <none> & such" in words
    assert fields["kind"] == "… %RH is <none> & such"


def test_nothing_goes_by_asking(lane: Context, client: TestClient) -> None:
    keep(lane, "no pack")
    asked(client)

    with lane.sessions() as session:
        assert quarantine.count(session) == 1


def test_what_is_thrown_away_is_told_and_kept_as_a_number(
    lane: Context, client: TestClient
) -> None:
    keep(lane, "no pack", "no pack")
    _, fields = asked(client)

    answer = client.post("/quarantine/away", data=fields)
    words = words_of(client.get(answer.headers["location"]).text)

    assert "2 messages thrown away; their number is kept below." in words
    assert "Thrown away no pack · 2 messages, the last" in words


def test_pressed_twice_it_counts_once(lane: Context, client: TestClient) -> None:
    keep(lane, "no pack")
    _, fields = asked(client)
    client.post("/quarantine/away", data=fields)

    again = client.post("/quarantine/away", data=fields)
    words = words_of(client.get(again.headers["location"]).text)

    assert "There was nothing to throw away any more." in words
    assert "no pack · 1 message, the last" in words


def test_a_kind_that_is_gone_is_not_asked_about(client: TestClient) -> None:
    assert client.get("/quarantine/away", params={"kind": "no pack"}).status_code == 404


def test_the_api_throws_away_up_to_the_newest_that_it_told_of(
    lane: Context, client: TestClient
) -> None:
    keep(lane, "no pack")
    (kind,) = client.get("/api/readings/quarantine").json()["kinds"]
    keep(lane, "no pack")

    answer = client.post(
        "/api/readings/quarantine/throw-away",
        json={"kind": kind["kind"], "up_to": kind["newest_id"]},
    )
    then = client.get("/api/readings/quarantine").json()

    assert answer.json() == {"messages": 1}
    assert then["total"] == 1
    assert then["thrown_away"] == [
        {"kind": "no pack", "messages": 1, "last": "2026-11-25T14:32:00Z"}
    ]


def test_quarantine_shows_reason_topic_and_bytes(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        quarantine.keep(session, builders.NOW_US, "caves/x/y/senml", b"\xff{}", "not JSON")

    said = words_of(client.get("/quarantine").text)

    assert "not JSON" in said
    assert "caves/x/y/senml" in said
    assert r"\xff{}" in said
    assert "1 message could not be stored" in words_of(client.get("/sensors").text)


def test_quarantine_tells_what_was_only_counted(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        shelf = quarantine.Shelf(session, most_rows=1)
        for _ in range(1_235):
            shelf.keep(builders.NOW_US, "caves/x/y/senml", b"{}", "not JSON")

    said = words_of(client.get("/quarantine").text)

    assert "… and 1,234 more like it, not kept" in said
    assert "1235 messages" in said


def test_quarantine_is_tried_again_from_its_page(lane: Context, client: TestClient) -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":10,"t":%d}]' % (builders.NOW_US // 10**6)
    with lane.sessions() as session:
        for payload in (pack, b"{}"):
            quarantine.keep(session, builders.NOW_US, "caves/x/y/senml", payload, "too far ahead")

    answer = client.post("/quarantine/again", data={"kind": "too far ahead"})
    said = words_of(client.get(answer.headers["location"]).text)

    assert "2 messages tried again: 1 new reading stored, 1 taken out of here." in said
    assert "1 message still cannot be stored." in said
