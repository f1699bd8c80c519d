"""How sure the humidity of a space is: by what its sensor's corrections leave open."""

from collections.abc import Sequence

import numpy as np

from service.science.band import BAND_Z, Away
from service.science.signals import IntArray
from service.science.surface_band import CORRECTED_SD_PCT, CREEP_PCT, HUMIDITY_SD_PCT
from service.store import corrections, places
from service.store.database import Session
from service.store.tables import SensorCorrection


def humidity_away_pct(session: Session, space_id: int, times_us: IntArray, until_us: int) -> Away:
    """How far the humidity of a space may lie below and above what is told. [%RH]

    The sensor that stands there at the end is taken to have told all of it.

    Args:
        session: Only read from.
        space_id: The space.
        times_us: The instants. [µs UTC]
        until_us: When its sensor is looked for. [µs UTC]
    """
    standing = places.sensors_in(session, space_id, until_us)
    made = corrections.of_sensor(session, standing[0].sensor_id) if standing else ()
    return away_under(made, times_us)


def away_under(made: Sequence[SensorCorrection], times_us: IntArray) -> Away:
    """How far the humidity may lie from what a sensor tells under its corrections. [%RH]

    Args:
        made: Its corrections in the order in which they were made.
        times_us: The instants. [µs UTC]

    Returns:
        By the correction in force with what a salt test leaves unsaid; by what is known of
        sensors in general where none holds. Only such a one may have crept: a salt test finds
        the creep with the rest.
    """
    found = np.full(times_us.size, HUMIDITY_SD_PCT)
    crept = np.full(times_us.size, CREEP_PCT)
    for one in made:
        if not one.withdrawn:
            sd = float(np.hypot(one.standard_uncertainty_pct, CORRECTED_SD_PCT))
            found = np.where(times_us >= one.from_us, sd, found)
            crept = np.where(times_us >= one.from_us, 0.0, crept)
    return Away(np.hypot(BAND_Z * found, crept), BAND_Z * found)
