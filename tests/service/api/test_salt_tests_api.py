"""A sensor's truth through the API: salt test, correction, undo, from end to end."""

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sensors.moments import iso
from service.api.context import Context
from service.app import create_app
from service.clock import US_PER_S
from service.science.salts import Salt, salt_humidity_pct
from service.store import salt_tests
from service.store.air import NewReading, add_readings
from tests import builders
from tests.salt_bags import HOUR_US, report_bag

MINUTE_US = 60 * US_PER_S
NOON_US = 1_795_608_000 * US_PER_S
TESTS = "/api/sensors/1/salt-tests"
CORRECTIONS = "/api/sensors/1/corrections"
_JSON = {"content-type": "application/json"}


@pytest.fixture
def clock() -> builders.FixedClock:
    """Noon, until a test moves it."""
    return builders.FixedClock(NOON_US)


@pytest.fixture
def moving(context: Context, clock: builders.FixedClock) -> Context:
    """The same store under a clock that a test moves."""
    return replace(context, clock=clock)


@pytest.fixture
def api(moving: Context) -> Iterator[TestClient]:
    """A browser on this machine, to which our own failures come as answers."""
    with TestClient(
        create_app(moving), base_url="http://127.0.0.1:8000", raise_server_exceptions=False
    ) as browser:
        yield browser


def ended_test(
    api: TestClient,
    moving: Context,
    clock: builders.FixedClock,
    salt: Salt = Salt.SODIUM_CHLORIDE,
    **planted: float,
) -> dict[str, Any]:
    """A test of eight hours, begun now and ended."""
    test: dict[str, Any] = api.post(TESTS, json={"salt": salt.value}).json()
    with moving.sessions() as session:
        report_bag(session, 1, clock.time_us, salt, **planted)  # type: ignore[arg-type]  # numbers
    clock.time_us += 8 * HOUR_US + MINUTE_US
    ended: dict[str, Any] = api.post(f"{TESTS}/{test['id']}/end").json()
    return ended


def test_a_planted_offset_of_3_is_found_and_corrected_within_1_at_90(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock, offset_pct=-3.0)
    made = api.post(CORRECTIONS, json={"tests": [test["id"]]}).json()
    clock.time_us += MINUTE_US
    with moving.sessions() as session:
        add_readings(session, [NewReading(1, clock.time_us, 10.0, 93.0)])

    now = api.get("/api/spaces").json()[0]["air"]

    assert test["state"] == "done"
    # The goal of the whole: corrected humidity within 1 %RH at 90 %RH.
    assert now["humidity_pct"] == pytest.approx(90.0, abs=1.0)
    assert abs(now["humidity_pct"] - 90.0) <= 2 * made["standard_uncertainty_pct"]


def test_two_salts_find_a_planted_gain(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    """Truth = 6 + 0.92 x reading, so 90 %RH is read as 91.3."""
    planted = {"offset_pct": 6.0, "gain": 0.92}
    tests = [
        ended_test(api, moving, clock, salt, **planted)["id"]
        for salt in (Salt.SODIUM_CHLORIDE, Salt.POTASSIUM_CHLORIDE)
    ]
    made = api.post(CORRECTIONS, json={"tests": tests}).json()
    at_90 = made["offset_pct"] + made["gain"] * (90.0 - 6.0) / 0.92

    assert made["salts"] == "NaCl, KCl"
    # The goal of the whole, and for the gain what two salts 11 %RH apart allow: 0.05.
    assert at_90 == pytest.approx(90.0, abs=1.0)
    assert made["gain"] == pytest.approx(0.92, abs=0.05)


def test_the_salt_is_that_of_greenspan_at_the_temperature_of_the_test(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)

    assert test["temperature_c"] == pytest.approx(10.1, abs=0.1)
    # Greenspan 1977, table 2: NaCl 75.67 at 10 °C.
    assert test["salt_pct"] == pytest.approx(75.67, abs=0.02)
    assert test["reading_pct"] - test["salt_pct"] == pytest.approx(test["difference_pct"], abs=1e-9)


def test_a_correction_from_the_past_changes_what_was_told(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    span = {"from": "2026-11-25T10:00:00Z", "to": "2026-11-25T12:00:00Z"}
    before = api.get("/api/spaces/1/air", params=span).json()
    test = ended_test(api, moving, clock)
    body = {"tests": [test["id"]], "from": "2026-11-25T11:30:00Z"}
    made = api.post(CORRECTIONS, json=body).json()

    after = api.get("/api/spaces/1/air", params=span).json()

    moved = [
        round(new - old, 2)
        for old, new in zip(before["humidity_pct"], after["humidity_pct"], strict=True)
        if old is not None
    ]
    assert (before["corrected"], after["corrected"]) == (False, True)
    # Answers are rounded to a hundredth.
    assert moved == pytest.approx([0.0] * 60 + [made["offset_pct"]] * 29, abs=0.011)


def test_an_undone_correction_leaves_no_trace_in_the_air(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    span = {"from": "2026-11-25T10:00:00Z", "to": "2026-11-25T12:00:00Z"}
    before = api.get("/api/spaces/1/air", params=span).json()
    test = ended_test(api, moving, clock)
    body = {"tests": [test["id"]], "from": "2026-11-25T00:00:00Z"}
    made = api.post(CORRECTIONS, json=body).json()
    undone = [api.post(f"{CORRECTIONS}/{made['id']}/withdraw").json() for _ in range(2)]

    assert [each["withdrawn"] for each in undone] == [True, True]
    assert api.get("/api/spaces/1/air", params=span).json() == before


def test_the_verdict_changes_with_the_correction(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    """What was 1.5 %RH in range is too dry once the sensor is found to read 3 too high."""
    api.post("/api/wheels/1/moves", json={"space_id": 1})
    api.post("/api/wheels/1/stages", json={"stage": "ripening"})
    target = api.get("/api/wheels/1/verdict").json()["target_humidity_pct"]
    test = ended_test(api, moving, clock)
    edge = target["low"] + 1.5
    begin_us = clock.time_us
    with moving.sessions() as session:
        add_readings(
            session,
            [NewReading(1, begin_us + n * MINUTE_US, 10.0, edge) for n in range(1, 121)],
        )
    clock.time_us += 2 * HOUR_US
    before = api.get("/api/wheels/1/verdict").json()
    api.post(CORRECTIONS, json={"tests": [test["id"]], "from": iso(NOON_US)})

    after = api.get("/api/wheels/1/verdict").json()

    dry = [found for found in after["findings"] if found["quantity"] == "humidity"]
    assert [found for found in before["findings"] if found["quantity"] == "humidity"] == []
    assert [found["direction"] for found in dry] == ["below"]
    # 3 planted, 1.5 in range; the goal of the correction is 1.
    assert dry[0]["amount"] == pytest.approx(1.5, abs=1.0)


def test_a_test_in_progress_says_not_yet_and_later_how_long(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = api.post(TESTS, json={"salt": "table salt"}).json()
    with moving.sessions() as session:
        report_bag(session, 1, NOON_US, time_constant_h=1.0)
    states = []
    for minutes in (0, 30, 180, 470):
        clock.time_us = NOON_US + minutes * MINUTE_US
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
        report_bag(session, 1, NOON_US)
    clock.time_us += HOUR_US

    verdict = api.get("/api/wheels/1/verdict").json()
    air = api.get("/api/spaces/1/air", params={"from": iso(NOON_US)}).json()
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
        add_readings(session, [NewReading(1, NOON_US + MINUTE_US, 10.0, 88.0)])
    api.post(f"{TESTS}/{number}/withdraw")

    air = api.get("/api/spaces/1/air", params={"from": iso(NOON_US)}).json()

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


def test_two_browsers_that_correct_at_once_make_one_correction(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)
    body = {"tests": [test["id"]], "from": iso(NOON_US)}
    with ThreadPoolExecutor(2) as browsers:
        answers = list(browsers.map(lambda _: api.post(CORRECTIONS, json=body), range(6)))

    assert {answer.status_code for answer in answers} == {201}
    assert len(api.get(CORRECTIONS).json()) == 1


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


def test_no_correction_rests_on_a_test_that_has_not_settled(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    number = api.post(TESTS, json={"salt": "NaCl"}).json()["id"]
    with moving.sessions() as session:
        report_bag(session, 1, NOON_US, time_constant_h=3.0)
    clock.time_us += HOUR_US
    under_way = api.post(CORRECTIONS, json={"tests": [number]})
    api.post(f"{TESTS}/{number}/end")
    ended = api.post(CORRECTIONS, json={"tests": [number]})

    assert [under_way.status_code, ended.status_code] == [422, 422]
    assert "cannot be used" in ended.json()["detail"]


def test_no_correction_rests_on_a_test_that_was_taken_back(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    test = ended_test(api, moving, clock)
    api.post(f"{TESTS}/{test['id']}/withdraw")

    assert api.post(CORRECTIONS, json={"tests": [test["id"]]}).status_code == 422


def test_a_sensor_in_the_air_of_another_salt_is_not_corrected(
    api: TestClient, moving: Context, clock: builders.FixedClock
) -> None:
    """The maker says potassium chloride, but table salt is in the bag: 11 %RH away."""
    number = api.post(TESTS, json={"salt": "KCl"}).json()["id"]
    with moving.sessions() as session:
        report_bag(session, 1, NOON_US, Salt.SODIUM_CHLORIDE, offset_pct=0.0)
    clock.time_us += 8 * HOUR_US + MINUTE_US
    test = api.post(f"{TESTS}/{number}/end").json()

    away = salt_humidity_pct(Salt.POTASSIUM_CHLORIDE, 10.1) - salt_humidity_pct(
        Salt.SODIUM_CHLORIDE, 10.1
    )
    assert away > 10.0
    assert (test["state"], test["hindrance"]) == ("will not settle", "too far from the salt")
    assert api.post(CORRECTIONS, json={"tests": [number]}).status_code == 422


@pytest.mark.parametrize(
    "body",
    [
        {"tests": []},
        {"tests": [1, 1]},
        {"tests": [99]},
        {"tests": [True]},
        {"tests": ["1"]},
        {"tests": [1] * 6},
        {"tests": [1], "from": "2027-11-25T00:00:00Z"},
        {"tests": [1], "from": "1969-01-01T00:00:00Z"},
        {"tests": [1], "offset_pct": 3},
        {},
    ],
)
def test_no_correction_from_nonsense(
    api: TestClient, moving: Context, clock: builders.FixedClock, body: dict[str, Any]
) -> None:
    ended_test(api, moving, clock)

    assert api.post(CORRECTIONS, json=body).status_code in {404, 422}
    assert api.get(CORRECTIONS).json() == []


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
            [NewReading(1, NOON_US + n * MINUTE_US, 10.0 + n / 900, 100.0) for n in range(1, 301)],
        )
    clock.time_us += 5 * HOUR_US

    found = api.get("/api/sensors/1").json()["findings"]

    wet = [each for each in found if each["fault"] == "saturated"]
    assert [(each["from"], each["value"]) for each in wet] == [(iso(NOON_US + MINUTE_US), 100.0)]


def test_a_silence_that_goes_on_is_a_finding(api: TestClient, clock: builders.FixedClock) -> None:
    clock.time_us += 3 * HOUR_US

    newest = api.get("/api/sensors/1").json()["findings"][0]

    assert (newest["fault"], newest["from"], newest["value"]) == ("gap", iso(NOON_US), None)
