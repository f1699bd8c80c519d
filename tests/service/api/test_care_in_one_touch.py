"""Several works in one touch over HTTP: entered at once, once, and undone in one."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from tests import builders

ITEMS: list[dict[str, Any]] = [
    {"work": "turn", "space_id": 2},
    {"work": "turn", "wheel_ids": [1]},
    {"work": "air the box", "space_id": 2},
    {"work": "air the box", "space_id": 3},
    {"work": "brush", "wheel_ids": [1], "outcome": "put off", "until_day": "2026-11-27"},
]


@pytest.fixture
def keeper(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(
        create_app(builders.larch_lane(tmp_path)),
        base_url="http://localhost",
        client=("127.0.0.1", 50_000),
    ) as client:
        yield client


def all_due(client: TestClient) -> Any:
    return client.get("/api/care", params={"until": "2027-10-01"}).json()["due"]


def test_several_works_are_one_touch_and_undone_in_one(keeper: TestClient) -> None:
    before = all_due(keeper)

    entered = keeper.post("/api/care", json={"touch": "all-in-one", "items": ITEMS})

    assert entered.status_code == 201
    assert [(row["work"], row["wheel_id"], row["space_id"]) for row in entered.json()] == [
        *(("turn", wheel, None) for wheel in (2, 3, 4, 1)),
        *(("air the box", None, space) for space in (2, 3)),
        ("brush", 1, None),
    ]
    assert {row["touch"] for row in entered.json()} == {"all-in-one"}
    assert all_due(keeper) != before
    assert keeper.delete("/api/touches/all-in-one").status_code == 204
    assert all_due(keeper) == before


def test_several_works_sent_twice_are_entered_once_and_once_undone_stay_so(
    keeper: TestClient,
) -> None:
    body = {"touch": "all-in-one", "items": ITEMS}

    first, again = (keeper.post("/api/care", json=body).json() for _ in range(2))
    keeper.delete("/api/touches/all-in-one")
    late = keeper.post("/api/care", json=body).json()

    assert first == again
    assert [row["id"] for row in late] == [row["id"] for row in first]
    assert all(row["withdrawn"] for row in late)


def test_wheels_that_move_in_a_touch_are_tended_where_they_were(keeper: TestClient) -> None:
    items = [
        {"work": "move", "wheel_ids": [2], "space_id": 4},
        {"work": "turn", "space_id": 2},
    ]

    entered = keeper.post("/api/care", json={"touch": "moved-and-turned", "items": items})

    assert [(row["work"], row["wheel_id"]) for row in entered.json()] == [
        ("move", 2),
        *(("turn", wheel) for wheel in (2, 3, 4)),
    ]
    assert keeper.get("/api/wheels/2").json()["space_id"] == 4
    keeper.delete("/api/touches/moved-and-turned")
    assert keeper.get("/api/wheels/2").json()["space_id"] == 2


@pytest.mark.parametrize(
    ("more", "status", "says"),
    [
        ({}, 422, "give either a work"),
        ({"items": []}, 422, "give either a work"),
        ({"items": ITEMS, "work": "turn"}, 422, "give either a work"),
        ({"items": ITEMS, "when": "2026-11-24"}, 422, "give either a work"),
        ({"items": [{"wheel_ids": [2]}]}, 422, "work"),
        ({"items": [*ITEMS, {"work": "turn", "wheel_ids": [99]}]}, 404, "no wheel 99"),
        ({"items": [*ITEMS, {"work": "turn", "wheel_ids": [1]}]}, 422, "turn is named twice"),
        (
            {"items": [*ITEMS, {"work": "air the box", "space_id": 2, "outcome": "skipped"}]},
            422,
            "air the box is named twice",
        ),
        ({"items": [*ITEMS, {"work": "weigh", "wheel_ids": [2], "when": "2026-11-01"}]}, 422, ""),
    ],
)
def test_one_work_that_cannot_be_keeps_all_of_the_touch_out(
    keeper: TestClient, more: dict[str, Any], status: int, says: str
) -> None:
    before = all_due(keeper)

    answer = keeper.post("/api/care", json={"touch": "cannot-be-done", **more})

    assert answer.status_code == status
    assert says in answer.json()["detail"]
    assert all_due(keeper) == before
    assert keeper.delete("/api/touches/cannot-be-done").status_code == 404
