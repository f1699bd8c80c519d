"""What weighings say of everything that is unknown about a wheel's loss.

Coefficient, the mismatch of water activity and humidity, and the first mass are set out on a
grid; each point is weighed by the prior and by how well the weighings agree with it. What
comes out are equally likely worlds, from which `weight` reads its bands.
"""

import math
from dataclasses import dataclass

import numpy as np

from service.science.air import FloatArray
from service.science.loss_table import LossTable
from service.science.signals import IntArray
from service.science.transfer import Coefficient

WEIGHING_SD_G = 1.5
"""Standard deviation of a weighing on a kitchen scale. [g] Our choice: it shows whole grams."""
HEAVY_TAIL = 3.0
"""Degrees of freedom of Student's t for the errors of weighings. [1] Our choice: low enough
that a weighing of the wrong wheel is soon left alone."""

_WORLDS = 400
_REACH = 4.0
_ROUNDS = 3
_POINTS = {1: 161, 2: 41}
_LOCATION_STEPS = 12
_TAIL_WEIGHT = 1e-5
_SEPARABLE_SD = 3.0


@dataclass(frozen=True, slots=True)
class Weighing:
    """A wheel on the scale, wiped dry.

    Attributes:
        time_us: When. [µs UTC]
        grams: What the scale said. [g]
        sd_g: How far it is usually off. [g] Above 0.
    """

    time_us: int
    grams: float
    sd_g: float = WEIGHING_SD_G


@dataclass(frozen=True, slots=True)
class Worlds:
    """Equally likely settings of everything unknown, one row each.

    Attributes:
        log_k: Logarithm of the coefficient of each space.
        unknown: Number of the disturbance.
        start_g: Mass at the table's first instant. [g]
        start_sd_g: Its standard error in that world. [g]
    """

    log_k: FloatArray
    unknown: IntArray
    start_g: FloatArray
    start_sd_g: FloatArray


def groups_of(
    table: LossTable, at: FloatArray, used: list[Weighing], prior: Coefficient
) -> IntArray:
    """For each space the number of the coefficient it uses: own where it can be told."""
    count = len(table.spaces)
    usual = int(np.argmin(np.abs(np.log(table.coefficients / prior.median))))
    steps = np.diff(at[:, usual, table.unknowns.size // 2, :], axis=1)
    alone = np.abs(steps) >= (1 - 1e-6) * np.abs(steps).sum(axis=0)
    scale = math.sqrt(2) * float(np.median([one.sd_g for one in used]))
    told = np.where(alone, np.abs(steps), 0.0).sum(axis=1) >= _SEPARABLE_SD * scale
    if count == 1 or not told.any():
        return np.zeros(count, dtype=np.int64)
    if told.all() and count == len(_POINTS):
        return np.arange(count)
    if told.all() or count > len(_POINTS):
        best = int(np.argmax(np.where(alone, np.abs(steps), 0.0).sum(axis=1)))
        shared: IntArray = (np.arange(count) != best).astype(np.int64)
        return shared
    return np.zeros(count, dtype=np.int64)


def worlds_of(
    table: LossTable,
    at: FloatArray,
    grams: FloatArray,
    spreads: FloatArray,
    groups: IntArray,
    prior: Coefficient,
) -> Worlds:
    """Equally likely worlds, from a grid that closes in on where the weight lies."""
    dimensions = int(groups.max()) + 1
    centre = math.log(prior.median)
    ends = [(centre - _REACH * prior.log_sd, centre + _REACH * prior.log_sd)] * dimensions
    number = table.unknowns.size
    for _ in range(_ROUNDS):
        axes = [np.linspace(low, high, _POINTS[dimensions]) for low, high in ends]
        grid = np.stack([a.ravel() for a in np.meshgrid(*axes, indexing="ij")], axis=1)
        log_k = np.repeat(grid, number, axis=0)
        unknown = np.tile(np.arange(number), grid.shape[0])
        lost = table.lost_g(at, log_k[:, groups], unknown)
        start, start_sd, fits = _first_mass(grams + lost, spreads)
        score = fits + np.log(table.unknowns)[unknown]
        score -= 0.5 * (((log_k - centre) / prior.log_sd) ** 2).sum(axis=1)
        weights = np.exp(score - score.max())
        weights /= weights.sum()
        ends = [_closer(log_k[:, d], axes[d], weights) for d in range(dimensions)]
    places = (np.arange(_WORLDS) + 0.5) / _WORLDS
    order = np.argsort(log_k[:, 0], kind="stable")
    chosen = order[np.minimum(np.searchsorted(np.cumsum(weights[order]), places), order.size - 1)]
    return Worlds(log_k[chosen][:, groups], unknown[chosen], start[chosen], start_sd[chosen])


def _closer(values: FloatArray, axis: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """The ends between which nearly all weight lies, and one step of the axis beyond."""
    held = np.bincount(np.searchsorted(axis, values - 1e-12), weights, axis.size).cumsum()
    low = int(np.searchsorted(held, _TAIL_WEIGHT))
    high = int(np.searchsorted(held, 1 - _TAIL_WEIGHT))
    step = axis[1] - axis[0]
    return float(axis[low] - step), float(axis[min(high, axis.size - 1)] + step)


def _first_mass(
    implied_g: FloatArray, spreads: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First mass that the weighings agree on, its error, and how well they agree.

    Each row holds what the weighings of one world imply for the first mass. The place of the
    best Student's t is found by reweighting; its width is that of the curve's top.
    """
    place = np.median(implied_g, axis=1)
    for _ in range(_LOCATION_STEPS):
        far = (implied_g - place[:, None]) / spreads
        weight = (HEAVY_TAIL + 1) / (HEAVY_TAIL + far**2) / spreads**2
        place = (weight * implied_g).sum(axis=1) / weight.sum(axis=1)
    far = (implied_g - place[:, None]) / spreads
    fits = -0.5 * (HEAVY_TAIL + 1) * np.log1p(far**2 / HEAVY_TAIL).sum(axis=1)
    width: FloatArray = 1 / np.sqrt(weight.sum(axis=1))
    return place, width, fits + np.log(width)
