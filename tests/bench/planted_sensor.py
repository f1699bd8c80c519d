"""Faults planted in sensors, and how well they are found: salts, spikes, stuck, wet, lag.

The generators here share no code with the product but the salts' published values, and the
openings, cycles and cooling of the simulated caves come from `sample_readings`.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sensors.files import read_readings
from service.science.correction import Comparison, correction_from
from service.science.glitches import spikes
from service.science.lag import fastest_recovery, moved_back
from service.science.plateau import Plateau, find_plateau
from service.science.salts import Salt, salt_humidity_pct
from service.science.sensor_truth import Fault, findings

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
Series = tuple[IntArray, FloatArray, FloatArray]

SAMPLES = Path(__file__).resolve().parents[2] / "sample_readings"
SEEDS = 25
DAY = 1_440
STEP_S = 10.0


@dataclass(frozen=True)
class Bag:
    """A saturated-salt test as it may go; hours, %RH and °C."""

    hours: float = 8.0
    time_constant_h: float = 0.7
    before_h: float = 0.3
    before_pct: float = 88.0
    after_h: float = 0.0
    after_pct: float = 60.0
    interval_s: float = 60.0
    noise_pct: float = 0.1
    step_pct: float = 0.1
    temperature_c: float = 12.0
    swing_k: float = 0.0
    swing_felt: float = 0.0
    drift_k: float = 0.0
    spikes: int = 3


def salt_test(
    seed: int, salt: Salt, offset_pct: float = 0.0, gain: float = 1.0, bag: Bag | None = None
) -> Series:
    """What a sensor says whose truth is offset + gain times reading."""
    bag = bag or Bag()
    chance = np.random.default_rng(seed)
    hours = np.arange(0.0, bag.before_h + bag.hours + bag.after_h, STEP_S / 3600.0)
    warm = bag.temperature_c + bag.swing_k * np.sin(2 * np.pi * hours * 3600 / 2400)
    warm += bag.drift_k * hours / hours[-1]
    target = salt_humidity_pct(salt, warm)
    # Air warmed faster than the slurry gives vapour dries by 5.5 % of its humidity a kelvin.
    felt = np.diff(warm, prepend=warm[0]) * 5.5 * bag.swing_felt
    share = STEP_S / 3600.0 / bag.time_constant_h
    air, seen, said = bag.before_pct, bag.before_pct, []
    for hour, salty, dried in zip(hours.tolist(), target.tolist(), felt.tolist(), strict=True):
        if bag.before_h <= hour < bag.before_h + bag.hours:
            air += (salty - air) * share - dried
        elif hour >= bag.before_h + bag.hours:
            air += (bag.after_pct - air) * STEP_S / 120.0
        seen += (air - seen) * STEP_S / 45.0
        said.append(seen)
    at_h = np.arange(0.0, float(hours[-1]), bag.interval_s / 3600.0)
    at_h += chance.uniform(0.0, 0.1, at_h.size) * bag.interval_s / 3600.0
    raw = (np.interp(at_h, hours, said) - offset_pct) / gain
    raw += chance.normal(0.0, bag.noise_pct, at_h.size)
    where = chance.integers(0, at_h.size, bag.spikes)
    raw[where] += chance.choice([-1, 1], bag.spikes) * chance.uniform(5, 20, bag.spikes)
    read_c = np.interp(at_h, hours, warm) + chance.normal(0.0, 0.02, at_h.size)
    humidity = np.clip(np.round(raw / bag.step_pct) * bag.step_pct, 0.0, 100.0)
    return (at_h * 3.6e9).astype(np.int64), read_c.round(2), humidity


BAGS = {
    "on a shelf, 8 h": Bag(),
    "small sensor, 2 h": Bag(hours=2.0, time_constant_h=0.1),
    "slow bag, 24 h": Bag(hours=24.0, time_constant_h=3.0),
    "from a room at 45 %RH": Bag(before_pct=45.0, before_h=0.0),
    "in a cycling fridge": Bag(swing_k=0.6, swing_felt=0.7),
    "warming by 6 K": Bag(drift_k=6.0),
    "six hours in the cave first, opened at the end": Bag(before_h=6.0, after_h=1.0),
    "every 5 min": Bag(interval_s=300.0),
    "whole percents": Bag(step_pct=1.0, noise_pct=0.2),
    "broken off after 1.5 time constants": Bag(hours=1.5, time_constant_h=1.0),
}


@lru_cache
def _whole(name: str) -> Series:
    file = read_readings(SAMPLES / f"{name}.csv")
    return file.times_us, file.temperature_c, file.humidity_pct


def minutes(name: str, days: int) -> Series:
    """The first days of a simulated cave, read each minute, openings and cycles in it."""
    times, warm, damp = _whole(name)
    part = slice(0, days * DAY)
    return times[part].copy(), warm[part].copy(), damp[part].copy()


def cave_with_openings(seed: int, lag_s: float, interval_s: float) -> tuple[FloatArray, ...]:
    """Times [s], what a lagging thermometer says, the true air at those times, openings [s]."""
    chance = np.random.default_rng(seed)
    seconds = np.arange(0.0, 4 * 86_400.0, 5.0)
    air = 10.0 + 0.5 * np.sin(2 * np.pi * seconds / 2100)
    openings = np.sort(chance.uniform(3600, seconds[-1] - 3600, 25))
    for opening in openings.tolist():
        length, rise = chance.uniform(30, 90), chance.uniform(2, 6)
        back_s = float(np.exp(chance.uniform(np.log(10), np.log(600))))
        since = seconds - opening
        inside = (since >= 0) & (since < length)
        air[inside] += rise * -np.expm1(-since[inside] / 20)
        after = since >= length
        air[after] += rise * -np.expm1(-length / 20) * np.exp(-(since[after] - length) / back_s)
    seen, said = float(air[0]), []
    for value in air.tolist():
        seen += (value - seen) * -np.expm1(-5.0 / lag_s)
        said.append(seen)
    at_s = np.arange(0.0, seconds[-1] - interval_s, interval_s)
    at_s += chance.uniform(0.0, 0.05 * interval_s, at_s.size)
    read = np.interp(at_s, seconds, said) + chance.normal(0.0, 0.012, at_s.size)
    return at_s, read.round(2), np.interp(at_s, seconds, air), openings


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence for everything planted."""
    yield from _plateaus()
    yield from _corrections()
    yield from _spikes()
    yield from _stretches()
    yield from _lags()


def _plateaus() -> Iterator[tuple[str, str]]:
    for label, bag in BAGS.items():
        errors, sure, states = [], [], Counter[str]()
        for seed in range(SEEDS):
            offset = float(np.random.default_rng(1000 + seed).uniform(-4, 4))
            test = find_plateau(
                *salt_test(seed, Salt.SODIUM_CHLORIDE, offset, bag=bag), Salt.SODIUM_CHLORIDE
            )
            states[test.state.value] += 1
            if test.difference_pct is not None:
                errors.append(abs(test.difference_pct + offset))
                sure.append(test.difference_uncertainty_pct or 0.0)
        told = ", ".join(f"{count} {state}" for state, count in states.items())
        yield (
            f"salt plateau, {label}",
            (
                f"{told}; offset off by {np.mean(errors):.2f} %RH on average, "
                f"{max(errors):.2f} at most, said ±{np.mean(sure):.2f}"
            ),
        )


def _corrections() -> Iterator[tuple[str, str]]:
    fridge = Bag(swing_k=0.6, swing_felt=0.7, after_h=0.5)
    for salts in ((Salt.SODIUM_CHLORIDE,), (Salt.SODIUM_CHLORIDE, Salt.POTASSIUM_CHLORIDE)):
        for spread in (0.0, 0.03):
            errors, shares = [], []
            for seed in range(SEEDS):
                chance = np.random.default_rng(2000 + seed)
                offset, gain = float(chance.uniform(-4, 4)), float(1 + chance.normal(0, spread))
                tests = [find_plateau(*salt_test(seed, s, offset, gain, fridge), s) for s in salts]
                found = correction_from(_compared(tests))
                raw = (90.0 - offset) / gain
                error = abs(found.corrected_pct(raw) - 90.0)
                errors.append(error)
                shares.append(error / found.standard_uncertainty_pct(raw))
            names = " and ".join(salt.value for salt in salts)
            yield (
                f"salt correction, {names}, gain 1 ± {spread:g}",
                (
                    f"at 90 %RH off by {np.mean(errors):.2f} %RH on average, "
                    f"{max(errors):.2f} at most, "
                    f"{max(shares):.1f} of the said standard uncertainty at most"
                ),
            )


def _compared(tests: list[Plateau]) -> list[Comparison]:
    return [c for test in tests if (c := test.comparison()) is not None]


def _spikes() -> Iterator[tuple[str, str]]:
    for name in ("cave", "blue-box", "kitchen-fridge"):
        times, warm, damp = minutes(name, 14)
        found = planted = false = 0
        for seed in range(5):
            chance = np.random.default_rng(seed)
            where = chance.choice(np.arange(5, times.size - 5), 60, replace=False)
            sign = chance.choice([-1, 1], 60)
            t, h = warm.copy(), damp.copy()
            t[where[:30]] += (sign * chance.uniform(2, 20, 60))[:30]
            h[where[30:]] = np.clip((h[where] + sign * chance.uniform(5, 40, 60))[30:], 0, 100)
            real = where[(np.abs(t - warm) + np.abs(h - damp))[where] > 3]
            flagged = np.flatnonzero(np.logical_or(*spikes(times, t, h, 300.0)))
            planted += real.size
            found += np.isin(real, flagged).sum()
            false += flagged.size - np.isin(flagged, where).sum()
        yield (
            f"spikes in {name}, 14 days",
            (
                f"recall {found / planted:.3f}, precision {found / (found + false):.3f} "
                f"of {planted} planted over 5 seeds"
            ),
        )


def _stretches() -> Iterator[tuple[str, str]]:
    times, warm, damp = minutes("cave", 14)
    for fault in (Fault.STUCK_HUMIDITY, Fault.STUCK_TEMPERATURE, Fault.SATURATED, Fault.GAP):
        for step in (0.01, 0.1):
            hit = planted = false = 0
            for seed in range(10):
                chance = np.random.default_rng(seed)
                at, length = int(chance.integers(500, 15_000)), int(chance.integers(180, 1_500))
                t, h = np.round(warm / step) * step, np.round(damp / step) * step
                kept = np.ones(t.size, dtype=bool)
                part = slice(at, at + length)
                if fault is Fault.STUCK_HUMIDITY:
                    h[part] = h[at]
                elif fault is Fault.STUCK_TEMPERATURE:
                    t[part] = t[at]
                elif fault is Fault.SATURATED:
                    h[part] = 100.0
                else:
                    kept[part] = False
                said = findings(times[kept], t[kept], h[kept], 300.0)
                # A soaked sensor is rightly suspected of creep as well.
                inside = [
                    f.fault is fault and abs(f.from_us - int(times[at])) <= 120_000_000
                    for f in said
                    if f.fault is not Fault.CREEP
                ]
                planted += 1
                hit += any(inside)
                false += len(inside) - sum(inside)
            yield (
                f"{fault.value}, 3 to 25 h, steps of {step:g}",
                f"{hit} of {planted} found, {false} false in {planted * 14} days",
            )


def _lags() -> Iterator[tuple[str, str]]:
    for lag_s in (30.0, 90.0, 180.0):
        for interval_s in (20.0, 60.0):
            before, after, bounds = [], [], []
            for seed in range(5):
                at_s, read, air, openings = cave_with_openings(seed, lag_s, interval_s)
                times = (at_s * 1e6).astype(np.int64)
                back = moved_back(times, read, lag_s, longest_s=300.0, most_noise=0.1)
                before.append(float(np.sqrt(np.mean((read - air) ** 2))))
                after.append(float(np.sqrt(np.mean((back - air) ** 2))))
                opened = (openings * 1e6).astype(np.int64)
                bound = fastest_recovery(times, read, opened).time_constant_s
                bounds.append(float("nan") if bound is None else bound)
            yield (
                f"lag of {lag_s:g} s, read every {interval_s:g} s",
                (
                    f"RMS {np.mean(before):.3f} K as read, {np.mean(after):.3f} K moved back; "
                    f"fastest recovery {min(bounds):.0f} to {max(bounds):.0f} s"
                ),
            )
