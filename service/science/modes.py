"""The modes of a wheel: how a finite cylinder forgets its own temperature.

A wheel that trades heat with the air on its whole surface is the product of a slab (its height)
and an endless cylinder (its diameter). Each product of a slab's mode and a cylinder's mode fades
with a rate of its own, and the air of the room drives it by one number. This module finds those
rates and numbers; `conduction` runs them over a history of air. Pure mathematics of one wheel in
one place: no time, no air, no cheese is known here.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import special  # type: ignore[import-untyped]  # scipy ships no types

from service.science.solid import Cylinder, Transfer

FloatArray = npt.NDArray[np.float64]

_AXIAL, _RADIAL = 80, 80
"""Modes along the height and along the radius. What the rest would carry of a jump of the air
is below 1 % even at the rim, and fades in a second or two."""
_ALONE: Final = 2e-2
"""Our choice: a mode that carries this share of a jump anywhere has a filter of its own."""
_NOTHING: Final = 1e-12
"""Share below which a mode is not driven at all, but by rounding."""
_ALIKE: Final = 1.4
"""Our choice: fainter modes whose rates differ by less than this factor share a filter. Where all
its modes pull one way, a shared filter is wrong by less than 0.3 % of what they carry."""
_SAME: Final = 1e-15
"""A root is found when a step moves it by no larger part of itself than this."""
_MOST_STEPS: Final = 60
"""Halvings of a bracket of at most π: more than double precision holds."""
_QUADRATURE: Final = 160
"""Gauss points for products of two modes: exact to rounding up to the eightieth."""
_ON_ONE_CORE: Final = 200_000
"""Multiplications in one product of matrices. BLAS spreads larger ones over the cores and then
waits for all of them, which on a busy small board takes dozens of times as long."""


class Place(IntEnum):
    """Where in a wheel, or over what part of it, a temperature is taken."""

    FACE = 0
    """Mean of both faces."""
    SIDE = 1
    """Mean of the side."""
    SURFACE = 2
    """Mean of the whole surface, by area."""
    MEAN = 3
    """Mean of the volume."""
    CORE = 4
    """The middle."""
    TOP_CENTRE = 5
    BOTTOM_CENTRE = 6
    SIDE_MIDDLE = 7
    TOP_RIM = 8
    BOTTOM_RIM = 9


@dataclass(frozen=True, slots=True, eq=False)
class Modes:
    """A wheel in one place, as first-order lags behind its effective air.

    The temperature anywhere is that of the effective air less the lags, each times its share
    there. A rise of the air by 1 K adds 1 K to every lag. The shares of a place sum to one, so a
    wheel in steady air ends exactly at the temperature of the air.

    Attributes:
        rates_per_s: Rate at which each lag fades, rising. [1/s]
        shares: Part that each lag has in the temperature; one row a `Place`. [1]
        groups: Which lag each product mode belongs to; one row a mode of the slab, one column a
            mode of the cylinder.
        drives: What a rise of the air by 1 K adds to each product mode, laid out likewise. [K]
        weights: How much the lag of each product mode counts in its group's. [1]
        waves: Wave number of each mode of the slab, and its phase at the lower end. [1]
        rings: Wave number of each mode of the cylinder. [1]
        norms: What norms the modes of the slab, and those of the cylinder. [1]
    """

    rates_per_s: FloatArray
    shares: FloatArray
    groups: npt.NDArray[np.int64]
    drives: FloatArray
    weights: FloatArray
    waves: tuple[FloatArray, FloatArray]
    rings: FloatArray
    norms: tuple[FloatArray, FloatArray]

    @property
    def slowest_s(self) -> float:
        """The longest time constant: how long the wheel remembers. [s]"""
        return float(1 / self.rates_per_s[0])

    def carried(self, lags_k: FloatArray, other: "Modes") -> FloatArray:
        """The lags in another place of a wheel that comes with these.

        The temperature field stays as it is and is written in the other place's modes, so no
        heat is lost; where modes share a lag the mean surface is what is kept.

        Args:
            lags_k: Each lag. [K]
            other: Modes of the same wheel with other coefficients.

        Returns:
            Each lag of the other modes behind the same effective air. [K]
        """
        nodes, weights = _gauss()
        (slab, disc), (other_slab, other_disc) = _at_gauss(self), _at_gauss(other)
        slabs = product(slab * weights, other_slab.T)
        # The mean over a disc weighs each radius by itself.
        discs = product(disc * (2 * weights * nodes), other_disc.T)
        field = product(product(slabs.T, lags_k[self.groups] * self.drives), discs)
        return _summed(other.weights * field, other.groups) / _summed(
            other.weights * other.drives, other.groups
        )


def product(left: FloatArray, right: FloatArray) -> FloatArray:
    """The product of two matrices, some columns at a time, so that one core does all of it."""
    found = np.empty((left.shape[0], right.shape[1]))
    columns = max(1, _ON_ONE_CORE // left.size)
    for first in range(0, right.shape[1], columns):
        few = slice(first, first + columns)
        np.matmul(left, right[:, few], out=found[:, few])
    return found


@lru_cache(maxsize=32)
def modes_of(cylinder: Cylinder, transfer: Transfer) -> Modes:
    """The modes of a wheel in a place.

    Temperature is taken to depend on height and radius only, and the properties to be even and
    constant. A jump of the air by 1 K is answered within 1 mK of the exact series by the mean
    surface, and within 3 mK in its first minutes, later 1 mK, by every other place.

    Args:
        cylinder: The wheel.
        transfer: How it trades heat with its surroundings.

    Returns:
        Its modes. The arrays are read-only, since they are kept for the next call.

    References:
        Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, sections 3.10 (slab with a
        coefficient of its own at each end) and 7.7 (cylinder), from memory; the product of both:
        Çengel, Heat and Mass Transfer, section 4-4, from memory. Tests hold the roots against
        Çengel's table 4-2 and the temperatures against the exact series.
    """
    height_m, radius_m = cylinder.height_m, 0.5 * cylinder.diameter_m

    at_bottom = transfer.bottom_w_m2_k * height_m / cylinder.conductivity_w_m_k
    at_top = transfer.top_w_m2_k * height_m / cylinder.conductivity_w_m_k
    waves = slab_roots(at_bottom, at_top, _AXIAL)
    shift = np.arctan(at_bottom / waves)
    far = waves - shift
    norm = np.sqrt(0.5 + (np.sin(2 * far) + np.sin(2 * shift)) / (4 * waves))
    mean_z = (np.sin(far) + np.sin(shift)) / waves / norm
    bottom, top = np.cos(shift) / norm, np.cos(far) / norm
    middle = np.cos(0.5 * waves - shift) / norm

    rings = cylinder_roots(transfer.side_w_m2_k * radius_m / cylinder.conductivity_w_m_k, _RADIAL)
    edge, steep = special.j0(rings), special.j1(rings)
    ring_norm = np.hypot(edge, steep)
    mean_r = 2 * steep / rings / ring_norm
    edge, centre = edge / ring_norm, 1 / ring_norm

    drives = np.outer(mean_z, mean_r)
    faces, side = np.outer(0.5 * (top + bottom), mean_r), np.outer(mean_z, edge)
    surface = side + cylinder.face_share * (faces - side)
    values = {
        Place.FACE: faces,
        Place.SIDE: side,
        Place.SURFACE: surface,
        Place.MEAN: drives,
        Place.CORE: np.outer(middle, centre),
        Place.TOP_CENTRE: np.outer(top, centre),
        Place.BOTTOM_CENTRE: np.outer(bottom, centre),
        Place.SIDE_MIDDLE: np.outer(middle, edge),
        Place.TOP_RIM: np.outer(top, edge),
        Place.BOTTOM_RIM: np.outer(bottom, edge),
    }
    parts = np.stack([values[place] * drives for place in Place])
    rates = cylinder.diffusivity_m2_s * np.add.outer(
        (waves / height_m) ** 2, (rings / radius_m) ** 2
    )
    groups = _grouped(rates, np.abs(parts).max(axis=0))
    weights = np.abs(surface) * np.sign(drives)
    shares = np.stack([_summed(part, groups) for part in parts])
    # What the modes left out would carry goes to the fastest.
    shares[:, -1] += 1 - shares.sum(axis=1)
    # The rate of a group leaves the lag of the mean surface behind a steady ramp as it is.
    counts = weights * drives
    found = Modes(
        rates_per_s=_summed(counts, groups) / _summed(counts / rates, groups),
        shares=shares,
        groups=groups,
        drives=drives,
        weights=weights,
        waves=(waves, shift),
        rings=rings,
        norms=(norm, ring_norm),
    )
    kept = (found.rates_per_s, shares, groups, drives, weights)
    for array in (*kept, *found.waves, rings, *found.norms):
        array.flags.writeable = False
    return found


@lru_cache(maxsize=4)
def _at_gauss(modes: Modes) -> tuple[FloatArray, FloatArray]:
    """Normed modes of the slab and of the cylinder at the Gauss points, one row a mode."""
    nodes, _ = _gauss()
    waves, shift = modes.waves
    slab = np.cos(np.outer(waves, nodes) - shift[:, None]) / modes.norms[0][:, None]
    disc = special.j0(np.outer(modes.rings, nodes)) / modes.norms[1][:, None]
    return slab, disc


def _grouped(rates: FloatArray, sizes: FloatArray) -> npt.NDArray[np.int64]:
    """Number of the lag to which each mode belongs: strong ones alone, faint ones by rate."""
    classes = np.floor(np.log(rates / rates.min()) / np.log(_ALIKE)).astype(np.int64)
    # A mode that the air does not drive is no lag behind it; any group will do.
    classes[sizes < _NOTHING] = classes.max()
    strong = sizes >= _ALONE
    classes[strong] = classes.max() + 1 + np.arange(np.count_nonzero(strong))
    _, groups = np.unique(classes, return_inverse=True)
    # The numbers follow the rates, so that the slowest lag is the first and the rest the last.
    order = np.argsort(_summed(rates, groups) / _summed(np.ones_like(rates), groups))
    ranks = np.empty_like(order)
    ranks[order] = np.arange(order.size)
    return ranks[groups.reshape(rates.shape)]


def _summed(values: FloatArray, groups: npt.NDArray[np.int64]) -> FloatArray:
    """The sum of the values in each group."""
    sums: FloatArray = np.bincount(groups.ravel(), weights=values.ravel()).astype(np.float64)
    return sums


def slab_roots(biot_bottom: float, biot_top: float, count: int) -> FloatArray:
    """The first wave numbers of a slab, times its thickness.

    Each satisfies  x = n π + atan(biot_bottom / x) + atan(biot_top / x)  for n = 0, 1, …; with
    equal ends and x = 2 ζ the even ones are the familiar  ζ tan ζ = h L / k  of half the
    thickness L.

    Args:
        biot_bottom: Coefficient at one end times the whole thickness over conductivity. [1]
        biot_top: The same at the other end. [1]
        count: How many.

    Returns:
        The roots, rising. [1]

    References:
        Carslaw & Jaeger 1959, section 3.10, from memory.

    Examples:
        >>> (slab_roots(2.0, 2.0, 3)[::2] / 2).round(4).tolist()
        [0.8603, 3.4256]
    """
    turns = np.pi * np.arange(count, dtype=np.float64)

    def excess(x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Rises with x through zero at the root."""
        value = x - np.arctan(biot_bottom / x) - np.arctan(biot_top / x) - turns
        return value, 1 + biot_bottom / (x**2 + biot_bottom**2) + biot_top / (x**2 + biot_top**2)

    return _root_between(excess, turns, turns + np.pi)


def cylinder_roots(biot: float, count: int) -> FloatArray:
    """The first roots of  ζ J1(ζ) = Bi J0(ζ).

    Args:
        biot: Coefficient times radius over conductivity. [1]
        count: How many.

    Returns:
        The roots, rising. [1]

    References:
        Carslaw & Jaeger 1959, section 7.7, from memory.

    Examples:
        >>> cylinder_roots(1.0, 2).round(4).tolist()
        [1.2558, 4.0795]
    """
    low, high = _between(count)
    signs = (-1.0) ** np.arange(count)

    def excess(x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Negative before the root, positive after it."""
        level, steep = special.j0(x), special.j1(x)
        return signs * (x * steep - biot * level), signs * (x * level + biot * steep)

    return _root_between(excess, low, high)


@lru_cache(maxsize=4)
def _between(count: int) -> tuple[FloatArray, FloatArray]:
    """Between a zero of J1 and the next of J0 their ratio falls from infinity to zero."""
    low = np.append(0.0, special.jn_zeros(1, count - 1)) if count > 1 else np.zeros(1)
    high = special.jn_zeros(0, count)
    for array in (low, high):
        array.flags.writeable = False
    return low, high


def _root_between(
    excess: Callable[[FloatArray], tuple[FloatArray, FloatArray]], low: FloatArray, high: FloatArray
) -> FloatArray:
    """Where each excess, given with its slope, turns from negative to positive in its bracket.

    Newton's steps, and a halving of the bracket wherever one would leave it.
    """
    root = 0.5 * (low + high)
    for _ in range(_MOST_STEPS):
        before, (value, slope) = root, excess(root)
        below = value < 0
        low, high = np.where(below, root, low), np.where(below, high, root)
        root = root - value / slope
        root = np.where((low <= root) & (root <= high), root, 0.5 * (low + high))
        if (np.abs(root - before) <= _SAME * root).all():
            break
    return root


@lru_cache(maxsize=1)
def _gauss() -> tuple[FloatArray, FloatArray]:
    """Gauss points and weights from 0 to 1."""
    nodes, weights = np.polynomial.legendre.leggauss(_QUADRATURE)
    return 0.5 * (nodes + 1), 0.5 * weights
