"""The readings of a file as one series, and how long a silence in it is a gap."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sensors.errors import BadFileError
from sensors.files import read_readings
from service.ageing.values import Quantity
from service.errors import BadReadingsError
from service.science.signals import US_PER_S, median_interval_s
from service.science.thinning import usual_gap_us

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

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
    """

    times_us: IntArray
    temperature_c: FloatArray
    humidity_pct: FloatArray
    rejected: tuple[tuple[int, str], ...] = ()

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

    Raises:
        BadReadingsError: The file cannot be read, or holds no row that can be used.
    """
    try:
        file = read_readings(path)
    except BadFileError as error:
        raise BadReadingsError(f"{error}; a row looks like {EXAMPLE}") from error
    return Series(file.times_us, file.temperature_c, file.humidity_pct, file.rejected)
