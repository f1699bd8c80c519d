"""The fan of coefficients for which a wheel's loss is worked out before weighings choose.

The wheel lives through its air once for each coefficient and each disturbance, on means of a
quarter of an hour, which cost little and lose nothing that a scale could show.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.science.air import FloatArray
from service.science.signals import US_PER_MINUTE, IntArray
from service.science.solid import Cylinder
from service.science.surface import Rind, Stay, live_through
from service.science.transfer import Coefficient

MISMATCH_SD = 0.01
"""How far water activity less relative humidity may be wrong, all sensors and rinds together.
[1] Our choice: a good hygrometer is within 1.5 %RH, a rind's activity within 0.01."""

_KNOTS = 9
_REACH = 2.6
_EVERY_US = 15 * US_PER_MINUTE
_WORKED = np.array([-1.8, 0.0, 1.8])
"""Disturbances that are worked out, in standard deviations; a parabola runs through them."""
_SHOWN = np.linspace(-2.4, 2.4, 9)
"""Disturbances that the table shows, close enough together to look like a curve."""
_MOIST = 0.999
_STANDS_STILL_K = 0.02


@dataclass(frozen=True, slots=True)
class LossTable:
    """The loss of one wheel, worked out for a fan of coefficients.

    Between coefficients the loss for each unit of coefficient is taken as straight in the
    logarithm, which cooling by evaporation bends only gently.

    Attributes:
        times_us: Instants, rising. [µs UTC]
        coefficients: Moisture coefficients, rising. [kg/(m² s Pa)]
        unknowns: Weights of the disturbances worked out, adding up to 1. [1] A disturbance is
            what water activity less relative humidity may be wrong by.
        loss_g: Water lost since the first instant, by space, coefficient, disturbance and
            instant; in each space only what was lost there. [g]
        spaces: Names of the spaces.
    """

    times_us: IntArray
    coefficients: FloatArray
    unknowns: FloatArray
    loss_g: FloatArray
    spaces: tuple[str, ...]

    def at(self, times_us: IntArray) -> FloatArray:
        """The table's losses at other instants of its span. [g]"""
        flat = self.loss_g.reshape(-1, self.times_us.size)
        rows = [np.interp(times_us, self.times_us, row) for row in flat]
        return np.array(rows).reshape(*self.loss_g.shape[:-1], len(times_us))

    def lost_g(self, losses_g: FloatArray, log_k: FloatArray, unknown: IntArray) -> FloatArray:
        """Loss in many worlds at once.

        Args:
            losses_g: What `at` gave. [g]
            log_k: Logarithm of the coefficient; a row for each world, a column for each space.
            unknown: Number of each world's disturbance.

        Returns:
            A row for each world, a column for each instant. [g]
        """
        knots = np.log(self.coefficients)
        per_unit = losses_g / self.coefficients[:, None, None]
        total = np.zeros((log_k.shape[0], losses_g.shape[-1]))
        for space in range(log_k.shape[1]):
            wanted = np.clip(log_k[:, space], knots[0], knots[-1])
            left = np.clip(np.searchsorted(knots, wanted) - 1, 0, knots.size - 2)
            part = ((wanted - knots[left]) / (knots[left + 1] - knots[left]))[:, None]
            below, above = per_unit[space, left, unknown], per_unit[space, left + 1, unknown]
            total += np.exp(log_k[:, space])[:, None] * (below + part * (above - below))
        return total


def loss_table(
    cylinder: Cylinder,
    rind: Rind,
    stays: Sequence[Stay],
    start_c: float,
    prior: Coefficient,
    mismatch_sd: float = MISMATCH_SD,
) -> LossTable:
    """Loss of one wheel for every coefficient that may be its own.

    Args:
        cylinder: The wheel.
        rind: Its surface.
        stays: Where it was, in order of time; their own moisture coefficients do not matter.
        start_c: Its temperature at the start. [°C]
        prior: Says which coefficients are worth a look.
        mismatch_sd: Standard deviation of what water activity less relative humidity may be
            wrong by. [1]

    Returns:
        The table that `weight.fit_weighings` asks for.
    """
    thin = [_thinned(stay) for stay in stays]
    knots = prior.median * np.exp(prior.log_sd * np.linspace(-_REACH, _REACH, _KNOTS))
    spaces = tuple(dict.fromkeys(stay.space for stay in thin))
    where = np.concatenate([np.full(stay.times_us.size, spaces.index(stay.space)) for stay in thin])
    times_us = np.concatenate([stay.times_us for stay in thin])
    loss = np.zeros((len(spaces), _KNOTS, _WORKED.size, times_us.size))
    for i, knot in enumerate(knots.tolist()):
        stays_so = [replace(stay, moisture_kg_m2_s_pa=knot) for stay in thin]
        for j, point in enumerate(_WORKED.tolist()):
            activity = min(_MOIST, rind.water_activity + point * mismatch_sd)
            wheel = replace(rind, water_activity=activity)
            lived = live_through(cylinder, wheel, stays_so, start_c, _STANDS_STILL_K)
            lost = np.diff(lived.lost_g, prepend=0.0)
            for space in range(len(spaces)):
                loss[space, i, j] = np.cumsum(np.where(where == space, lost, 0.0))
    weights = np.exp(-0.5 * _SHOWN**2)
    shown = np.einsum("skjt,jm->skmt", loss, _parabola())
    return LossTable(times_us, knots, weights / weights.sum(), shown, spaces)


def _parabola() -> FloatArray:
    """Lagrange's weights: what each disturbance worked out lends to each one shown."""
    rows = []
    for j in range(_WORKED.size):
        others = np.delete(_WORKED, j)
        rows.append(np.prod((_SHOWN[:, None] - others) / (_WORKED[j] - others), axis=1))
    return np.array(rows)


def _thinned(stay: Stay) -> Stay:
    """The stay on means of a quarter of an hour, with its own first and last instant."""
    slots = stay.times_us // _EVERY_US
    _, first = np.unique(slots, return_index=True)
    times = _means(stay.times_us.astype(np.float64), first).astype(np.int64)
    times[0], times[-1] = stay.times_us[0], stay.times_us[-1]
    return replace(
        stay,
        times_us=times,
        air_c=_means(stay.air_c, first),
        vapour_pa=_means(stay.vapour_pa, first),
    )


def _means(values: FloatArray, first: IntArray) -> FloatArray:
    """Means of what is known in each slot; NaN where nothing is."""
    known = np.isfinite(values)
    counts = np.add.reduceat(known.astype(np.float64), first)
    sums = np.add.reduceat(np.where(known, values, 0.0), first)
    means = np.full(first.size, np.nan)
    np.divide(sums, counts, out=means, where=counts > 0)
    return means
