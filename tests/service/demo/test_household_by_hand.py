"""What was done and seen by hand at Larch Lane reaches the store, moved with everything else."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from sensors.moments import from_iso
from service.clock import US_PER_S
from service.demo.household import enter_household, read_household
from service.store import care, observations, places, wheels
from service.store.database import Session
from tests import builders

FILE = Path(__file__).parents[3] / "sample_readings" / "larch_lane.json"
SHIFT_US = 3 * 86_400 * US_PER_S


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    home = builders.empty_home(tmp_path)
    with home.sessions() as opened:
        enter_household(opened, read_household(FILE), home.plans, SHIFT_US)
        yield opened


def test_turning_a_space_turns_every_wheel_in_it_and_no_other(session: Session) -> None:
    label_of = {wheel.id: wheel.label for wheel, _ in wheels.wheels(session)}
    turned = [
        (row.time_us - SHIFT_US, label_of[row.wheel_id])
        for row in care.records(session)
        if row.work == "turn"
    ]
    blue_evening = from_iso("2026-08-15T18:27:00Z")

    assert [label for time_us, label in turned if time_us == blue_evening] == ["A1", "A2", "A3"]
    assert {label for _, label in turned} == {"T1", "J3", "A1", "A2", "A3", "W1", "W2", "W3", "W4"}


def test_boxes_are_aired_as_often_as_the_file_tells(session: Session) -> None:
    told = [row for row in json.loads(FILE.read_text())["care"] if row["kind"] == "air_box"]
    slug_of = {space.id: space.slug for space in places.spaces(session)}
    aired = [
        (slug_of[row.space_id], row.time_us - SHIFT_US)
        for row in care.records(session)
        if row.work == "air the box"
    ]

    assert len(told) > 20
    assert sorted(aired) == sorted((row["space"], from_iso(row["time"])) for row in told)


def test_looks_are_entered_for_each_wheel_they_name(session: Session) -> None:
    told = json.loads(FILE.read_text())["looks"]
    entered = observations.of_wheels(
        session, [wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None]
    )

    assert len(entered) == sum(len(look["wheels"]) for look in told)
    newest = observations.look_of(entered[-1])
    assert newest.coat_pct == sum(told[-1]["coat_pct"].values())
