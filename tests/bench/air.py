"""Air functions on 100,000 states against psychrolib and CoolProp, as ratios in one run."""

import statistics
import time
from collections.abc import Callable, Iterator

import numpy as np
import psychrolib
from CoolProp import CoolProp

from service.science.air import (
    dew_point_c,
    humidity_ratio_kg_kg,
    saturation_pressure_pa,
)

STATES = 100_000
SAMPLE = 5_000
"""The yardsticks need seconds for all states; they run on this many, spread over the range."""
RUNS = 5
ATMOSPHERE_PA = 101_325.0
KELVIN = 273.15


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence with ratio and yardstick for each function measured."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    chance = np.random.default_rng(20261109)
    t = chance.uniform(2.0, 30.0, STATES)
    rh = chance.uniform(50.0, 100.0, STATES)
    few_t, few_rh = t[:: STATES // SAMPLE], rh[:: STATES // SAMPLE]
    pairs = list(zip(few_t.tolist(), (few_rh / 100).tolist(), strict=True))
    kelvin, ratio, pressure = few_t + KELVIN, few_rh / 100, np.full(SAMPLE, ATMOSPHERE_PA)

    def moist_air(key: str) -> object:
        return CoolProp.HAPropsSI(key, "T", kelvin, "R", ratio, "P", pressure)

    yield from _compare(
        "saturation pressure",
        lambda: saturation_pressure_pa(t),
        lambda: [psychrolib.GetSatVapPres(a) for a, _ in pairs],
        lambda: CoolProp.PropsSI("P", "T", kelvin, "Q", 0, "Water"),
    )
    yield from _compare(
        "dew point",
        lambda: dew_point_c(t, rh),
        lambda: [psychrolib.GetTDewPointFromRelHum(a, b) for a, b in pairs],
        lambda: moist_air("Tdp"),
    )
    yield from _compare(
        "humidity ratio",
        lambda: humidity_ratio_kg_kg(t, rh),
        lambda: [psychrolib.GetHumRatioFromRelHum(a, b, ATMOSPHERE_PA) for a, b in pairs],
        lambda: moist_air("W"),
    )


def _compare(
    label: str,
    ours: Callable[[], object],
    scalar: Callable[[], object],
    vectorised: Callable[[], object],
) -> Iterator[tuple[str, str]]:
    """One row for each yardstick: its time for a state over ours."""
    our_s = _median_s(ours) / STATES
    head = f"{our_s * STATES * 1e3:.1f} ms for {STATES:,} states"
    yardsticks = [
        (f"psychrolib in a loop over {SAMPLE:,} of them", scalar),
        (f"CoolProp with an array of {SAMPLE:,} of them", vectorised),
    ]
    for name, call in yardsticks:
        times = _median_s(call) / SAMPLE / our_s
        yield label, f"{head}, {times:,.1f} times as fast a state as {name}"


def _median_s(call: Callable[[], object]) -> float:
    """Median seconds of a call, after one to warm up."""
    call()
    seconds = []
    for _ in range(RUNS):
        started = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - started)
    return statistics.median(seconds)
