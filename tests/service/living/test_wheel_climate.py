"""What a wheel lived through, from stored facts: moves, wraps, weighings, what is not known."""

from dataclasses import fields

import numpy as np
import pytest

from service.clock import US_PER_S
from service.living.memory import Memory
from service.living.values import Lived, WheelClimate
from service.science.air import dew_point_c
from service.store import air, places, weighings
from service.store.air import NewReading
from tests import builders
from tests.service.living.conftest import House

steady = builders.steady


def lived(climate: WheelClimate) -> Lived:
    assert climate.lived is not None
    return climate.lived


def same(one: WheelClimate, other: WheelClimate) -> bool:
    """Whether two climates tell the same, to the last digit."""
    arrays = all(
        np.array_equal(getattr(lived(one), f.name), getattr(lived(other), f.name), equal_nan=True)
        for f in fields(Lived)
    )
    masses = one.weight is not None and other.weight is not None
    assert one.weight is not None
    assert other.weight is not None
    return (
        arrays
        and masses
        and np.array_equal(one.weight.past.grams, other.weight.past.grams)
        and one.wet == other.wet
        and one.age == other.age
    )


def test_a_drying_wheel_is_colder_than_its_air_and_warmer_than_the_dew_point(house: House) -> None:
    house.air(house.cave, steady(10.4), steady(85.0))
    told = house.climate(house.wheel(house.cave, "tomme"))

    assert told.now is not None
    assert dew_point_c(10.4, 85.0) < told.now.surface_c < 10.4
    assert told.now.margin_k is not None
    assert 0 < told.now.margin_k < 10.4 - dew_point_c(10.4, 85.0)
    assert told.wet_hours() == 0


def test_a_move_is_felt_slowly_inside_and_nothing_jumps(house: House) -> None:
    house.air(house.cave, steady(12.0), steady(88.0))
    house.air(house.fridge, steady(4.0), steady(70.0))
    wheel = house.wheel(house.cave, "tomme")
    house.move(wheel, house.fridge, hours_ago=6.0)

    found = lived(house.climate(wheel))
    moved = int(np.searchsorted(found.times_us, builders.NOW_US - 6 * builders.HOUR_US))

    steps = np.diff(found.mean_c)

    # Five minutes after the move the air is 8 K colder, and the wheel has begun to cool: no
    # faster than some 12 W/(m² K) on 0.10 m² cool 5.6 kJ/K, and at first as fast as soon after.
    assert found.air_c[moved] - found.air_c[moved - 1] == pytest.approx(-8.0)
    assert -0.6 < steps[moved - 1] < 0
    assert steps[moved - 1] == pytest.approx(steps[moved], rel=0.3)
    assert abs(found.core_c[moved] - found.core_c[moved - 1]) < 0.02
    assert found.mean_c[moved] > found.mean_c[-1] > 4.0
    assert found.core_c[-1] > found.surface_c[-1]


def test_a_wheel_that_is_wrapped_keeps_its_temperature_and_its_mass(house: House) -> None:
    house.air(house.cave, steady(10.4), steady(85.0))
    house.air(house.fridge, steady(4.0), steady(60.0))
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 420.0, hours_ago=70.0)
    house.weigh(wheel, 417.0, hours_ago=26.0)
    house.begin(wheel, "wrapped", hours_ago=24.0)
    house.move(wheel, house.fridge, hours_ago=24.0)

    told = house.climate(wheel)
    found = lived(told)
    at = int(np.searchsorted(found.times_us, builders.NOW_US - 24 * builders.HOUR_US))

    assert np.isnan(found.film_g_m2[at:]).all()
    assert np.isfinite(found.film_g_m2[:at]).all()
    assert abs(found.mean_c[at] - found.mean_c[at - 1]) < 0.1
    assert told.weight is not None
    assert told.weight.ahead is None
    assert told.weight.past.grams[-1] == told.weight.past.grams[-2]
    assert any("wrapped" in note for note in told.notes)


def test_a_box_without_a_sensor_tells_of_temperature_only(house: House) -> None:
    house.air(house.cave, steady(10.4), steady(85.0))
    told = house.climate(house.wheel(house.box))

    assert np.isnan(lived(told).film_g_m2).all()
    # The wheel follows the cave through the wall of its box.
    assert lived(told).mean_c[-1] == pytest.approx(10.4, abs=0.01)
    assert told.weight is None
    assert told.now is not None
    assert told.now.margin_k is None
    assert any("Blue box" in note for note in told.notes)


def test_a_wheel_at_the_reference_temperature_ages_as_the_calendar_does(house: House) -> None:
    house.air(house.fridge, steady(10.0), steady(85.0), hours=96.0)
    told = house.climate(house.wheel(house.fridge, stage="wrapped"))

    assert told.age is not None
    assert told.age.days == pytest.approx(told.age.elapsed_days, rel=1e-9)
    # No energy of activation changes it; what the thermometer leaves open is 2 to 3 %.
    assert told.age.low_days == pytest.approx(told.age.days, rel=0.03)
    assert told.age.high_days == pytest.approx(told.age.days, rel=0.03)
    assert told.kinetic_c == pytest.approx(10.0, abs=1e-6)


def test_warm_damp_air_over_a_cold_wheel_makes_it_wet(house: House) -> None:
    def warmth(ago: float) -> float:
        return 4.0 if ago > 2 else 14.0

    house.air(house.cave, warmth, steady(92.0))
    told = house.climate(house.wheel(house.cave, "tomme"))

    assert told.now is not None
    assert told.now.wet_since_us is not None
    came_us = builders.NOW_US - 2 * builders.HOUR_US
    assert came_us <= told.now.wet_since_us <= came_us + 15 * builders.MINUTE_US
    assert told.now.sweats_in_h is None
    assert told.wet_hours() == pytest.approx(2.0, abs=0.3)  # readings come every five minutes
    assert told.peak_film_g_m2 > 1.0


def test_a_wheel_from_a_warm_kitchen_is_not_thought_to_sweat_in_the_box(house: House) -> None:
    house.air(house.box, lambda ago: 10.0 if ago < 47 else 9.0, steady(98.0), hours=48.0)
    with house.context.sessions() as session:
        kitchen = builders.add_space(session, 1, "kitchen", "Kitchen", "room")
    wheel = house.wheel(kitchen, stage="draining")
    house.move(wheel, house.box, hours_ago=48.0)

    told = house.climate(wheel)

    assert lived(told).core_c[0] > 15.0  # draining asks for 18 to 24 °C
    assert told.wet == ()


def test_a_silent_sensor_leaves_the_surface_unknown(house: House) -> None:
    with house.context.sessions() as session:
        builders.add_sensor(
            session,
            "old",
            house.cave,
            steady(10.0),
            steady(88.0),
            until_us=builders.NOW_US - 3 * builders.HOUR_US,
        )

    assert house.climate(house.wheel(house.cave)).now is None


def test_what_is_remembered_is_what_is_worked_out_anew(house: House) -> None:
    house.air(house.cave, lambda ago: 10 + np.sin(ago), steady(88.0), hours=200.0)
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 428.0, hours_ago=150.0)
    house.weigh(wheel, 420.0, hours_ago=2.0)
    memory = Memory()

    first, again = house.climate(wheel, memory), house.climate(wheel, memory)

    assert again is first
    assert same(first, house.climate(wheel))


def test_a_reading_that_comes_late_is_not_missed(house: House) -> None:
    sensor = house.air(house.cave, steady(10.0), steady(88.0), hours=200.0)
    wheel = house.wheel(house.cave)
    memory = Memory()
    before = house.climate(wheel, memory)
    late_us = builders.NOW_US - 150 * builders.HOUR_US + 61 * US_PER_S
    with house.context.sessions() as session:
        air.add_readings(session, [NewReading(sensor, late_us, 10.5, 88.0)])
        # A newer one lets everybody know that there is news.
        air.add_readings(session, [NewReading(sensor, builders.NOW_US, 10.0, 88.0)])

    after = house.climate(wheel, memory)

    assert lived(after).times_us.size == lived(before).times_us.size + 2
    assert same(after, house.climate(wheel))


def test_a_weighing_that_is_taken_back_leaves_no_trace(house: House) -> None:
    house.air(house.cave, steady(10.0), steady(85.0))
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 428.0, hours_ago=70.0)
    memory = Memory()
    before = house.climate(wheel, memory)
    slip = house.weigh(wheel, 380.0, hours_ago=1.0)
    between = house.climate(wheel, memory)
    with house.context.sessions() as session:
        weighings.withdraw(session, wheel, slip)

    assert not same(before, between)
    assert same(before, house.climate(wheel, memory))


def test_a_weighing_of_a_moment_ago_counts_before_the_next_reading(house: House) -> None:
    house.air(house.cave, steady(10.0), steady(85.0))
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 428.0, hours_ago=70.0)
    memory = Memory()
    before = house.climate(wheel, memory).weight
    house.weigh(wheel, 424.0, hours_ago=-0.1)
    after = house.climate(wheel, memory, hours_later=0.1).weight

    assert before is not None
    assert after is not None
    assert (before.weighings, after.weighings) == (1, 2)
    assert after.past.grams[-1] == pytest.approx(424.0, abs=2.0)  # the scale shows whole grams


def test_a_weighing_while_the_sensor_was_silent_counts_once_it_speaks_again(house: House) -> None:
    sensor = house.air(house.cave, steady(10.0), steady(85.0))
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 428.0, hours_ago=70.0)
    house.weigh(wheel, 424.0, hours_ago=-1.0)
    memory = Memory()
    silent = house.climate(wheel, memory, hours_later=1.1).weight
    with house.context.sessions() as session:
        spoken = [
            NewReading(sensor, builders.NOW_US + round(hours * builders.HOUR_US), 10.0, 85.0)
            for hours in (1.2, 1.3, 1.4)
        ]
        air.add_readings(session, spoken)
    heard = house.climate(wheel, memory, hours_later=1.5).weight

    assert silent is not None
    assert heard is not None
    assert (silent.weighings, heard.weighings) == (1, 2)


def test_two_weighings_narrow_what_is_known_of_the_weight(house: House) -> None:
    house.air(house.cave, steady(10.0), steady(85.0))
    wheel = house.wheel(house.cave)
    house.weigh(wheel, 428.0, hours_ago=71.0)
    before = house.climate(wheel).weight
    house.weigh(wheel, 421.0, hours_ago=1.0)
    after = house.climate(wheel).weight

    assert before is not None
    assert after is not None
    assert before.ahead is not None
    assert after.ahead is not None
    assert np.ptp([after.ahead.low[-1], after.ahead.high[-1]]) < np.ptp(
        [before.ahead.low[-1], before.ahead.high[-1]]
    )
    assert after.past.grams[-1] == pytest.approx(421.0, abs=2.0)  # the scale shows whole grams
    shares = [share for share, _ in after.losses]
    assert shares == [0.10, 0.15]
    assert after.losses[0][1].expected_us < after.losses[1][1].expected_us


def test_a_wheel_whose_air_was_never_known_says_so(house: House) -> None:
    told = house.climate(house.wheel(house.cave))

    assert told.lived is None
    assert told.age is None
    assert told.notes == ("no air is known of its life",)


def test_a_sensor_that_moves_away_ends_what_is_known(house: House) -> None:
    sensor = house.air(house.cave, steady(10.0), steady(88.0))
    wheel = house.wheel(house.cave)
    with house.context.sessions() as session:
        at_us = builders.NOW_US - 10 * builders.HOUR_US
        places.place_sensor(session, sensor, house.fridge, at_us)

    assert int(lived(house.climate(wheel)).times_us[-1]) < at_us
