"""How sure the humidity of a space is: by what its sensor's corrections leave open."""

from collections.abc import Sequence

import numpy as np

from service.science.air import FloatArray
from service.science.signals import IntArray
from service.science.surface_band import CORRECTED_SD_PCT, HUMIDITY_SD_PCT
from service.store import corrections, places
from service.store.database import Session
from service.store.tables import SensorCorrection


def humidity_sd_pct(
    session: Session, space_id: int, times_us: IntArray, until_us: int
) -> FloatArray:
    """Standard uncertainty of the humidity told of a space, one an instant. [%RH]

    The sensor that stands there at the end is taken to have told all of it.

    Args:
        session: Only read from.
        space_id: The space.
        times_us: The instants. [µs UTC]
        until_us: When its sensor is looked for. [µs UTC]
    """
    standing = places.sensors_in(session, space_id, until_us)
    made = corrections.of_sensor(session, standing[0].sensor_id) if standing else ()
    return sd_under(made, times_us)


def sd_under(made: Sequence[SensorCorrection], times_us: IntArray) -> FloatArray:
    """Standard uncertainty of a sensor's humidity under its corrections. [%RH]

    Args:
        made: Its corrections in the order in which they were made.
        times_us: The instants. [µs UTC]

    Returns:
        That of the correction in force with what a salt test leaves unsaid; that of a sensor
        in general where none holds.
    """
    found = np.full(times_us.size, HUMIDITY_SD_PCT)
    for one in made:
        if not one.withdrawn:
            sd = float(np.hypot(one.standard_uncertainty_pct, CORRECTED_SD_PCT))
            found = np.where(times_us >= one.from_us, sd, found)
    return found
