"""Dew point against a year of weather: the TMY3 file that the pvlib package carries.

Greensboro NC, station 723170, National Solar Radiation Database TMY3: 8,760 hours with
temperature and dew point to 0.1 K and relative humidity to 1 %. A few of its rows contradict
themselves by several kelvin, so quantiles are tested and not the maximum.
"""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pvlib
import pytest

from service.science.air import dew_point_c, relative_humidity_pct_from_dew_point

Columns = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.float64]]


@pytest.fixture(scope="module")
def year() -> Columns:
    """Temperature, dew point and relative humidity of the hours above freezing."""
    file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    table, _ = pvlib.iotools.read_tmy3(file, map_variables=False)
    temperature, dew_point, humidity = (
        table[name].to_numpy(dtype=float) for name in ("Dry-bulb (C)", "Dew-point (C)", "RHum (%)")
    )
    # Below freezing the file does not say whether its dew points are over water or ice.
    warm = (temperature > 0) & (dew_point > 0)
    return temperature[warm], dew_point[warm], humidity[warm]


def test_the_year_has_enough_hours_above_freezing(year: Columns) -> None:
    assert len(year[0]) > 5_000


def test_dew_point_meets_the_weather_year_within_its_rounding(year: Columns) -> None:
    """Each hour may miss by what its own rounding is worth: 0.5 %RH and 0.05 K twice."""
    temperature, dew_point, humidity = year
    ours = dew_point_c(temperature, humidity)
    highest = dew_point_c(temperature + 0.05, np.minimum(humidity + 0.5, 100)) + 0.05
    lowest = dew_point_c(temperature - 0.05, humidity - 0.5) - 0.05
    within = (lowest <= dew_point) & (dew_point <= highest)

    median, most = np.quantile(np.abs(ours - dew_point), [0.5, 0.95])

    # The rest, a fiftieth, are the rows that contradict themselves.
    assert within.mean() > 0.98
    # A twentieth of a kelvin is the rounding of the file's own dew points; 0.2 K is the whole
    # allowance of the middle hour.
    assert median < 0.06
    assert most < 0.2


def test_relative_humidity_meets_the_weather_year_within_its_rounding(year: Columns) -> None:
    temperature, dew_point, humidity = year
    miss = np.abs(relative_humidity_pct_from_dew_point(temperature, dew_point) - humidity)

    median, most = np.quantile(miss, [0.5, 0.95])

    # Half a percent of rounding in the humidity, and 0.05 K twice, each worth up to 0.35 %RH.
    assert median < 0.4
    assert most < 0.9
