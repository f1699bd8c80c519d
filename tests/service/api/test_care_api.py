"""Care, gates and ends over HTTP: what is answered, what is entered once, what is refused."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.app import create_app
from tests import builders


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    return builders.larch_lane(tmp_path)


@pytest.fixture
def keeper(lane: Context) -> Iterator[TestClient]:
    with TestClient(
        create_app(lane), base_url="http://localhost", client=("127.0.0.1", 50_000)
    ) as client:
        yield client


def due_of(client: TestClient, work: str, wheel_id: int) -> dict[str, Any]:
    for each in client.get("/api/care", params={"until": "2027-10-01"}).json()["due"]:
        if each["work"] == work and wheel_id in [wheel["id"] for wheel in each["wheels"]]:
            found: dict[str, Any] = each
            return found
    raise AssertionError(f"no {work} of wheel {wheel_id}")


def test_care_is_answered_with_visits_openings_and_gates(keeper: TestClient) -> None:
    answer = keeper.get("/api/care", params={"until": "2026-12-08"})

    assert answer.status_code == 200
    told = answer.json()
    assert (told["today"], told["until"], told["zone"]) == (
        "2026-11-25",
        "2026-12-08",
        "Europe/Vienna",
    )
    assert set(told["openings"]) == {"planned", "by_expected_days", "saved"}
    assert {each["work"] for each in told["due"]} >= {"turn", "air the box", "wipe the lid"}
    aired = next(each for each in told["due"] if each["work"] == "air the box")
    assert (aired["place"], aired["done_on"], aired["space_id"]) == ("box", 2, 2)
    assert [wheel["label"] for wheel in aired["wheels"]] == ["1", "2", "3"]
    assert aired["standing"] == "overdue"
    assert aired["last_done"] is None
    assert {each["wheel"]["id"] for each in told["gates"]} == {5, 6, 7, 8, 9}
    assert told["visits"][0]["space_id"] == 1


def test_care_tells_how_it_comes_up_again_as_foreseen(keeper: TestClient) -> None:
    told = keeper.get("/api/care", params={"until": "2026-12-08"}).json()
    fridge = [each for each in told["visits"] if each["space_id"] == 4]

    # October blue in the fridge: all is overdue today, and turned again a week later.
    assert [(each["day"], each["is_foreseen"]) for each in fridge] == [
        ("2026-11-25", False),
        ("2026-12-02", True),
    ]
    assert fridge[1]["due"] == []
    turn = next(each for each in fridge[1]["foreseen"] if each["work"] == "turn")
    assert (turn["wheel_ids"], turn["done_on"], turn["space_id"]) == ([9], None, 4)
    assert (turn["opens"], turn["expected"], turn["latest"]) == (
        "2026-11-28",
        "2026-12-02",
        "2026-12-09",
    )
    assert told["openings"]["planned"] == len(told["visits"])


def test_until_may_be_an_instant_and_is_never_past(keeper: TestClient) -> None:
    # 23:30 in UTC is the next day in Vienna.
    late = keeper.get("/api/care", params={"until": "2026-12-08T23:30:00Z"})
    past = keeper.get("/api/care", params={"until": "2026-11-24"})
    bad = keeper.get("/api/care", params={"until": "soon"})

    assert late.json()["until"] == "2026-12-09"
    assert (past.status_code, bad.status_code) == (422, 422)


def test_care_of_a_whole_box_is_one_touch_and_undone_in_one(keeper: TestClient) -> None:
    body = {"touch": "turned-them-all", "work": "turn", "space_id": 2}

    entered = keeper.post("/api/care", json=body)

    assert entered.status_code == 201
    assert [row["wheel_id"] for row in entered.json()] == [2, 3, 4]
    assert due_of(keeper, "turn", 3)["last_done"] == "2026-11-25"
    assert keeper.delete("/api/touches/turned-them-all").status_code == 204
    assert due_of(keeper, "turn", 3)["last_done"] is None
    assert keeper.delete("/api/touches/turned-them-all").status_code == 204
    assert keeper.delete("/api/touches/never-touched").status_code == 404


def test_the_same_touch_sent_twice_enters_once_and_once_undone_stays_so(
    keeper: TestClient,
) -> None:
    body = {"touch": "sent-it-twice", "work": "turn", "wheel_ids": [2, 3]}

    first, again = (keeper.post("/api/care", json=body).json() for _ in range(2))
    keeper.delete("/api/touches/sent-it-twice")
    late = keeper.post("/api/care", json=body).json()

    assert [row["id"] for row in first] == [row["id"] for row in again]
    assert all(row["withdrawn"] for row in late)
    assert due_of(keeper, "turn", 2)["last_done"] is None


def test_an_earlier_day_is_kept_as_that_day(keeper: TestClient) -> None:
    keeper.post(
        "/api/care",
        json={"touch": "of-last-sunday", "work": "turn", "wheel_ids": [2], "when": "2026-11-22"},
    )

    turn = due_of(keeper, "turn", 2)

    assert (turn["last_done"], turn["expected"]) == ("2026-11-22", "2026-11-26")


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"work": "turn", "wheel_ids": [99]}, 404),
        ({"work": "turn", "space_id": 99}, 404),
        ({"work": "turn"}, 422),
        ({"work": "turn", "wheel_ids": [2], "space_id": 2}, 422),
        ({"work": "air the box", "wheel_ids": [2]}, 422),
        ({"work": "air the box", "space_id": 2, "wheel_ids": [2]}, 422),
        ({"work": "move", "wheel_ids": [2]}, 422),
        ({"work": "turn", "wheel_ids": [2], "outcome": "put off"}, 422),
        (
            {
                "work": "turn",
                "wheel_ids": [2],
                "outcome": "put off",
                "until_day": "2026-11-25",
            },
            422,
        ),
        ({"work": "turn", "wheel_ids": [2], "until_day": "2026-11-28"}, 422),
        ({"work": "turn", "wheel_ids": [2], "when": "2026-11-26"}, 422),
        ({"work": "turn", "wheel_ids": [2], "when": "2026-11-01"}, 422),
        ({"work": "polish", "wheel_ids": [2]}, 422),
        ({"work": "turn", "wheel_ids": [2], "touch": "short"}, 422),
        ({"work": "turn", "wheel_ids": [True]}, 422),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(
    keeper: TestClient, body: dict[str, Any], status: int
) -> None:
    answer = keeper.post("/api/care", json={"touch": "cannot-be-done", **body})

    assert answer.status_code == status
    assert answer.json()["detail"]
    assert keeper.delete("/api/touches/cannot-be-done").status_code == 404


def test_a_gate_with_something_missing_opens_only_with_a_reason_that_is_kept(
    keeper: TestClient,
) -> None:
    body: dict[str, Any] = {"touch": "on-it-must-go", "opened": True, "space_id": 4}

    refused = keeper.post("/api/wheels/5/gate", json=body)
    opened = keeper.post("/api/wheels/5/gate", json=body | {"reason": "Guests come"})

    assert refused.status_code == 422
    assert "say why" in refused.json()["detail"]
    assert (opened.json()["stage"], opened.json()["next_stage"]) == ("coat", "wrapped")
    assert opened.json()["reason"] == "Guests come"
    wheel = keeper.get("/api/wheels/5").json()
    assert wheel["stage"]["slug"] == "wrapped"
    assert wheel["space_id"] == 4


def test_a_gate_at_which_all_is_seen_needs_no_reason(keeper: TestClient) -> None:
    seen = ["coat of 95 % or more", "faces dry or tacky", "The coat is white on faces and rim."]

    opened = keeper.post(
        "/api/wheels/5/gate", json={"touch": "all-is-seen", "opened": True, "seen": seen}
    )

    assert opened.status_code == 201
    assert opened.json()["reason"] == ""


def test_undoing_a_gate_brings_back_stage_and_space(keeper: TestClient) -> None:
    before = keeper.get("/api/wheels/5").json()
    keeper.post(
        "/api/wheels/5/gate",
        json={"touch": "went-too-far", "opened": True, "space_id": 4, "reason": "I was away"},
    )

    keeper.delete("/api/touches/went-too-far")

    after = keeper.get("/api/wheels/5").json()
    for key in ("stage", "stage_from", "space_id", "placements", "stages"):
        assert after[key] == before[key]


@pytest.mark.parametrize("since", ["a stage", "a move", "its end"])
def test_a_gate_is_not_undone_under_what_was_entered_since(keeper: TestClient, since: str) -> None:
    gate = {"touch": "first-of-two", "opened": True, "space_id": 4, "reason": "I was away"}
    keeper.post("/api/wheels/5/gate", json=gate)
    if since == "a stage":
        keeper.post("/api/wheels/5/gate", json=gate | {"touch": "second-of-two", "space_id": None})
    elif since == "a move":
        keeper.post("/api/wheels/5/moves", json={"space_id": 1})
    else:
        keeper.post("/api/wheels/5/end", json={"touch": "second-of-two", "how": "eaten"})
    before = keeper.get("/api/wheels/5").json()

    refused = keeper.delete("/api/touches/first-of-two")

    assert refused.status_code == 422
    assert "undo what was entered last first" in refused.json()["detail"]
    assert keeper.get("/api/wheels/5").json() == before


def test_not_yet_asks_again_on_its_day(keeper: TestClient) -> None:
    keeper.post(
        "/api/wheels/5/gate",
        json={"touch": "not-just-yet", "opened": False, "ask_again_day": "2026-11-27"},
    )
    gate = next(
        each for each in keeper.get("/api/care").json()["gates"] if each["wheel"]["id"] == 5
    )

    assert (gate["asks_now"], gate["ask_on"]) == (False, "2026-11-27")
    keeper.delete("/api/touches/not-just-yet")
    gate = next(
        each for each in keeper.get("/api/care").json()["gates"] if each["wheel"]["id"] == 5
    )
    assert gate["asks_now"]


@pytest.mark.parametrize(
    "body",
    [
        {"opened": False},
        {"opened": False, "ask_again_day": "2026-11-25"},
        {"opened": False, "ask_again_day": "2026-11-27", "space_id": 4},
        {"opened": True, "ask_again_day": "2026-11-27", "reason": "x"},
        {"opened": True, "reason": "x", "stage": "wrapped"},
        {"opened": True, "reason": "x", "when": "2026-11-20"},
    ],
)
def test_an_answer_at_a_gate_that_contradicts_itself_is_refused(
    keeper: TestClient, body: dict[str, Any]
) -> None:
    before = keeper.get("/api/wheels/6").json()
    # The wheel was put into its space later than the day that is told.
    keeper.post("/api/wheels/6/moves", json={"space_id": 3, "at": "2026-11-21T12:00:00Z"})

    answer = keeper.post("/api/wheels/6/gate", json={"touch": "contradiction", **body})

    assert answer.status_code == 422
    assert keeper.get("/api/wheels/6").json()["stages"] == before["stages"]


def test_a_wheel_that_has_ended_leaves_the_shelf_and_comes_back_when_undone(
    keeper: TestClient,
) -> None:
    before = keeper.get("/api/wheels/9").json()

    ended = keeper.post("/api/wheels/9/end", json={"touch": "we-ate-it-all", "how": "eaten"})
    again = keeper.post("/api/wheels/9/end", json={"touch": "we-ate-it-all", "how": "eaten"})
    care = keeper.post(
        "/api/care", json={"touch": "turn-a-ghost", "work": "turn", "wheel_ids": [9]}
    )

    assert ended.json()["id"] == again.json()["id"]
    assert care.status_code == 422
    assert keeper.get("/api/wheels/9").json()["space_id"] is None
    keeper.delete("/api/touches/we-ate-it-all")
    assert keeper.get("/api/wheels/9").json() == before


def test_a_move_that_was_due_moves_the_wheel_and_back(keeper: TestClient) -> None:
    body = {"touch": "into-the-fridge", "work": "move", "wheel_ids": [2, 3], "space_id": 4}

    keeper.post("/api/care", json=body)
    moved = [keeper.get(f"/api/wheels/{number}").json()["space_id"] for number in (2, 3)]
    keeper.delete("/api/touches/into-the-fridge")
    back = [keeper.get(f"/api/wheels/{number}").json()["space_id"] for number in (2, 3)]

    assert (moved, back) == ([4, 4], [2, 2])


def test_undoing_a_look_takes_its_weighing_with_it(keeper: TestClient) -> None:
    body = {"touch": "looked-and-weighed", "rind": "wet", "grams": 412.0}
    made = keeper.post("/api/wheels/2/observations", json=body)
    assert made.status_code == 201, made.text

    keeper.delete("/api/touches/looked-and-weighed")

    assert keeper.get("/api/wheels/2/weighings").json() == []
    assert keeper.delete("/api/touches/looked-and-weighed").status_code == 204


@pytest.mark.parametrize(
    "until", ["soon", "20261125xx", "2026112512", "2026-W48-3", "\uff12\uff10\uff12\uff16-11-25"]
)
def test_a_moment_that_is_none_is_refused_without_a_word_of_the_inside(
    client: TestClient, until: str
) -> None:
    answer = client.get("/api/care", params={"until": until})

    assert answer.status_code == 422
    assert answer.json()["detail"].startswith("until: write a day as ISO 8601, such as 2026-11-25")
