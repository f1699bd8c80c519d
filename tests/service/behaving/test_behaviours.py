"""How a space behaves, from stored readings: rhythm, openings, water, drift, what is ahead."""

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from service.ageing.limits import SpaceTarget, tightest
from service.ageing.values import Direction, Quantity, Range, Target
from service.api.context import Context
from service.behaving.behaviour import Behaviour, Behaviours, openings_in, per_day
from service.behaving.outlook import limits_of
from service.errors import UnknownError
from service.store import air, set_up
from service.store.air import NewReading
from service.store.tables import Site
from tests import builders
from tests.builders import DAY_US, HOUR_US, NOW_US

ASKED = tightest([(1, Target(Range(8, 13), Range(85, 92)))])
Values = Callable[[float], float]


def cycling(duty: float, period_h: float = 0.6, swing_k: float = 0.8) -> Values:
    """A temperature that falls for that share of each cycle and rises for the rest."""

    def value(ago: float) -> float:
        phase = (-ago / period_h) % 1.0
        fallen = phase / duty if phase < duty else (1 - phase) / (1 - duty)
        return 10.4 - swing_k * fallen

    return value


def drying(ago: float) -> float:
    """Restless by a few tenths, and for the last nine hours 0.3 %RH an hour down."""
    return 89.0 - 0.3 * max(0.0, 9.0 - ago) + 0.2 * math.sin(1.9 * ago) * math.sin(0.37 * ago)


def home(
    folder: Path, temperature: Values, humidity: Values, *, kind: str = "cave", hours: float = 240
) -> Context:
    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Home"))
        assert site.id is not None
        space = builders.add_space(session, site.id, "cave", "Cave", kind)
        builders.add_sensor(session, "air", space, temperature, humidity, hours)
    return context


def found_in(context: Context, target: SpaceTarget = ASKED, now_us: int = NOW_US) -> Behaviour:
    with context.sessions() as session:
        found = context.behaviours.of(session, 1, target, now_us)
    assert found is not None
    return found


def test_the_share_of_cooling_is_told_of_now_and_of_before(tmp_path: Path) -> None:
    def busier(ago: float) -> float:
        return cycling(0.5)(ago) if ago < 48 else cycling(0.3)(ago)

    rhythm = found_in(home(tmp_path, busier, builders.steady(88.0))).rhythm

    assert rhythm is not None
    assert rhythm.before is not None
    # Readings of five minutes read a duty to about five hundredths.
    assert rhythm.now.duty == pytest.approx(0.5, abs=0.06)
    assert rhythm.before.duty == pytest.approx(0.3, abs=0.06)
    assert rhythm.changed


def test_a_rhythm_that_stays_has_not_changed(tmp_path: Path) -> None:
    rhythm = found_in(home(tmp_path, cycling(0.35), builders.steady(88.0))).rhythm

    assert rhythm is not None
    assert rhythm.now.period_s == pytest.approx(2_160, rel=0.02)  # as its docstring promises
    assert not rhythm.changed


def test_openings_are_found_in_a_cave_and_not_looked_for_in_a_box(tmp_path: Path) -> None:
    def visited(ago: float) -> float:
        since = 30.0 - ago
        return cycling(0.35)(ago) + (3.0 * math.exp(-since / 0.2) if 0 <= since < 2 else 0.0)

    def damp(ago: float) -> float:
        since = 30.0 - ago
        return 88.0 - (15.0 * math.exp(-since / 0.3) if 0 <= since < 2 else 0.0)

    cave = found_in(home(tmp_path / "cave", visited, damp))
    box = found_in(home(tmp_path / "box", visited, damp, kind="box"))

    assert [round((NOW_US - each.time_us) / HOUR_US) for each in cave.openings] == [30]
    assert per_day(cave.openings, NOW_US - 2 * DAY_US, NOW_US) == pytest.approx(0.5)
    assert (box.openings, box.rhythm, box.water) == ((), None, None)


def test_a_drying_cave_is_foretold_with_its_interval(tmp_path: Path) -> None:
    found = found_in(home(tmp_path, cycling(0.35), drying))

    (seen,) = found.outlooks
    assert (seen.quantity, seen.direction, seen.limit) == (
        Quantity.HUMIDITY,
        Direction.BELOW,
        85.0,
    )
    # 86.3 %RH now and 0.3 an hour: 4.3 hours to go, which nine intervals of ten hold.
    assert seen.forecast.low_s <= 4.3 * 3_600 <= seen.forecast.high_s
    assert seen.forecast.low_s < seen.forecast.high_s


def test_a_steady_cave_has_nothing_ahead(tmp_path: Path) -> None:
    assert found_in(home(tmp_path, cycling(0.35), builders.steady(88.0))).outlooks == ()


def test_nothing_is_foretold_with_less_than_three_days_behind_it(tmp_path: Path) -> None:
    young = home(tmp_path, cycling(0.35), drying, hours=60)

    assert found_in(young).outlooks == ()


def test_a_silent_sensor_foretells_nothing(tmp_path: Path) -> None:
    context = home(tmp_path, cycling(0.35), drying)

    assert found_in(context, now_us=NOW_US + 3 * HOUR_US).outlooks == ()


def test_days_that_rise_are_a_drift(tmp_path: Path) -> None:
    def rising(ago: float) -> float:
        return 86.0 - 0.01 * ago

    drifts = {
        each.quantity: each for each in found_in(home(tmp_path, cycling(0.35), rising)).drifts
    }

    assert drifts[Quantity.HUMIDITY].is_drifting
    # 0.01 %RH an hour; the line goes through means of whole days.
    assert drifts[Quantity.HUMIDITY].slope == pytest.approx(0.24, abs=0.01)
    assert not drifts[Quantity.TEMPERATURE].is_drifting


def test_water_is_told_with_a_wide_range(tmp_path: Path) -> None:
    water = found_in(home(tmp_path, cycling(0.35), builders.steady(88.0))).water

    assert water is not None
    assert 0 <= water.tray.low < water.tray.expected < water.tray.high


def test_between_two_steps_the_same_is_kept(tmp_path: Path) -> None:
    context = home(tmp_path, cycling(0.35), drying)

    assert found_in(context) is found_in(context, now_us=NOW_US + HOUR_US // 60)


def test_other_limits_are_another_outlook(tmp_path: Path) -> None:
    context = home(tmp_path, cycling(0.35), drying)
    assert found_in(context).outlooks

    assert found_in(context, SpaceTarget()).outlooks == ()


def test_a_reading_that_comes_late_is_not_missed(tmp_path: Path) -> None:
    context = home(tmp_path, cycling(0.35), builders.steady(88.0))
    before = found_in(context)
    with context.sessions() as session:
        late_us = NOW_US - 100 * HOUR_US + 1
        air.add_readings(session, [NewReading(1, late_us, 10.0, 20.0)])
        again = Behaviours().of(session, 1, ASKED, NOW_US)
        context.behaviours._kept.clear()
        kept = context.behaviours.of(session, 1, ASKED, NOW_US)

    assert again is not None
    assert kept is not None
    assert kept.drifts == again.drifts
    assert kept.drifts != before.drifts


def test_a_space_without_readings_behaves_in_no_way(tmp_path: Path) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Home"))
        assert site.id is not None
        builders.add_space(session, site.id, "cave", "Cave", "cave")

        assert context.behaviours.of(session, 1, ASKED, NOW_US) is None


def test_a_space_that_is_not_there_is_said_to_be_unknown(tmp_path: Path) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session, pytest.raises(UnknownError):
        context.behaviours.of(session, 99, ASKED, NOW_US)


def test_a_kitchen_fridge_has_a_limit_without_any_wheel() -> None:
    limits = limits_of(SpaceTarget(), kitchen_fridge=True)

    assert limits == {(Quantity.TEMPERATURE, Direction.ABOVE): 5.0}


def test_no_readings_have_no_openings(tmp_path: Path) -> None:
    context = home(tmp_path, cycling(0.35), builders.steady(88.0))
    with context.sessions() as session:
        nothing = air.space_history(session, 1, 0, 1)

    assert openings_in(nothing) == ()
