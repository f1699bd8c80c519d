"""The temperature of a wheel from any history of the air about it.

A sensor measures air; a wheel lags behind it by hours, its surface less than its core. The lag
is a sum of first-order filters, one for each mode of the wheel (`modes`), and each filter is
integrated exactly for air that runs straight from one reading to the next, at any spacing.

What drives the wheel is the **effective air**: the temperature to which its surface would settle.
It is the air itself where only heat is traded; evaporation, sweat and radiation to walls of
another temperature shift it (`moisture`). Times are whole microseconds since 1970, UTC.
"""

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.linalg import blas  # type: ignore[import-untyped]  # scipy ships no types
from scipy.signal import lfilter  # type: ignore[import-untyped]  # scipy ships no types

from service.errors import OutOfRangeError
from service.science.modes import FloatArray, Place, modes_of, product
from service.science.signals import US_PER_S, BoolArray, IntArray, gaps
from service.science.solid import Cylinder, Transfer
from service.science.thinning import usual_gap_us

_CHUNK: Final = 2048
"""Steps that are worked on at a time, so that a long history costs little memory."""
_FORGOTTEN: Final = 40.0
"""Time constants after which nothing of a lag is left that double precision could hold."""
_TINY: Final = 1e-300
_COLDEST: Final = Place.CORE + 1
"""Row of the coldest point, after the rows of those places that are given as they are."""
_SURFACES: Final = [Place.FACE, Place.SIDE, *range(Place.TOP_CENTRE, Place.BOTTOM_RIM + 1)]
"""Where the coldest point is looked for. While air turns from warming to cooling a ring between
these points is colder by a little; then the mean of the face or the side comes near it."""


@dataclass(frozen=True, slots=True, eq=False)
class Temperatures:
    """What a wheel lives through; one value a time in each array.

    Attributes:
        times_us: Times. [µs UTC]
        surface_c: Mean of the whole surface, by area. [°C]
        face_c: Mean of both faces. [°C]
        side_c: Mean of the side. [°C]
        coldest_c: The coldest point of the surface: the least of the centres of the faces, the
            middle of the side, the rims, and the means of faces and side. In warming air that
            is where sweat settles first. [°C]
        mean_c: Mean of the volume. [°C]
        core_c: The middle of the wheel. [°C]
        estimated: True where the air was not measured, or only since shortly before.
    """

    times_us: IntArray
    surface_c: FloatArray
    face_c: FloatArray
    side_c: FloatArray
    coldest_c: FloatArray
    mean_c: FloatArray
    core_c: FloatArray
    estimated: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Exposure:
    """A wheel's stay in one space: its effective air, and how heat passes.

    Attributes:
        times_us: Times of the air, never falling. [µs UTC] Two equal ones make a jump.
        effective_air_c: Effective air at those times; NaN where not known. [°C]
        transfer: Coefficients between surface and surroundings.
        from_us: When the wheel came; the first time when None. [µs UTC]
    """

    times_us: IntArray
    effective_air_c: FloatArray
    transfer: Transfer
    from_us: int | None = None

    def __post_init__(self) -> None:
        """Refuse a stay without air.

        Raises:
            OutOfRangeError: There is no time, the air does not fit the times, the air is never
                known, or the wheel comes after the first time.
        """
        if not self.times_us.size or self.times_us.shape != self.effective_air_c.shape:
            raise OutOfRangeError(
                f"{self.times_us.size} times and {self.effective_air_c.size} values of air;"
                " give as many of the one as of the other, and at least one"
            )
        if np.isnan(self.effective_air_c).all():
            raise OutOfRangeError("the air of a stay is never known; leave the stay out")
        if self.begins_us > self.times_us[0]:
            raise OutOfRangeError(
                f"a wheel that comes at {self.begins_us} µs to air from {self.times_us[0]} µs on;"
                " leave out the air before it came"
            )

    @property
    def begins_us(self) -> int:
        """When the wheel came. [µs UTC]"""
        return int(self.times_us[0]) if self.from_us is None else self.from_us

    @property
    def first_known_c(self) -> float:
        """The first effective air that is known. [°C]"""
        return float(self.effective_air_c[~np.isnan(self.effective_air_c)][0])


class Response:
    """A wheel's temperature field, carried forward through the air that it meets.

    It starts at one temperature throughout, in effective air of that same temperature. `run`
    takes a whole history at once; `predict` and `commit` take one step at a time, for a surface
    balance that must be solved with each step. Both give the same, and may be mixed.

    Attributes:
        at_us: The time reached. [µs UTC]
        effective_air_c: The effective air at that time. [°C]
    """

    def __init__(self, cylinder: Cylinder, transfer: Transfer, start_c: float, at_us: int) -> None:
        self.at_us = at_us
        self.effective_air_c = float(start_c)
        self._cylinder = cylinder
        self._modes = modes_of(cylinder, transfer)
        self._lags_k = np.zeros_like(self._modes.rates_per_s)
        self._last_step: tuple[int, FloatArray, FloatArray] | None = None

    def fork(self) -> "Response":
        """A copy that goes its own way, for a trial over a stretch of time."""
        return copy.copy(self)

    def move(self, transfer: Transfer) -> None:
        """Carry the temperature field over to other coefficients; no time passes.

        The effective air stays as it is until the next step; a step of no length lets it jump.
        """
        modes = modes_of(self._cylinder, transfer)
        if modes is not self._modes:
            self._lags_k = self._modes.carried(self._lags_k, modes)
            self._modes, self._last_step = modes, None

    def predict(self, until_us: int) -> tuple[float, float]:
        """How the mean surface at a time to come depends on the effective air then.

        `surface = gain * effective air + offset`, exactly, for effective air that runs straight
        from where it is now. Nothing changes until `commit`.

        Args:
            until_us: End of the step. [µs UTC] If it is now, the air jumps.

        Returns:
            Gain, from 0 to 1, rising with the length of the step [1], and offset [°C].

        Raises:
            OutOfRangeError: The step would go back in time.
        """
        kept, taken = self._step(until_us)
        shares = self._modes.shares[Place.SURFACE]
        follows = float(shares @ taken)
        return 1 - follows, follows * self.effective_air_c - float(shares @ (kept * self._lags_k))

    def commit(self, until_us: int, effective_air_c: float) -> None:
        """Take a step in which the effective air runs straight to its new value.

        Args:
            until_us: End of the step. [µs UTC] If it is now, the air jumps.
            effective_air_c: Effective air then. [°C]

        Raises:
            OutOfRangeError: The step would go back in time.
        """
        kept, taken = self._step(until_us)
        self._lags_k = kept * self._lags_k + taken * (effective_air_c - self.effective_air_c)
        self.at_us, self.effective_air_c = until_us, effective_air_c

    def at_c(self, place: Place) -> float:
        """The temperature at a place now. [°C]"""
        return self.effective_air_c - float(self._modes.shares[place] @ self._lags_k)

    def run(self, times_us: IntArray, effective_air_c: FloatArray) -> Temperatures:
        """Live through a history of effective air; the state afterwards is that of its end.

        Args:
            times_us: Times of the air, never falling, the first not before `at_us`. [µs UTC] Two
                equal ones, or a first one at `at_us`, make a jump.
            effective_air_c: Effective air then; it runs straight from one to the next. [°C]
                NaN where not known: there it runs straight from the last known value of this
                history to the next, and stands where there is no last or no next.

        Returns:
            The temperatures at those times. `estimated` is true where the air is NaN, throughout
            a silence (see `usual_gap_us`), and after it for as long as it lasted, but no longer
            than the wheel remembers.

        Raises:
            OutOfRangeError: Times fall, or the air is never known.
        """
        times_us = np.asarray(times_us, dtype=np.int64)
        found, estimated = _blank(times_us.size)
        self._live(times_us, effective_air_c, found, estimated)
        return _temperatures(times_us, found, estimated)

    def _live(
        self, times_us: IntArray, effective_air_c: FloatArray, found: FloatArray, marks: BoolArray
    ) -> None:
        """Run, and write the temperatures and the marks of estimates into what is given."""
        if times_us.size and (times_us[0] < self.at_us or (np.diff(times_us) < 0).any()):
            raise OutOfRangeError(
                f"the times of the air go back, after {self.at_us} µs; put them in order of time"
            )
        air, unknown = _filled(times_us, np.asarray(effective_air_c, dtype=np.float64))
        known_us = np.concatenate(([self.at_us], times_us[~unknown], times_us[-1:]))
        silences_us = gaps(known_us, usual_gap_us(known_us) / US_PER_S)
        marks[:] = unknown | _within(times_us, silences_us, self._modes.slowest_s)
        for start in range(0, times_us.size, _CHUNK):
            part = slice(start, start + _CHUNK)
            lags_k = self._lagged(
                np.diff(times_us[part], prepend=self.at_us),
                np.diff(air[part], prepend=self.effective_air_c),
            )
            below_k = product(self._modes.shares, lags_k)
            np.subtract(air[part], below_k[:_COLDEST], out=found[:_COLDEST, part])
            np.subtract(air[part], below_k[_SURFACES].max(axis=0), out=found[_COLDEST, part])
            self._lags_k = lags_k[:, -1].copy()
            self.at_us, self.effective_air_c = int(times_us[part][-1]), float(air[part][-1])

    def _step(self, until_us: int) -> tuple[FloatArray, FloatArray]:
        """What a step leaves of each lag, and what a rise of the air by 1 K in it adds."""
        step_us = until_us - self.at_us
        if step_us < 0:
            raise OutOfRangeError(
                f"a step from {self.at_us} back to {until_us} µs; steps go forward in time"
            )
        if self._last_step is None or self._last_step[0] != step_us:
            kept, taken = _factors(np.array([step_us / US_PER_S]), self._modes.rates_per_s[:, None])
            self._last_step = step_us, kept[:, 0], taken[:, 0]
        return self._last_step[1], self._last_step[2]

    def _lagged(self, steps_us: IntArray, rises_k: FloatArray) -> FloatArray:
        """Each lag after each step; one row a lag, one column a step."""
        rates = self._modes.rates_per_s
        lags_k = np.empty((rates.size, steps_us.size))
        kept, taken = _factors(steps_us[:1] / US_PER_S, rates[:, None])
        lags_k[:, 0] = kept[:, 0] * self._lags_k + taken[:, 0] * rises_k[0]
        rises_k, steps_s = rises_k[1:], steps_us[1:] / US_PER_S
        if not steps_s.size:
            return lags_k
        which: IntArray | slice
        lengths_s, which = np.unique(steps_s, return_inverse=True)
        # What is forgotten within the shortest step depends on the last step alone.
        quick = rates * lengths_s[0] >= _FORGOTTEN
        if quick.any():
            lags_k[quick, 1:] = np.outer(1 / rates[quick], rises_k / steps_s)
        if 2 * lengths_s.size > steps_s.size:
            # Hardly two steps are alike; then to look their factors up costs more than it saves.
            lengths_s, which = steps_s, slice(None)
        # Steps of one length are a filter; steps of many are a system of two bands, which is
        # the same recursion with factors of their own.
        bands = np.ones((2, steps_us.size), order="F")
        slow = np.flatnonzero(~quick)
        kept, taken = _factors(lengths_s, rates[slow, None])
        for row, keep, take in zip(map(lags_k.__getitem__, slow), kept, taken, strict=True):
            if lengths_s.size == 1:
                row[1:], _ = lfilter(take, [1, -keep[0]], rises_k, zi=keep * row[0])
                continue
            np.negative(keep[which], out=bands[1, :-1])
            np.multiply(take[which], rises_k, out=row[1:])
            row[:] = blas.dtbsv(1, bands, row, lower=1, diag=1, overwrite_x=1)
        return lags_k


def respond(cylinder: Cylinder, exposures: Sequence[Exposure], start_c: float) -> Temperatures:
    """Temperatures of a wheel over its stays in one space after another.

    At each move the temperature field is kept and the air jumps: the old effective air stands
    from its last time to the move, the new one from the move to its first known time.

    Args:
        cylinder: The wheel.
        exposures: Its stays, in order of time.
        start_c: Its temperature at the start, the same throughout. [°C]

    Returns:
        The temperatures at the times of all stays. `estimated` as in `Response.run`.

    Raises:
        OutOfRangeError: There is no stay, a stay begins before the one before it ends, times
            fall, or the air of a stay is never known.

    References:
        Superposition over the modes of a finite cylinder: see `modes_of`. Duhamel's theorem for
        air that changes: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section
        1.14, from memory.

    Examples:
        >>> wheel = Cylinder(0.12, 0.06, 0.38, 1090.0, 2900.0)
        >>> hours_us = np.arange(7) * 3600 * US_PER_S
        >>> fridge = Exposure(hours_us, np.full(7, 4.0), Transfer.uniform(5.0))
        >>> respond(wheel, [fridge], start_c=12.0).core_c[[1, 3, 6]].round(3)
        array([10.917,  7.74 ,  5.415])
    """
    if not exposures:
        raise OutOfRangeError("no stay of the wheel; give at least one exposure")
    response = Response(cylinder, exposures[0].transfer, start_c, exposures[0].begins_us)
    times_us = np.concatenate([exposure.times_us for exposure in exposures])
    found, estimated = _blank(times_us.size)
    done = 0
    for exposure in exposures:
        if exposure.begins_us < response.at_us:
            raise OutOfRangeError(
                f"a stay begins at {exposure.begins_us} µs, before the last reading of the stay"
                f" before it at {response.at_us} µs; cut that one at the move"
            )
        response.commit(exposure.begins_us, response.effective_air_c)
        response.move(exposure.transfer)
        response.commit(exposure.begins_us, exposure.first_known_c)
        part = slice(done, done + exposure.times_us.size)
        response._live(  # noqa: SLF001  # one buffer for all stays saves the memory of a copy
            exposure.times_us, exposure.effective_air_c, found[:, part], estimated[part]
        )
        done = part.stop
    return _temperatures(times_us, found, estimated)


def _blank(size: int) -> tuple[FloatArray, BoolArray]:
    """Room for the temperatures, one row each, and for the marks of estimates."""
    return np.empty((_COLDEST + 1, size)), np.empty(size, dtype=np.bool_)


def _temperatures(times_us: IntArray, found: FloatArray, estimated: BoolArray) -> Temperatures:
    """The rows by their names."""
    return Temperatures(
        times_us=times_us,
        surface_c=found[Place.SURFACE],
        face_c=found[Place.FACE],
        side_c=found[Place.SIDE],
        coldest_c=found[_COLDEST],
        mean_c=found[Place.MEAN],
        core_c=found[Place.CORE],
        estimated=estimated,
    )


def _factors(steps_s: FloatArray, rates_per_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What a step leaves of a lag, and what a rise of the air by 1 K during it adds."""
    # A step of no length leaves all and adds all; the smallest number makes the quotient say so.
    taken = np.maximum(steps_s * rates_per_s, _TINY)
    kept = np.expm1(-taken)
    np.divide(kept, -taken, out=taken)
    kept += 1
    return kept, taken


def _filled(times_us: IntArray, air_c: FloatArray) -> tuple[FloatArray, BoolArray]:
    """The air with what is not known drawn straight, and where that was."""
    unknown = np.isnan(air_c)
    if not unknown.any():
        return air_c, unknown
    if unknown.all():
        raise OutOfRangeError("the air is never known; leave such a stretch out")
    known_us = times_us[~unknown]
    return np.interp(times_us, known_us, air_c[~unknown]), unknown


def _within(times_us: IntArray, silences_us: IntArray, slowest_s: float) -> BoolArray:
    """Which times lie in a silence, or after it while the wheel still feels it."""
    lasted_us = silences_us[:, 1] - silences_us[:, 0]
    felt_us = silences_us[:, 1] + np.minimum(lasted_us, int(slowest_s * US_PER_S))
    starts = np.searchsorted(times_us, silences_us[:, 0], side="right")
    stops = np.searchsorted(times_us, felt_us, side="left")
    marks = np.zeros(times_us.size + 1, dtype=np.int64)
    np.add.at(marks, starts, 1)
    np.add.at(marks, stops, -1)
    return np.cumsum(marks[:-1]) > 0
