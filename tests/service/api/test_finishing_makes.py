"""A make day becomes wheels through the API: once, whoever presses, and with what it took."""

import threading
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.actions import EnteredWheel
from service.api.context import Context
from service.api.make_finishing import finish
from service.store import wheels
from tests import builders
from tests.service.api.conftest import NOW_US

SECOND_US = 1_000_000
SIZE = {"diameter_mm": 90.0, "height_mm": 70.0, "mass_g": 430.0}


def test_a_make_day_becomes_wheels_once(
    maker: TestClient, made: dict[str, Any], context: Context, clock: builders.FixedClock
) -> None:
    home = f"/api/makes/{made['id']}"
    maker.post(f"{home}/timers", json={"name": "Stir", "duration": "10 h"})
    clock.time_us += 4 * 3_600 * SECOND_US
    body = {"count": 3, "size": SIZE, "space_id": 2}
    first = maker.post(f"{home}/finish", json=body)
    again = maker.post(f"{home}/finish", json=body)
    whole = maker.get(home).json()

    assert first.json() == again.json()
    assert len(first.json()["wheel_ids"]) == 3
    assert whole["batch_id"] == first.json()["batch_id"]
    assert [each["state"] for each in whole["timers"]] == ["stopped"]
    with context.sessions() as session:
        batch = wheels.batch(session, whole["batch_id"])
        (stay,) = wheels.placements(session, first.json()["wheel_ids"][0])
        (lived,) = wheels.stages(session, first.json()["wheel_ids"][0])
        assert (batch.name, batch.raw_milk, batch.made_us) == ("December blue", True, NOW_US)
        assert (stay.space_id, stay.from_us) == (2, clock.time_us)
        assert (lived.stage, lived.from_us) == ("draining", NOW_US)


def test_two_finishes_at_the_same_moment_make_one_batch(
    context: Context, maker: TestClient, made: dict[str, Any]
) -> None:
    del maker
    both = threading.Barrier(2)
    batches: list[int] = []

    def work() -> None:
        both.wait(20)
        with context.sessions() as session:
            done = finish(
                session,
                context.plans,
                made["id"],
                [EnteredWheel(90, 70, 430)],
                2,
                None,
                NOW_US,
            )
        batches.append(done.batch_id)

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert len(batches) == 2
    assert len(set(batches)) == 1


def test_wheels_may_be_weighed_each_by_itself(maker: TestClient, made: dict[str, Any]) -> None:
    body = {"wheels": [SIZE | {"mass_g": 431.0}, SIZE | {"mass_g": 440.0, "label": "ash"}]}
    done = maker.post(f"/api/makes/{made['id']}/finish", json=body).json()
    listed = [maker.get(f"/api/wheels/{number}").json() for number in done["wheel_ids"]]

    assert [(each["label"], each["mass_g"]) for each in listed] == [("1", 431.0), ("ash", 440.0)]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({}, 422),
        ({"count": 3}, 422),
        ({"count": 0, "size": SIZE}, 422),
        ({"count": 1, "size": SIZE | {"mass_g": 0.0}}, 422),
        ({"count": 1, "size": SIZE, "space_id": 99}, 404),
        ({"count": 1, "size": SIZE, "stage": "moon"}, 404),
    ],
)
def test_a_finish_that_cannot_be_leaves_the_make_day_open(
    maker: TestClient, made: dict[str, Any], body: dict[str, Any], status: int
) -> None:
    home = f"/api/makes/{made['id']}"
    answer = maker.post(f"{home}/finish", json=body)

    assert answer.status_code == status
    assert maker.get(home).json()["batch_id"] is None


def test_after_the_finish_the_milk_can_be_corrected_and_the_batch_knows(
    maker: TestClient, made: dict[str, Any], context: Context
) -> None:
    home = f"/api/makes/{made['id']}"
    done = maker.post(f"{home}/finish", json={"count": 1, "size": SIZE}).json()
    version = maker.get(home).json()["version"]
    mended = maker.patch(home, json={"version": version, "raw_milk": False})
    renamed = maker.patch(home, json={"version": version + 1, "name": "Another"})
    late = maker.post(f"{home}/steps", json={"words": "Stir"})

    assert mended.status_code == 200
    assert (renamed.status_code, late.status_code) == (422, 422)
    with context.sessions() as session:
        assert wheels.batch(session, done["batch_id"]).raw_milk is False
