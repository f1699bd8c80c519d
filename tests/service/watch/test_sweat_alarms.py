"""Alarms of sweat: a cold wheel in warm damp air, and a lid beneath a cold cave."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from service.store import places, set_up
from service.store.tables import Space
from service.watch import sweat

if TYPE_CHECKING:
    from collections.abc import Callable

    from service.store.alarm_records import AlarmEntry
    from tests.service.watch.conftest import Larder, LarderMaker

START_US = 1_795_608_000_000_000  # As in conftest.py.
DAY_MIN = 1_440
WARM_FROM = DAY_MIN
DRY_FROM = WARM_FROM + 360


@pytest.fixture
def box(make_larder: LarderMaker) -> Larder:
    """A box with a sensor and one wheel in it, in a cave with a sensor of its own."""
    return boxed(make_larder)


def boxed(make_larder: LarderMaker) -> Larder:
    larder = make_larder(kind="box")
    larder.stand()
    larder.shelve()
    with larder.sessions() as session:
        cave = set_up.add_space(session, Space(site_id=1, slug="outer", name="Cave", kind="cave"))
        places.space(session, larder.space_id).parent_id = cave.id
        cave_id = cave.id
    cave_air = larder.add_sensor("outer-air")
    inner, larder.space_id = larder.space_id, cave_id or 0
    larder.stand(cave_air)
    larder.space_id = inner
    return larder


def carried_in(larder: Larder) -> None:
    """A day at 5 °C; then warm air, damp for six hours and dry after them."""

    def air(minute: int) -> tuple[float, float, float]:
        if minute < WARM_FROM:
            return minute, 5.0, 85.0
        return minute, 14.0, 96.0 if minute < DRY_FROM else 75.0

    larder.read(air(minute) for minute in range(0, 3 * DAY_MIN, 5))
    larder.read(((minute, 14.0, 85.0) for minute in range(0, 3 * DAY_MIN, 5)), sensor_id=2)


def chilled_lid(larder: Larder) -> None:
    """A damp box whose cave is four kelvin colder for six hours of a day."""
    larder.read(
        ((minute, 12.0, 95.0) for minute in range(0, 2 * DAY_MIN, 5)),
    )
    larder.read(
        (
            (minute, 8.0 if WARM_FROM <= minute < DRY_FROM else 12.0, 85.0)
            for minute in range(0, 2 * DAY_MIN, 5)
        ),
        sensor_id=2,
    )


def watched(larder: Larder, from_min: int, to_min: int, every_min: int = 20) -> None:
    for minute in range(from_min, to_min, every_min):
        larder.round_at(minute + 1)
        larder.watch.look_ahead()


def of_sweat(larder: Larder) -> dict[str, AlarmEntry]:
    return {alarm.kind: alarm for alarm in larder.alarms() if alarm.kind in sweat.KINDS}


def test_a_wheel_that_is_carried_cold_into_damp_air_sweats(box: Larder) -> None:
    carried_in(box)
    watched(box, WARM_FROM - 60, WARM_FROM + 120)

    alarm = of_sweat(box)["wheel_sweat"]
    assert alarm.returned_us is None
    # A film of 0.5 g/m² has to gather first, and is then to be seen twice.
    assert WARM_FROM <= (alarm.raised_us - START_US) // 60_000_000 <= WARM_FROM + 60
    assert alarm.wheels == "Tomme 1"
    assert "Try: pat wet faces dry, wipe the lid" in alarm.body
    assert re.search(r"about \d+\.\d g/m² \(\d+\.\d to \d+\.\d\) of water", alarm.body)
    assert re.search(r"surface has \d+\.\d °C \(\d+\.\d °C to \d+\.\d °C\)", alarm.body)


def test_the_alarm_returns_when_the_wheel_has_dried(box: Larder) -> None:
    carried_in(box)
    watched(box, WARM_FROM, 2 * DAY_MIN, 40)

    assert of_sweat(box)["wheel_sweat"].returned_us is not None
    assert "Larder cave: wheels are dry again" in [each.title for each in box.notices()]


def test_a_lid_beneath_a_cold_cave_sweats_and_dries(box: Larder) -> None:
    chilled_lid(box)
    watched(box, WARM_FROM - 40, WARM_FROM + 120)
    raised = of_sweat(box)["lid_sweat"]
    watched(box, WARM_FROM + 120, 2 * DAY_MIN - 1)

    assert raised.returned_us is None
    assert "wipe the lid dry, then open it a finger's width" in raised.body
    assert re.search(r"about \d+\.\d g/m² \(\d+\.\d to \d+\.\d\) of water", raised.body)
    assert re.search(r"The lid has \d+\.\d °C \(\d+\.\d °C to \d+\.\d °C\)", raised.body)
    assert of_sweat(box)["lid_sweat"].returned_us is not None


def test_a_dry_box_raises_nothing(box: Larder) -> None:
    box.read((minute, 12.0, 88.0) for minute in range(0, DAY_MIN, 5))
    box.read(((minute, 11.5, 85.0) for minute in range(0, DAY_MIN, 5)), sensor_id=2)
    watched(box, 720, DAY_MIN - 1, 60)

    assert of_sweat(box) == {}


@pytest.mark.parametrize("plant", [carried_in, chilled_lid])
def test_the_record_of_sweat_is_the_same_for_another_watch(
    make_larder: LarderMaker, box: Larder, plant: Callable[[Larder], None]
) -> None:
    """Another process takes over midway, and looks at other times."""
    plant(box)
    watched(box, WARM_FROM, WARM_FROM + 480)
    again = boxed(make_larder)
    plant(again)
    watched(again, WARM_FROM + 7, WARM_FROM + 240)
    again.watch = again.another_watch()
    watched(again, WARM_FROM + 247, WARM_FROM + 480)

    assert of_sweat(box)
    assert of_sweat(again) == of_sweat(box)
