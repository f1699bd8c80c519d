"""Looking back over the API."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from tests import builders


@pytest.fixture
def lane(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on this machine, at a Larch Lane with three days of air."""
    with TestClient(
        create_app(builders.larch_lane(tmp_path)), base_url="http://127.0.0.1:8000"
    ) as browser:
        yield browser


def look(client: TestClient, wheel: int = 1, **seen: Any) -> int:
    answer = client.post(f"/api/wheels/{wheel}/observations", json=seen)
    assert answer.status_code == 201
    number: int = answer.json()["id"]
    return number


def test_the_days_before_a_look_are_answered(lane: TestClient) -> None:
    number = look(lane, rind="wet")
    answer = lane.get(f"/api/wheels/1/observations/{number}/lookback?days=3").json()
    told = {each["feature"]: each for each in answer["features"]}

    assert answer["seen"] == ["wet rind"]
    assert answer["days"] == 3
    assert told["too dry"]["unit"] == "h"
    assert told["mean humidity"]["amount"] == pytest.approx(88.0, abs=0.5)  # three dry hours
    assert answer["comparison"]["condition"] == "wet rind"
    assert answer["comparison"]["enough"] is False
    assert "not shown to have made it" in answer["note"]


def test_seven_days_unless_said_otherwise(lane: TestClient) -> None:
    number = look(lane, rind="wet")
    answer = lane.get(f"/api/wheels/1/observations/{number}/lookback").json()

    assert answer["days"] == 7
    # Three days of air are too little of seven.
    assert {each["amount"] for each in answer["features"]} == {None}


def test_a_look_at_another_wheel_is_not_found(lane: TestClient) -> None:
    number = look(lane, rind="wet")

    assert lane.get(f"/api/wheels/2/observations/{number}/lookback").status_code == 404
    assert lane.get("/api/wheels/1/observations/99/lookback").status_code == 404


@pytest.mark.parametrize("query", ["days=0", "days=29", "days=x", "condition=tired"])
def test_what_cannot_be_asked_is_refused(lane: TestClient, query: str) -> None:
    number = look(lane, rind="wet")

    assert lane.get(f"/api/wheels/1/observations/{number}/lookback?{query}").status_code == 422
