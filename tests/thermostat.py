"""A second cave for the tests, written apart from the simulator: thermostat and mixed air.

First-order everywhere: contents drift to the room, a compressor pulls them down, the air above
them forgets a visit, vapour comes from a source and goes to the plate and through the leak.
It shares no line with `sensors.simulation`, so that nothing is tuned to one of the two.
"""

import math
from dataclasses import dataclass

import numpy as np

from service.science.signals import BoolArray, FloatArray, IntArray

START_US = 1_785_715_200_000_000
STEP_S = 10.0
DAY_S = 86_400.0


@dataclass(frozen=True)
class Told:
    """What the sensor says and what was planted."""

    times_us: IntArray
    temperature_c: FloatArray
    humidity_pct: FloatArray
    openings_us: IntArray
    period_s: float
    duty: float
    vapour_time_s: float
    air_changes_per_h: float


@dataclass(frozen=True)
class Plan:
    """How the cave is driven; the rest is drawn from the seed."""

    days: int = 8
    visits_a_day: float = 3.0
    every_s: int = 60
    resolution: float = 0.01
    noise_k: float = 0.02
    noise_pct: float = 0.15
    room_swing_k: float = 1.0
    dry_from_day: float = math.inf
    faults: bool = True


def live(seed: int, plan: Plan = Plan()) -> Told:
    """Live through some days and read the sensor."""
    draw = np.random.default_rng(seed)
    steps = int(plan.days * DAY_S / STEP_S)
    middle, band = draw.uniform(7, 13), draw.uniform(0.3, 0.7)
    room_c, room_pct = draw.uniform(middle + 5, 25), draw.uniform(40, 70)
    drift_s = draw.uniform(2_500, 8_000)
    pull = (room_c - middle) / drift_s / draw.uniform(0.2, 0.5)
    forget_s = draw.uniform(100, 600)
    leak = draw.uniform(0.2, 1.0) / 3_600
    surfaces = 1 / draw.uniform(300, 3_000)
    source = draw.uniform(0.85, 0.97)
    lags = np.exp(-STEP_S / np.array([draw.uniform(20, 200), draw.uniform(15, 120)]))
    visits_s, opened = _visits(draw, plan, steps)
    rows, on = np.empty((steps, 2)), np.zeros(steps, dtype=np.bool_)
    body, extra, coil, probe, cooling = middle, 0.0, 0.0, middle, False
    vapour = source * _saturated(middle)
    felt = np.array([middle, 100 * source])
    for step in range(steps):
        day = step * STEP_S / DAY_S
        outside_c = room_c + plan.room_swing_k * math.cos(2 * math.pi * (day - 0.6))
        outside_pa = 0.01 * room_pct * _saturated(outside_c)
        coil += ((pull if cooling else 0.0) - coil) * STEP_S / 120
        body += ((outside_c - body) / drift_s - coil) * STEP_S
        if opened[step]:
            share = 1 - math.exp(-STEP_S / 30)
            extra += (outside_c - body - extra) * share
            vapour += (outside_pa - vapour) * share
        else:
            extra -= extra * STEP_S / forget_s
        air, full = body + extra, _saturated(body)
        wet = source - 0.06 * min(max(day - plan.dry_from_day, 0.0), 4.0)
        flow = leak * (outside_pa - vapour) + surfaces * (wet * full - vapour)
        flow -= surfaces * (vapour - 0.8 * full) if cooling else 0.0
        vapour = min(vapour + flow * STEP_S, _saturated(air))
        probe += (air - probe) * STEP_S / 100
        cooling = probe > middle + band or (cooling and probe >= middle - band)
        felt = felt * lags + np.array([air, 100 * vapour / _saturated(air)]) * (1 - lags)
        rows[step], on[step] = felt, cooling
    starts = np.flatnonzero(on[1:] & ~on[:-1])
    duty = float(on[starts[0] : starts[-1]].mean())
    return _read(
        draw,
        plan,
        rows,
        START_US + (visits_s * 1e6).astype(np.int64),
        period_s=float(np.median(np.diff(starts)) * STEP_S),
        duty=duty,
        vapour_time_s=1 / (leak + surfaces * (1 + duty)),
        air_changes_per_h=3_600 * leak,
    )


def _visits(draw: np.random.Generator, plan: Plan, steps: int) -> tuple[FloatArray, BoolArray]:
    """When the door is opened, half an hour apart at least, and the steps in which it is."""
    drawn = [
        day * DAY_S + 3_600 * draw.uniform(7, 22.5, draw.poisson(plan.visits_a_day))
        for day in range(plan.days)
    ]
    visits = np.sort(np.concatenate(drawn))
    visits = visits[np.diff(visits, prepend=-1e9) > 1_800]
    opened = np.zeros(steps, dtype=np.bool_)
    for start_s, long_s in zip(visits, draw.uniform(15, 90, visits.size), strict=True):
        opened[int(start_s / STEP_S) : int((start_s + long_s) / STEP_S) + 1] = True
    return visits, opened


def _read(
    draw: np.random.Generator,
    plan: Plan,
    rows: FloatArray,
    openings_us: IntArray,
    **truth: float,
) -> Told:
    """Sample with jitter and noise; plant lone glitches, lost readings and one silence."""
    at = np.arange(0, rows.shape[0], int(plan.every_s / STEP_S))
    times = START_US + (at * STEP_S * 1e6).astype(np.int64)
    times += draw.integers(0, 5_000_000, at.size)
    read = rows[at] + draw.normal(0, (plan.noise_k, plan.noise_pct), (at.size, 2))
    if plan.faults:
        lone = draw.choice(at.size, plan.days, replace=False)
        read[lone[::2], 0] += draw.uniform(2, 6, lone[::2].size)
        read[lone[1::2], 1] -= draw.uniform(5, 20, lone[1::2].size)
        kept = draw.random(at.size) > 0.01
        silent = draw.integers(0, at.size - at.size // 20)
        kept[silent : silent + at.size // 50] = False
        times, read = times[kept], read[kept]
        near = np.array([np.abs(times - visit).min() < 2e6 * plan.every_s for visit in openings_us])
        openings_us = openings_us[near.astype(np.bool_)]
    read = np.round(read / plan.resolution) * plan.resolution
    read[:, 1] = np.clip(read[:, 1], 0, 100)
    return Told(times, read[:, 0].copy(), read[:, 1].copy(), openings_us, **truth)


def _saturated(temperature_c: float) -> float:
    """Saturation pressure [Pa]: Buck 1981, from memory; neither the service's nor the
    simulator's formula."""
    return 611.21 * math.exp(
        (18.678 - temperature_c / 234.5) * temperature_c / (257.14 + temperature_c)
    )
