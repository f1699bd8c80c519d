"""Ten weeks of a wheel at one reading a minute: time and memory against other ways to do it.

The yardsticks work on a part of the history and are scaled up: both go through time step by step,
so their cost grows with its length.
"""

import itertools
import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
from scipy import sparse  # type: ignore[import-untyped]  # scipy ships no types
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]  # scipy ships no types
from scipy.sparse.linalg import splu  # type: ignore[import-untyped]  # scipy ships no types

from service.science.conduction import Exposure, respond
from service.science.signals import US_PER_S
from service.science.solid import Cylinder, Transfer

Array = npt.NDArray[np.float64]

READINGS = 10 * 7 * 24 * 60
WHEEL = Cylinder(0.19, 0.075, 0.37, 920.0, 2900.0)
FILM_W_M2_K = 7.0
DAYS, DAY = 56, 24 * 6
RINGS, LAYERS = 10, 16
IMPLICIT_STEPS, ADAPTIVE_STEPS = 2_000, 240
RUNS = 5
MEGABYTE = 1e6


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence with ratio and yardstick for each way of spacing the readings."""
    chance = np.random.default_rng(20261125)
    even_us = np.arange(READINGS, dtype=np.int64) * 60 * US_PER_S
    phase = even_us / US_PER_S / 2_400
    air_c = 10 + np.sin(2 * np.pi * phase) + chance.normal(0, 0.05, READINGS)
    system, drive = _rings()
    implicit_s = _median_s(lambda: _implicit(system, drive, air_c[:IMPLICIT_STEPS]))
    implicit_s *= READINGS / IMPLICIT_STEPS
    adaptive_s = _median_s(lambda: _adaptive(system, drive, air_c[:ADAPTIVE_STEPS]), runs=1)
    adaptive_s *= READINGS / ADAPTIVE_STEPS
    spacings = {
        "even": even_us,
        "off by whole seconds": even_us + chance.integers(-9, 10, READINGS) * US_PER_S,
        "off by microseconds": even_us + chance.integers(-9_000_000, 9_000_000, READINGS),
    }
    for name, times_us in spacings.items():
        ours_s, results, extra = _measured(times_us, air_c)
        yield (
            f"wheel, ten weeks, readings {name}",
            (
                f"{ours_s * 1e3:.0f} ms for {READINGS:,} readings (goal 50), "
                f"{implicit_s / ours_s:,.0f} times as fast as implicit steps of a finite-volume "
                f"wheel of {RINGS * LAYERS} rings, {adaptive_s / ours_s:,.0f} times as fast as "
                f"scipy's solve_ivp (BDF) on it; peak memory {extra:.1f} MB (goal 10), "
                f"of which {results:.1f} MB are the results"
            ),
        )

    yield (
        "wheel, eight weeks of means over ten minutes, moved each week",
        f"{_moves():.2f} times the processor time of the same air in one stay",
    )


def _moves() -> float:
    """Processor time of a history cut into eight stays over that of the same in one."""
    times_us = np.arange(DAYS * DAY, dtype=np.int64) * 600 * US_PER_S
    air_c = 10 + np.sin(times_us / US_PER_S / 2_400)
    films = itertools.cycle((FILM_W_M2_K, 0.6 * FILM_W_M2_K))
    weeks = [
        Exposure(times_us[first : first + 7 * DAY], air_c[first : first + 7 * DAY], transfer)
        for first, transfer in zip(
            range(0, times_us.size, 7 * DAY), map(Transfer.uniform, films), strict=False
        )
    ]
    whole = [Exposure(times_us, air_c, Transfer.uniform(FILM_W_M2_K))]
    moved_s = _median_s(lambda: respond(WHEEL, weeks, 12.0))
    return moved_s / _median_s(lambda: respond(WHEEL, whole, 12.0))


def _measured(times_us: npt.NDArray[np.int64], air_c: Array) -> tuple[float, float, float]:
    """Median seconds; megabytes of the results and at the peak."""
    stay = [Exposure(np.sort(times_us), air_c, Transfer.uniform(FILM_W_M2_K))]
    seconds = _median_s(lambda: respond(WHEEL, stay, 12.0))
    tracemalloc.start()
    kept = respond(WHEEL, stay, 12.0)
    held, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert kept.surface_c.size == READINGS
    return seconds, held / MEGABYTE, peak / MEGABYTE


def _rings() -> tuple[sparse.csc_array, Array]:
    """Flow of heat among even rings, and from the air: dT/dt = system T + drive air."""
    radius, k = 0.5 * WHEEL.diameter_m, WHEEL.conductivity_w_m_k
    dr, dz = radius / RINGS, WHEEL.height_m / LAYERS
    r = np.linspace(0, radius, RINGS + 1)
    across = np.diag(r[1:-1] / dr, 1) + np.diag(r[1:-1] / dr, -1)
    skin_r = radius / (k / FILM_W_M2_K + dr / 2) * np.eye(RINGS)[-1]
    across -= np.diag(across.sum(axis=1) + skin_r)
    across /= (0.5 * np.diff(r**2))[:, None]
    along = np.diag(np.full(LAYERS - 1, 1 / dz), 1) + np.diag(np.full(LAYERS - 1, 1 / dz), -1)
    ends = np.eye(LAYERS)[0] + np.eye(LAYERS)[-1]
    skin_z = ends / (k / FILM_W_M2_K + dz / 2)
    along = (along - np.diag(along.sum(axis=1) + skin_z)) / dz
    both = np.kron(across, np.eye(LAYERS)) + np.kron(np.eye(RINGS), along)
    system = WHEEL.diffusivity_m2_s * both
    return sparse.csc_array(system), -system.sum(axis=1)


def _implicit(system: sparse.csc_array, drive: Array, air_c: Array) -> Array:
    """The trapezoidal rule, a minute a step."""
    unit = sparse.identity(drive.size, format="csc")
    solve, half = splu(unit - 30 * system).solve, unit + 30 * system
    cells_c = np.full(drive.size, 12.0)
    for before_c, after_c in itertools.pairwise(air_c):
        cells_c = solve(half @ cells_c + 30 * drive * (before_c + after_c))
    return cells_c


def _adaptive(system: sparse.csc_array, drive: Array, air_c: Array) -> Array:
    """Scipy's stiff solver, air straight between the minutes."""
    minutes = np.arange(air_c.size) * 60.0
    answer = solve_ivp(
        lambda t, cells_c: system @ cells_c + drive * np.interp(t, minutes, air_c),
        (0.0, minutes[-1]),
        np.full(drive.size, 12.0),
        method="BDF",
        jac=system,
        max_step=60.0,
    )
    final: Array = answer.y[:, -1]
    return final


def _median_s(call: Callable[[], object], runs: int = RUNS) -> float:
    """Median seconds of the processor, all threads counted, after one call to warm up.

    So what else the machine does counts little, and a core that only waits for another counts.
    """
    call()
    seconds = []
    for _ in range(runs):
        started = time.process_time()
        call()
        seconds.append(time.process_time() - started)
    return statistics.median(seconds)
