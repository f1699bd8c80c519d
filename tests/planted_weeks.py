"""Weeks of cave air with planted trouble, and wheels whose condition one of the troubles drives.

Each space has its own weeks; in each week by chance a dry spell, a damp spell, cold nights
followed by warm damp hours (a wheel that is still cold then sweats), warm days, and visits.
The truth of a wheel's wetness is that of the simulator's wheel, whose physics is its own.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sensors.simulation.air import saturation_pressure_pa
from sensors.simulation.wheels import Wheels, WheelsConfig
from service.ageing.lookback import Feature
from service.ageing.noted import Condition
from service.ageing.seen import Look, Scent
from service.ageing.work import Firmness, Rind
from service.api.context import Context
from service.store import air, care, observations, places, set_up, wheels
from service.store.ageing_tables import CareRecord
from service.store.air import NewReading
from service.store.tables import Batch, Site
from service.store.wheels import NewWheel
from tests import builders

FloatArray = npt.NDArray[np.float64]

MINUTE_US, DAY_US = 60_000_000, 86_400_000_000
WEEK_MIN = 7 * 1_440
LOW_PCT, HIGH_PCT, HIGH_C = 85.0, 92.0, 13.0
"""What the stage asks in which the wheels are, from the plan's file."""
CAUSES = {
    Condition.WET_RIND: Feature.WET,
    Condition.CRACKS: Feature.TOO_DRY,
    Condition.STICKING: Feature.SINCE_TURNED,
    Condition.OOZY: Feature.TOO_WARM,
}
SIZE = (190.0, 75.0, 1_950.0)


@dataclass(frozen=True)
class Weeks:
    """Minutes of air of each space, and what each condition's driver was in each week.

    Attributes:
        air_c: A row a minute, a column a space. [°C]
        humidity_pct: The same. [%RH]
        turned_d: Days between the last turning and the end of the week, a row a week. [d]
        drivers: A row a week, a column a space. [h or d]
    """

    air_c: FloatArray
    humidity_pct: FloatArray
    turned_d: FloatArray
    drivers: dict[Condition, FloatArray]


def weeks(seed: int, spaces: int = 4, count: int = 7) -> Weeks:
    """Draw the weeks of some spaces."""
    draw = np.random.default_rng(seed)
    columns = [_space(draw, count) for _ in range(spaces)]
    air_c = np.column_stack([each[0] for each in columns])
    humidity = np.column_stack([each[1] for each in columns])
    wet = np.column_stack([_true_wet_h(*each, count) for each in columns])
    turned_d = draw.uniform(0.2, 6.8, (count, spaces))
    by_week = (count, WEEK_MIN, spaces)
    drivers = {
        Condition.WET_RIND: wet,
        # The plan asks of the air, not of a minute of its cooling cycle.
        Condition.CRACKS: (_calm(humidity) < LOW_PCT).reshape(by_week).sum(1) / 60,
        Condition.STICKING: turned_d,
        Condition.OOZY: (_calm(air_c) > HIGH_C).reshape(by_week).sum(1) / 60,
    }
    return Weeks(air_c, humidity, turned_d, drivers)


def _space(draw: np.random.Generator, count: int) -> tuple[FloatArray, FloatArray]:
    """The air of one space. [°C, %RH]"""
    size = count * WEEK_MIN
    minute = np.arange(size)
    swing = np.sin(2 * np.pi * minute / draw.uniform(30, 50))
    warm, damp = np.full(size, draw.normal(10.5, 0.2)), np.full(size, draw.normal(88.8, 0.4))
    for week in range(count):
        first = week * WEEK_MIN
        warm[first : first + WEEK_MIN] += draw.normal(0, 0.3)
        damp[first : first + WEEK_MIN] += draw.normal(0, 0.5)
        if draw.uniform() < 0.6:
            _add(damp, first, draw, (6, 60), -7.0)
        if draw.uniform() < 0.5:
            _add(damp, first, draw, (6, 40), 6.0)
        if draw.uniform() < 0.5:
            _add(warm, first, draw, (6, 40), 4.0)
        for _ in range(int(draw.integers(1, 6)) if draw.uniform() < 0.6 else 0):
            _sweat(warm, damp, first + int(draw.uniform(0.02, 0.88) * WEEK_MIN), draw)
    air_c = warm + 0.35 * swing + draw.normal(0, 0.012, size)
    humidity = damp - 1.2 * swing + draw.normal(0, 0.1, size)
    for week in range(count):
        for _ in range(int(draw.integers(2, 15))):
            _visit(air_c, humidity, week * WEEK_MIN + int(draw.uniform(0, WEEK_MIN)), draw)
    return air_c, np.clip(humidity, 30.0, 99.5)


def _add(
    series: FloatArray, first: int, draw: np.random.Generator, hours: tuple[int, int], by: float
) -> None:
    """A spell of the week in which a quantity lies elsewhere."""
    length = int(draw.uniform(*hours) * 60)
    start = first + int(draw.uniform(0, WEEK_MIN - length))
    series[start : start + length] += by


def _sweat(warm: FloatArray, damp: FloatArray, start: int, draw: np.random.Generator) -> None:
    """Cold for ten hours, then for some hours warmer and as damp as the stage allows."""
    warm[start : start + 600] -= 2.0
    after = slice(start + 600, start + 600 + int(draw.uniform(1.5, 6) * 60))
    warm[after] += 1.6
    damp[after] = np.maximum(damp[after], 91.5)


def _visit(air_c: FloatArray, humidity: FloatArray, at: int, draw: np.random.Generator) -> None:
    """A door opened for a moment."""
    since = np.arange(air_c.size - at)[:45]
    fades = np.exp(-since / draw.uniform(4, 8))
    air_c[at : at + since.size] += draw.uniform(1.5, 3.0) * fades
    humidity[at : at + since.size] -= draw.uniform(8, 15) * fades


def _calm(values: FloatArray) -> FloatArray:
    """The mean over two hours about each minute."""
    width = 121
    padded = np.pad(values, ((width // 2, width // 2), (0, 0)), mode="edge")
    summed = np.cumsum(np.vstack([np.zeros(values.shape[1]), padded]), axis=0)
    found: FloatArray = (summed[width:] - summed[:-width]) / width
    return found


def _true_wet_h(air_c: FloatArray, humidity: FloatArray, count: int) -> FloatArray:
    """Hours in each week with a film on the simulator's wheel. [h]"""
    diameter_mm, height_mm, mass_g = SIZE
    wheel = Wheels(
        WheelsConfig(1, diameter_mm / 1e3, height_mm / 1e3, mass_g / 1e3, 0.96), float(air_c[0])
    )
    film = []
    for warm, damp in zip(air_c.tolist(), humidity.tolist(), strict=True):
        pressure_pa = 0.01 * damp * saturation_pressure_pa(warm)
        wheel.step(30.0, warm, pressure_pa)
        wheel.step(30.0, warm, pressure_pa)
        film.append(wheel.film_g_per_m2)
    found: FloatArray = (np.array(film) >= 0.5).reshape(count, WEEK_MIN).sum(1) / 60
    return found


def seen_of(driver: FloatArray, draw: np.random.Generator, *, clear: bool) -> npt.NDArray[np.bool_]:
    """What is seen where a driver makes it likely.

    Args:
        driver: Hours or days.
        draw: Draws the exceptions.
        clear: With an exception in 20 looks on either side of half; else the likelihood rises
            slowly from 4 to 96 in 100, and about one look in seven is an exception.
    """
    some = driver[driver > 0]
    half = float(np.median(driver)) or 0.5 * float(np.median(some))
    spread = float(np.mean(np.abs(driver - half)))
    chance = np.where(driver > half, 0.95, 0.05)
    if not clear:
        chance = 0.04 + 0.92 / (1 + np.exp(-4 * (driver - half) / spread))
    return draw.uniform(size=driver.shape) < chance


def household(folder: Path, lived: Weeks, every_min: int = 5) -> Context:
    """The spaces in a store, each with its sensor and one wheel, and the turnings."""
    context = builders.empty_home(folder)
    count, spaces = lived.turned_d.shape
    start_us = start_us_of(lived)
    rows = np.arange(0, count * WEEK_MIN, every_min)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        for place in range(spaces):
            space = builders.add_space(session, site.id, f"cave-{place}", f"Cave {place}", "cave")
            sensor = places.sensor_for(session, f"larch-lane/s-{place}", start_us)
            assert sensor.id is not None
            places.place_sensor(session, sensor.id, space, start_us)
            readings = zip(
                (start_us + rows * MINUTE_US).tolist(),
                lived.air_c[rows, place].tolist(),
                lived.humidity_pct[rows, place].tolist(),
                strict=True,
            )
            air.add_readings(session, [NewReading(sensor.id, *each) for each in readings])
            made_us = start_us - 20 * DAY_US
            batch = Batch(
                site_id=site.id,
                name=f"Tomme {place}",
                plan="tomme",
                plan_version=1,
                made_us=made_us,
            )
            (wheel,) = wheels.add_batch(session, batch, [NewWheel("1", *SIZE)])
            wheels.place_wheel(session, wheel, space, start_us)
            wheels.begin_stage(session, wheel, "ripening", made_us)
            care.enter(session, [_turning(lived, wheel, week, place) for week in range(count)])
    return context


def forget(context: Context) -> None:
    """Take every observation out of the store, as if none had been entered."""
    with context.sessions() as session:
        numbers = [wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None]
        for row in observations.of_wheels(session, numbers):
            session.delete(row)


def start_us_of(lived: Weeks) -> int:
    """When the weeks begin, so that they end now. [µs UTC]"""
    return builders.NOW_US - len(lived.turned_d) * WEEK_MIN * MINUTE_US


def _turning(lived: Weeks, wheel: int, week: int, place: int) -> CareRecord:
    end_us = start_us_of(lived) + (week + 1) * WEEK_MIN * MINUTE_US
    turned_us = end_us - round(float(lived.turned_d[week, place]) * DAY_US)
    return CareRecord(
        touch=f"turn-{wheel}-{week}",
        work="turn",
        wheel_id=wheel,
        outcome="done",
        time_us=turned_us,
        entered_us=turned_us,
    )


def look(
    context: Context, lived: Weeks, seen: dict[Condition, bool], week: int, place: int, touch: str
) -> int:
    """Enter what was seen at the end of a week; the observation's number."""
    time_us = start_us_of(lived) + (week + 1) * WEEK_MIN * MINUTE_US
    said = [str(name) for name in (Condition.CRACKS, Condition.STICKING) if seen.get(name)]
    with context.sessions() as session:
        row = observations.enter(
            session,
            observations.NewObservation(
                touch=f"{touch}-{week}-{place}",
                wheel_id=place + 1,
                time_us=time_us,
                look=Look(
                    rind=Rind.WET if seen.get(Condition.WET_RIND) else Rind.TACKY,
                    firmness=Firmness.OOZY if seen.get(Condition.OOZY) else Firmness.GIVING,
                    smell=Scent.AMMONIA if seen.get(Condition.AMMONIA) else Scent.CELLAR,
                ),
                entered_us=time_us,
                words=", ".join(said),
            ),
        )
        number: int | None = row.id
    assert number is not None
    return number
