"""A touch that comes again: with the same it enters once, with something else it is refused."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

TURN: dict[str, Any] = {"touch": "touch-one", "work": "turn", "wheel_ids": [1]}
MOVE: dict[str, Any] = {**TURN, "work": "move", "space_id": 1}
OPEN: dict[str, Any] = {"touch": "touch-one", "opened": True, "reason": "I was away"}
GATE = "/api/wheels/1/gate"


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/api/care", MOVE),
        ("/api/care", {**TURN, "work": "pat dry"}),
        (GATE, OPEN),
        (GATE, {**OPEN, "space_id": 1}),
        ("/api/wheels/1/end", {"touch": "touch-one", "how": "eaten"}),
    ],
)
def test_nothing_new_is_entered_in_a_touch_that_was_undone(
    client: TestClient, path: str, body: dict[str, Any]
) -> None:
    client.post("/api/care", json=TURN)
    client.delete("/api/touches/touch-one")
    before = client.get("/api/wheels/1").json()

    answer = client.post(path, json=body)

    assert answer.status_code == 422
    assert "that touch was undone" in answer.json()["detail"]
    assert client.get("/api/wheels/1").json() == before


def test_what_was_undone_and_comes_again_stays_undone(client: TestClient) -> None:
    client.post("/api/care", json=MOVE)
    client.delete("/api/touches/touch-one")

    again = client.post("/api/care", json=MOVE)

    assert again.status_code == 201
    assert [row["withdrawn"] for row in again.json()] == [True]
    assert client.get("/api/wheels/1").json()["space_id"] == 2


@pytest.mark.parametrize(
    ("path", "body"),
    [
        (GATE, OPEN),
        (GATE, {"touch": "touch-one", "opened": False, "ask_again_day": "2026-11-27"}),
        ("/api/wheels/1/end", {"touch": "touch-one", "how": "eaten"}),
        ("/api/wheels/1/observations", {"touch": "touch-one", "rind": "dry"}),
        ("/api/weighings", {"touch": "touch-one", "weights": [{"wheel_id": 1, "grams": 400}]}),
    ],
)
def test_whatever_was_undone_says_so_when_it_comes_again_and_is_entered_by_a_new_touch(
    client: TestClient, path: str, body: dict[str, Any]
) -> None:
    def rows(touch: str) -> list[dict[str, Any]]:
        answer = client.post(path, json={**body, "touch": touch})
        assert answer.status_code == 201
        found = answer.json()
        return found if isinstance(found, list) else [found]

    first = rows("touch-one")
    client.delete("/api/touches/touch-one")
    again, anew = rows("touch-one"), rows("touch-two")

    assert [row["withdrawn"] for row in (*first, *again, *anew)] == [False, True, False]
    assert [row["id"] for row in again] == [row["id"] for row in first]
    assert anew[0]["id"] != first[0]["id"]


@pytest.mark.parametrize(
    "other", [{"wheel_ids": [2]}, {"wheel_ids": [1, 2]}, {"outcome": "skipped"}]
)
def test_care_of_other_wheels_in_the_same_touch_is_no_silent_success(
    client: TestClient, other: dict[str, Any]
) -> None:
    client.post("/api/care", json=TURN)

    answer = client.post("/api/care", json={**TURN, **other})

    assert answer.status_code == 422
    assert "something else before" in answer.json()["detail"]


def test_care_of_a_whole_box_comes_again_though_a_wheel_has_left_it(client: TestClient) -> None:
    all_in_box = {"touch": "touch-box", "work": "turn", "space_id": 2}
    first = client.post("/api/care", json=all_in_box).json()
    client.post("/api/care", json=MOVE)

    assert client.post("/api/care", json=all_in_box).json() == first


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/api/wheels/2/gate", OPEN),
        (GATE, {"touch": "touch-one", "opened": False, "ask_again_day": "2026-11-27"}),
        ("/api/wheels/1/end", {"touch": "touch-one", "how": "eaten"}),
    ],
)
def test_an_answer_of_another_wheel_or_kind_in_the_same_touch_is_no_silent_success(
    client: TestClient, path: str, body: dict[str, Any]
) -> None:
    client.post(GATE, json=OPEN)

    answer = client.post(path, json=body)

    assert answer.status_code == 422
    assert "something else before" in answer.json()["detail"]


def test_a_gate_is_no_answer_to_an_end_that_comes_in_the_same_touch(client: TestClient) -> None:
    end = {"touch": "touch-one", "how": "eaten"}
    first = client.post("/api/wheels/1/end", json=end)

    assert client.post("/api/wheels/1/end", json=end).json() == first.json()
    assert client.post("/api/wheels/2/end", json=end).status_code == 422
    assert client.post(GATE, json=OPEN).status_code == 422
