"""What a stuck or wet sensor says never puts a wheel in range, and never takes an alarm back."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from service.ageing.plans import shipped_plans
from service.ageing.values import Quantity, Unknown, Verdict
from service.api.context import Context
from service.judging import judge_spaces, judge_wheel
from service.living.memory import Memory
from service.store import set_up
from service.store.air import NewReading, add_readings
from service.store.tables import Site
from tests import builders

Air = Callable[[float], float]
CHANCE = np.random.default_rng(11).normal(0.0, 0.1, 2_000)
STUCK_H = 6.0
ASKED = next(
    stage.target for stage in shipped_plans()["tomme"].stages if stage.slug == "ripening"
).humidity_pct
assert ASKED is not None
LOW_PCT, HIGH_PCT = ASKED.low, ASKED.high


def lively(about: float) -> Air:
    """Values that hardly ever repeat themselves, the same each time they are asked for."""
    return lambda ago: round(about + float(CHANCE[round(ago * 12)]), 3)


def held(alive: Air, value: float, from_h: float = STUCK_H, to_h: float = 0.0) -> Air:
    """As alive, but standing still between two hours ago."""
    return lambda ago: value if to_h <= ago < from_h else alive(ago)


WARM, DAMP = lively(12.0), lively(90.0)


@pytest.fixture
def home(tmp_path: Path) -> Context:
    """A cave with a tomme, and a box without a sensor with another; the cave's air is open."""
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        box = builders.add_space(session, site.id, "box", "Box", "box", cave)
        for space_id in (cave, box):
            name = f"Tomme {space_id}"
            size = [(190.0, 75.0, 1950.0)]
            builders.add_batch(session, site.id, name, "tomme", 41, size, space_id, "ripening")
    return context


def verdict(home: Context, temperature: Air, humidity: Air, wheel_id: int = 1) -> Verdict:
    with home.sessions() as session:
        builders.add_sensor(session, "air", 1, temperature, humidity)
    with home.sessions() as session:
        return judge_wheel(session, home.plans, wheel_id, builders.NOW_US).verdict


def since_h(unknown: Unknown) -> float:
    assert unknown.last_us is not None
    return (builders.NOW_US - unknown.last_us) / builders.HOUR_US


def test_a_wheel_is_in_range_by_a_sensor_in_order(home: Context) -> None:
    assert verdict(home, WARM, DAMP).word == "in range"


def test_a_stuck_humidity_in_range_is_not_known(home: Context) -> None:
    found = verdict(home, WARM, held(DAMP, 91.5))

    assert found.word == "not known"
    (unknown,) = found.unknown
    assert (unknown.quantity, unknown.reason) == (Quantity.HUMIDITY, "its sensor has been stuck")
    assert since_h(unknown) == pytest.approx(STUCK_H, abs=0.1)  # a reading is five minutes


def test_a_stuck_temperature_in_range_is_not_known(home: Context) -> None:
    (unknown,) = verdict(home, held(WARM, 12.0), DAMP).unknown

    assert unknown.quantity is Quantity.TEMPERATURE


def test_a_wheel_stays_too_dry_by_a_stuck_sensor(home: Context) -> None:
    found = verdict(home, WARM, held(DAMP, 80.0))

    assert found.word == "too dry"
    assert found.unknown == ()


def test_a_wet_sensor_leaves_a_wheel_too_damp(home: Context) -> None:
    assert verdict(home, WARM, held(DAMP, 100.0)).word == "too damp"


def test_what_is_out_of_range_is_told_beside_what_is_stuck(home: Context) -> None:
    found = verdict(home, lively(15.0), held(DAMP, 91.5))

    assert [each.quantity for each in found.findings] == [Quantity.TEMPERATURE]
    assert [each.quantity for each in found.unknown] == [Quantity.HUMIDITY]


def test_a_sensor_that_moves_again_is_believed_again(home: Context) -> None:
    assert verdict(home, WARM, held(DAMP, 91.5, 8.0, 2.0)).word == "in range"


def test_a_sensor_that_always_tells_the_same_is_believed(home: Context) -> None:
    assert verdict(home, builders.steady(12.0), builders.steady(90.0)).word == "in range"


def test_of_a_silent_sensor_it_is_said_that_nothing_fresh_came(home: Context) -> None:
    with home.sessions() as session:
        until_us = builders.NOW_US - 3 * builders.HOUR_US
        builders.add_sensor(session, "air", 1, WARM, held(DAMP, 91.5, 12.0), 72.0, until_us)
    with home.sessions() as session:
        found = judge_wheel(session, home.plans, 1, builders.NOW_US).verdict

    assert {each.reason for each in found.unknown} == {"no fresh reading"}


def test_a_box_without_a_sensor_does_not_go_by_the_stuck_one_of_its_cave(home: Context) -> None:
    found = verdict(home, held(WARM, 12.0), DAMP, wheel_id=2)

    assert {each.quantity: each.reason for each in found.unknown} == {
        Quantity.HUMIDITY: "no sensor in this space",
        Quantity.TEMPERATURE: "its sensor has been stuck",
    }


def test_shelf_and_wheel_judge_a_stuck_sensor_alike(home: Context) -> None:
    found = verdict(home, WARM, held(DAMP, 91.5))
    with home.sessions() as session:
        spaces = judge_spaces(session, home.plans, builders.NOW_US)

    assert spaces[0].wheels[0].verdict == found


@pytest.mark.parametrize(
    ("humidity_pct", "word"),
    [(LOW_PCT - 2, "too dry"), (LOW_PCT, "not known"), (HIGH_PCT, "not known"), (99.0, "too damp")],
)
def test_no_value_of_a_stuck_humidity_puts_a_wheel_in_range(
    home: Context, humidity_pct: float, word: str
) -> None:
    middle = lively((LOW_PCT + HIGH_PCT) / 2)

    assert verdict(home, WARM, held(middle, humidity_pct, 12.0)).word == word


def test_what_was_found_of_a_stuck_sensor_is_kept_until_it_moves_again(home: Context) -> None:
    memory, words = Memory(), []
    with home.sessions() as session:
        sensor_id = builders.add_sensor(session, "air", 1, WARM, held(DAMP, 91.5))
    for later in range(3):
        now_us = builders.NOW_US + later * builders.MINUTE_US
        with home.sessions() as session:
            spaces = judge_spaces(session, home.plans, now_us, memory)
            moved = NewReading(sensor_id, now_us, 12.01, 89.37)
            if later == 1:
                add_readings(session, [moved])
        words.append((spaces[0].wheels[0].verdict.word, memory.count()))

    # Nothing is kept of a sensor that moves; what was kept before goes in its turn.
    assert words == [("not known", 1), ("not known", 1), ("in range", 1)]


def test_of_a_sensor_in_order_nothing_needs_to_be_kept(home: Context) -> None:
    memory = Memory()
    with home.sessions() as session:
        builders.add_sensor(session, "air", 1, WARM, DAMP)
    with home.sessions() as session:
        judge_spaces(session, home.plans, builders.NOW_US, memory)

    assert memory.count() == 0
