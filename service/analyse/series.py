"""The readings of a file as one series, and how long a silence in it is a gap."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sensors.errors import BadFileError
from sensors.files import read_readings
from service.ageing.values import Quantity
from service.errors import BadReadingsError
from service.science.signals import US_PER_DAY, US_PER_S, median_interval_s
from service.science.thinning import usual_gap_us

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

STRAY_US = 400 * US_PER_DAY
"""A reading so far from its neighbour is no reading of this history. [µs] Our choice: longer
than any cheese of a home rests unwatched."""
EXAMPLE = "2026-11-25T12:00:00Z,11.5,92.0"
"""A row as it should be, for messages."""


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in rising order of time, each time once.

    Attributes:
        times_us: When. [µs UTC]
        temperature_c: Air temperature; NaN where not given. [°C]
        humidity_pct: Relative humidity; NaN where not given. [%RH]
        rejected: Line number and reason of every row that could not be used.
        strayed_us: Times of readings that belong to no history of this file. [µs UTC]
    """

    times_us: IntArray
    temperature_c: FloatArray
    humidity_pct: FloatArray
    rejected: tuple[tuple[int, str], ...] = ()
    strayed_us: tuple[int, ...] = ()

    @property
    def rejected_count(self) -> int:
        """How many rows do not count."""
        return len(self.rejected) + len(self.strayed_us)

    def of(self, quantity: Quantity) -> FloatArray:
        """The values of one quantity."""
        return self.temperature_c if quantity is Quantity.TEMPERATURE else self.humidity_pct

    @property
    def interval_s(self) -> float:
        """The usual time between readings; zero when there is only one. [s]"""
        return median_interval_s(self.times_us)

    @property
    def longest_s(self) -> float:
        """The longest silence that is no gap. [s]"""
        return usual_gap_us(self.times_us) / US_PER_S


def read_series(path: Path) -> Series:
    """The readings of a file.

    A sensor whose clock was set years wrong leaves readings alone in another time. From the
    middle reading outwards, a silence of more than 400 days ends the history: what lies beyond
    it is put aside.

    Raises:
        BadReadingsError: The file cannot be read, or holds no row that can be used.
    """
    try:
        file = read_readings(path)
    except BadFileError as error:
        raise BadReadingsError(f"{error}; a row looks like {EXAMPLE}") from error
    kept = _history(file.times_us)
    return Series(
        file.times_us[kept],
        file.temperature_c[kept],
        file.humidity_pct[kept],
        file.rejected,
        (*file.times_us[: kept.start].tolist(), *file.times_us[kept.stop :].tolist()),
    )


def _history(times_us: IntArray) -> slice:
    """The readings about the middle one that no silence of more than 400 days cuts off."""
    ends = np.flatnonzero(np.diff(times_us) > STRAY_US) + 1
    place = int(np.searchsorted(ends, times_us.size // 2, side="right"))
    first = int(ends[place - 1]) if place else 0
    return slice(first, int(ends[place]) if place < ends.size else times_us.size)
