"""What a wheel weighs: the moisture coefficient learnt from weighings, and the mass ahead.

Before the first weighing the coefficient is a guess within a factor of four, and the band
says so. Each weighing narrows it. Mass is that of the wheel wiped dry, so a film of sweat
weighs nothing here. The surface of the wheel is taken as constant, although a wheel that has
lost a tenth of its mass has shrunk by some 5 %; the fit absorbs what of that is past.
"""

import math
from dataclasses import dataclass, field

import numpy as np

from service.errors import OutOfRangeError
from service.science.air import FloatArray
from service.science.loss_table import LossTable
from service.science.signals import US_PER_DAY, IntArray
from service.science.transfer import Coefficient
from service.science.weighing import Weighing, Worlds, groups_of, worlds_of

MODEL_SD = 0.05
"""What the loss since the nearest weighing may stray from the model. [1] Our choice: rinds
change, neighbours come and go."""
SUSPECT_SD = 5.0
"""A weighing further than this from the fit is named as suspect. [standard deviations]"""
RECENT_US = 7 * US_PER_DAY
"""The stretch of air that the forecast takes for the air to come. [µs]"""

_BAND = (0.05, 0.5, 0.95)
_BAND_Z = 1.6448536269514722
_LOOKS = 200


@dataclass(frozen=True, slots=True)
class MassBand:
    """A wheel's mass through time, with the band that holds it 9 times in 10.

    Attributes:
        times_us: Instants. [µs UTC]
        grams: As likely too high as too low. [g]
        low: Lower end. [g]
        high: Upper end. [g]
    """

    times_us: IntArray
    grams: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True)
class LossDay:
    """When a wanted loss is reached, an estimate; infinite where it may never be. [µs UTC]"""

    earliest_us: float
    expected_us: float
    latest_us: float


@dataclass(frozen=True, slots=True)
class WeightFit:
    """What the weighings of a wheel say.

    Attributes:
        coefficients: The moisture coefficient of each space, prior and weighings combined.
        start_g: Mass at the table's first instant. [g]
        suspects: Weighings that the fit left alone.
        notes: What the maker should know about the fit.
    """

    coefficients: dict[str, Coefficient]
    start_g: float
    suspects: tuple[Weighing, ...]
    notes: tuple[str, ...]
    _table: LossTable = field(repr=False)
    _worlds: Worlds = field(repr=False)
    _weighed_us: IntArray = field(repr=False)

    def masses(self, times_us: IntArray) -> MassBand:
        """The wheel's mass at instants of the table's span."""
        worlds = self._worlds
        lost = self._table.lost_g(self._table.at(times_us), worlds.log_k, worlds.unknown)
        return self._band(times_us, worlds.start_g[:, None] - lost)

    def ahead(self, times_us: IntArray) -> MassBand:
        """The wheel's mass after the table's end, if the air of the last week goes on.

        The band knows nothing of weather to come; it holds for air like last week's.
        """
        now_us, now_g, rate = self._going_on()
        return self._band(times_us, now_g[:, None] - rate[:, None] * (times_us - now_us))

    def day_of_loss(self, share: float) -> LossDay:
        """When the wheel has lost a share of its first mass, if the last week goes on.

        Args:
            share: Part of the mass at the table's first instant. [1] Above 0, below 1.

        Returns:
            Expected day with its band; in the past if it is reached already.

        Raises:
            OutOfRangeError: The share is none.
        """
        if not 0 < share < 1:
            raise OutOfRangeError(f"a share of {share:g} is not between 0 and 1; 8 % is 0.08")
        worlds = self._worlds
        known_us = np.linspace(self._table.times_us[0], self._table.times_us[-1], _LOOKS)
        at = self._table.at(known_us.astype(np.int64))
        lost = self._table.lost_g(at, worlds.log_k, worlds.unknown)
        now_us, now_g, rate = self._going_on()
        wanted = share * worlds.start_g
        # Loss that stops or turns round gets there never, and so gets an infinite day.
        wait = np.full_like(rate, np.inf)
        np.divide(wanted - lost[:, -1], rate, out=wait, where=rate > 0)
        reached = lost.max(axis=1) >= wanted
        first = np.maximum(1, (lost >= wanted[:, None]).argmax(axis=1))
        rows = np.arange(wanted.size)
        before, after = lost[rows, first - 1], lost[rows, first]
        part = np.divide(wanted - before, after - before, out=np.zeros_like(wanted), where=reached)
        back = known_us[first - 1] + part * (known_us[1] - known_us[0])
        days = np.where(reached, back, now_us + wait)
        low, middle, high = np.quantile(days, _BAND, method="inverted_cdf").tolist()
        if not math.isfinite(middle):
            return LossDay(low, middle, high)
        # The model may stray before the day comes, as it may in the mass.
        band = self._band(np.array([now_us]), now_g[:, None])
        usual = float(np.median(rate))
        strays_g = float(band.high[0] - band.low[0]) / 2
        strays_g = math.hypot(strays_g, _BAND_Z * MODEL_SD * max(0.0, middle - now_us) * usual)
        extra = strays_g / usual if usual > 0 else 0.0
        earliest = middle - math.hypot(middle - low, extra)
        return LossDay(earliest, middle, middle + math.hypot(high - middle, extra))

    def _going_on(self) -> tuple[int, FloatArray, FloatArray]:
        """The table's end, the mass there and the recent rate of loss. [µs, g, g/µs]"""
        times, worlds = self._table.times_us, self._worlds
        end_us = int(times[-1])
        since_us = max(int(times[0]), end_us - RECENT_US)
        at = self._table.at(np.array([since_us, end_us]))
        lost = self._table.lost_g(at, worlds.log_k, worlds.unknown)
        rate = (lost[:, 1] - lost[:, 0]) / max(1, end_us - since_us)
        return end_us, worlds.start_g - lost[:, 1], rate

    def _band(self, times_us: IntArray, masses_g: FloatArray) -> MassBand:
        """Quantiles of the worlds, widened by what the model and the scale may be off."""
        low, middle, high = np.quantile(masses_g, _BAND, axis=0)
        strays = np.median(self._worlds.start_sd_g)
        worlds = self._worlds
        weighed = self._table.at(self._weighed_us)
        lost = self._table.lost_g(weighed, worlds.log_k, worlds.unknown)
        weighed_g = np.median(worlds.start_g[:, None] - lost, axis=0)
        away = np.abs(middle[:, None] - weighed_g).min(axis=1)
        strays = np.hypot(strays, MODEL_SD * away)
        ends = (
            middle,
            middle - np.hypot(middle - low, _BAND_Z * strays),
            middle + np.hypot(high - middle, _BAND_Z * strays),
        )
        # A wide band on a light wheel may reach below nothing, which no wheel weighs.
        return MassBand(times_us, *(np.maximum(end, 0.0) for end in ends))


def fit_weighings(table: LossTable, weighings: list[Weighing], prior: Coefficient) -> WeightFit:
    """Combine what wheels in general lose with what this one was weighed at.

    The posterior is worked out on a grid of coefficients and disturbances, with the first mass
    solved for at each; errors of weighings have Student's t, so one bad weighing among several
    is left alone by itself. Coefficients get one value a space where weighings can tell the
    spaces apart (two weighings within a stay and a loss between them well above the scale's
    error), at most two values, and one shared value elsewhere.

    Args:
        table: Losses of the wheel for a fan of coefficients.
        weighings: In any order. The mass at the start is one of them; at least one.
        prior: What is known of the coefficient without weighings.

    Returns:
        Coefficients, masses and what is doubtful.

    Raises:
        OutOfRangeError: There is no weighing in the table's span, or one has no error.

    References:
        Student-t errors: Lange, Little and Taylor, Robust statistical modeling using the t
        distribution, J. Amer. Statist. Assoc. 84 (1989) 881-896 (from memory).
    """
    first_us, last_us = int(table.times_us[0]), int(table.times_us[-1])
    used = sorted(
        (one for one in weighings if first_us <= one.time_us <= last_us),
        key=lambda one: one.time_us,
    )
    if not used or any(one.sd_g <= 0 for one in used):
        raise OutOfRangeError(
            f"of {len(weighings)} weighings {len(used)} lie in the span of the air that is known, "
            "or one has no error; give at least the mass at the start, with its error"
        )
    notes = []
    if len(used) < len(weighings):
        notes.append(f"{len(weighings) - len(used)} weighings lie outside the known air")
    weighed_us = np.array([one.time_us for one in used])
    at = table.at(weighed_us)
    groups = groups_of(table, at, used, prior)
    if len(set(groups.tolist())) < len(table.spaces):
        notes.append("the weighings cannot tell the spaces apart; some share one coefficient")
    grams = np.array([one.grams for one in used])
    spreads = np.array([one.sd_g for one in used])
    worlds = worlds_of(table, at, grams, spreads, groups, prior)
    lost = table.lost_g(at, worlds.log_k, worlds.unknown)
    off = grams - np.median(worlds.start_g[:, None] - lost, axis=0)
    suspects = tuple(
        one for one, far in zip(used, np.abs(off) / spreads, strict=True) if far > SUSPECT_SD
    )
    if suspects:
        notes.append(f"{len(suspects)} weighings do not fit the others")
    coefficients = {
        space: Coefficient(float(np.exp(np.median(log_k))), float(np.std(log_k)))
        for space, log_k in zip(table.spaces, worlds.log_k.T, strict=True)
    }
    start_g = float(np.median(worlds.start_g))
    return WeightFit(coefficients, start_g, suspects, tuple(notes), table, worlds, weighed_us)
