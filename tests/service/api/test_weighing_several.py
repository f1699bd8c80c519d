"""Several wheels weighed in one touch: all of it or nothing, once, and undone in one."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

PATH = "/api/weighings"
BOTH: dict[str, Any] = {
    "touch": "on-the-scale",
    "weights": [{"wheel_id": 1, "grams": 428.0}, {"wheel_id": 2, "grams": 426.5}],
}


def kept(client: TestClient) -> list[list[float]]:
    """What is stored of wheels 1 and 2. [g]"""
    return [
        [each["grams"] for each in client.get(f"/api/wheels/{number}/weighings").json()]
        for number in (1, 2)
    ]


def test_all_are_entered_with_one_time_and_one_touch(client: TestClient) -> None:
    answer = client.post(PATH, json=BOTH)

    assert answer.status_code == 201
    assert [row["grams"] for row in answer.json()] == [428.0, 426.5]
    assert {row["touch"] for row in answer.json()} == {"on-the-scale"}
    assert {row["time"] for row in answer.json()} == {"2026-11-25T12:00:00Z"}
    assert kept(client) == [[428.0], [426.5]]


def test_sent_again_they_are_entered_once(client: TestClient) -> None:
    first, second = (client.post(PATH, json=BOTH) for _ in range(2))

    assert first.json() == second.json()
    assert kept(client) == [[428.0], [426.5]]


def test_one_that_cannot_be_leaves_nothing_of_the_others(client: TestClient) -> None:
    body = {**BOTH, "weights": [BOTH["weights"][0], {"wheel_id": 2, "grams": 4.0}]}
    answer = client.post(PATH, json=body)

    assert answer.status_code == 422
    assert answer.json()["detail"].startswith("Blue of November 2: a weight of 4 g cannot be")
    assert kept(client) == [[], []]


def test_another_weight_in_the_same_touch_is_no_silent_success(client: TestClient) -> None:
    client.post(PATH, json=BOTH)
    answer = client.post(PATH, json={**BOTH, "weights": [{"wheel_id": 1, "grams": 420.0}]})

    assert answer.status_code == 422
    assert "was sent before with something else" in answer.json()["detail"]
    assert kept(client) == [[428.0], [426.5]]


def test_undoing_the_touch_takes_them_all(client: TestClient) -> None:
    client.post(PATH, json=BOTH)
    undone = client.delete("/api/touches/on-the-scale")
    again = client.post(PATH, json=BOTH)

    assert (undone.status_code, again.status_code) == (204, 201)
    assert kept(client) == [[], []]


def test_a_touch_that_was_undone_takes_no_further_wheel(client: TestClient) -> None:
    client.post(PATH, json={**BOTH, "weights": BOTH["weights"][:1]})
    client.delete("/api/touches/on-the-scale")
    answer = client.post(PATH, json=BOTH)

    assert answer.status_code == 422
    assert "that touch was undone" in answer.json()["detail"]
    assert kept(client) == [[], []]


def test_undoing_one_weighing_leaves_no_empty_look(client: TestClient) -> None:
    made = client.post(PATH, json=BOTH).json()
    client.delete(f"/api/wheels/1/weighings/{made[0]['weighing_id']}")

    assert client.get("/api/wheels/1/observations").json() == []
    assert len(client.get("/api/wheels/2/observations").json()) == 1


def test_undoing_the_weight_of_a_look_leaves_the_look(client: TestClient) -> None:
    look = {"rind": "tacky", "grams": 428.0}
    made = client.post("/api/wheels/1/observations", json=look).json()
    client.delete(f"/api/wheels/1/weighings/{made['weighing_id']}")
    (left,) = client.get("/api/wheels/1/observations").json()

    assert (left["rind"], left["grams"]) == ("tacky", None)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"weights": []}, ""),
        ({"weights": [*BOTH["weights"], BOTH["weights"][0]]}, "each wheel once"),
        ({"weights": BOTH["weights"], "touch": "short"}, "a touch is named by"),
        ({"weights": BOTH["weights"], "at": "2026-11-25T13:00:00Z"}, "still to come"),
        ({"weights": BOTH["weights"], "at": "2026-11-20T13:00:00Z"}, "before the wheel was made"),
        ({"weights": [{"wheel_id": 1, "grams": "428"}]}, ""),
    ],
)
def test_what_cannot_be_is_refused(client: TestClient, body: dict[str, Any], words: str) -> None:
    answer = client.post(PATH, json=body)

    assert answer.status_code == 422
    assert words in answer.text
    assert kept(client) == [[], []]


def test_an_unknown_wheel_is_not_found(client: TestClient) -> None:
    body = {"weights": [*BOTH["weights"], {"wheel_id": 99, "grams": 430.0}]}

    assert client.post(PATH, json=body).status_code == 404
    assert kept(client) == [[], []]
