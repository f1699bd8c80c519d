"""Days and times typed by hand: what no browser sends is refused, whatever Python makes of it."""

import re

import pytest
from fastapi.testclient import TestClient

from dashboards.pages.household import local_us
from dashboards.words import words_for
from service.api.refusals import RefusedError
from tests import builders

VIENNA = words_for("Europe/Vienna", fahrenheit=False)
NO_DAYS = (
    *("20261125xx", "20261125", "2026-W48-3", "2026-11-25xx", "2026-11-25T14:00", "2026-02-30"),
    *("x", "9999-99-99", "0001-01-01", "2026-11-2５"),  # noqa: RUF001 - a digit of full width
)
NO_TIMES = (
    *("2026-11-25", "20261125T14:00", "2026-11-25x14:00", "2026-11-25T14", "2026-W48-3T14:00"),
    *("2026-11-25T14:00+05:00", "2026-11-25T14:00Z", "2026-11-25T14:00xx", "2026-11-25T25:00", ""),
)


@pytest.mark.parametrize("typed", NO_DAYS)
def test_the_planner_refuses_what_is_no_day(client: TestClient, typed: str) -> None:
    looked = client.get("/planner", params={"on": typed})
    wished = client.post("/planner/wish", data={"wheels": "1", "day": typed})

    assert (looked.status_code, wished.status_code) == (422, 422)
    told = re.compile("(write a day as ISO 8601|a day lies between)", re.IGNORECASE)
    assert told.search(looked.text)
    assert told.search(wished.text)


def test_the_planner_takes_a_day_and_an_empty_field(client: TestClient) -> None:
    assert client.get("/planner", params={"on": " 2026-12-01 "}).status_code == 200
    assert client.get("/planner", params={"on": ""}).status_code == 200


@pytest.mark.parametrize("typed", NO_TIMES)
def test_a_local_time_is_taken_only_as_browsers_send_it(typed: str) -> None:
    with pytest.raises(RefusedError, match="write date and time such as 2026-11-25T14:00"):
        local_us(typed, VIENNA)


@pytest.mark.parametrize(
    ("typed", "second"),
    [
        ("2026-11-25T15:32", 0),
        ("2026-11-25 15:32", 0),
        ("2026-11-25T15:32:10", 10),
        ("2026-11-25T15:32:10.000", 10),
    ],
)
def test_a_local_time_with_or_without_seconds_is_taken(typed: str, second: int) -> None:
    assert local_us(typed, VIENNA) == builders.utc_us(2026, 11, 25, 14, 32) + second * 1_000_000


def test_an_error_page_tells_times_in_the_household_s_zone(client: TestClient) -> None:
    page = client.get("/wheels/99")

    assert page.status_code == 404
    assert "Times are in the zone Europe/Vienna." in page.text
