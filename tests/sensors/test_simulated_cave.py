"""The simulated cave keeps its balances and behaves as a fridge turned cave does."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from sensors.simulation.air import saturation_pressure_pa
from sensors.simulation.box import Box, BoxConfig
from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.wheels import Wheels, WheelsConfig

ROOM_C = 16.0
ROOM_PA = 0.60 * saturation_pressure_pa(ROOM_C)
STEP_S = 10.0
STEPS_PER_MINUTE = 6
TOMME = WheelsConfig(1, 0.190, 0.075, 1.950, 0.945)
BLUE = WheelsConfig(3, 0.090, 0.070, 0.430, 0.975, 9.0e-9, respiration_w_per_m2=1.6)


def furnished_cave(config: CaveConfig | None = None, gap_m3_per_h: float = 0.4) -> Cave:
    cave = Cave(config or CaveConfig(), 10.0, 89.0)
    cave.wheels.append(Wheels(TOMME, 10.0))
    box = Box(BoxConfig(), 10.0, 93.0)
    box.gap_m3_per_h = gap_m3_per_h
    box.wheels.append(Wheels(BLUE, 10.0))
    cave.boxes.append(box)
    return cave


def live(cave: Cave, minutes: float, room_c: float = ROOM_C) -> list[tuple[float, float, bool]]:
    """Minute values of temperature, humidity and compressor."""
    rows = []
    for step in range(round(minutes * STEPS_PER_MINUTE)):
        cave.step(STEP_S, room_c, 0.60 * saturation_pressure_pa(room_c))
        if (step + 1) % STEPS_PER_MINUTE == 0:
            rows.append((cave.air_c, cave.humidity_pct, cave.cooling))
    return rows


def starts_of_cooling(rows: list[tuple[float, float, bool]]) -> list[int]:
    return [minute for minute, (a, b) in enumerate(pairwise(rows), start=1) if b[2] and not a[2]]


def respired_j(cave: Cave) -> float:
    return sum(wheels.respired_j for box in cave.boxes for wheels in box.wheels)


def test_heat_of_the_cave_balances_through_a_day_with_openings() -> None:
    cave = furnished_cave(gap_m3_per_h=0.01)
    stored_j = cave.stored_j
    live(cave, 600)
    cave.open_s = 60.0
    live(cave, 240)
    cave.ajar_s, cave.ajar_per_h = 7_200.0, 100.0
    live(cave, 600)
    moved_j = 24 * 3_600 * cave.config.fan_w

    # All flows are booked on both sides, so only rounding is left; a fan day is the scale.
    assert cave.stored_j - stored_j == pytest.approx(
        cave.heat_in_j + respired_j(cave), abs=1e-6 * moved_j
    )


def test_water_of_the_cave_balances_through_a_day_with_a_refill() -> None:
    cave = furnished_cave(gap_m3_per_h=0.01)
    cave.tray_kg = 0.02
    stored_kg = cave.stored_kg
    live(cave, 900)
    cave.fill_tray()
    cave.open_s = 60.0
    live(cave, 300)
    cave.boxes[0].wipe()
    live(cave, 240)

    # The day's evaporation is some 50 g; a millionth of it is rounding.
    assert cave.stored_kg - stored_kg == pytest.approx(cave.water_in_kg, abs=5e-8)


def test_water_that_evaporates_leaves_the_tray_and_the_wheels() -> None:
    cave = furnished_cave()
    before_kg = cave.tray_kg
    live(cave, 1_440)

    assert 0.03 < before_kg - cave.tray_kg < 0.09
    assert 0.001 < cave.wheels[0].water_kg < 0.008


@pytest.mark.parametrize("room_c", [14.0, 16.0, 18.5])
def test_thermostat_cycles_as_a_fridge_does(room_c: float) -> None:
    cave = furnished_cave()
    live(cave, 600, room_c)
    rows = live(cave, 1_440, room_c)
    starts = starts_of_cooling(rows)
    period_min = (starts[-1] - starts[0]) / (len(starts) - 1)
    half_swing_k = 0.5 * (max(row[0] for row in rows) - min(row[0] for row in rows))

    assert 20.0 < period_min < 45.0
    assert 0.45 < half_swing_k < 0.8
    assert 9.7 < math.fsum(row[0] for row in rows) / len(rows) < 10.3


def test_humidity_with_a_full_tray_stays_in_a_narrow_band() -> None:
    cave = furnished_cave()
    live(cave, 1_440)
    humidity = [row[1] for row in live(cave, 1_440)]

    assert 88.0 < math.fsum(humidity) / len(humidity) < 90.5
    assert 3.0 < max(humidity) - min(humidity) < 8.0


@pytest.mark.parametrize("later_min", range(0, 40, 5))
def test_emptied_tray_shows_within_75_minutes_whatever_the_compressor_does(later_min: int) -> None:
    cave = furnished_cave()
    live(cave, 1_440 + later_min)
    cave.empty_tray()
    humidity = [row[1] for row in live(cave, 75)]

    assert min(humidity) < 82.0


def test_wheels_alone_hold_the_cave_between_72_and_82_percent() -> None:
    cave = furnished_cave()
    cave.empty_tray()
    live(cave, 1_440)
    humidity = [row[1] for row in live(cave, 720)]

    assert 72.0 < math.fsum(humidity) / len(humidity) < 82.0


def test_filled_tray_brings_the_cave_back_within_two_hours() -> None:
    cave = furnished_cave()
    cave.empty_tray()
    live(cave, 1_440)
    cave.fill_tray()
    live(cave, 120)
    humidity = [row[1] for row in live(cave, 120)]

    assert math.fsum(humidity) / len(humidity) > 85.0


def test_leaking_tray_dries_the_cave_slowly_and_filling_ends_the_leak() -> None:
    cave = furnished_cave()
    live(cave, 1_440)
    cave.leak_tray(left_kg=0.040, loss_kg_per_h=0.002)
    hours = [math.fsum(row[1] for row in live(cave, 60)) / 60 for _ in range(12)]
    cave.fill_tray()
    full_kg = cave.tray_kg
    live(cave, 60)

    # No hour takes more than 2 %RH (an emptied tray takes 6 in little over one), yet all of them 4.
    assert max(before - after for before, after in pairwise(hours)) < 2.0
    assert hours[0] - hours[-1] > 4.0
    assert full_kg == cave.config.tray_full_kg
    # An hour's evaporation of some 3 g and no leak beside it.
    assert full_kg - cave.tray_kg < 0.005


def test_water_of_a_leaking_tray_is_booked() -> None:
    cave = furnished_cave()
    stored_kg = cave.stored_kg
    cave.leak_tray(left_kg=0.010, loss_kg_per_h=0.002)
    live(cave, 600)

    # Ten hours empty it; some 0.5 kg ran out, of which a billionth is rounding.
    assert cave.stored_kg - stored_kg == pytest.approx(cave.water_in_kg, abs=5e-8)
    assert cave.tray_kg < 0.001


def test_drying_tray_gives_less_and_less() -> None:
    cave = furnished_cave()
    live(cave, 600)
    full_kg = cave.tray_kg
    live(cave, 120)
    by_full_kg = full_kg - cave.tray_kg
    cave.tray_kg = low_kg = 0.2 * cave.config.tray_shrink_kg
    live(cave, 120)

    # A fifth of the area, in air that is drier for it.
    assert 0.1 * by_full_kg < low_kg - cave.tray_kg < 0.5 * by_full_kg


def test_opening_is_a_jump_of_temperature_and_humidity_together() -> None:
    cave = furnished_cave()
    live(cave, 600)
    before = (cave.air_c, cave.humidity_pct)
    cave.open_s = 60.0
    after = live(cave, 1)[-1]

    assert after[0] - before[0] > 1.5
    assert after[1] - before[1] < -4.0


def test_cave_forgets_an_opening_within_an_hour() -> None:
    cave = furnished_cave()
    live(cave, 600)
    cave.open_s = 60.0
    live(cave, 60)
    humidity = [row[1] for row in live(cave, 40)]

    assert 86.5 < math.fsum(humidity) / len(humidity) < 91.5


def test_cave_without_compressor_and_fan_comes_to_the_room() -> None:
    cave = Cave(replace(CaveConfig(), cooling_w=0.0, fan_w=0.0, tray_m2=0.0), 10.0, 70.0)
    live(cave, 3 * 1_440)

    # Three days are more than 25 time constants of the insulation (12 kJ/K over 0.85 W/K).
    assert cave.air_c == pytest.approx(ROOM_C, abs=0.01)
    assert cave.vapour_pa == pytest.approx(ROOM_PA, rel=0.01)


def test_fan_warms_an_uncooled_cave_by_its_power_over_the_insulation() -> None:
    cave = Cave(replace(CaveConfig(), cooling_w=0.0, tray_m2=0.0), 10.0, 70.0)
    live(cave, 3 * 1_440)
    config = cave.config
    leak_w_per_k = config.leak_per_h / 3_600.0 * 1_250.0 * config.air_m3
    # Steady state: fan heat leaves through air to walls to room, and by the leak.
    through_w_per_k = 1.0 / (1.0 / config.walls_w_per_k + 1.0 / config.insulation_w_per_k)

    assert cave.air_c - ROOM_C == pytest.approx(
        config.fan_w / (through_w_per_k + leak_w_per_k), rel=0.005
    )


def test_closed_box_sweats_and_a_cracked_lid_ends_it() -> None:
    cave = furnished_cave(gap_m3_per_h=0.008)
    live(cave, 2 * 1_440)
    box = cave.boxes[0]
    sweating = box.lid_film_g_per_m2
    box.wipe()
    box.gap_m3_per_h = 0.42
    live(cave, 1_440)

    assert sweating > 1.0
    assert box.lid_film_g_per_m2 == pytest.approx(0.0, abs=0.01)
    assert 91.0 < box.humidity_pct < 96.5


def test_cold_wheel_in_damp_air_sweats_until_it_is_warm() -> None:
    wheels = Wheels(replace(BLUE, respiration_w_per_m2=0.0), 4.0)
    damp_pa = 0.60 * saturation_pressure_pa(20.0)
    films = []
    for _ in range(6 * 60 * 6):
        wheels.step(STEP_S, 20.0, damp_pa)
        films.append(wheels.film_g_per_m2)

    assert max(films) > 5.0
    assert films[-1] == pytest.approx(0.0, abs=0.01)


def test_wheel_without_moisture_follows_one_exponential() -> None:
    """With neither moisture nor respiration a wheel of small Biot number is one lag."""
    config = replace(BLUE, moisture_coefficient=0.0, respiration_w_per_m2=0.0)
    wheels = Wheels(config, 4.0)
    for _ in range(360):
        wheels.step(STEP_S, 12.0, 0.0)
    heat = config.count * config.mass_kg * config.heat_j_per_kg_k
    lag_s = heat / (config.heat_coefficient * config.area_m2)

    # The Biot number is 0.25, so the lumped answer is good to a few per cent of the step.
    assert wheels.mean_c == pytest.approx(12.0 - 8.0 * math.exp(-3_600.0 / lag_s), abs=0.25)


def test_half_the_step_tells_the_same_story() -> None:
    """A day's means must not hang on the length of the step."""
    coarse, fine = furnished_cave(), furnished_cave()
    by_coarse = live(coarse, 1_440)
    humidity, temperature = [], []
    for _ in range(1_440 * 2 * STEPS_PER_MINUTE):
        fine.step(0.5 * STEP_S, ROOM_C, ROOM_PA)
        humidity.append(fine.humidity_pct)
        temperature.append(fine.air_c)

    mean = math.fsum(row[1] for row in by_coarse) / len(by_coarse)
    # Half a per cent and a twentieth of a kelvin are far inside one cycle's swing.
    assert math.fsum(humidity) / len(humidity) == pytest.approx(mean, abs=0.5)
    assert math.fsum(temperature) / len(temperature) == pytest.approx(
        math.fsum(row[0] for row in by_coarse) / len(by_coarse), abs=0.05
    )
