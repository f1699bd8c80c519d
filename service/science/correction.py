"""The correction of a humidity sensor: what its readings say, told as true humidity.

From plateaus of saturated-salt tests: one salt gives an offset, two or more give offset and
gain. The uncertainty is carried along and grows away from the salts. Nothing here looks for
a plateau or knows from which day a correction counts.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError
from service.science.air import Values

FloatArray = npt.NDArray[np.float64]

UNKNOWN_GAIN = 0.03
"""Standard uncertainty of a gain that no second salt has shown. [1] Our choice: a sensor sold
as within 2 to 3 %RH over its range may well be off by that share from 20 to 90 %RH."""
NEAREST_PCT = 8.0
"""Salts nearer to each other than this show no gain. [%RH] Our choice: their own uncertainty
of 0.2 to 0.8 %RH would make a gain worse than none."""
PLAUSIBLE_OFFSET_PCT = 10.0
"""A sensor further off than this is broken, or was not in the salt's air. [%RH] Our choice."""
PLAUSIBLE_GAIN = 0.2
"""A gain further from 1 than this tells of a broken sensor or a bad test. [1] Our choice."""

_HIGHEST_PCT = 100.0
_FULL_PCT = 99.95
"""A reading from here up is the end of a sensor's scale. [%RH] It shows tenths."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """A sensor against a known humidity.

    Attributes:
        reading_pct: What the sensor said. [%RH]
        true_pct: What the humidity was. [%RH]
        standard_uncertainty_pct: Of the difference of the two. [%RH] Above zero.
    """

    reading_pct: float
    true_pct: float
    standard_uncertainty_pct: float


@dataclass(frozen=True, slots=True)
class Correction:
    """Corrected humidity = offset plus gain times reading.

    Attributes:
        offset_pct: See above. [%RH]
        gain: See above. [1]
        centre_pct: The reading at which the uncertainty is smallest. [%RH]
        centre_uncertainty_pct: Standard uncertainty there. [%RH]
        gain_uncertainty: Standard uncertainty of the gain. [1]
        gain_known: Two salts or more have shown the gain; otherwise it is taken as 1.
    """

    offset_pct: float
    gain: float
    centre_pct: float
    centre_uncertainty_pct: float
    gain_uncertainty: float
    gain_known: bool

    def corrected_pct(self, reading_pct: Values) -> Values:
        """Readings told as true humidity, held within 0 to 100 %. [%RH]"""
        corrected = np.clip(self.offset_pct + self.gain * np.asarray(reading_pct), 0, _HIGHEST_PCT)
        return cast(Values, corrected if corrected.ndim else float(corrected))

    def reading_pct(self, true_pct: Values) -> Values:
        """What the sensor reads at a true humidity: the inverse, for raw scales. [%RH]"""
        reading = (np.asarray(true_pct) - self.offset_pct) / self.gain
        return cast(Values, reading if reading.ndim else float(reading))

    def standard_uncertainty_pct(self, reading_pct: Values) -> Values:
        """Standard uncertainty of a corrected reading, noise of the reading left out. [%RH]"""
        away = self.gain_uncertainty * (np.asarray(reading_pct) - self.centre_pct)
        uncertainty = np.hypot(self.centre_uncertainty_pct, away)
        return cast(Values, uncertainty if uncertainty.ndim else float(uncertainty))

    @property
    def plausible(self) -> bool:
        """False if no sensor in order would need this: repeat the test or replace the sensor."""
        moved_pct = self.offset_pct + (self.gain - 1.0) * self.centre_pct
        return abs(moved_pct) <= PLAUSIBLE_OFFSET_PCT and abs(self.gain - 1.0) <= PLAUSIBLE_GAIN


def correction_from(comparisons: Sequence[Comparison]) -> Correction:
    """The correction that comparisons with known humidities ask for.

    One salt, or several within 8 %RH of each other, give an offset; their gain is taken as
    1 ± 0.03, so the further a reading lies from the salt, the less sure it is: 0.45 %RH more
    at 90 % after a test with table salt. Salts further apart give offset and gain, by a
    straight line weighted with the inverse of the variances.

    Args:
        comparisons: One or more.

    Returns:
        The correction with its uncertainty.

    Raises:
        OutOfRangeError: There is no comparison, an uncertainty is not above zero, or the
            sensor falls while the humidity rises.

    References:
        JCGM 100:2008 (GUM), section 5, propagation of uncertainty; weighted least squares
        with known variances.

    Examples:
        >>> one = correction_from([Comparison(73.7, 75.7, 0.25)])
        >>> round(one.offset_pct, 6), one.gain
        (2.0, 1.0)
        >>> round(one.standard_uncertainty_pct(88.0), 2)
        0.5
    """
    if not comparisons:
        raise OutOfRangeError("no comparison; finish at least one saturated-salt test")
    if any(not c.standard_uncertainty_pct > 0.0 for c in comparisons):
        raise OutOfRangeError("an uncertainty is not above zero; no comparison is perfect")
    readings = np.array([c.reading_pct for c in comparisons])
    truths = np.array([c.true_pct for c in comparisons])
    weights = np.array([c.standard_uncertainty_pct**-2 for c in comparisons])
    centre = float(np.average(readings, weights=weights))
    true_centre = float(np.average(truths, weights=weights))
    centre_uncertainty = float(1.0 / math.sqrt(weights.sum()))
    if np.ptp(truths) < NEAREST_PCT:
        return Correction(
            true_centre - centre, 1.0, centre, centre_uncertainty, UNKNOWN_GAIN, gain_known=False
        )
    spread = float(np.sum(weights * (readings - centre) ** 2))
    shared = float(np.sum(weights * (readings - centre) * (truths - true_centre)))
    if not shared > 0.0:
        raise OutOfRangeError(
            "the sensor reads no more where the air is damper; check which test belongs to "
            "which salt"
        )
    gain = shared / spread
    # Variances are of the difference at true scale; a gain near 1 makes the two scales one.
    return Correction(
        true_centre - gain * centre,
        gain,
        centre,
        centre_uncertainty,
        1.0 / math.sqrt(spread),
        gain_known=True,
    )


def at_full_scale(reading_pct: FloatArray, corrected_pct: FloatArray) -> FloatArray:
    """Corrected humidities, with those of a sensor at the end of its scale as best can be told.

    A sensor that reads too high says 100 % of all air that is damper than the corrected value:
    that is the least it can be, not what it is. The middle between it and saturation is told.

    Args:
        reading_pct: Humidities as read; NaN where not known. [%RH]
        corrected_pct: The same, corrected. [%RH]

    Returns:
        The corrected humidities, those at the end of the scale moved up. [%RH]

    Examples:
        >>> at_full_scale(np.array([99.0, 100.0]), np.array([97.0, 98.0])).tolist()
        [97.0, 99.0]
    """
    middle = 0.5 * (corrected_pct + _HIGHEST_PCT)
    return np.where(reading_pct >= _FULL_PCT, np.maximum(corrected_pct, middle), corrected_pct)
