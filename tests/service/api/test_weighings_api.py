"""A wheel's weighings and climate through the API: entered, refused, taken back, thinned."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store.air import NewReading, add_readings
from service.store.places import place_sensor

NOON_US = 1_795_608_000_000_000
MINUTE_US = 60_000_000
COLUMNS = ("air_c", "humidity_pct", "surface_c", "mean_c", "film_g_m2", "margin_k")


@pytest.fixture
def boxed(context: Context) -> Context:
    """The sensor stands in the box with the wheels, and has told a day of minutes."""
    with context.sessions() as session:
        place_sensor(session, 1, 2, NOON_US - 1_440 * MINUTE_US)
        add_readings(
            session,
            [NewReading(1, NOON_US - ago * MINUTE_US, 10.0, 90.0) for ago in range(120, 1_440)],
        )
    return context


def test_a_weighing_is_entered_and_taken_back(client: TestClient) -> None:
    made = client.post("/api/wheels/1/weighings", json={"grams": 428.5})
    listed = client.get("/api/wheels/1/weighings").json()
    gone = client.delete(f"/api/wheels/1/weighings/{made.json()['id']}")
    again = client.delete(f"/api/wheels/1/weighings/{made.json()['id']}")

    assert made.status_code == 201
    assert listed == [made.json()]
    assert listed[0]["grams"] == 428.5
    assert listed[0]["time"] == "2026-11-25T12:00:00Z"
    assert (gone.status_code, again.status_code) == (204, 204)
    assert client.get("/api/wheels/1/weighings").json() == []


def test_a_weighing_that_is_sent_twice_counts_once(client: TestClient) -> None:
    first = client.post("/api/wheels/1/weighings", json={"grams": 428.5})
    second = client.post("/api/wheels/1/weighings", json={"grams": 428.5})

    assert first.json() == second.json()
    assert len(client.get("/api/wheels/1/weighings").json()) == 1


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"grams": 0.0}, "cannot be"),
        ({"grams": -3.0}, "cannot be"),
        ({"grams": 1e-320}, "cannot be"),
        ({"grams": 0.43}, "from 8.6 up to 2150"),
        ({"grams": 2_151.0}, "up to 2150"),
        ({"grams": 428.0, "at": "2026-11-25T13:00:00Z"}, "still to come"),
        ({"grams": 428.0, "at": "2026-11-20T13:00:00Z"}, "before the wheel was made"),
        ({"grams": "428"}, ""),
        ({"grams": 428.0, "unit": "kg"}, ""),
        ({}, ""),
    ],
)
def test_what_no_scale_can_say_is_refused(
    client: TestClient, body: dict[str, Any], words: str
) -> None:
    answer = client.post("/api/wheels/1/weighings", json=body)

    assert answer.status_code == 422
    assert words in answer.text
    assert client.get("/api/wheels/1/weighings").json() == []


@pytest.mark.parametrize("path", ["/api/wheels/99/weighings", "/api/wheels/99/climate"])
def test_an_unknown_wheel_is_not_found(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_another_wheel_s_weighing_cannot_be_taken_back(client: TestClient) -> None:
    made = client.post("/api/wheels/1/weighings", json={"grams": 428.5}).json()

    assert client.delete(f"/api/wheels/2/weighings/{made['id']}").status_code == 404


def test_a_climate_comes_in_columns_of_one_length(boxed: Context, client: TestClient) -> None:
    del boxed
    told = client.get("/api/wheels/1/climate").json()

    assert told["rows"] > 1_300
    assert {len(told[name]) for name in COLUMNS} == {len(told["time"])}
    assert len(told["time"]) <= 1_500
    assert told["surface_c"][-1] < told["air_c"][-1]  # it dries, and is cooled by that
    assert told["now"]["margin_k"] > 0
    assert told["weight"]["weighings"] == 0
    assert told["age"]["low_days"] <= told["age"]["days"] <= told["age"]["high_days"]


def test_what_is_estimated_of_a_climate_comes_with_its_ends(
    boxed: Context, client: TestClient
) -> None:
    del boxed
    told = client.get("/api/wheels/1/climate").json()

    for name in ("surface_c", "mean_c", "film_g_m2", "margin_k"):
        ends = zip(told[f"{name}_low"], told[name], told[f"{name}_high"], strict=True)
        known = [each for each in ends if None not in each]
        assert len(known) > 1_300
        assert all(low <= value <= high for low, value, high in known)
    for name in ("surface_c", "margin_k", "film_g_m2"):
        now = told["now"]
        # Ends are rounded to a thousandth.
        assert now[f"{name}_low"] - 6e-4 <= now[name] <= now[f"{name}_high"] + 6e-4
    for name in ("wet_hours", "peak_film_g_m2", "mean_kinetic_temperature_c"):
        assert told[f"{name}_low"] <= told[name] <= told[f"{name}_high"]


def test_a_climate_is_thinned_and_cut_as_asked(boxed: Context, client: TestClient) -> None:
    del boxed
    asked = {"from": "2026-11-25T06:00:00Z", "to": "2026-11-25T09:00:00Z", "points": 60}
    told = client.get("/api/wheels/1/climate", params=asked).json()  # type: ignore[arg-type]  # httpx takes numbers

    assert told["rows"] == 180
    assert len(told["time"]) <= 60
    assert told["time"][0] == "2026-11-25T06:00:00Z"
    assert told["time"][-1] == "2026-11-25T08:59:00Z"


def test_a_climate_without_air_says_why(client: TestClient) -> None:
    told = client.get("/api/wheels/1/climate", params={"to": "2026-11-24T13:00:00Z"}).json()

    assert told["time"] == []


def test_from_must_lie_before_to(client: TestClient) -> None:
    asked = {"from": "2026-11-25T06:00:00Z", "to": "2026-11-25T06:00:00Z"}

    assert client.get("/api/wheels/1/climate", params=asked).status_code == 422
