"""What the API tells: spaces, air, wheels, sensors, quarantine, plans."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import quarantine
from service.store.air import NewReading, add_readings

NOON_US = 1_795_608_000_000_000


def test_spaces_tell_their_air_and_their_wheels(client: TestClient) -> None:
    cave, box = client.get("/api/spaces").json()

    assert cave["air"]["time"] == "2026-11-25T12:00:00Z"
    assert cave["air"]["temperature_c"] == 10.0
    assert box["wheel_ids"] == [1, 2]
    assert box["parent_id"] == cave["id"]


def test_air_has_a_row_of_nulls_in_a_silence(client: TestClient) -> None:
    air = client.get("/api/spaces/1/air").json()
    silent = [row for row, value in enumerate(air["temperature_c"]) if value is None]

    assert len(silent) == 1
    assert air["humidity_pct"][silent[0]] is None
    assert "11:00:00Z" <= air["time"][silent[0]][11:] <= "11:30:00Z"


def test_air_reaches_from_and_up_to_what_was_asked(client: TestClient) -> None:
    air = client.get(
        "/api/spaces/1/air",
        params={"from": "2026-11-25T11:40:00Z", "to": "2026-11-25T12:45:00+01:00"},
    ).json()

    assert air["from"] == "2026-11-25T11:40:00Z"
    assert air["to"] == "2026-11-25T11:45:00Z"
    assert air["time"] == [f"2026-11-25T11:{minute}:00Z" for minute in range(40, 45)]


def test_thinned_air_keeps_the_lowest_humidity(client: TestClient, context: Context) -> None:
    with context.sessions() as session:
        add_readings(session, [NewReading(1, NOON_US - 90_500_000, 10.0, 61.25)])
    air = client.get("/api/spaces/1/air", params={"points": 16}).json()

    assert len(air["time"]) <= 16
    assert min(value for value in air["humidity_pct"] if value is not None) == 61.25
    assert air["readings"] == 91


def test_dew_point_of_saturated_air_is_its_temperature(
    client: TestClient, context: Context
) -> None:
    with context.sessions() as session:
        # A good sensor may tell a little more than 100 %RH; it is stored as received.
        add_readings(session, [NewReading(1, NOON_US - 90_500_000, 10.5, 100.4)])
    air = client.get("/api/spaces/1/air").json()
    row = air["humidity_pct"].index(100.4)

    assert air["dew_point_c"][row] == 10.5


def test_of_two_sensors_in_a_space_the_one_placed_last_speaks(
    client: TestClient, context: Context
) -> None:
    with context.sessions() as session:
        add_readings(session, [NewReading(2, NOON_US - 1_000_000, 12.5, 80.0)])
    client.post("/api/sensors/2/placements", json={"space_id": 1})
    air = client.get("/api/spaces/1/air").json()

    assert air["temperature_c"][-1] == 12.5


def test_a_wheel_tells_its_stage_and_its_life(client: TestClient) -> None:
    wheel = client.get("/api/wheels/1").json()

    assert wheel["stage"]["slug"] == "draining"
    assert wheel["stage"]["temperature_c"] == {"low": 18.0, "high": 24.0}
    assert wheel["placements"] == [{"space_id": 2, "from": "2026-11-24T12:00:00Z", "to": None}]
    assert wheel["day"] == 1


def test_all_wheels_are_told_also_those_in_no_space(client: TestClient) -> None:
    client.post("/api/wheels/2/moves", json={"space_id": None})
    wheels = client.get("/api/wheels").json()

    assert [(wheel["id"], wheel["space_id"]) for wheel in wheels] == [(1, 2), (2, None)]


def test_verdict_tells_by_how_much_and_since_when(client: TestClient) -> None:
    client.post("/api/wheels/1/moves", json={"space_id": 1, "at": "2026-11-25T11:31:00Z"})
    verdict = client.get("/api/wheels/1/verdict").json()
    finding = verdict["findings"][0]

    assert verdict["word"] == "too cold"
    # The last half hour lies between 10.000 and 10.029 °C, the stage asks for 18 °C.
    assert finding["amount"] == pytest.approx(8.0, abs=0.03)
    assert finding["unit"] == "°C"
    assert finding["since"] == "2026-11-25T11:31:00Z"


def test_a_sensor_seen_for_the_first_time_is_new(client: TestClient) -> None:
    first, second = client.get("/api/sensors").json()

    assert first["state"] == "placed"
    assert first["placement"]["space"] == "Garage cave"
    assert first["last_reading"]["humidity_pct"] == 90.0
    assert second["state"] == "new, not placed"
    assert second["last_reading"] is None


def test_quarantine_gives_bytes_and_text_and_pages_on(client: TestClient, context: Context) -> None:
    with context.sessions() as session:
        for payload in (b"{}", b"\xff\xfe", "Käse".encode()):
            quarantine.keep(session, NOON_US, "caves/larch-lane/spare/senml", payload, "no pack")
    first = client.get("/api/readings/quarantine", params={"limit": 2}).json()
    second = client.get(
        "/api/readings/quarantine", params={"limit": 2, "before": first["next_before"]}
    ).json()

    assert first["total"] == 3
    assert [message["text"] for message in first["messages"]] == ["Käse", None]
    assert first["messages"][1]["bytes_base64"] == "//4="
    assert [message["text"] for message in second["messages"]] == ["{}"]
    assert second["next_before"] is None


def test_quarantine_is_tried_again_by_kind(client: TestClient, context: Context) -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":10,"t":%d}]' % (NOON_US // 10**6)
    with context.sessions() as session:
        for payload, reason in ((pack, "its time is 99 s ahead"), (b"{}", "no pack")):
            quarantine.keep(session, NOON_US, "caves/larch-lane/new/senml", payload, reason)
    kinds = client.get("/api/readings/quarantine").json()["kinds"]

    tried = client.post("/api/readings/quarantine/again", json={"kind": "its time is … s ahead"})

    assert {(each["kind"], each["messages"]) for each in kinds} == {
        ("its time is … s ahead", 1),
        ("no pack", 1),
    }
    assert tried.json() == {"tried": 1, "taken_out": 1, "readings": 1}
    assert client.get("/api/readings/quarantine").json()["total"] == 1


def test_plans_tell_the_source_of_each_range(client: TestClient) -> None:
    plans: list[dict[str, Any]] = client.get("/api/plans").json()

    assert {plan["slug"] for plan in plans} >= {"blue"}
    for plan in plans:
        for stage in plan["stages"]:
            assert bool(stage["temperature_c"]) == bool(stage["temperature_source"])


def test_the_api_describes_itself(client: TestClient) -> None:
    paths = client.get("/api/openapi.json").json()["paths"]

    assert "/api/wheels/{wheel_id}/verdict" in paths
    assert all(path.startswith("/api/") for path in paths)


@pytest.mark.parametrize("path", ["/docs", "/redoc"])
def test_no_page_loads_scripts_from_elsewhere(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
