"""A sensor that is stuck is told on the shelf and among the alarms."""

import re

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.watch import failing
from service.watch.rounds import Watch
from tests import builders

BOX = 2
TITLE = "Blue box: sensor still is stuck"


def words_of(client: TestClient, address: str) -> str:
    text = re.sub(r"<[^>]+>", " ", client.get(address).text)
    return " ".join(text.replace("\xa0", " ").replace("\u2060", "").split())


@pytest.mark.parametrize("address", ["/", "/alarms", f"/spaces/{BOX}"])
@pytest.mark.parametrize(("hours", "told"), [(8.0, True), (4.0, False)])
def test_a_sensor_that_has_long_been_stuck_is_told(
    lane: Context, client: TestClient, address: str, hours: float, *, told: bool
) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session,
            "still",
            BOX,
            lambda ago: 10.0 + ago / 100,
            lambda ago: 91.5 if ago < hours else 91.0 + ago % 1,
        )
    Watch(lane.sessions, lane.clock, lane.plans).look_ahead()

    assert (TITLE in words_of(client, address)) is told


@pytest.mark.parametrize(("kind", "told"), [("humidity_below", True), (failing.KIND, False)])
def test_its_alarm_does_not_repeat_what_it_doubts(
    lane: Context, client: TestClient, kind: str, *, told: bool
) -> None:
    with lane.sessions() as session:
        builders.add_alarm(session, BOX, kind=kind)

    assert ("Now 10" in words_of(client, "/")) is told
