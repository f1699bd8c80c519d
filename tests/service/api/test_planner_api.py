"""The planner over the API: what is ahead, wishes, who fits together, room."""

from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import places, wheels
from tests import builders

TODAY = date(2026, 11, 25)


@pytest.fixture
def ripening(context: Context) -> None:
    """Both wheels in first growth since noon of the day before."""
    with context.sessions() as session:
        made_us = wheels.batch_of(session, 1).made_us
        for number in (1, 2):
            wheels.begin_stage(session, number, "first_growth", made_us)


@pytest.mark.usefixtures("ripening")
def test_what_is_ahead_is_told_with_its_bands(client: TestClient) -> None:
    told = client.get("/api/wheels/1/plan-ahead").json()

    plan = told["plan"]
    assert plan["firmness"] == "giving"
    for name in ("wrap", "move", "eat_from", "eat_until"):
        window = plan[name]
        assert window["earliest"] <= window["expected"] <= window["latest"]
    assert told["warmer"]["kelvin"] == 1.0
    assert told["warmer"]["eat_later_days"] < 0
    assert told["place"]["mean_c"] == pytest.approx(10.06, abs=0.02)  # the fixture's mean
    assert told["choices"] == ["firm", "giving", "soft", "oozy"]


@pytest.mark.usefixtures("ripening")
def test_a_question_may_ask_for_another_wish(client: TestClient) -> None:
    day = TODAY + timedelta(days=3)
    told = client.get(
        "/api/wheels/1/plan-ahead", params={"firmness": "oozy", "day": str(day), "warmer_k": -2}
    ).json()

    assert (told["plan"]["firmness"], told["plan"]["day"]) == ("oozy", str(day))
    assert told["plan"]["reach"] == "too late"
    assert told["plan"]["on_day"]["days"] < told["plan"]["wanted_days"]
    assert told["warmer"]["kelvin"] == -2


@pytest.mark.usefixtures("ripening")
def test_a_wish_is_kept_and_sent_twice_without_harm(client: TestClient) -> None:
    body = {"firmness": "soft", "day": str(TODAY + timedelta(days=70))}
    answers = [client.post("/api/wheels/1/wish", json=body).json() for _ in range(2)]

    assert answers == [{"wheel_id": 1, **body}] * 2
    assert client.get("/api/wheels/1/plan-ahead").json()["plan"]["day"] == body["day"]
    client.post("/api/wheels/1/wish", json={})
    assert client.get("/api/wheels/1/plan-ahead").json()["plan"]["day"] is None


@pytest.mark.parametrize(
    "body",
    [
        {"day": "2026-11-24"},
        {"day": "2046-11-24"},
        {"firmness": "hard"},
        {"firmness": "mushy"},
        {"day": "soon"},
        {"wanted": "soft"},
    ],
)
def test_a_wish_that_cannot_be_is_refused(client: TestClient, body: dict[str, str]) -> None:
    assert client.post("/api/wheels/1/wish", json=body).status_code == 422
    assert client.post("/api/wheels/77/wish", json={}).status_code == 404


def test_the_room_of_a_fridge_is_kept(context: Context, client: TestClient) -> None:
    assert client.put("/api/spaces/2/room", json={"room_cm2": 900.0}).json() == {
        "space_id": 2,
        "room_cm2": 900.0,
    }
    with context.sessions() as session:
        assert places.space(session, 2).room_cm2 == 900.0
    assert client.put("/api/spaces/2/room", json={"room_cm2": None}).json()["room_cm2"] is None
    assert client.put("/api/spaces/2/room", json={"room_cm2": -1.0}).status_code == 422
    assert client.put("/api/spaces/2/room", json={"room_cm2": 1e9}).status_code == 422
    assert client.put("/api/spaces/2/room", json={}).status_code == 422


@pytest.mark.usefixtures("ripening")
def test_who_fits_together_is_told_through_the_stages(client: TestClient) -> None:
    told = client.get("/api/spaces/2/together").json()

    assert told["spells"][0]["from"] == str(TODAY)
    assert told["spells"][0]["wheel_ids"] == [1, 2]
    assert told["spells"][0]["clash"] == []
    assert told["spells"][-1]["to"] == str(TODAY + timedelta(days=120))
    assert client.get("/api/spaces/77/together").status_code == 404


def test_a_move_that_mends_it_is_told_with_what_is_not_known(
    context: Context, client: TestClient
) -> None:
    with context.sessions() as session:
        wheels.begin_stage(session, 1, "cold", wheels.batch_of(session, 1).made_us)
        wheels.begin_stage(session, 2, "first_growth", wheels.batch_of(session, 1).made_us)
        site = places.the_site(session)
        assert site is not None
        assert site.id is not None
        fridge = builders.add_space(session, site.id, "cool", "Cool", "kitchen_fridge")

    spell = client.get("/api/spaces/2/together").json()["spells"][0]
    ahead = client.get("/api/wheels/2/plan-ahead").json()

    assert spell["clash"] == ["temperature"]
    assert spell["outside"] == [1]
    assert {
        "moves": [
            {
                "wheel_ids": [1],
                "to_space_id": fridge,
                "boxed": False,
                "unknown": ["temperature"],
            }
        ],
        "left": [],
    } in spell["mends"]
    assert ahead["kitchen_fridge_space_id"] == fridge


def test_a_plan_tells_which_stages_are_wrapped_and_in_the_kitchen_fridge(
    client: TestClient,
) -> None:
    (blue,) = (each for each in client.get("/api/plans").json() if each["slug"] == "blue")

    assert [each["slug"] for each in blue["stages"] if each["wrapped"]] == ["wrapped", "cold"]
    assert [each["slug"] for each in blue["stages"] if each["in_kitchen_fridge"]] == ["cold"]


def test_strangers_learn_nothing_of_the_planner(stranger: TestClient) -> None:
    for path in ("/api/wheels/1/plan-ahead", "/api/spaces/2/together"):
        assert stranger.get(path).status_code == 401


@pytest.mark.parametrize("day", [1_798_070_400, "1798070400", "2026-12-24T00:00:00", "", True])
def test_a_wish_for_what_is_no_day_is_refused(client: TestClient, day: object) -> None:
    answer = client.post("/api/wheels/1/wish", json={"day": day})

    assert answer.status_code == 422
    assert "write a day as ISO 8601" in answer.json()["detail"]
