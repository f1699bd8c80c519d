"""From the store to the planner: ages, places, wishes, room, the year, who fits together."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from service.ageing.work import Firmness
from service.api.context import Context
from service.living.climate import climate
from service.planning.ahead import kitchens_ahead, plan_ahead, plans_ahead
from service.planning.fitting import together
from service.planning.recent import recent
from service.planning.values import PlanAhead, Wish
from service.planning.year import year
from service.store import places, set_up, wheels
from service.store.tables import Site
from service.tending.days import day_of
from service.tending.facts import zones_of
from tests import builders

Air = Callable[[float], float]
MEMORY_NOW = builders.NOW_US
TODAY = date(2026, 11, 25)


@dataclass
class Home:
    """Space 1 is the cave, 2 a box in it, 3 the kitchen fridge."""

    context: Context

    def air(self, space_id: int, temperature: Air, days: float) -> None:
        with self.context.sessions() as session:
            builders.add_sensor(
                session,
                f"sensor-{space_id}",
                space_id,
                temperature,
                builders.steady(90.0),
                days * 24,
            )

    def wheel(
        self, space_id: int, plan: str = "blue", stage: str = "ripening", age: int = 40
    ) -> int:
        sizes = {"blue": (90.0, 70.0, 430.0), "tomme": (190.0, 75.0, 1950.0)}
        with self.context.sessions() as session:
            name = f"{plan} in {space_id}, day {age}"
            return builders.add_batch(session, 1, name, plan, age, [sizes[plan]], space_id, stage)[
                0
            ]

    def plan(self, wheel_id: int, wish: Wish | None = None, now_us: int = MEMORY_NOW) -> PlanAhead:
        with self.context.sessions() as session:
            return plan_ahead(
                session, self.context.plans, wheel_id, now_us, self.context.memory, wish
            )


@pytest.fixture
def home(tmp_path: Path) -> Home:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_space(session, site.id, "box", "Blue box", "box", cave)
        builders.add_space(session, site.id, "fridge", "Kitchen fridge", "kitchen_fridge")
    return Home(context)


def test_the_planner_and_the_wheel_s_page_tell_one_age(home: Home) -> None:
    home.air(1, lambda ago: 10.0 + 2.0 * (ago % 24 > 12), 20)
    wheel = home.wheel(1, age=20)

    told = home.plan(wheel).ripened
    with home.context.sessions() as session:
        lived = climate(session, home.context.plans, wheel, MEMORY_NOW, home.context.memory)

    assert told is not None
    assert lived.age is not None
    # The planner takes the last hours from the mean of its place, a few hundredths of a day apart.
    assert told.aged[0].days == pytest.approx(lived.age.days, abs=0.1)
    # All at its end at once, where the page adds energy and temperature as independent.
    assert min(each.low_days for each in told.aged) <= lived.age.low_days + 0.1
    assert max(each.high_days for each in told.aged) >= lived.age.high_days - 0.1


def test_a_place_of_steady_air_is_as_warm_as_that(home: Home) -> None:
    home.air(1, builders.steady(10.4), 20)
    with home.context.sessions() as session:
        found = recent(session, 2, MEMORY_NOW, home.context.memory)  # the box in the cave

    assert found is not None
    assert found.air.mean_c == pytest.approx(10.4, abs=1e-6)
    assert found.air.spread_k == 0.5  # the least that is told
    assert found.days == 14


def test_a_day_of_power_cut_does_not_stand_for_the_weeks_to_come(home: Home) -> None:
    home.air(1, lambda ago: 19.0 if 48 < ago < 72 else 10.0, 20)
    with home.context.sessions() as session:
        found = recent(session, 1, MEMORY_NOW, home.context.memory)

    assert found is not None
    assert found.air.mean_c == pytest.approx(10.0, abs=1e-6)


def test_few_days_of_readings_are_trusted_less(home: Home) -> None:
    home.air(1, builders.steady(10.0), 2)
    with home.context.sessions() as session:
        found = recent(session, 1, MEMORY_NOW, home.context.memory)
        nothing = recent(session, 3, MEMORY_NOW, home.context.memory)

    assert found is not None
    assert found.air.spread_k == 1.0
    assert nothing is None


def test_what_nobody_measured_is_assumed_and_told(home: Home) -> None:
    home.air(1, builders.steady(10.0), 10)
    found = home.plan(home.wheel(1, age=40))

    assert found.ripened is not None
    assert found.ripened.unknown_days == pytest.approx(30.0, abs=0.01)  # the sensor's first sample
    value = found.ripened.aged[0]
    assert value.low_days < value.days < value.high_days
    assert value.days == pytest.approx(40.0, abs=0.5)  # 8 to 12 °C about the reference of 10
    assert any("nobody measured its air for 30 days" in each for each in found.notes)
    assert any("nobody measures the kitchen fridge" in each for each in found.notes)


def test_a_wish_is_kept_and_planned_for(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    home.air(3, builders.steady(4.0), 15)
    wheel = home.wheel(1, age=15)
    day = TODAY + timedelta(days=60)
    with home.context.sessions() as session:
        wheels.wish(session, wheel, "soft", day.isoformat())

    found = home.plan(wheel)

    assert found.wish == Wish(Firmness.SOFT, day)
    assert found.moving is not None
    assert (found.moving.firmness, found.moving.day) == (Firmness.SOFT, day)
    assert found.moving.reach == "reached"


def test_a_wish_that_time_has_passed_is_told_and_left(home: Home) -> None:
    home.air(1, builders.steady(10.0), 5)
    wheel = home.wheel(1, age=15)
    with home.context.sessions() as session:
        wheels.wish(session, wheel, "hard", "2026-11-01")

    found = home.plan(wheel)

    assert found.moving is not None
    assert (found.moving.firmness, found.moving.day) == (Firmness.GIVING, None)
    assert "the day for which it was wanted is past" in found.notes
    assert "its plan does not tell when it is hard" in found.notes


def test_a_wheel_that_has_ended_or_is_nowhere_is_not_planned(home: Home) -> None:
    ended, nowhere = home.wheel(1), home.wheel(1, age=41)
    with home.context.sessions() as session:
        wheels.wheel(session, ended).ended_us = MEMORY_NOW - builders.DAY_US
        wheels.place_wheel(session, nowhere, None, MEMORY_NOW - builders.HOUR_US)

    assert (home.plan(ended).moving, home.plan(ended).notes) == (None, ("it has ended",))
    assert home.plan(nowhere).notes == ("it is in no space",)
    with home.context.sessions() as session:
        listed = plans_ahead(session, home.context.plans, MEMORY_NOW, home.context.memory)
    assert [each.wheel_id for each in listed] == [nowhere]


def test_wheels_in_the_kitchen_fridge_and_those_to_come_share_its_room(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    home.air(3, builders.steady(4.0), 15)
    here, coming = home.wheel(3, stage="cold", age=50), home.wheel(1, age=15)
    with home.context.sessions() as session:
        places.set_room(session, 3, 100.0)
        ahead = plans_ahead(session, home.context.plans, MEMORY_NOW, home.context.memory)
        (found,) = kitchens_ahead(session, ahead, TODAY)
        by_wheel = {stay.wheel: stay for stay in found.stays}

        assert found.on(TODAY).wheels == (here,)
        assert found.on(TODAY).fits is True  # 81 of 100 cm²
        assert by_wheel[coming].from_day > TODAY
        assert found.on(TODAY).strong == (here,)


def second_fridge(home: Home, temperature: float | None) -> int:
    with home.context.sessions() as session:
        fridge = builders.add_space(session, 1, "garage", "Garage fridge", "kitchen_fridge")
    if temperature is not None:
        home.air(fridge, builders.steady(temperature), 15)
    return fridge


def test_a_wheel_is_planned_for_the_kitchen_fridge_that_suits_its_plan(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    home.air(3, builders.steady(7.5), 15)  # the plan asks for 1 to 5 °C
    garage = second_fridge(home, 3.0)

    found = home.plan(home.wheel(1, age=15))

    assert (found.kitchen_id, found.kitchen, found.kitchens) == (garage, "Garage fridge", 2)
    assert found.fridge is not None
    assert found.fridge.air.mean_c == pytest.approx(3.0, abs=1e-6)  # steady air


def test_a_wheel_in_a_kitchen_fridge_is_planned_for_that_one(home: Home) -> None:
    home.air(3, builders.steady(4.0), 15)
    garage = second_fridge(home, 7.5)
    with home.context.sessions() as session:
        box = builders.add_space(session, 1, "cold-box", "Cold box", "box", garage)

    for place in (garage, box):
        found = home.plan(home.wheel(place, stage="cold", age=50 + place))

        assert found.in_kitchen
        assert found.kitchen_id == garage
        assert found.fridge is not None
        assert found.fridge.air.mean_c == pytest.approx(7.5, abs=1e-6)  # steady air


def test_each_kitchen_fridge_counts_its_own_wheels_and_room(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    home.air(3, builders.steady(4.0), 15)
    garage = second_fridge(home, 4.0)
    here = home.wheel(3, stage="cold", age=50)
    there = home.wheel(garage, stage="cold", age=51)
    coming = home.wheel(1, age=15)
    with home.context.sessions() as session:
        places.set_room(session, 3, 100.0)
        ahead = plans_ahead(session, home.context.plans, MEMORY_NOW, home.context.memory)
        first, second = kitchens_ahead(session, ahead, TODAY)

        assert (first.space.id, second.space.id) == (3, garage)
        assert first.on(TODAY).wheels == (here,)
        assert second.on(TODAY).wheels == (there,)
        # The first holds 81 of 100 cm² today, so the next wheel of 81 is planned for the second.
        assert {stay.wheel for stay in second.stays} == {there, coming}


def test_a_box_in_the_kitchen_fridge_is_the_kitchen_fridge(home: Home) -> None:
    with home.context.sessions() as session:
        box = builders.add_space(session, 1, "cold-box", "Cold box", "box", 3)
    found = home.plan(home.wheel(box, stage="cold", age=60))

    assert found.in_kitchen
    assert found.moving is not None
    assert found.moving.move is None


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/St_Johns", "UTC", "Europe/Vienna"])
def test_days_are_those_of_the_household_s_calendar(tmp_path: Path, zone: str) -> None:
    lane = builders.larch_lane(tmp_path, zone=zone)
    with lane.sessions() as session:
        assert zones_of(session).now.key == zone
        # 14:32 UTC on 25 November is past midnight in Auckland only.
        expected = date(2026, 11, 26) if zone == "Pacific/Auckland" else date(2026, 11, 25)

        assert day_of(builders.NOW_US, zones_of(session)) == expected


def test_the_year_runs_from_what_was_lived_into_what_is_ahead(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    wheel = home.wheel(1, age=15)
    with home.context.sessions() as session:
        wheels.wish(session, wheel, "oozy", None)
        wheels.begin_stage(session, wheel, "first_growth", MEMORY_NOW - 12 * builders.DAY_US)
        wheels.begin_stage(session, wheel, "ripening", MEMORY_NOW - 5 * builders.DAY_US)
    with home.context.sessions() as session:
        (found,) = year(session, home.context.plans, MEMORY_NOW, home.context.memory)
    planned = home.plan(wheel).moving

    assert planned is not None
    assert [(bar.stage.slug, bar.goes_on) for bar in found.lived] == [
        ("ripening", False),
        ("first_growth", False),
        ("ripening", True),
    ]
    slugs = [bar.stage.slug for bar in found.ahead]
    assert slugs == ["ripening", "wrapped", "cold"]
    assert found.ahead[0].ends == planned.wrap
    assert (found.ahead[1].begins, found.ahead[1].ends) == (planned.wrap, planned.move)
    assert found.ahead[2].ends == planned.eat_until


def test_a_year_with_renamed_stages_runs_as_with_their_old_names(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    home.wheel(1, age=15)
    blue = home.context.plans["blue"]
    names = {"wrapped": "in_foil", "cold": "upstairs"}
    stages = tuple(replace(each, slug=names.get(each.slug, each.slug)) for each in blue.stages)
    copy = {**home.context.plans, "blue": replace(blue, stages=stages)}
    with home.context.sessions() as session:
        (old,) = year(session, home.context.plans, MEMORY_NOW, home.context.memory)
        (new,) = year(session, copy, MEMORY_NOW, home.context.memory)

    assert [(bar.begins, bar.ends) for bar in new.ahead] == [
        (bar.begins, bar.ends) for bar in old.ahead
    ]
    assert [bar.stage.slug for bar in new.ahead] == ["ripening", "in_foil", "upstairs"]


def test_a_second_stage_in_the_kitchen_fridge_follows_the_first(home: Home) -> None:
    home.air(1, builders.steady(10.0), 15)
    wheel = home.wheel(1, age=15)
    blue = home.context.plans["blue"]
    colder = replace(blue.stage("cold"), slug="colder")
    plans = {**home.context.plans, "blue": replace(blue, stages=(*blue.stages, colder))}
    with home.context.sessions() as session:
        planned = plan_ahead(session, plans, wheel, MEMORY_NOW, home.context.memory)
        (found,) = year(session, plans, MEMORY_NOW, home.context.memory)

    assert planned.moving is not None
    *_, cold, last = found.ahead
    assert (cold.stage.slug, last.stage.slug) == ("cold", "colder")
    assert cold.begins == planned.moving.move
    assert last.begins == cold.ends
    assert last.ends == planned.moving.eat_until


def test_a_space_tells_how_damp_it_is_where_it_is_measured(home: Home) -> None:
    home.air(1, builders.steady(10.0), 5)
    with home.context.sessions() as session:
        cave = recent(session, 1, MEMORY_NOW, home.context.memory)
        box = recent(session, 2, MEMORY_NOW, home.context.memory)

    assert cave is not None
    assert cave.humidity_pct == pytest.approx(90.0, abs=1e-6)  # steady air
    assert box is not None
    assert box.air.mean_c == pytest.approx(10.0, abs=1e-6)  # that of its cave
    assert box.humidity_pct is None


def test_wheels_of_the_cave_and_its_boxes_are_asked_together(home: Home) -> None:
    home.air(1, builders.steady(10.0), 5)
    home.air(3, builders.steady(4.0), 5)
    cold, warm, warmer = home.wheel(1, stage="cold"), home.wheel(2), home.wheel(2, age=41)
    with home.context.sessions() as session:
        found = together(session, home.context.plans, 1, MEMORY_NOW, home.context.memory)

    assert set(found.now.wheels) == {cold, warm, warmer}
    assert found.now.fit.outside == (cold,)
    moves = [move for mend in found.now.mends for move in mend.moves]
    assert [(move.wheels, move.to) for move in moves] == [((cold,), 3)]


def test_neither_a_wish_nor_another_wheel_makes_the_past_be_worked_out_anew(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    home.air(1, builders.steady(10.0), 15)
    wheel, other = home.wheel(1, age=15), home.wheel(2, age=15)
    home.plan(wheel)
    with home.context.sessions() as session:
        wheels.wish(session, wheel, "soft", None)
        wheels.begin_stage(session, other, "wrapped", MEMORY_NOW - builders.HOUR_US)

    def fail(*_: object) -> None:
        raise AssertionError("worked out anew")

    monkeypatch.setattr("service.planning.ripened._worked_out", fail)

    assert home.plan(wheel).wish.firmness is Firmness.SOFT
    with pytest.raises(AssertionError, match="anew"):
        home.plan(other)
