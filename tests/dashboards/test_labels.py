"""The sheet of labels: what stands on it, for which address, and on which paper."""

import html
import re
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from service.api import people
from service.api.access import COOKIE
from service.api.context import Context
from service.api.people import Caller
from service.clock import WorldClock
from service.store import wheels

Visit = Callable[[Context], TestClient]


def words_of(page: str) -> str:
    """What a page says, without its drawings and tags."""
    text = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(text).replace("\xa0", " ").split())


def test_every_wheel_has_a_label_with_its_facts(client: TestClient) -> None:
    page = client.get("/batches/2/labels").text
    said = words_of(page)

    assert page.count('class="label"') == page.count("<svg") == 3
    assert "Blue Wheel 2 Blue, natural rind Made Fri 13 Nov 2026 http://localhost/wheels/3" in said


@pytest.mark.parametrize(
    ("raw_milk", "words"), [(True, "Raw milk"), (False, "Pasteurised milk"), (None, None)]
)
def test_the_milk_is_named_as_it_is_known(
    lane: Context,
    client: TestClient,
    raw_milk: bool | None,  # noqa: FBT001 - a fact of the milk
    words: str | None,
) -> None:
    with lane.sessions() as session:
        wheels.batch(session, 2).raw_milk = raw_milk
    said = words_of(client.get("/batches/2/labels").text)

    assert {each for each in ("Raw milk", "Pasteurised milk") if each in said} == (
        {words} if words else set()
    )


@pytest.mark.parametrize("host", ["localhost:8000", "127.0.0.1:8000", "[::1]:8000"])
def test_an_address_that_no_phone_reaches_is_told_on_the_sheet(
    client: TestClient, host: str
) -> None:
    page = client.get("/batches/2/labels", headers={"Host": host})

    assert page.status_code == 200
    assert "no phone reaches the wheels by them" in words_of(page.text)


def test_an_address_of_the_house_is_taken_without_a_warning(lane: Context, visit: Visit) -> None:
    """Asked for by a name of the home's network, as only a keeper who has signed in can."""
    world_us = WorldClock().now_us()
    caller = Caller("192.0.2.7", "A phone")
    with lane.sessions() as session:
        people.add_keeper(session, "Ada", "twelve wheels of blue", world_us)
        code = people.make_phone_code(session, 1, world_us)
        secret = people.redeem_phone_code(session, code, caller, world_us)
    client = visit(lane)
    headers = {"Host": "larch-lane.lan:8000", "Cookie": f"{COOKIE}={secret}"}
    said = words_of(client.get("/batches/2/labels", headers=headers).text)

    assert "http://larch-lane.lan:8000/wheels/3" in said
    assert "no phone reaches" not in said


@pytest.mark.parametrize(("paper", "sheet"), [("a4", "paper-a4"), ("letter", "paper-letter")])
def test_the_paper_is_chosen_by_its_own_style_sheet(
    client: TestClient, paper: str, sheet: str
) -> None:
    page = client.get(f"/batches/2/labels?paper={paper}").text
    (address,) = re.findall(r'href="(/static/paper-[^"]+)"', page)
    style = client.get(address).text

    assert sheet in address
    assert ("A4 portrait" if paper == "a4" else "letter portrait") in style


def test_another_paper_is_refused(client: TestClient) -> None:
    assert client.get("/batches/2/labels?paper=a3").status_code == 422
