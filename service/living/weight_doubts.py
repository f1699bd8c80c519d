"""Whether a weight about to be entered is likely, so that a slip of the scale is asked about.

A doubt decides nothing: the scale may be right, and the estimate wrong.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Final

from service.living.values import WheelClimate
from service.science.band import BAND_Z, Band
from service.science.weighing import WEIGHING_SD_G

_HEAVIER_G: Final = BAND_Z * sqrt(2) * WEIGHING_SD_G
"""Two weighings of a wheel that lost nothing differ by more one time in twenty upwards. [g]"""
_TIMES_THE_BAND: Final = 2.0
"""Our choice: twice as far away as the band's end, lest one honest weight in ten be asked about;
of normal errors one in a thousand lies beyond."""


@dataclass(frozen=True, slots=True)
class WeightDoubt:
    """Why a weight is asked about; at least one of two reasons.

    Attributes:
        grams: The weight. [g]
        heavier_than_g: What it weighed last, if that was less; else None. [g]
        expected_g: What it should weigh now, if that is unlike it; else None. An estimate. [g]
    """

    grams: float
    heavier_than_g: float | None
    expected_g: Band | None


def weight_doubt(climate: WheelClimate, new_g: float, grams: float) -> WeightDoubt | None:
    """What speaks against a weight of a wheel now; None where nothing does.

    Args:
        climate: Of the wheel, up to now.
        new_g: Its mass when new, which counts where it was never weighed. [g]
        grams: What the scale says. [g]
    """
    last_g = climate.weighings[-1].grams if climate.weighings else new_g
    heavier = last_g if grams - last_g > _HEAVIER_G else None
    expected = _expected(climate, grams)
    if heavier is None and expected is None:
        return None
    return WeightDoubt(grams, heavier, expected)


def _expected(climate: WheelClimate, grams: float) -> Band | None:
    """The band of the mass now, if the weight lies far outside; the scale's own error counts."""
    if climate.weight is None:
        return None
    past = climate.weight.past
    middle, low, high = (float(each[-1]) for each in (past.grams, past.low, past.high))
    scale = BAND_Z * WEIGHING_SD_G
    reach = sqrt((high - middle if grams > middle else middle - low) ** 2 + scale**2)
    return Band(low, high) if abs(grams - middle) > _TIMES_THE_BAND * reach else None
