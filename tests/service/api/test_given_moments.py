"""An instant that comes in by the API: ISO 8601 as RFC 3339 profiles it, and no look-alike."""

import pytest
from fastapi.testclient import TestClient

NOON = "2026-11-25T12:00:00Z"


@pytest.mark.parametrize(
    "given",
    [
        *(NOON, "2026-11-25 12:00:00Z", "2026-11-25t12:00:00Z", "20261125T120000Z"),
        *("2026-11-25T13:00:00+01:00", "2026-11-25T12:00:00.000Z"),
    ],
)
def test_one_instant_may_be_written_in_many_ways(client: TestClient, given: str) -> None:
    made = client.post("/api/wheels/1/weighings", json={"grams": 428.0, "at": given})

    assert made.status_code == 201
    assert made.json()["time"] == NOON


@pytest.mark.parametrize(
    "given",
    ["2026-11-25x12:00:00Z", "20261125x12Z", "2026-11-25", "2026-11-25T12:00:00", "20261125xx"],
)
def test_what_only_looks_like_an_instant_is_refused(client: TestClient, given: str) -> None:
    answer = client.post("/api/wheels/1/weighings", json={"grams": 428.0, "at": given})

    assert answer.status_code == 422
    assert "write a time as ISO 8601" in answer.json()["detail"]
