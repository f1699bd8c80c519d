"""Air and answers that are kept: the same as worked out anew, and only what changed is redone."""

from dataclasses import fields

import numpy as np
import pytest

from service.living.air import LivedAir
from service.living.climate import climate
from service.living.memory import Memory
from service.living.now import surfaces_now
from service.living.values import Lived, WheelClimate
from service.store import air
from service.store.air import NewReading
from tests import builders
from tests.service.living.conftest import House

steady = builders.steady
DAYS = 20
NOW_US, DAY_US = builders.NOW_US, builders.DAY_US


def wavy(ago: float) -> float:
    return 10.0 + float(np.sin(ago))


def at(house: House, wheel_id: int, now_us: int, memory: Memory) -> WheelClimate:
    with house.context.sessions() as session:
        return climate(session, house.context.plans, wheel_id, now_us, memory)


def columns(told: WheelClimate) -> list[np.ndarray]:
    assert told.lived is not None
    assert told.bands is not None
    bands = told.bands.of
    return [
        *(getattr(told.lived, field.name) for field in fields(Lived)),
        bands.surface_c.below,
        bands.mean_c.above,
        bands.film_g_m2.above,
    ]


def identical(one: WheelClimate, other: WheelClimate) -> bool:
    return all(
        np.array_equal(a, b, equal_nan=a.dtype == np.float64)
        for a, b in zip(columns(one), columns(other), strict=True)
    )


def test_a_memory_that_served_other_wheels_and_times_tells_what_a_new_one_tells(
    house: House,
) -> None:
    house.air(house.cave, wavy, steady(88.0), hours=DAYS * 24.0)
    cave_wheel, mover = house.wheel(house.cave), house.wheel(house.cave, "tomme")
    house.move(mover, house.box, hours_ago=100.0)
    memory = Memory()
    for wheel, days_before in ((mover, 9), (cave_wheel, 2), (cave_wheel, 1), (mover, 0)):
        at(house, wheel, NOW_US - days_before * DAY_US, memory)

    for wheel in (cave_wheel, mover):
        assert identical(at(house, wheel, NOW_US, memory), at(house, wheel, NOW_US, Memory()))


def test_air_in_pieces_is_the_air_in_one(house: House) -> None:
    sensor = house.air(house.cave, wavy, steady(88.0), hours=DAYS * 24.0)
    with house.context.sessions() as session:
        # A spike, so that there is something to clean.
        spike_us = NOW_US - 11 * DAY_US + 30_000_000
        air.add_readings(session, [NewReading(sensor, spike_us, 25.0, 88.0)])
        whole = air.space_history(session, house.cave, NOW_US - 19 * DAY_US, NOW_US, cleaned=True)
        pieces = LivedAir(session, Memory(), NOW_US).own(house.cave, NOW_US - 19 * DAY_US, NOW_US)

    assert np.array_equal(pieces.times_us, whole.times_us)
    assert np.array_equal(pieces.temperature_c, whole.temperature_c, equal_nan=True)
    assert np.array_equal(pieces.humidity_pct, whole.humidity_pct, equal_nan=True)


def test_a_weighing_leaves_the_air_and_other_wheels_as_they_were(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    house.air(house.cave, wavy, steady(88.0), hours=DAYS * 24.0)
    weighed, other = house.wheel(house.cave), house.wheel(house.cave, "tomme")
    memory = Memory()
    before = at(house, other, NOW_US, memory)
    at(house, weighed, NOW_US, memory)
    house.weigh(weighed, 420.0, hours_ago=2.0)
    fetched: list[int] = []
    original = air.space_history

    def counted(*args: object, **named: object) -> object:
        fetched.append(1)
        return original(*args, **named)  # type: ignore[arg-type]  # handed on as it came

    monkeypatch.setattr(air, "space_history", counted)
    after, again = at(house, other, NOW_US, memory), at(house, weighed, NOW_US, memory)

    assert after is before
    assert len(again.weighings) == 1
    assert not fetched


def test_wheels_that_lived_alike_share_a_climate_but_not_their_weighings(house: House) -> None:
    house.air(house.cave, wavy, steady(88.0))
    one, other = house.wheel(house.cave), house.wheel(house.cave)
    for wheel in (one, other):
        house.weigh(wheel, 420.0, hours_ago=2.0)
    memory = Memory()
    first, second = at(house, one, NOW_US, memory), at(house, other, NOW_US, memory)

    assert first.lived is second.lived
    assert (first.wheel_id, second.wheel_id) == (one, other)
    assert {each.id for each in first.weighings}.isdisjoint(each.id for each in second.weighings)


def test_surfaces_after_a_weighing_are_those_worked_out_anew(house: House) -> None:
    house.air(house.cave, wavy, steady(88.0), hours=DAYS * 24.0)
    wheel = house.wheel(house.cave)
    memory = Memory()
    with house.context.sessions() as session:
        before = surfaces_now(session, house.context.plans, NOW_US, memory)
    house.weigh(wheel, 380.0, hours_ago=2.0)
    with house.context.sessions() as session:
        after = surfaces_now(session, house.context.plans, NOW_US, memory)

    assert after == house.surfaces()
    assert after != before
