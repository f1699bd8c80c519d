"""Whole simulated caves with planted trouble: what their sensors say, and what truly was.

Each cave of the simulator lives its own weeks with a wheel on its shelf: doors that are opened,
a tray that stands dry, a thermostat turned up for a day or down for a night, each by chance. The
readings are what its sensor says, with lag, noise and offset; what drives a condition is taken
from the simulator's own truth and from what was done, never from a reading.
"""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.household import Happening, Household, Kind, Reading, Trace
from sensors.simulation.room import Room, RoomConfig
from sensors.simulation.sensor import Sensor, SensorConfig
from sensors.simulation.wheels import Wheels, WheelsConfig
from tests import builders
from tests.planted_weeks import DAY_US, MINUTE_US, SIZE, WEEK_MIN, Weeks, drivers_of

FloatArray = npt.NDArray[np.float64]

CAVE, WHEEL, SENSOR = "cave", "tomme", "air"
_HOUR_US = 60 * MINUTE_US
_WEEK_US = WEEK_MIN * MINUTE_US
_SPIN_UP_US = 2 * DAY_US


def caves(seed: int, spaces: int = 4, count: int = 7) -> Weeks:
    """Let some caves live for some weeks, which end now."""
    draw = np.random.default_rng(seed)
    lived = [_cave(draw, f"{seed}:{place}", count) for place in range(spaces)]
    columns = [np.column_stack(each) for each in zip(*lived, strict=True)]
    read_c, read_pct, air_c, humidity, wet_h, openings = columns
    turned_d = draw.uniform(0.2, 6.8, (count, spaces))
    drivers = drivers_of(air_c, humidity, wet_h, turned_d, openings)
    return Weeks(read_c, read_pct, turned_d, drivers)


def _cave(draw: np.random.Generator, seed: str, count: int) -> tuple[FloatArray, ...]:
    """Readings and truth of one cave, by minute; wet hours and openings by week."""
    start_us = builders.NOW_US - count * _WEEK_US
    household = _household(draw, seed, start_us, count)
    cave = household.caves[CAVE]
    usual = cave.config
    happenings, settings = _fortune(draw, start_us, count)
    household.happenings = happenings
    household.live_until(start_us)
    household.trace = trace = Trace()
    readings: list[Reading] = []
    for until_us, shift_k in settings:
        cave.config = replace(usual, set_c=usual.set_c + shift_k)
        readings += household.readings_until(until_us)
    series = {name: np.array(values) for name, values in trace.series.items()}
    wet = series[f"{WHEEL}.film_g_per_m2"] >= 0.5
    weeks_in = [(at_us - start_us) // _WEEK_US for _, at_us, _ in trace.openings]
    return (
        np.array([each.temperature_c for each in readings]),
        np.array([each.humidity_pct for each in readings]),
        series[f"{CAVE}.air_c"],
        series[f"{CAVE}.humidity_pct"],
        wet.reshape(count, WEEK_MIN).sum(1) / 60,
        np.bincount(weeks_in, minlength=count).astype(np.float64),
    )


def _household(draw: np.random.Generator, seed: str, start_us: int, count: int) -> Household:
    """A cave in a room of its own, its sensor and its wheel."""
    room = RoomConfig(
        start_us=start_us,
        end_us=start_us + count * _WEEK_US,
        start_c=draw.uniform(15, 18),
        end_c=draw.uniform(15, 18),
        daily_swing_k=1.2,
        weather_k=1.0,
        humidity_pct=draw.uniform(52, 68),
        weather_pct=5.0,
        warmest_hour_utc=15.0,
        seed=seed,
    )
    config = CaveConfig(
        set_c=draw.normal(10.3, 0.2),
        half_band_k=draw.uniform(0.25, 0.5),
        leak_per_h=draw.uniform(0.2, 0.5),
    )
    sensor = SensorConfig(
        temperature_lag_s=draw.uniform(40, 150),
        humidity_lag_s=draw.uniform(30, 90),
        temperature_offset_k=draw.normal(0, 0.1),
        humidity_offset_pct=draw.normal(0, 0.7),
        seed=seed,
    )
    diameter_mm, height_mm, mass_g = SIZE
    wheels = WheelsConfig(1, diameter_mm / 1e3, height_mm / 1e3, mass_g / 1e3, 0.96, 5e-9)
    household = Household(
        time_us=start_us - _SPIN_UP_US,
        rooms={CAVE: Room(room)},
        caves={CAVE: Cave(config, 10.0, 89.0)},
        wheels={WHEEL: Wheels(wheels, 10.0)},
        sensors={SENSOR: Sensor(sensor, 10.0, 89.0)},
        places={SENSOR: CAVE},
    )
    household.put(WHEEL, CAVE)
    return household


def _fortune(
    draw: np.random.Generator, start_us: int, count: int
) -> tuple[list[Happening], list[tuple[int, float]]]:
    """What happens, and until when the thermostat is turned by how much. [µs UTC, K]"""
    events: list[Happening] = []
    turned: list[tuple[int, float]] = []
    for week_us in range(start_us, start_us + count * _WEEK_US, _WEEK_US):
        events.append(Happening(week_us, Kind.FILL_TRAY, CAVE))
        if draw.uniform() < 0.6:
            length_us = int(draw.uniform(10, 70) * _HOUR_US)
            dry_us = week_us + int(draw.uniform(0, _WEEK_US - length_us))
            events.append(Happening(dry_us, Kind.EMPTY_TRAY, CAVE))
            events.append(Happening(dry_us + length_us, Kind.FILL_TRAY, CAVE))
        for hour in draw.uniform(0, 168, draw.integers(2, 15)):
            at_us = week_us + int(hour * _HOUR_US)
            events.append(Happening(at_us, Kind.OPEN_DOOR, CAVE, draw.uniform(20, 80)))
        turned += _thermostat(draw, week_us)
    return sorted(events, key=lambda event: event.time_us), turned


def _thermostat(draw: np.random.Generator, week_us: int) -> list[tuple[int, float]]:
    """The week in days: as usual, turned up, or down for a night and up again after it."""
    usual = draw.normal(0, 0.3)
    warm, sweats = draw.uniform() < 0.5, draw.uniform() < 0.6
    found: list[tuple[int, float]] = []
    warm_day = int(draw.integers(0, 6)) if warm else 7
    for day in range(7):
        day_us = week_us + day * DAY_US
        if day == warm_day:
            found.append((day_us + int(draw.uniform(6, 24) * _HOUR_US), usual + 4.0))
        elif sweats and draw.uniform() < 0.4:
            found.append((day_us + 10 * _HOUR_US, usual - 2.0))
            found.append((day_us + int(draw.uniform(12, 16) * _HOUR_US), usual + 1.6))
        found.append((day_us + DAY_US, usual))
    return found
