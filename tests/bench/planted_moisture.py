"""Sweat, moisture coefficient and weight in simulated caves whose truth is known.

The readings come from simulated sensors with lag and noise, without creep and offset, which are
the business of the correction; the analysis is told what
a maker knows: size, mass, water activity to 0.005, weighings to the gram. It is not told any
coefficient. Every cave differs in thermostat, wheels, coefficients, lid and room.
"""

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from sensors.simulation.box import Box, BoxConfig
from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.household import Happening, Household, Kind, Trace
from sensors.simulation.room import US_PER_DAY, Room, RoomConfig
from sensors.simulation.sensor import Sensor, SensorConfig
from sensors.simulation.wheels import Wheels, WheelsConfig
from service.science.air import FloatArray, vapour_pressure_pa
from service.science.film import LID_WET, WHEEL_WET, WetSpell, wet_spells
from service.science.lid import lid_run
from service.science.loss_table import loss_table
from service.science.signals import US_PER_MINUTE, BoolArray, IntArray
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, live_through, with_moisture
from service.science.transfer import (
    STILL_AIR_W_M2_K,
    prior_coefficient,
    radiation_w_m2_k,
)
from service.science.weighing import Weighing
from service.science.weight import WeightFit, fit_weighings

SEEDS = range(8)
DAYS = 21
SETTLING_DAYS = 1
COUNTS = (2, 4, 8)
FIRST_DAYS = 10
"""Weighings lie in these days; the rest is foretold."""
LEAST_LOSS_G = 10.0
"""Wheels that lose less tell nothing on a scale that is a gram off; they are not counted."""
CAVE, BOX = "cave", "box"


@dataclass(frozen=True)
class Planted:
    """A simulated history: readings and truth by the minute, and what wheels are in it."""

    times_us: IntArray
    readings: dict[str, tuple[FloatArray, FloatArray]]
    truth: dict[str, FloatArray]
    wheels: dict[str, WheelsConfig]


def planted(seed: int) -> Planted:
    """A cave with a wheel on its shelf and a box of wheels, through three weeks."""
    chance = np.random.default_rng(seed)
    draw = chance.uniform
    room = Room(
        RoomConfig(
            0, DAYS * US_PER_DAY, draw(16, 20), draw(16, 20), 1.5, 1.0, 68, 5, 15, f"r{seed}"
        )
    )
    cave = Cave(replace(CaveConfig(), set_c=draw(6, 12), half_band_k=draw(0.3, 1.0)), 9.0, 88.0)
    lid = replace(
        BoxConfig(),
        lid_outside=draw(8, 20),
        lid_inside=draw(3, 7),
        closed_m3_per_h=float(np.exp(draw(np.log(0.004), np.log(0.2)))),
    )
    box = Box(lid, 11.0, 93.0)
    cave.boxes.append(box)
    wheels = {
        CAVE: WheelsConfig(1, 0.19, 0.075, 1.95, draw(0.94, 0.965)),
        BOX: WheelsConfig(3, 0.09, 0.07, 0.43, draw(0.955, 0.985)),
    }
    for name, config in wheels.items():
        wheels[name] = replace(
            config,
            moisture_coefficient=float(np.exp(draw(np.log(4e-9), np.log(1.5e-8)))),
            heat_coefficient=draw(5.5, 9.5),
            respiration_w_per_m2=draw(0, 1.6) if name == BOX else 0.0,
        )
    trace = Trace()
    household = Household(0, {CAVE: room}, {CAVE: cave}, {BOX: box}, trace=trace)
    household.wheels = {name: Wheels(config, 11.0) for name, config in wheels.items()}
    for name in wheels:
        household.put(name, name)
        household.places[name] = name
        household.sensors[name] = Sensor(
            SensorConfig(creep_limit_pct=0.0, seed=f"{seed}{name}"), 11.0, 90.0
        )
    household.happenings = happenings(chance)
    rows: dict[str, list[tuple[float, float]]] = {CAVE: [], BOX: []}
    for reading in household.readings_until(DAYS * US_PER_DAY):
        rows[reading.sensor].append((reading.temperature_c, reading.humidity_pct))
    skip = SETTLING_DAYS * 1_440
    tables = {name: np.array(pairs)[skip:] for name, pairs in rows.items()}
    return Planted(
        np.array(trace.time_us)[skip:],
        {name: (table[:, 0], table[:, 1]) for name, table in tables.items()},
        {name: np.array(values)[skip:] for name, values in trace.series.items()},
        wheels,
    )


def happenings(chance: np.random.Generator) -> list[Happening]:
    """An opening or two a day, the door ajar every fourth, the box aired every third."""
    events = []
    for day in range(DAYS):
        noon = day * US_PER_DAY + US_PER_DAY // 2
        for _ in range(chance.integers(1, 3)):
            at = noon + int(chance.uniform(-5, 9) * 60) * US_PER_MINUTE
            events.append(Happening(at, Kind.OPEN_DOOR, CAVE, chance.uniform(20, 90)))
        if day % 3 == 0:
            events.append(Happening(noon, Kind.OPEN_BOX, BOX, 300.0))
            events.append(Happening(noon, Kind.WIPE_BOX, BOX))
        if day % 4 == 1:
            at = noon + int(chance.uniform(-5, 9) * 60) * US_PER_MINUTE
            ajar = Happening(at, Kind.DOOR_AJAR, CAVE, chance.uniform(1, 4) * 3_600, 60.0)
            events.append(ajar)
        if day % 7 == 0:
            events.append(Happening(noon, Kind.FILL_TRAY, CAVE))
    return sorted(events, key=lambda event: event.time_us)


def mask(times_us: IntArray, spells: list[WetSpell]) -> BoolArray:
    """The minutes that lie in a spell."""
    inside = np.zeros(times_us.size, dtype=bool)
    for spell in spells:
        inside |= (times_us >= spell.from_us) & (times_us < spell.to_us)
    return inside


class Score:
    """Minutes said and true, from which precision, recall and F1 follow."""

    def __init__(self) -> None:
        self.both = self.said = self.true = 0

    def add(self, said: BoolArray, true: BoolArray) -> None:
        """Count the minutes of one history."""
        self.both += int((said & true).sum())
        self.said += int(said.sum())
        self.true += int(true.sum())

    def __str__(self) -> str:
        if not self.said or not self.true:
            return f"{self.said} min said, {self.true} min true"
        precision, recall = self.both / self.said, self.both / self.true
        f1 = 2 * self.both / (self.said + self.true)
        return (
            f"F1 {f1:.3f}, precision {precision:.3f}, recall {recall:.3f}, "
            f"{self.true / 60:.0f} h truly wet"
        )


def analysed(
    case: Planted, name: str, chance: np.random.Generator
) -> tuple[Cylinder, Rind, Stay, float]:
    """What the analysis is told of a group of wheels."""
    config = case.wheels[name]
    air_c, humidity = case.readings[name]
    volume = config.volume_m3 / config.count
    wheel = Cylinder(config.diameter_m, config.height_m, 0.38, config.mass_kg / volume, 2_850.0)
    heat = STILL_AIR_W_M2_K + radiation_w_m2_k(float(np.mean(air_c)))
    vapour = vapour_pressure_pa(air_c, humidity)
    stay = Stay(
        name, int(case.times_us[0]), case.times_us, air_c, vapour, Transfer.uniform(heat), 0
    )
    rind = Rind(round(config.water_activity * 200 + chance.uniform(-1, 1)) / 200)
    return wheel, rind, stay, float(case.truth[f"{name}.surface_c"][0])


def weighed(case: Planted, name: str, count: int, chance: np.random.Generator) -> WeightFit:
    """The fit to the mass at the start and so many weighings, the last after ten days."""
    grams = case.truth[f"{name}.wheel_g"]
    wheel, rind, stay, start_c = analysed(case, name, chance)
    prior = prior_coefficient()
    table = loss_table(wheel, rind, [stay], start_c, prior)
    places = np.linspace(0, FIRST_DAYS * 1_440, count).astype(int)
    weighings = [
        Weighing(int(case.times_us[i]), round(float(grams[i] + chance.normal(0, 1))))
        for i in places
    ]
    return fit_weighings(table, weighings, prior)


def _ten_weeks(case: Planted) -> str:
    """Processor time of surface, film and loss, and of the whole fan of coefficients."""
    wheel, rind, stay, start_c = analysed(case, CAVE, np.random.default_rng(1))
    turns = math.ceil(70 * 1_440 / case.times_us.size)
    size = 70 * 1_440
    long = replace(
        stay,
        times_us=stay.times_us[0] + np.arange(size) * US_PER_MINUTE,
        air_c=np.tile(stay.air_c, turns)[:size],
        vapour_pa=np.tile(stay.vapour_pa, turns)[:size],
        moisture_kg_m2_s_pa=prior_coefficient().median,
    )
    started = time.process_time()
    climate = live_through(wheel, rind, [long], start_c)
    lived = time.process_time()
    loss_table(wheel, rind, [long], start_c, prior_coefficient())
    tabled = time.process_time()
    return (
        f"{lived - started:.2f} s of processor for surface, film and loss in {climate.rounds} "
        f"rounds, {tabled - lived:.2f} s for the losses of all coefficients"
    )


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence with figures for each thing planted."""
    cases = [planted(seed) for seed in SEEDS]
    lids, faces = Score(), Score()
    surface_k: list[FloatArray] = []
    coefficient_off: dict[int, list[float]] = {count: [] for count in COUNTS}
    loss_off: dict[int, list[float]] = {count: [] for count in COUNTS}
    held: dict[int, list[bool]] = {count: [] for count in COUNTS}
    for seed, case in zip(SEEDS, cases, strict=True):
        box_c, humidity = case.readings[BOX]
        lid = lid_run(
            case.times_us, box_c, vapour_pressure_pa(box_c, humidity), case.readings[CAVE][0]
        )
        times = case.times_us
        lids.add(
            mask(times, wet_spells(times, lid.film_g_m2, LID_WET)),
            mask(times, wet_spells(times, case.truth[f"{BOX}.lid_film_g_per_m2"], LID_WET)),
        )
        for name, config in case.wheels.items():
            chance = np.random.default_rng([seed, len(name)])
            for count in COUNTS:
                fit = weighed(case, name, count, chance)
                found = fit.coefficients[name].median
                grams = case.truth[f"{name}.wheel_g"]
                band = fit.masses(case.times_us[[0, -1]])
                true_loss = grams[0] - grams[-1]
                if true_loss < LEAST_LOSS_G:
                    continue
                coefficient_off[count].append(found / config.moisture_coefficient - 1)
                loss_off[count].append((band.grams[0] - band.grams[1]) / true_loss - 1)
                held[count].append(bool(band.low[1] <= grams[-1] <= band.high[1]))
                if count == 2:
                    wheel, rind, stay, start_c = analysed(case, name, chance)
                    stays = with_moisture([stay], {name: found})
                    lived = live_through(wheel, rind, stays, start_c)
                    surface_k.append(lived.temperatures.surface_c - case.truth[f"{name}.surface_c"])
                    true_film = case.truth[f"{name}.film_g_per_m2"]
                    faces.add(
                        mask(times, lived.wet_spells()),
                        mask(times, wet_spells(times, true_film, WHEEL_WET)),
                    )
    yield "ten weeks at one minute", _ten_weeks(cases[0])
    yield "sweat on the lid", f"{lids} in {len(cases)} caves of {DAYS - SETTLING_DAYS} days"
    yield "sweat on wheels", f"{faces} in the same caves, coefficient from two weighings"
    miss = np.concatenate(surface_k)
    yield "surface of wheels", f"RMS {np.sqrt(np.mean(miss**2)):.3f} K"
    for count, off in coefficient_off.items():
        size = np.abs(off)
        yield (
            f"coefficient after {count} weighings",
            f"off by {np.median(size):.0%} in the median, {size.max():.0%} at most",
        )
    for count, off in loss_off.items():
        size = np.abs(off)
        yield (
            f"loss of {DAYS - SETTLING_DAYS} days from {count} weighings in {FIRST_DAYS}",
            (
                f"off by {np.median(size):.1%} in the median, {size.max():.1%} at most; "
                f"within its 90 % band {sum(held[count])} of {len(held[count])} times"
            ),
        )
