"""A wheel that has ended: what is told of it, and what is entered of it no more."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from tests import builders

BEFORE = "2026-11-24T12:00:00Z"
AFTER = "2026-11-25T14:31:00Z"


@pytest.fixture
def keeper(tmp_path: Path) -> Iterator[TestClient]:
    """A keeper whose wheel 2 was eaten on the day before, at 12:30."""
    lane = builders.larch_lane(tmp_path)
    with TestClient(
        create_app(lane), base_url="http://localhost", client=("127.0.0.1", 50_000)
    ) as client:
        ended = {"touch": "we-ate-it-all", "how": "eaten", "when": "2026-11-24T12:30:00Z"}
        assert client.post("/api/wheels/2/end", json=ended).status_code == 201
        yield client


def test_the_list_of_wheels_tells_how_and_when_each_ended(keeper: TestClient) -> None:
    told = {wheel["id"]: wheel for wheel in keeper.get("/api/wheels").json()}

    assert (told[2]["ended"], told[2]["ended_how"]) == ("2026-11-24T12:30:00Z", "eaten")
    assert (told[3]["ended"], told[3]["ended_how"]) == (None, None)
    assert (told[2]["day"], told[3]["day"]) == (10, 12)
    assert {each["reason"] for each in told[2]["verdict"]["unknown"]} == {"it was eaten"}


def test_no_space_holds_a_wheel_that_has_ended(keeper: TestClient) -> None:
    held = {space["id"]: space["wheel_ids"] for space in keeper.get("/api/spaces").json()}

    assert held[2] == [3, 4]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("moves", {"space_id": 1}),
        ("moves", {"space_id": None}),
        ("moves", {"space_id": 1, "at": BEFORE}),
        ("stages", {"stage": "wrapped"}),
        ("stages", {"stage": "wrapped", "at": BEFORE}),
        ("weighings", {"grams": 400.0}),
        ("weighings", {"grams": 400.0, "at": AFTER}),
        ("observations", {"rind": "dry"}),
        ("observations", {"rind": "dry", "at": AFTER}),
        ("observations", {"grams": 400.0, "at": AFTER}),
        ("gate", {"touch": "on-with-a-ghost", "opened": True, "reason": "To see"}),
        ("end", {"touch": "eaten-once-more", "how": "given away"}),
    ],
)
def test_what_comes_after_its_end_is_refused_with_the_way_out(
    keeper: TestClient, path: str, body: dict[str, Any]
) -> None:
    before = keeper.get("/api/wheels/2").json()

    answer = keeper.post(f"/api/wheels/2/{path}", json=body)

    assert answer.status_code == 422
    assert answer.json()["detail"] == (
        "wheel 1 is no more: it was eaten; if that was a slip, undo its end on the wheel's page"
    )
    assert keeper.get("/api/wheels/2").json() == before
    assert keeper.get("/api/wheels/2/weighings").json() == []
    assert keeper.get("/api/wheels/2/observations").json() == []


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("weighings", {"grams": 400.0, "at": BEFORE}),
        ("observations", {"rind": "dry", "at": BEFORE}),
    ],
)
def test_what_was_seen_before_its_end_may_be_entered_later(
    keeper: TestClient, path: str, body: dict[str, Any]
) -> None:
    answer = keeper.post(f"/api/wheels/2/{path}", json=body)

    assert answer.status_code == 201


def test_a_wheel_that_had_left_the_house_is_not_moved_before_its_end(keeper: TestClient) -> None:
    keeper.post("/api/wheels/3/moves", json={"space_id": None, "at": "2026-11-20T12:00:00Z"})
    keeper.post("/api/wheels/3/end", json={"touch": "gave-it-away", "how": "given away"})

    answer = keeper.post(
        "/api/care",
        json={
            "touch": "back-into-the-box",
            "work": "move",
            "wheel_ids": [3],
            "space_id": 2,
            "when": "2026-11-22",
        },
    )

    assert answer.status_code == 422
    assert "it was given away" in answer.json()["detail"]
    assert keeper.get("/api/wheels/3").json()["space_id"] is None


def test_a_wheel_whose_end_is_undone_moves_again(keeper: TestClient) -> None:
    keeper.delete("/api/touches/we-ate-it-all")

    assert keeper.get("/api/wheels/2").json()["ended"] is None
    assert keeper.post("/api/wheels/2/moves", json={"space_id": 1}).status_code == 200


def test_what_was_said_at_its_gates_is_told_with_reasons_and_what_was_missing(
    keeper: TestClient,
) -> None:
    wait = {"touch": "not-just-yet", "opened": False, "ask_again_day": "2026-11-27"}
    went = {"touch": "on-it-must-go", "opened": True, "reason": "Guests come"}
    keeper.post("/api/wheels/5/gate", json=wait)
    keeper.post("/api/wheels/5/gate", json=went | {"seen": ["faces dry or tacky"]})

    told = keeper.get("/api/wheels/5/gates").json()

    assert [(each["opened"], each["reason"]) for each in told] == [
        (False, ""),
        (True, "Guests come"),
    ]
    assert told[1]["seen"] == ["faces dry or tacky"]
    assert [each.partition(":")[0] for each in told[1]["missing"]] == [
        "coat of 95 % or more",
        "The coat is white on faces and rim.",
    ]
    keeper.delete("/api/touches/on-it-must-go")
    assert [each["touch"] for each in keeper.get("/api/wheels/5/gates").json()] == ["not-just-yet"]
    assert keeper.get("/api/wheels/99/gates").status_code == 404
