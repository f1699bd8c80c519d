"""Whatever is sent, the answer is a problem with one sentence and never a failure of ours."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.api.context import Context
from service.app import LARGEST_BODY, create_app

POSTS = (
    "/api/spaces",
    "/api/batches",
    "/api/site",
    "/api/wheels/1/moves",
    "/api/wheels/1/stages",
    "/api/sensors/1/placements",
)


@pytest.fixture
def hostile(context: Context) -> Iterator[TestClient]:
    """A browser to which our own failures come as answers, as they would in the world."""
    with TestClient(
        create_app(context), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as browser:
        yield browser


@pytest.mark.parametrize("number", ["0", "-1", "1e3", "nan", "x", "9" * 10, "9" * 30, "9" * 5_000])
@pytest.mark.parametrize("path", ["/api/wheels/{}", "/api/wheels/{}/verdict", "/api/spaces/{}/air"])
def test_no_number_of_a_row_can_break_it(hostile: TestClient, path: str, number: str) -> None:
    assert hostile.get(path.format(number)).status_code == 422


@pytest.mark.parametrize(
    "query",
    [
        {"points": "0"},
        {"points": "-5"},
        {"points": "15"},
        {"points": "20001"},
        {"points": "nan"},
        {"points": "9" * 5_000},
        {"from": "2026-11-25T12:00:00Z", "to": "2026-11-25T12:00:00Z"},
        {"from": "2026-11-26T12:00:00Z"},
        {"from": "1969-12-31T23:59:59Z"},
        {"to": "2200-01-01T00:00:00Z"},
        {"to": "9999-12-31T23:59:59-23:59"},
        {"to": "0001-01-01T00:00:00+23:59"},
        {"to": "2026-11-25T12:00:00"},
        {"to": "2026-11-25"},
        {"to": "1795608000"},
        {"to": "NaN"},
        {"to": "x" * 5_000},
        {"to": ""},
    ],
)
def test_no_span_of_air_can_break_it(hostile: TestClient, query: dict[str, str]) -> None:
    answer = hostile.get("/api/spaces/1/air", params=query)

    assert answer.status_code == 422
    assert 0 < len(answer.json()["detail"]) <= 400


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[" * 60_000,
        b'{"a":' * 10_000,
        b"null",
        b"[]",
        b'"text"',
        b"\xff\xfe",
        b'{"\\ud800": 1}',
        b'{"name": "\\ud800", "kind": "cave", "slug": "a", "stage": "\\ud800"}',
        b'{"space_id": NaN}',
        b'{"space_id": 1e999}',
        b'{"space_id": ' + b"9" * 5_000 + b"}",
        b'{"space_id": true}',
        b'{"space_id": "1; DROP TABLE wheel"}',
    ],
)
def test_no_body_can_break_it(hostile: TestClient, path: str, body: bytes) -> None:
    answer = hostile.post(path, content=body, headers={"content-type": "application/json"})

    assert answer.status_code in {400, 422}
    assert answer.headers["content-type"] == "application/problem+json"


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=30)
    | st.sampled_from(["cave", "box", "blue", "2026-11-25T10:00:00Z", "Europe/Vienna", "salting"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=6,
)
KEYS = ("name", "kind", "parent_id", "board", "plan", "made", "wheels", "count", "size", "space_id")
MORE_KEYS = ("stage", "at", "from", "slug", "time_zone", "fahrenheit", "diameter_mm")


@given(
    path=st.sampled_from(POSTS),
    body=st.dictionaries(st.sampled_from(KEYS + MORE_KEYS), JSON, max_size=6),
)
@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_nothing_that_json_can_say_makes_it_fail(
    hostile: TestClient, path: str, body: dict[str, Any]
) -> None:
    answer = hostile.post(
        path, content=json.dumps(body), headers={"content-type": "application/json"}
    )

    assert answer.status_code in {200, 201, 400, 404, 422}


def test_a_body_that_is_too_large_is_refused(hostile: TestClient) -> None:
    body = json.dumps({"name": "x" * LARGEST_BODY, "kind": "cave"})

    assert hostile.post("/api/spaces", content=body).status_code == 413


def test_a_body_that_does_not_tell_its_size_is_bounded_too(hostile: TestClient) -> None:
    def pieces() -> Iterator[bytes]:
        for _ in range(100):
            yield b" " * 1_024

    answer = hostile.post(
        "/api/spaces", content=pieces(), headers={"content-type": "application/json"}
    )

    assert answer.status_code == 413


def test_an_unknown_path_and_a_wrong_method_are_problems(hostile: TestClient) -> None:
    answers = hostile.get("/api/nowhere"), hostile.put("/api/wheels")

    assert [answer.status_code for answer in answers] == [404, 405]
    assert [answer.json()["status"] for answer in answers] == [404, 405]


def test_a_failure_of_ours_tells_nothing_of_the_inside(
    hostile: TestClient, context: Context
) -> None:
    with context.engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE quarantine")
    answer = hostile.get("/api/readings/quarantine")

    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert "quarantine" not in answer.text
