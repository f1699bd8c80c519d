"""A salt test through the API: begun, ended, taken back, and what may not break it."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient

from sensors.moments import iso
from service.api.context import Context
from service.store import salt_tests
from service.store.air import NewReading, add_readings
from tests import builders
from tests.salt_bags import CORRECTIONS, HOUR_US, TESTS, ended_test, report_bag
from tests.service.api.conftest import MINUTE_US, NOW_US

_JSON = {"content-type": "application/json"}


def test_the_salt_is_that_of_greenspan_at_the_temperature_of_the_test(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)

    assert test["temperature_c"] == pytest.approx(10.1, abs=0.1)
    # Greenspan 1977, table 2: NaCl 75.67 at 10 °C.
    assert test["salt_pct"] == pytest.approx(75.67, abs=0.02)
    assert test["reading_pct"] - test["salt_pct"] == pytest.approx(test["difference_pct"], abs=1e-9)


def test_a_test_in_progress_says_not_yet_and_later_how_long(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = api.post(TESTS, json={"salt": "table salt"}).json()
    with moving.sessions() as session:
        report_bag(session, 1, NOW_US, time_constant_h=1.0)
    states = []
    for minutes in (0, 30, 180, 470):
        clock.time_us = NOW_US + minutes * MINUTE_US
        states.append(api.get(f"{TESTS}/{test['id']}").json())

    assert [each["state"] for each in states] == ["not yet", "not yet", "not yet", "done"]
    assert [each["remaining_s"] is None for each in states] == [True, True, False, False]
    assert states[-1]["remaining_s"] == 0.0
    assert [each["usable"] for each in states] == [False] * 4


def test_during_a_test_the_space_has_no_sensor_and_says_why(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    api.post("/api/wheels/1/moves", json={"space_id": 1})
    api.post(TESTS, json={"salt": "NaCl"})
    with moving.sessions() as session:
        report_bag(session, 1, NOW_US)
    clock.time_us += HOUR_US

    verdict = api.get("/api/wheels/1/verdict").json()
    air = api.get("/api/spaces/1/air", params={"from": iso(NOW_US)}).json()
    sensor = api.get("/api/sensors").json()[0]

    assert verdict["findings"] == []
    assert {each["reason"] for each in verdict["unknown"]} == {"its sensor is in a salt test"}
    assert [api.get("/api/spaces").json()[0]["air"], air["readings"]] == [None, 0]
    assert sensor["state"] == "in a salt test"


def test_after_a_test_the_sensor_stands_where_it_was(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    ended_test(api, moving, clock)

    placement = api.get("/api/sensors/1").json()["placement"]

    assert (placement["space_id"], placement["from"]) == (1, iso(clock.time_us))


@pytest.mark.parametrize(("space_id", "stands"), [(2, "placed"), (None, "not placed any more")])
def test_after_a_test_the_sensor_stands_where_one_says(
    api: TestClient, clock: builders.FixedClock, space_id: int | None, stands: str
) -> None:
    number = api.post(TESTS, json={"salt": "NaCl"}).json()["id"]
    clock.time_us += MINUTE_US
    api.post(f"{TESTS}/{number}/end", json={"space_id": space_id})

    sensor = api.get("/api/sensors/1").json()

    assert sensor["state"] == stands
    assert (sensor["placement"] or {"space_id": None})["space_id"] == space_id


def test_a_start_that_is_undone_never_was(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    number = api.post(TESTS, json={"salt": "NaCl"}).json()["id"]
    clock.time_us += 10 * MINUTE_US
    with moving.sessions() as session:
        add_readings(session, [NewReading(1, NOW_US + MINUTE_US, 10.0, 88.0)])
    api.post(f"{TESTS}/{number}/withdraw")

    air = api.get("/api/spaces/1/air", params={"from": iso(NOW_US)}).json()

    assert air["humidity_pct"] == [90.0, 88.0]
    assert api.get(TESTS).json() == []


def test_two_browsers_start_one_test(api: TestClient, moving: Context) -> None:
    def start(_: int) -> int:
        number: int = api.post(TESTS, json={"salt": "NaCl"}).json()["id"]
        return number

    with ThreadPoolExecutor(2) as browsers:
        numbers = set(browsers.map(start, range(8)))

    with moving.sessions() as session:
        assert numbers == {row.id for row in salt_tests.of_sensor(session, 1)}
    assert len(numbers) == 1


def test_ending_twice_moves_the_sensor_once(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)
    clock.time_us += HOUR_US
    again = api.post(f"{TESTS}/{test['id']}/end", json={"space_id": 2}).json()

    assert again["ended"] == test["ended"]
    assert api.get("/api/sensors/1").json()["placement"]["space_id"] == 1


def test_a_second_salt_waits_for_the_first_to_end(api: TestClient) -> None:
    api.post(TESTS, json={"salt": "NaCl"})
    answer = api.post(TESTS, json={"salt": "KCl"})

    assert answer.status_code == 422
    assert "end it first" in answer.json()["detail"]


def test_a_sensor_in_a_test_cannot_be_placed(api: TestClient) -> None:
    api.post(TESTS, json={"salt": "NaCl"})
    answer = api.post("/api/sensors/1/placements", json={"space_id": 2})

    assert answer.status_code == 422
    assert "in a salt test" in answer.json()["detail"]


def test_a_test_of_another_sensor_is_none_of_this_one(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)
    made = api.post(CORRECTIONS, json={"tests": [test["id"]]}).json()
    other = "/api/sensors/2"
    answers = [
        api.get(f"{other}/salt-tests/{test['id']}"),
        api.post(f"{other}/salt-tests/{test['id']}/end"),
        api.post(f"{other}/salt-tests/{test['id']}/withdraw"),
        api.post(f"{other}/corrections", json={"tests": [test["id"]]}),
        api.post(f"{other}/corrections/{made['id']}/withdraw"),
    ]

    assert [answer.status_code for answer in answers] == [404, 404, 404, 422, 404]


@pytest.mark.parametrize("salt", ["", "sugar", "\ud800", "x" * 300, None, 3, ["NaCl"]])
def test_no_salt_can_break_it(api: TestClient, salt: object) -> None:
    answer = api.post(TESTS, content=json.dumps({"salt": salt}), headers=_JSON)

    assert answer.status_code in {400, 422}
    assert api.get(TESTS).json() == []


@pytest.mark.parametrize("path", [TESTS, f"{TESTS}/1/end", CORRECTIONS, "/api/sensors/1/lags"])
@pytest.mark.parametrize("body", [b"{", b"[" * 60_000, b"[]", b'"x"', b"\xff", b'{"a": NaN}'])
def test_no_body_can_break_it(api: TestClient, path: str, body: bytes) -> None:
    api.post(TESTS, json={"salt": "NaCl"})
    answer = api.post(path, content=body, headers=_JSON)

    assert answer.status_code in {400, 422}


@pytest.mark.parametrize("lag", [-1.0, 1e9, True, "45"])
def test_no_sensor_of_air_has_such_a_lag(api: TestClient, lag: object) -> None:
    body = {"temperature_lag_s": lag, "humidity_lag_s": None}

    assert api.post("/api/sensors/1/lags", json=body).status_code == 422


def test_a_lag_is_kept_and_forgotten(api: TestClient) -> None:
    path = "/api/sensors/1/lags"
    kept = api.post(path, json={"temperature_lag_s": 90.0, "humidity_lag_s": 30.0}).json()
    gone = api.post(path, json={"temperature_lag_s": None, "humidity_lag_s": 30.0}).json()

    assert (kept["temperature_lag_s"], kept["humidity_lag_s"]) == (90.0, 30.0)
    assert (gone["temperature_lag_s"], gone["humidity_lag_s"]) == (None, 30.0)


def test_a_wet_sensor_is_said_to_be_so(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    with moving.sessions() as session:
        add_readings(
            session,
            [NewReading(1, NOW_US + n * MINUTE_US, 10.0 + n / 900, 100.0) for n in range(1, 301)],
        )
    clock.time_us += 5 * HOUR_US

    found = api.get("/api/sensors/1").json()["findings"]

    wet = [each for each in found if each["fault"] == "saturated"]
    assert [(each["from"], each["value"]) for each in wet] == [(iso(NOW_US + MINUTE_US), 100.0)]


def test_a_silence_that_goes_on_is_a_finding(api: TestClient, clock: builders.FixedClock) -> None:
    clock.time_us += 3 * HOUR_US

    newest = api.get("/api/sensors/1").json()["findings"][0]

    assert (newest["fault"], newest["from"], newest["value"]) == ("gap", iso(NOW_US), None)
