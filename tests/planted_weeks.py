"""Weeks of cave air with planted trouble, and wheels whose condition one of the troubles drives.

Each space has its own weeks; in each week by chance a dry spell, a damp spell, cold nights
followed by warm damp hours (a wheel that is still cold then sweats), warm days, and visits.
The truth of a wheel's wetness is that of the simulator's wheel, whose physics is its own.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sensors.simulation.air import saturation_pressure_pa
from sensors.simulation.wheels import Wheels, WheelsConfig
from service.ageing.lookback import Feature
from service.ageing.noted import Condition

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
    Condition.SLIME: Feature.TOO_DAMP,
    Condition.DRY_RIND: Feature.OPENINGS,
    Condition.FOUL_SMELL: Feature.TEMPERATURE,
}
"""What drives each condition here: our choice, and no knowledge of cheese."""
SIZE = (190.0, 75.0, 1_950.0)


@dataclass(frozen=True)
class Weeks:
    """Minutes of air of each space, and what each condition's driver was in each week.

    Attributes:
        air_c: A row a minute, a column a space. [°C]
        humidity_pct: The same. [%RH]
        turned_d: Days between the last turning and the end of the week, a row a week. [d]
        drivers: A row a week, a column a space. [h, d, 1 or °C]
    """

    air_c: FloatArray
    humidity_pct: FloatArray
    turned_d: FloatArray
    drivers: dict[Condition, FloatArray]


def weeks(seed: int, spaces: int = 4, count: int = 7, warm_by_k: float = 4.0) -> Weeks:
    """Draw the weeks of some spaces.

    Args:
        seed: Of everything that is drawn.
        spaces: How many.
        count: Weeks.
        warm_by_k: How much warmer the warm days are; without, no limit of warmth is passed. [K]
    """
    draw = np.random.default_rng(seed)
    columns = [_space(draw, count, warm_by_k) for _ in range(spaces)]
    air_c, humidity, openings = (np.column_stack(each) for each in zip(*columns, strict=True))
    wet_h = np.column_stack([_true_wet_h(*each[:2], count) for each in columns])
    turned_d = draw.uniform(0.2, 6.8, (count, spaces))
    drivers = drivers_of(air_c, humidity, wet_h, turned_d, openings)
    return Weeks(air_c, humidity, turned_d, drivers)


def drivers_of(
    air_c: FloatArray,
    humidity: FloatArray,
    wet_h: FloatArray,
    turned_d: FloatArray,
    openings: FloatArray,
) -> dict[Condition, FloatArray]:
    """What drives each condition: the true air by minute, and the rest by week."""
    by_week = (len(turned_d), WEEK_MIN, turned_d.shape[1])
    # The plan asks of the air, not of a minute of its cooling cycle.
    calm_c, calm_pct = _calm(air_c), _calm(humidity)
    return {
        Condition.WET_RIND: wet_h,
        Condition.CRACKS: (calm_pct < LOW_PCT).reshape(by_week).sum(1) / 60,
        Condition.STICKING: turned_d,
        Condition.OOZY: (calm_c > HIGH_C).reshape(by_week).sum(1) / 60,
        Condition.SLIME: (calm_pct > HIGH_PCT).reshape(by_week).sum(1) / 60,
        Condition.DRY_RIND: openings,
        Condition.FOUL_SMELL: air_c.reshape(by_week).mean(1),
    }


def _space(
    draw: np.random.Generator, count: int, warm_by_k: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The air of one space by minute, and its openings by week. [°C, %RH, 1]"""
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
            _add(warm, first, draw, (6, 40), warm_by_k)
        for _ in range(int(draw.integers(1, 6)) if draw.uniform() < 0.6 else 0):
            _sweat(warm, damp, first + int(draw.uniform(0.02, 0.88) * WEEK_MIN), draw)
    air_c = warm + 0.35 * swing + draw.normal(0, 0.012, size)
    humidity = damp - 1.2 * swing + draw.normal(0, 0.1, size)
    openings = np.zeros(count)
    for week in range(count):
        openings[week] = draw.integers(2, 15)
        for _ in range(int(openings[week])):
            _visit(air_c, humidity, week * WEEK_MIN + int(draw.uniform(0, WEEK_MIN)), draw)
    return air_c, np.clip(humidity, 30.0, 99.5), openings


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


def seen_of(
    driver: FloatArray, draw: np.random.Generator, exceptions: float | None = 0.05
) -> npt.NDArray[np.bool_]:
    """What is seen where a driver makes it likely.

    Args:
        driver: Hours, days, a count or a temperature.
        draw: Draws the exceptions.
        exceptions: Their share on either side of half; with None the likelihood rises slowly
            from 4 to 96 in 100, and about one look in seven is an exception.
    """
    some = driver[driver > 0]
    half = float(np.median(driver)) or 0.5 * float(np.median(some))
    if exceptions is None:
        spread = float(np.mean(np.abs(driver - half)))
        chance = 0.04 + 0.92 / (1 + np.exp(-4 * (driver - half) / spread))
    else:
        chance = np.where(driver > half, 1 - exceptions, exceptions)
    return draw.uniform(size=driver.shape) < chance
