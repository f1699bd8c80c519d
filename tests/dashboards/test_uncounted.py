"""Pages tell that a stuck or wet sensor does not count."""

import re

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from tests import builders

BOX, WHEEL_IN_IT = 2, 2


def words_of(client: TestClient, address: str) -> str:
    page = client.get(address)
    assert page.status_code == 200
    text = re.sub(r"<[^>]+>", " ", page.text).replace("\xa0", " ").replace("\u2060", "")
    return " ".join(text.split())


def stand_in_the_box(lane: Context, humidity_pct: float, hours: float) -> None:
    """A sensor whose humidity stands still in its last hours."""
    with lane.sessions() as session:
        builders.add_sensor(
            session,
            "still",
            BOX,
            lambda ago: 10.0 + ago / 100,
            lambda ago: humidity_pct if ago < hours else 90.0 + ago % 1,
        )


@pytest.mark.parametrize("address", [f"/spaces/{BOX}", f"/wheels/{WHEEL_IN_IT}"])
def test_a_stuck_sensor_is_said_not_to_count(
    lane: Context, client: TestClient, address: str
) -> None:
    stand_in_the_box(lane, 91.5, 6.0)

    assert re.search(
        r"Its sensor has been stuck since [^.]*\d\d:\d\d: humidity not known, not counted\.",
        words_of(client, address),
    )


@pytest.mark.parametrize("address", [f"/spaces/{BOX}", f"/wheels/{WHEEL_IN_IT}"])
def test_a_wet_sensor_is_said_not_to_count(lane: Context, client: TestClient, address: str) -> None:
    stand_in_the_box(lane, 100.0, 6.0)

    assert re.search(
        r"Its sensor has read 100 % since [^.]*: it is wet; humidity not known, not counted\.",
        words_of(client, address),
    )


@pytest.mark.parametrize("address", ["/", f"/spaces/{BOX}", f"/wheels/{WHEEL_IN_IT}"])
def test_no_page_says_in_range_by_a_stuck_sensor(
    lane: Context, client: TestClient, address: str
) -> None:
    stand_in_the_box(lane, 91.5, 6.0)

    assert re.search(
        r"humidity not known: its sensor has been stuck since [^.]*\d\d:\d\d",
        words_of(client, address),
    )


def test_the_api_says_why_and_since_when_nothing_is_known(
    lane: Context, client: TestClient
) -> None:
    stand_in_the_box(lane, 91.5, 6.0)
    (unknown,) = client.get(f"/api/wheels/{WHEEL_IN_IT}/verdict").json()["unknown"]

    assert (unknown["quantity"], unknown["reason"]) == ("humidity", "its sensor has been stuck")
    # Six hours ago; readings come every five minutes, the last one 40 s ago.
    assert unknown["last"] == "2026-11-25T08:36:20Z"


@pytest.mark.parametrize("address", [f"/spaces/{BOX}", f"/wheels/{WHEEL_IN_IT}"])
def test_of_a_sensor_in_order_nothing_is_said(
    lane: Context, client: TestClient, address: str
) -> None:
    stand_in_the_box(lane, 91.5, 0.0)

    assert "not counted" not in words_of(client, address)


def test_the_lag_is_said_not_to_be_told_by_readings(client: TestClient) -> None:
    assert "They cannot tell it themselves" in words_of(client, "/sensors/1")
