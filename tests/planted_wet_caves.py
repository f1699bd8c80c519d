"""Simulated caves that wet their wheels, their readings stored as a maker's sensors send them.

Four ways to sweat: a wheel brought cold into warmer damp air, a box that nobody airs, a fridge
that fails and starts again, and a damp cave whose thermostat swings widely. All that nobody
knows well is drawn as widely as the bands of the service take it to be: both coefficients, the
water activity and the errors of the sensors.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

import numpy as np

from sensors.simulation.air import (
    SATURATION_OFFSET_C,
    SATURATION_SCALE_PA,
    SATURATION_SLOPE,
    saturation_pressure_pa,
)
from sensors.simulation.box import Box, BoxConfig
from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.household import Happening, Household, Kind, Reading, Trace
from sensors.simulation.room import Room, RoomConfig
from sensors.simulation.sensor import Sensor, SensorConfig
from sensors.simulation.wheels import Wheels, WheelsConfig
from service.api.context import Context
from service.living.climate import climate
from service.living.memory import Memory
from service.living.stays import cylinder_of
from service.living.values import WheelClimate
from service.science.air import FloatArray
from service.science.band import BAND_Z, Band
from service.science.convection import Space as Place
from service.science.convection import estimated_transfer
from service.science.film import WHEEL_WET, WetSpell, wet_spells
from service.science.signals import IntArray
from service.science.solid import Cylinder
from service.science.surface_band import TEMPERATURE_SD_K
from service.science.transfer import prior_coefficient
from service.store import air, places, set_up, wheels
from service.store.air import NewReading
from service.store.tables import Site
from tests import builders

DAYS = 4
CAVE, COLD, BOX, WHEEL = "cave", "cold", "box", "wheel"


class Way(StrEnum):
    """How a wheel comes to be wet."""

    CARRIED = "brought in cold"
    SHUT = "in a box never aired"
    FAILED = "fridge failed, restarted"
    SWINGING = "damp cave that swings"


_SWINGS = {Way.SHUT, Way.SWINGING}
SIZES_MM_G = {"tomme": (190.0, 75.0, 1950.0), "blue": (90.0, 70.0, 430.0)}


@dataclass(frozen=True)
class Truth:
    """What a simulated wheel truly lived through, by the minute."""

    times_us: IntArray
    surface_c: FloatArray
    margin_k: FloatArray
    film_g_m2: FloatArray

    @property
    def spells(self) -> list[WetSpell]:
        """When it was truly wet."""
        return wet_spells(self.times_us, self.film_g_m2, WHEEL_WET)


@dataclass(frozen=True)
class Held:
    """Whether a band holds the truth, or for what share of the time, and how wide it is."""

    share: float
    width: float


@dataclass(frozen=True)
class Case:
    """A cave, its truth, and what the service tells of its wheel."""

    way: Way
    truth: Truth
    told: WheelClimate

    def held(self) -> dict[str, Held]:
        """Every band that a maker sees, with the truth; shares of time for what is a line."""
        lived, bands, true = self.told.lived, self.told.bands, self.truth
        hours, peak = self.told.wet_hours_band(), self.told.peak_film_band_g_m2
        assert lived is not None
        assert bands is not None
        assert hours is not None
        assert peak is not None
        true_h = sum(each.to_us - each.from_us for each in true.spells) / builders.HOUR_US
        true_peak = max((each.peak_g_m2 for each in true.spells), default=0.0)
        there = np.clip(np.searchsorted(true.times_us, lived.times_us), 0, true.times_us.size - 1)
        slots = lived.times_us // (10 * builders.MINUTE_US)
        margin = bands.column("margin_k", lived.times_us, lived.margin_k)
        lowest = Band(_lowest_k(slots, margin[0]), _lowest_k(slots, margin[1]))
        true_margin, true_surface = true.margin_k[there], true.surface_c[there]
        return {
            "wet hours": Held(float(hours.holds(true_h)), hours.high - hours.low),
            "thickest film": Held(float(peak.holds(true_peak)), peak.high - peak.low),
            "lowest margin": Held(
                float(lowest.holds(_lowest_k(slots, true_margin))), lowest.high - lowest.low
            ),
            "margin": _line(true_margin, margin),
            "surface": _line(
                true_surface, bands.column("surface_c", lived.times_us, lived.surface_c)
            ),
        }

    def spells_held(self) -> list[Held]:
        """For each wet spell that is told, whether its band holds the thickest film in it."""
        bands, true = self.told.bands, self.truth
        assert bands is not None
        found = []
        for spell in self.told.wet:
            inside = slice(*np.searchsorted(true.times_us, [spell.from_us, spell.to_us]).tolist())
            band = bands.spell_peak_g_m2(spell)
            thickest = float(true.film_g_m2[inside].max(initial=0.0))
            found.append(Held(float(band.holds(thickest)), band.high - band.low))
        return found


def _lowest_k(slots: IntArray, margin_k: FloatArray) -> float:
    """The lowest mean of ten minutes: what an open door does within one no sensor follows."""
    _, first = np.unique(slots, return_index=True)
    means = np.add.reduceat(margin_k, first) / np.diff(first, append=slots.size)
    return float(means.min())


def _line(true: FloatArray, ends: tuple[FloatArray, ...]) -> Held:
    low, high = ends
    return Held(float(np.mean((low <= true) & (true <= high))), float(np.mean(high - low)))


def way_of(seed: int) -> Way:
    """The ways take turns."""
    return list(Way)[seed % len(Way)]


def caves(folder: Path, seeds: Iterable[int]) -> Iterator[Case]:
    """Caves lived through, all in one store, each told as to a maker."""
    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="planted", name="Planted"))
        assert site.id is not None
        site_id = site.id
    for seed in seeds:
        yield _case(context, site_id, seed)
    context.engine.dispose()


def _case(context: Context, site_id: int, seed: int) -> Case:
    way = way_of(seed)
    draw = np.random.default_rng([20261125, seed])
    plan = "blue" if way is Way.SHUT else "tomme"
    sizes = SIZES_MM_G[plan]
    here = BOX if way is Way.SHUT else CAVE
    with context.sessions() as session:
        cave = builders.add_space(session, site_id, f"cave-{seed}", f"Cave {seed}", "cave")
        spaces = {CAVE: cave}
        if way is Way.SHUT:
            spaces[BOX] = builders.add_space(
                session, site_id, f"box-{seed}", f"Box {seed}", "box", cave
            )
        if way is Way.CARRIED:
            spaces[COLD] = builders.add_space(
                session, site_id, f"cold-{seed}", f"Cold {seed}", "cave"
            )
        first = COLD if way is Way.CARRIED else here
        (wheel_id,) = builders.add_batch(
            session, site_id, f"{plan} {seed}", plan, DAYS, [sizes], spaces[first], "ripening"
        )
        usual_c = 10.0
        solid = cylinder_of(wheels.wheel(session, wheel_id), context.plans[plan], usual_c)
    household, trace = _household(draw, way, here, context, plan, solid)
    start_us = household.time_us
    moved_us = start_us + builders.DAY_US + int(draw.uniform(0, 600)) * builders.MINUTE_US
    if way is Way.CARRIED:
        household.put(WHEEL, COLD)
        household.happenings.append(Happening(moved_us, Kind.PUT_WHEELS, CAVE, thing=WHEEL))
        household.happenings.sort(key=lambda each: each.time_us)
    readings = list(_lived(household, draw, way, start_us))
    with context.sessions() as session:
        if way is Way.CARRIED:
            wheels.place_wheel(session, wheel_id, spaces[CAVE], moved_us)
        for name, space_id in spaces.items():
            sensor = places.sensor_for(session, f"planted/{name}-{seed}", start_us)
            assert sensor.id is not None
            places.place_sensor(session, sensor.id, space_id, start_us)
            air.add_readings(
                session,
                [
                    NewReading(sensor.id, each.time_us, each.temperature_c, each.humidity_pct)
                    for each in readings
                    if each.sensor == name
                ],
            )
        told = climate(session, context.plans, wheel_id, builders.NOW_US, Memory())
    return Case(way, _truth(trace, here if way is not Way.CARRIED else None, moved_us), told)


def _household(
    draw: np.random.Generator, way: Way, here: str, context: Context, plan: str, solid: Cylinder
) -> tuple[Household, Trace]:
    start_us = builders.NOW_US - DAYS * builders.DAY_US
    seed = f"wet:{draw.integers(1 << 30)}"
    room = Room(
        RoomConfig(
            start_us,
            builders.NOW_US,
            draw.uniform(17, 21),
            draw.uniform(17, 21),
            1.5,
            1.0,
            68,
            5,
            15,
            seed,
        )
    )
    config = replace(
        CaveConfig(),
        set_c=draw.uniform(9, 13),
        half_band_k=draw.uniform(1.0, 2.5) if way in _SWINGS else draw.uniform(0.3, 1.0),
        leak_per_h=draw.uniform(0.05, 0.3),
        tray_kg_per_m2_s_pa=3.3e-8 * draw.uniform(1.0, 3.0 if way in _SWINGS else 2.0),
    )
    cave = Cave(config, config.set_c, 92.0)
    trace = Trace()
    household = Household(start_us, {CAVE: room}, {CAVE: cave}, trace=trace)
    start_c = config.set_c
    if way is Way.SHUT:
        lid = replace(
            BoxConfig(),
            lid_outside=draw.uniform(8, 20),
            lid_inside=draw.uniform(3, 7),
            closed_m3_per_h=float(np.exp(draw.uniform(np.log(0.002), np.log(0.02)))),
        )
        box = Box(lid, config.set_c, 93.0)
        cave.boxes.append(box)
        household.boxes[BOX] = box
    if way is Way.CARRIED:
        cold = replace(CaveConfig(), set_c=draw.uniform(3, 5), tray_m2=0.0)
        start_c = cold.set_c
        household.caves[COLD] = Cave(cold, start_c, 75.0)
        household.rooms[COLD] = room
    household.wheels[WHEEL] = Wheels(_wheel(draw, context, plan, solid, here, start_c), start_c)
    household.put(WHEEL, here)
    for name, space in household.spaces.items():
        household.places[name] = name
        household.sensors[name] = Sensor(
            SensorConfig(
                temperature_offset_k=float(draw.normal(0, TEMPERATURE_SD_K)),
                humidity_offset_pct=draw.uniform(-2, 2),
                creep_above_pct=80.0,
                creep_limit_pct=draw.uniform(0, 3),
                seed=f"{seed}{name}",
            ),
            space.air_c,
            space.humidity_pct,
        )
    household.happenings = [
        Happening(start_us + day * builders.DAY_US + hour * builders.HOUR_US, kind, CAVE, amount)
        for day in range(DAYS)
        for hour, kind, amount in ((4, Kind.FILL_TRAY, 0.0), (5, Kind.OPEN_DOOR, 45.0))
    ]
    return household, trace


def _wheel(
    draw: np.random.Generator,
    context: Context,
    plan: str,
    solid: Cylinder,
    here: str,
    about_c: float,
) -> WheelsConfig:
    diameter_mm, height_mm, mass_g = SIZES_MM_G[plan]
    place = Place.BOX if here == BOX else Place.SHELF
    heat = estimated_transfer(solid, place, about_c)
    moisture = prior_coefficient()
    activity = context.plans[plan].water_activity
    off = float(draw.normal())
    reach = activity.high - activity.value if off > 0 else activity.value - activity.low
    return WheelsConfig(
        count=1,
        diameter_m=diameter_mm / 1e3,
        height_m=height_mm / 1e3,
        mass_kg=mass_g / 1e3,
        water_activity=min(0.995, activity.value + off * reach / BAND_Z),
        # The simulator's air in a box does not bear more than this, 3 deviations out.
        moisture_coefficient=min(1e-7, moisture.median * math.exp(moisture.log_sd * draw.normal())),
        heat_coefficient=heat.transfer.mean_w_m2_k(solid)
        * math.exp(math.log1p(heat.spread) * draw.normal()),
        conductivity=solid.conductivity_w_m_k,
        heat_j_per_kg_k=solid.specific_heat_j_kg_k,
    )


def _lived(
    household: Household, draw: np.random.Generator, way: Way, start_us: int
) -> Iterator[Reading]:
    """The readings; a fridge that fails takes its rest between two times."""
    if way is Way.FAILED:
        cave = household.caves[CAVE]
        works = cave.config
        fails_us = start_us + builders.DAY_US + int(draw.uniform(0, 12 * 60)) * builders.MINUTE_US
        yield from household.readings_until(fails_us)
        cave.config = replace(works, cooling_w=0.0)
        starts_us = fails_us + int(draw.uniform(4 * 60, 20 * 60)) * builders.MINUTE_US
        yield from household.readings_until(starts_us)
        cave.config = works
    yield from household.readings_until(builders.NOW_US)


def _truth(trace: Trace, here: str | None, moved_us: int) -> Truth:
    """The margin is against the air in which the wheel was; `here` is None where it moved."""
    times_us = np.array(trace.time_us, dtype=np.int64)
    series = {name: np.array(values) for name, values in trace.series.items()}

    def dew_point_c(space: str) -> FloatArray:
        saturated = np.array([saturation_pressure_pa(each) for each in series[f"{space}.air_c"]])
        log = np.log(0.01 * series[f"{space}.humidity_pct"] * saturated / SATURATION_SCALE_PA)
        found: FloatArray = SATURATION_OFFSET_C * log / (SATURATION_SLOPE - log)
        return found

    dew_c = (
        dew_point_c(here)
        if here is not None
        else np.where(times_us < moved_us, dew_point_c(COLD), dew_point_c(CAVE))
    )
    surface_c = series[f"{WHEEL}.surface_c"]
    return Truth(times_us, surface_c, surface_c - dew_c, series[f"{WHEEL}.film_g_per_m2"])
