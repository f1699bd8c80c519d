"""`wheelward analyse` from files to JSON on caves whose truth is known, from two simulators.

One is that of `sensors`, the other `second_household`, which shares no line with it nor with the
science. The analysis is told what a maker knows: size, mass, composition, water activity,
weighings, a saturated-salt test. It is told no coefficient, lag or lid.
"""

import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sensors.files import write_readings
from sensors.moments import from_iso, iso
from service.analyse import analyse
from tests.bench.planted_moisture import BOX, CAVE, planted
from tests.bench.second_household import Truth, Wish, lived

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

START_US = 1_790_841_600_000_000
MINUTE_US, DAY_US = 60_000_000, 86_400_000_000
PASTE = {"water": 0.42, "fat": 0.29, "protein": 0.24, "ash": 0.035, "carbohydrate": 0.015}
RIPENING = {"reference_temperature_c": 12.0, "activation_energy_kj_per_mol": 60.0}
NEAR_MIN = 4
"""An opening is found if it is told so near to the truth. [min]"""
SALTS = {"NaCl": 75.57, "K2SO4": 98.07}
"""Greenspan 1977 at 12 °C, table 2 between its entries."""


@dataclass(frozen=True)
class Sensing:
    """How a sensor is off."""

    lag_s: float = 60.0
    noise_k: float = 0.03
    noise_pct: float = 0.2
    every_min: int = 1
    offset_pct: float = 0.0
    gain: float = 1.0


@dataclass(frozen=True)
class Case:
    """One wheel: truth by the minute, and readings of it."""

    air_c: FloatArray
    air_pct: FloatArray
    surface_c: FloatArray
    mean_c: FloatArray
    film: FloatArray
    lid_film: FloatArray | None
    grams: FloatArray
    said: tuple[FloatArray, FloatArray]
    cave_said: tuple[FloatArray, FloatArray] | None
    diameter_m: float
    height_m: float
    activity: float
    every_min: int
    openings: FloatArray | None = None


class Tally:
    """Minutes said and true, by kind, and single figures."""

    def __init__(self) -> None:
        self.minutes: dict[str, FloatArray] = {}
        self.figures: dict[str, list[float]] = {}
        self.doors = np.zeros(4)
        self.held: list[bool] = []

    def minutes_of(self, kind: str, said: BoolArray, true: BoolArray) -> None:
        """Count them."""
        counts = np.array([(said & true).sum(), said.sum(), true.sum()], dtype=np.float64)
        self.minutes[kind] = self.minutes.get(kind, np.zeros(3)) + counts

    def figure(self, kind: str, value: float) -> None:
        """Note it."""
        self.figures.setdefault(kind, []).append(value)

    def f1(self, kind: str) -> float:
        """Twice what both say over what each says."""
        both, said, true = self.minutes[kind]
        return float(2 * both / (said + true))

    def rows(self) -> Iterator[tuple[str, str]]:
        """What was counted, in words."""
        for kind, (both, said, true) in self.minutes.items():
            yield (
                kind,
                (
                    f"F1 {2 * both / (said + true):.3f}, precision {both / max(said, 1):.3f}, "
                    f"recall {both / max(true, 1):.3f}, {true / 60:.0f} h in truth"
                ),
            )
        if self.doors[1]:
            hits, planted_doors, right, seen = self.doors.astype(int).tolist()
            yield (
                "door openings",
                f"{hits} of {planted_doors} found, {seen - right} of {seen} wrong",
            )
        yield "last mass within its 90 % band", f"{sum(self.held)} of {len(self.held)} times"
        for kind, values in self.figures.items():
            size = np.abs(values)
            yield kind, f"{np.median(size):.3f} in the median, {size.max():.3f} at most"


def sensed(draw: np.random.Generator, values: FloatArray, lag_s: float, noise: float) -> FloatArray:
    """What a sensor with a lag says, by the minute."""
    share = -np.expm1(-60.0 / lag_s) if lag_s > 0 else 1.0
    felt = np.empty_like(values)
    level = values[0]
    for place, value in enumerate(values.tolist()):
        level += (value - level) * share
        felt[place] = level
    return np.round(felt + draw.normal(0, noise, felt.size), 2)


def second_cases(wish: Wish, sensing: Sensing) -> list[Case]:
    """The wheels of the second household."""
    truth: Truth = lived(wish)
    draw = np.random.default_rng([wish.seed, 1])
    # Truth is kept at each step; its minute means are what an excursion is judged by.
    means = {
        name: values.reshape(-1, 3, values.shape[1]).mean(axis=1)
        for name, values in truth.series.items()
    }
    ends = {name: values[::3] for name, values in truth.series.items()}
    cases = []
    for n in range(wish.cases):

        def pair(warm: str, damp: str, n: int = n) -> tuple[FloatArray, FloatArray]:
            said_c = sensed(draw, ends[warm][:, n], sensing.lag_s, sensing.noise_k)
            wanted = (ends[damp][:, n] - sensing.offset_pct) / sensing.gain
            said_pct = sensed(draw, wanted, sensing.lag_s / 2, sensing.noise_pct)
            return said_c, np.clip(said_pct, 0, 100)

        boxed = bool(truth.in_box[n])
        cases.append(
            Case(
                means["air_c"][:, n],
                means["air_pct"][:, n],
                ends["surface_c"][:, n],
                ends["mean_c"][:, n],
                ends["film"][:, n],
                ends["lid_film"][:, n] if boxed else None,
                ends["grams"][:, n],
                pair("air_c", "air_pct"),
                pair("cave_c", "cave_pct") if boxed else None,
                float(truth.diameter_m[n]),
                float(truth.height_m[n]),
                float(truth.activity[n]),
                sensing.every_min,
                np.array(truth.openings[n]) / 3.0,
            )
        )
    return cases


def first_cases(seeds: range) -> list[Case]:
    """The wheels of the simulator of `sensors`."""
    cases = []
    for seed in seeds:
        history = planted(seed)
        for name in (CAVE, BOX):
            config = history.wheels[name]
            truth = {key: history.truth[f"{name}.{key}"] for key in ("air_c", "humidity_pct")}
            wheel = {
                key: history.truth[f"{name}.{key}"]
                for key in ("surface_c", "mean_c", "film_g_per_m2", "wheel_g")
            }
            boxed = name == BOX
            cases.append(
                Case(
                    truth["air_c"],
                    truth["humidity_pct"],
                    wheel["surface_c"],
                    wheel["mean_c"],
                    wheel["film_g_per_m2"],
                    history.truth[f"{BOX}.lid_film_g_per_m2"] if boxed else None,
                    wheel["wheel_g"],
                    history.readings[name],
                    history.readings[CAVE] if boxed else None,
                    config.diameter_m,
                    config.height_m,
                    config.water_activity,
                    1,
                )
            )
    return cases


def told(case: Case, sensing: Sensing, folder: Path, draw: np.random.Generator) -> dict[str, Any]:
    """Write the files of a case, analyse them, and read the findings."""
    size, step = case.air_c.size, case.every_min
    times = START_US + np.arange(size) * MINUTE_US
    write_readings(folder / "air.csv", times[::step], *(one[::step] for one in case.said))
    if case.cave_said is not None:
        cave = (one[::step] for one in case.cave_said)
        write_readings(folder / "cave.csv", times[::step], *cave)
    low, high = ranges(case)
    # The second half is foretold: nobody weighs there.
    weighed = [
        {"time": iso(int(times[at])), "grams": round(float(case.grams[at] + draw.normal(0, 0.7)))}
        for at in (size // 4, size // 2)
    ]
    described = {
        "plan": None,
        "started": iso(START_US),
        "diameter_mm": 1_000 * case.diameter_m,
        "height_mm": 1_000 * case.height_m,
        "mass_g": float(case.grams[0]),
        "composition": PASTE,
        "water_activity": round(case.activity, 3),
        "initial_temperature_c": round(float(case.mean_c[0]), 1),
        "weighings": weighed,
        "ripening": RIPENING,
        "stages": [
            {
                "name": "all",
                "from": iso(START_US),
                "temperature_c": [low[0], high[0]],
                "humidity_pct": [low[1], high[1]],
            }
        ],
    }
    (folder / "wheel.json").write_text(json.dumps(described), encoding="utf-8")
    salts = []
    if (sensing.offset_pct, sensing.gain) != (0.0, 1.0):
        for salt, level in SALTS.items():
            salts.append((salt, folder / f"{salt}.csv"))
            bag(folder / f"{salt}.csv", (level - sensing.offset_pct) / sensing.gain, draw)
    analyse(
        folder / "air.csv",
        folder / "wheel.json",
        folder / "cave.csv" if case.cave_said is not None else None,
        salts,
        folder / "out.json",
    )
    found: dict[str, Any] = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    return found


def bag(path: Path, level: float, draw: np.random.Generator) -> None:
    """Eight hours of a sensor over a salt at 12 °C, from the air of a cave."""
    minutes = np.arange(480)
    said = level + (86.0 - level) * np.exp(-minutes / 40.0) + draw.normal(0, 0.1, 480)
    write_readings(
        path, START_US - DAY_US + minutes * MINUTE_US, np.full(480, 12.0), np.round(said, 2)
    )


def ranges(case: Case) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ranges that the air leaves now and then, lows and highs of temperature and humidity."""
    low_c, high_c = np.quantile(case.air_c, (0.1, 0.85)).round(1).tolist()
    low_pct, high_pct = np.quantile(case.air_pct, (0.15, 0.9)).round(1).tolist()
    return (low_c, low_pct), (high_c, max(high_pct, low_pct + 1))


def spells(mask: BoolArray, shortest: int, bridged: int) -> BoolArray:
    """The minutes of runs no shorter than this, after breaks shorter than that are closed."""
    mask = mask.copy()
    for value, least in ((False, bridged), (True, shortest)):
        edges = np.flatnonzero(np.diff(mask.astype(int))) + 1
        ends = [0, *edges.tolist(), mask.size]
        for first, last in pairwise(ends):
            if mask[first] == value and last - first < least and (value or first > 0):
                mask[first:last] = not value
    return mask


def wet(film: FloatArray, thick: float, peak: float) -> BoolArray:
    """Minutes of sweat by the contract, from the true film."""
    mask = spells(film >= thick, 0, 10)
    edges = np.flatnonzero(np.diff(mask.astype(int), prepend=0, append=0))
    for first, last in edges.reshape(-1, 2).tolist():
        if film[first:last].max() < peak:
            mask[first:last] = False
    return mask


def minutes(found: list[dict[str, Any]], size: int) -> BoolArray:
    """The minutes within spells of the findings."""
    mask = np.zeros(size, dtype=bool)
    for spell in found:
        first, last = (
            round((from_iso(spell[end]) - START_US) / MINUTE_US) for end in ("from", "to")
        )
        mask[max(first, 0) : last] = True
    return mask


def count(tally: Tally, case: Case, found: dict[str, Any]) -> None:
    """Compare the findings with the truth."""
    size = case.air_c.size
    low, high = ranges(case)
    for place, (quantity, air) in enumerate(
        (("temperature", case.air_c), ("humidity", case.air_pct))
    ):
        for direction, outside in (("below", air < low[place]), ("above", air > high[place])):
            mine = [
                one
                for one in found["excursions"]
                if one["quantity"] == quantity and one["direction"] == direction
            ]
            tally.minutes_of(
                f"excursions of {quantity}", minutes(mine, size), spells(outside, 10, 0)
            )
    for surface, film, rule in (
        ("wheel", case.film, (0.5, 1.0)),
        ("lid", case.lid_film, (0.2, 0.5)),
    ):
        if film is not None:
            mine = [one for one in found["condensation"] if one["surface"] == surface]
            tally.minutes_of(f"sweat on the {surface}", minutes(mine, size), wet(film, *rule))
    rows = found["wheel_temperature"]
    at = [round((from_iso(row["time"]) - START_US) / MINUTE_US) for row in rows]
    off = np.array([row["surface_c"] for row in rows]) - case.surface_c[at]
    tally.figure("surface temperature, RMS [K]", float(np.sqrt(np.mean(off**2))))
    last = found["mass"][-1]
    tally.held.append(bool(last["low"] <= case.grams[-1] <= last["high"]))
    lost = case.grams[0] - case.grams[-1]
    said = found["mass"][0]["grams"] - last["grams"]
    tally.figure("loss of weight, off [g]", said - lost)
    if lost > 20:
        tally.figure("loss of weight above 20 g, off by a share of", said / lost - 1)
    factor = np.exp(60_000 / 8.314462618 * (1 / (12 + 273.15) - 1 / (case.mean_c + 273.15)))
    tally.figure(
        "equivalent age, off by a share of",
        found["equivalent_age_days"] / (factor.sum() / 1_440) - 1,
    )
    if case.openings is not None:
        seen = [(from_iso(one) - START_US) / MINUTE_US for one in found["door_openings"]]
        tally.doors += np.array(
            [
                sum(any(abs(one - true) <= NEAR_MIN for one in seen) for true in case.openings),
                case.openings.size,
                sum(any(abs(one - true) <= NEAR_MIN for true in case.openings) for one in seen),
                len(seen),
            ]
        )


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence with figures for each thing planted."""
    plans: list[tuple[str, list[Case], Sensing]] = []
    sensing = Sensing(offset_pct=2.5, gain=0.97)
    plans.append(("second household", second_cases(Wish(), sensing), sensing))
    plans.append(("simulator", first_cases(range(900, 903)), Sensing()))
    for name, cases, how in plans:
        tally = Tally()
        draw = np.random.default_rng(5)
        with tempfile.TemporaryDirectory() as place:
            for case in cases:
                found = told(case, how, Path(place), draw)
                count(tally, case, found)
                if how != Sensing():
                    fix = found["humidity_correction"]
                    at_90 = fix["offset_pct"] + fix["gain"] * (90 - how.offset_pct) / how.gain
                    tally.figure("humidity at 90 %, off [%RH]", at_90 - 90)
        for label, words in tally.rows():
            yield f"{name}, {label}", words
