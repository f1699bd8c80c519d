"""What a maker enters through the API, and what two browsers at once come out with."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from service.ageing.lifecycle import Priority
from service.api.context import Context
from service.app import create_app
from service.store import alarm_records
from service.store.places import placements_of_sensor
from service.store.tables import Condition

NOON_US = 1_795_608_000_000_000


def at_once(*calls: Callable[[], Response]) -> list[Response]:
    """The answers to calls that were let go at the same moment."""
    gate = threading.Barrier(len(calls))
    answers: list[Response | None] = [None] * len(calls)

    def go(position: int, call: Callable[[], Response]) -> None:
        gate.wait()
        answers[position] = call()

    threads = [threading.Thread(target=go, args=pair) for pair in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [answer for answer in answers if answer is not None]


@pytest.fixture
def alarm_id(context: Context) -> int:
    """An alarm of the cave that nobody has acknowledged."""
    with context.sessions() as session:
        condition = Condition(kind="humidity below", space_id=1)
        session.add(condition)
        session.flush()
        assert condition.id is not None
        new = alarm_records.NewAlarm(
            NOON_US - 600_000_000, Priority.HIGH, 88.0, 79.5, "1, 2", "Too dry", "Fill the tray."
        )
        return alarm_records.raise_alarm(session, condition.id, new)


def test_a_whole_house_can_be_entered(empty: Context) -> None:
    with TestClient(create_app(empty), base_url="http://localhost") as browser:
        site = {"name": "Larch Lane", "slug": "larch-lane", "time_zone": "Europe/Vienna"}
        assert browser.get("/api/site").status_code == 404
        assert browser.post("/api/site", json=site).status_code == 200
        cave = browser.post("/api/spaces", json={"name": "Cave", "kind": "cave"}).json()
        batch = browser.post(
            "/api/batches",
            json={
                "name": "Tomme",
                "plan": next(iter(empty.plans)),
                "made": "2026-11-20T09:00:00Z",
                "wheels": [{"diameter_mm": 190, "height_mm": 75, "mass_g": 1950, "label": "A"}],
                "space_id": cave["id"],
            },
        )
        wheels = browser.get("/api/wheels").json()

    assert batch.status_code == 201
    assert [(wheel["label"], wheel["space_id"]) for wheel in wheels] == [("A", cave["id"])]


def test_a_batch_may_be_given_by_count_and_size(client: TestClient) -> None:
    size = {"diameter_mm": 80, "height_mm": 32, "mass_g": 175}
    body = {"name": "White", "plan": "blue", "made": "2026-11-24T09:00:00Z"}
    answer = client.post("/api/batches", json={**body, "count": 4, "size": size})
    labels = [wheel["label"] for wheel in client.get("/api/wheels").json()[-4:]]

    assert len(answer.json()["wheel_ids"]) == 4
    assert sorted(labels) == ["1", "2", "3", "4"]


def test_a_batch_sent_twice_is_entered_once(client: TestClient) -> None:
    body = {
        "name": "White",
        "plan": "blue",
        "made": "2026-11-24T09:00:00Z",
        "count": 1,
        "size": {"diameter_mm": 80, "height_mm": 32, "mass_g": 175},
    }
    answers = at_once(*[lambda: client.post("/api/batches", json=body)] * 4)

    assert sorted(answer.status_code for answer in answers) == [201, 422, 422, 422]
    assert len(client.get("/api/wheels").json()) == 3


def test_a_sensor_never_placed_is_placed_from_its_first_reading(client: TestClient) -> None:
    placement = client.get("/api/sensors").json()[0]["placement"]

    assert placement["from"] == "2026-11-25T10:01:00Z"


def test_a_sensor_placed_before_is_placed_from_now(client: TestClient) -> None:
    answer = client.post("/api/sensors/1/placements", json={"space_id": 2}).json()

    assert answer["placement"]["from"] == "2026-11-25T12:00:00Z"


def test_placing_a_sensor_where_it_stands_changes_nothing(client: TestClient) -> None:
    answer = client.post("/api/sensors/1/placements", json={"space_id": 1}).json()

    assert answer["placement"]["from"] == "2026-11-25T10:01:00Z"


def test_a_sensor_can_be_taken_away(client: TestClient) -> None:
    answer = client.post("/api/sensors/1/placements", json={"space_id": None}).json()

    assert answer["placement"] is None
    assert answer["state"] == "not placed any more"


def test_two_browsers_that_place_one_sensor_leave_one_placement(
    client: TestClient, context: Context
) -> None:
    answers = at_once(
        *[
            lambda space=space: client.post("/api/sensors/2/placements", json={"space_id": space})
            for space in (1, 2, 1, 2)
        ]
    )
    with context.sessions() as session:
        still_open = [stay for stay in placements_of_sensor(session, 2) if stay.to_us is None]

    assert [answer.status_code for answer in answers] == [200] * 4
    assert len(still_open) == 1


def test_two_browsers_that_move_one_wheel_leave_it_in_one_space(client: TestClient) -> None:
    answers = at_once(
        *[
            lambda space=space: client.post("/api/wheels/1/moves", json={"space_id": space})
            for space in (1, 2, 1, 2)
        ]
    )
    stays = client.get("/api/wheels/1").json()["placements"]

    assert [answer.status_code for answer in answers] == [200] * 4
    assert [stay["to"] for stay in stays].count(None) == 1


def test_a_stage_begins_and_the_one_before_ends(client: TestClient) -> None:
    body = {"stage": "salting", "at": "2026-11-25T10:00:00Z"}
    stages = client.post("/api/wheels/1/stages", json=body).json()["stages"]

    assert [(stage["stage"], stage["to"]) for stage in stages] == [
        ("draining", "2026-11-25T10:00:00Z"),
        ("salting", None),
    ]


def test_two_browsers_that_acknowledge_at_once_leave_one_acknowledgement(
    client: TestClient, context: Context, alarm_id: int
) -> None:
    answers = at_once(*[lambda: client.post(f"/api/alarms/{alarm_id}/acknowledge")] * 4)
    with context.sessions() as session:
        changes = [change.state for change in alarm_records.transitions(session, alarm_id)]

    assert {answer.status_code for answer in answers} == {200}
    assert {answer.json()["acknowledged"] for answer in answers} == {"2026-11-25T12:00:00Z"}
    assert changes == ["unacknowledged", "acknowledged"]


def test_an_alarm_that_has_not_returned_is_open(client: TestClient, alarm_id: int) -> None:
    listed = client.get("/api/alarms", params={"only_open": True}).json()

    assert [(alarm["id"], alarm["state"]) for alarm in listed] == [(alarm_id, "unacknowledged")]
    assert listed[0]["raised"] == "2026-11-25T11:50:00Z"
    assert listed[0]["limit"] == 88.0


def test_names_in_any_script_are_kept(client: TestClient) -> None:
    name = "Кладовая 🧀"
    answer = client.post("/api/spaces", json={"name": name, "kind": "room"}).json()

    assert answer["name"] == name
    assert answer["slug"] == "space"


SIZE = {"diameter_mm": 80, "height_mm": 32, "mass_g": 175}
BATCH = {"name": "White", "plan": "blue", "made": "2026-11-24T09:00:00Z", "count": 1, "size": SIZE}
SITE = {"name": "Larch Lane", "slug": "larch-lane"}


@pytest.mark.parametrize(
    ("path", "body", "status", "words"),
    [
        ("/api/spaces", {"name": "Blue box", "kind": "cave"}, 422, "already"),
        ("/api/spaces", {"name": " ", "kind": "cave"}, 422, "1 to 80 signs"),
        ("/api/spaces", {"name": "a\nb", "kind": "cave"}, 422, "one line"),
        ("/api/spaces", {"name": "New", "kind": "tent"}, 422, "kind"),
        ("/api/spaces", {"name": "New", "kind": "box"}, 422, "say in which"),
        ("/api/spaces", {"name": "New", "kind": "box", "parent_id": 2}, 422, "another box"),
        ("/api/spaces", {"name": "New", "kind": "box", "parent_id": 99}, 404, "no space 99"),
        ("/api/spaces", {"name": "New", "kind": "cave", "parent_id": 1}, 422, "only a box"),
        ("/api/batches", {**BATCH, "plan": "brick"}, 422, "there is no plan brick"),
        ("/api/batches", {**BATCH, "stage": "frying"}, 404, "no stage frying"),
        ("/api/batches", {**BATCH, "made": "2026-11-26T09:00:00Z"}, 422, "still to come"),
        ("/api/batches", {**BATCH, "made": "1926-11-25T09:00:00Z"}, 422, "1970"),
        ("/api/batches", {**BATCH, "made": "1996-11-25T09:00:00Z"}, 422, "last 20 years"),
        ("/api/batches", {**BATCH, "space_id": 99}, 404, "no space 99"),
        ("/api/batches", {**BATCH, "wheels": []}, 422, "either wheels, or count"),
        ("/api/batches", {**BATCH, "count": None}, 422, "either wheels, or count"),
        ("/api/batches", {**BATCH, "size": {**SIZE, "mass_g": 0.175}}, 422, "mass_g of wheel 1"),
        ("/api/wheels/1/moves", {"space_id": 1, "at": "2026-11-23T09:00:00Z"}, 422, "was made"),
        ("/api/wheels/1/moves", {"space_id": 1, "at": "2027-01-01T09:00:00Z"}, 422, "to come"),
        ("/api/wheels/99/moves", {"space_id": 1}, 404, "no wheel 99"),
        ("/api/wheels/99/moves", {"space_id": None}, 404, "no wheel 99"),
        ("/api/wheels/1/stages", {"stage": "frying"}, 404, "no stage frying"),
        ("/api/sensors/99/placements", {"space_id": 1}, 404, "no sensor 99"),
        ("/api/sensors/1/placements", {"space_id": 99}, 404, "no space 99"),
        ("/api/alarms/99/acknowledge", None, 404, "no alarm 99"),
        ("/api/site", {**SITE, "time_zone": "../../etc/passwd"}, 422, "no such time zone"),
        ("/api/site", {**SITE, "time_zone": "Europe"}, 422, "no such time zone"),
        ("/api/site", {**SITE, "slug": "a/b"}, 422, "a slug has"),
        ("/api/site", {**SITE, "slug": "+"}, 422, "a slug has"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(
    client: TestClient, path: str, body: Any, status: int, words: str
) -> None:
    before = client.get("/api/wheels").json(), client.get("/api/sensors").json()
    answer = client.post(path, json=body)

    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert words in answer.json()["detail"]
    assert (client.get("/api/wheels").json(), client.get("/api/sensors").json()) == before
