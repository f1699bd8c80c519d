"""A make day through the API: its record, marks, steps and timers; two keepers; odd input."""

import threading
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api import make_actions
from service.api.context import Context
from service.store import make_days
from tests import builders

SECOND_US = 1_000_000


def test_a_make_day_begins_now_and_is_listed(maker: TestClient, made: dict[str, Any]) -> None:
    assert (made["started"], made["raw_milk"], made["version"]) == (
        "2026-11-25T12:00:00Z",
        True,
        1,
    )
    assert [each["id"] for each in maker.get("/api/makes").json()] == [made["id"]]


def test_a_make_day_that_is_begun_twice_is_one(maker: TestClient, made: dict[str, Any]) -> None:
    again = maker.post("/api/makes", json={"name": "December blue", "plan": "blue"})

    assert again.json()["id"] == made["id"]


def test_flocculation_gives_the_time_of_the_cut_and_a_timer_for_it(
    maker: TestClient, made: dict[str, Any], clock: builders.FixedClock
) -> None:
    """13 min 19 s times 4, the check of the trade; the timer is started half a minute late."""
    home = f"/api/makes/{made['id']}"
    maker.post(f"{home}/rennet", json={})
    clock.time_us += 799 * SECOND_US
    whole = maker.post(f"{home}/flocculation", json={"multiplier": 4.0}).json()
    clock.time_us += 30 * SECOND_US
    timer = maker.post(f"{home}/timers/cut").json()
    again = maker.post(f"{home}/timers/cut").json()

    assert (whole["setting"]["total_s"], whole["setting"]["left_s"]) == (3_196, 2_397)
    assert whole["cut"] == timer["ends"] == "2026-11-25T12:53:16Z"
    assert timer["left_s"] == 2_367
    assert again["id"] == timer["id"]


def test_the_first_mark_holds_until_it_is_taken_back(
    maker: TestClient, made: dict[str, Any], clock: builders.FixedClock
) -> None:
    home = f"/api/makes/{made['id']}"
    maker.post(f"{home}/rennet", json={})
    clock.time_us += 60 * SECOND_US
    kept = maker.post(f"{home}/rennet", json={}).json()["rennet_added"]
    maker.delete(f"{home}/rennet")
    anew = maker.post(f"{home}/rennet", json={}).json()["rennet_added"]

    assert (kept, anew) == ("2026-11-25T12:00:00Z", "2026-11-25T12:01:00Z")


@pytest.mark.parametrize(
    ("later_s", "multiplier", "words"),
    [(5, 4.0, "from 1 min to 3 h"), (800, 0.5, "multiplier"), (800, 40.0, "multiplier")],
)
def test_a_flocculation_that_cannot_be_is_refused_and_not_marked(
    maker: TestClient,
    made: dict[str, Any],
    clock: builders.FixedClock,
    later_s: int,
    multiplier: float,
    words: str,
) -> None:
    home = f"/api/makes/{made['id']}"
    maker.post(f"{home}/rennet", json={})
    clock.time_us += later_s * SECOND_US
    answer = maker.post(f"{home}/flocculation", json={"multiplier": multiplier})

    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert maker.get(home).json()["flocculated"] is None


def test_flocculation_without_rennet_is_refused(maker: TestClient, made: dict[str, Any]) -> None:
    answer = maker.post(f"/api/makes/{made['id']}/flocculation", json={"multiplier": 4.0})

    assert answer.status_code == 422
    assert "rennet" in answer.json()["detail"]


def test_dry_salt_follows_from_the_curd(maker: TestClient, made: dict[str, Any]) -> None:
    home = f"/api/makes/{made['id']}"
    body = {"version": 1, "curd_g": 1_200.0, "salting": "dry", "salt_pct": 2.0}
    salted = maker.patch(home, json=body).json()
    heavier = maker.patch(home, json={"version": salted["version"], "curd_g": 1_300.0}).json()

    assert (salted["salt_g"], heavier["salt_g"]) == (24.0, 26.0)


def test_a_stale_edit_is_refused_with_both_values(maker: TestClient, made: dict[str, Any]) -> None:
    home = f"/api/makes/{made['id']}"
    maker.patch(home, json={"version": 1, "milk_l": 12.0})
    late = maker.patch(home, json={"version": 1, "milk_l": 10.0})
    knowing = maker.patch(home, json={"version": 2, "milk_l": 10.0})

    assert late.status_code == 409
    assert "stored is 12, yours is 10" in late.json()["detail"]
    assert knowing.json()["milk_l"] == 10.0


def test_of_two_edits_at_the_same_moment_one_is_told_of_the_other(
    context: Context, maker: TestClient, made: dict[str, Any]
) -> None:
    del maker
    both = threading.Barrier(2)
    outcomes: list[str] = []

    def edit(litres: float) -> None:
        both.wait(20)
        try:
            with context.sessions() as session:
                make_actions.edit_make(session, context.plans, made["id"], 1, {"milk_l": litres})
            outcomes.append("saved")
        except make_actions.StaleError as error:
            outcomes.append(f"told of {error.conflicts[0].stored}")

    threads = [threading.Thread(target=edit, args=(litres,)) for litres in (10.0, 12.0)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    with context.sessions() as session:
        kept = make_days.make_day(session, made["id"]).milk_l

    assert sorted(outcomes) == ["saved", f"told of {kept}"]


def test_steps_are_entered_once_and_taken_back(maker: TestClient, made: dict[str, Any]) -> None:
    home = f"/api/makes/{made['id']}"
    body = {"words": "Milk warm", "temperature_c": 32.0, "ph": 6.6}
    first = maker.post(f"{home}/steps", json=body)
    again = maker.post(f"{home}/steps", json=body)
    listed = maker.get(home).json()["steps"]
    gone = maker.delete(f"{home}/steps/{first.json()['id']}")

    assert first.json() == again.json()
    assert listed == [first.json()]
    assert gone.status_code == 204
    assert maker.get(home).json()["steps"] == []


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"words": ""}, "what was done"),
        ({"words": "Stir", "temperature_c": 500.0}, "between -5 and 120"),
        ({"words": "Stir", "ph": 14.0}, "between 3 and 9"),
        ({"words": "Stir", "at": "2026-11-25T13:00:00Z"}, "still to come"),
        ({"words": "Stir", "at": "2020-11-25T13:00:00Z"}, "look at day and hour"),
        ({"words": "\u0000"}, "say in a word"),
        ({"words": "Stir", "speed": 3}, ""),
    ],
)
def test_a_step_that_cannot_be_is_refused(
    maker: TestClient, made: dict[str, Any], body: dict[str, Any], words: str
) -> None:
    answer = maker.post(f"/api/makes/{made['id']}/steps", json=body)

    assert answer.status_code == 422
    assert words in answer.json()["detail"]


def test_a_timer_reads_its_length_as_typed_and_is_started_once(
    maker: TestClient, made: dict[str, Any]
) -> None:
    home = f"/api/makes/{made['id']}/timers"
    first = maker.post(home, json={"name": "Stir", "duration": "13:19"}).json()
    again = maker.post(home, json={"name": "Stir", "duration_s": 799.0}).json()

    assert (first["duration_s"], first["state"]) == (799, "running")
    assert again["id"] == first["id"]


@pytest.mark.parametrize(
    "body",
    [
        {"name": "Stir"},
        {"name": "Stir", "duration": "13"},
        {"name": "Stir", "duration": "soon"},
        {"name": "Stir", "duration_s": 0.0},
        {"name": "Stir", "duration_s": 1e9},
        {"name": "Stir", "duration_s": 60.0, "duration": "1 min"},
        {"name": "", "duration": "1 min"},
    ],
)
def test_a_timer_of_no_length_is_refused(
    maker: TestClient, made: dict[str, Any], body: dict[str, Any]
) -> None:
    assert maker.post(f"/api/makes/{made['id']}/timers", json=body).status_code == 422


def test_a_timer_runs_out_by_the_clock_and_is_seen(
    maker: TestClient, made: dict[str, Any], clock: builders.FixedClock
) -> None:
    home = f"/api/makes/{made['id']}"
    timer = maker.post(f"{home}/timers", json={"name": "Stir", "duration": "10 min"}).json()
    clock.time_us += 600 * SECOND_US
    (at_end,) = maker.get(home).json()["timers"]
    seen = maker.post(f"{home}/timers/{timer['id']}/stop").json()

    assert (at_end["state"], at_end["left_s"]) == ("ran out", 0)
    assert (seen["state"], seen["left_s"]) == ("stopped", 0)


def test_the_setting_time_by_itself(maker: TestClient) -> None:
    """Common practice, no source: 13 min 19 s times 4 is about 53 min, about 40 min left."""
    found = maker.get(
        "/api/makes/setting-time", params={"flocculation": "13 min 19 s", "multiplier": "4"}
    ).json()
    odd = maker.get("/api/makes/setting-time", params={"flocculation": "13", "multiplier": "4"})

    assert found["total_s"] / 60 == pytest.approx(53, abs=0.5)  # told to the minute
    assert found["left_s"] / 60 == pytest.approx(40, abs=0.5)
    assert odd.status_code == 422
    assert "13:19" in odd.json()["detail"]


@pytest.mark.parametrize(
    "body",
    [
        {"name": "", "plan": "blue"},
        {"name": "Blue", "plan": "moon"},
        {"name": "Blue", "plan": "blue", "started": "2026-11-26T12:00:00Z"},
        {"name": "Blue", "plan": "blue", "started": "2026-01-26T12:00:00Z"},
        {"name": "Blue", "plan": "blue", "raw_milk": "yes"},
    ],
)
def test_a_make_day_that_cannot_be_is_refused(maker: TestClient, body: dict[str, Any]) -> None:
    assert maker.post("/api/makes", json=body).status_code == 422
    assert maker.get("/api/makes").json() == []


@pytest.mark.parametrize(
    "change",
    [
        {"milk_l": -1.0},
        {"milk_l": 1e9},
        {"salt_pct": 40.0},
        {"salting": "wet"},
        {"milk": None},
        {"batch_id": 3},
        {"multiplier": 0.0},
        {"words": "x" * 2_001},
        {"curd_g": 1_200.0, "salting": "dry", "salt_pct": 20.0},
    ],
)
def test_a_change_that_cannot_be_writes_nothing(
    maker: TestClient, made: dict[str, Any], change: dict[str, Any]
) -> None:
    home = f"/api/makes/{made['id']}"
    before = maker.get(home).json()
    answer = maker.patch(home, json={"version": 1} | change)

    assert answer.status_code == 422
    assert maker.get(home).json() == before


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/api/makes/9"),
        ("POST", "/api/makes/9/rennet"),
        ("POST", "/api/makes/9/timers/cut"),
        ("POST", "/api/makes/9/timers/9/stop"),
        ("DELETE", "/api/makes/9/steps/9"),
    ],
)
def test_an_unknown_make_day_is_not_found(maker: TestClient, method: str, path: str) -> None:
    body: dict[str, Any] | None = {} if path.endswith("rennet") else None

    assert maker.request(method, path, json=body).status_code == 404
