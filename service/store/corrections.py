"""Dated corrections of sensors: entered, withdrawn, and applied when readings are read.

Readings stay as received. A correction holds from its time on, and where several do, the one
made last speaks: a late calibration with an early time corrects the past, and withdrawn it
gives the past back exactly. Alarms are worked out once, from the air as it was known then; a
correction that is entered for the past does not rewrite them.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from sqlmodel import Session, col, select

from service.errors import UnknownError
from service.store.tables import SensorCorrection

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

_DRIEST_PCT, _DAMPEST_PCT = 0.0, 100.0


def of_sensor(session: Session, sensor_id: int) -> Sequence[SensorCorrection]:
    """All corrections of a sensor, also withdrawn ones, in the order in which they were made."""
    return session.exec(
        select(SensorCorrection)
        .where(col(SensorCorrection.sensor_id) == sensor_id)
        .order_by(col(SensorCorrection.made_us), col(SensorCorrection.id))
    ).all()


def correction(session: Session, correction_id: int) -> SensorCorrection:
    """One correction.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(SensorCorrection, correction_id)
    if found is None:
        raise UnknownError(f"there is no correction {correction_id}")
    return found


def add(session: Session, made: SensorCorrection) -> SensorCorrection:
    """Enter a correction."""
    session.add(made)
    session.flush()
    return made


def withdraw(session: Session, correction_id: int) -> SensorCorrection:
    """Let a correction count no longer; what held before it holds again.

    Raises:
        UnknownError: There is none with that number.
    """
    found = correction(session, correction_id)
    found.withdrawn = True
    session.add(found)
    session.flush()
    return found


def in_force(made: Sequence[SensorCorrection], at_us: int) -> SensorCorrection | None:
    """Of corrections in the order in which they were made, the one that holds at that time."""
    holding = (one for one in reversed(made) if not one.withdrawn and one.from_us <= at_us)
    return next(holding, None)


def corrected(
    made: Sequence[SensorCorrection], times_us: IntArray, humidity_pct: FloatArray
) -> FloatArray:
    """Humidities as read told as true humidities.

    Args:
        made: The corrections of one sensor, in the order in which they were made.
        times_us: Times of the readings. [µs UTC]
        humidity_pct: Humidities as read; NaN stays NaN. [%RH]

    Returns:
        The corrected humidity, held within 0 to 100 %; the reading itself, untouched, where
        no correction holds. [%RH]
    """
    told = humidity_pct
    for one in made:
        if one.withdrawn:
            continue
        # What was made later is worked out from the reading, never from a corrected value.
        holds = times_us >= one.from_us
        moved = np.clip(one.offset_pct + one.gain * humidity_pct, _DRIEST_PCT, _DAMPEST_PCT)
        told = np.where(holds, moved, told)
    return told


def corrected_value(
    session: Session, sensor_id: int, time_us: int, humidity_pct: float | None
) -> float | None:
    """One humidity as read, told as true humidity. [%RH]"""
    one = in_force(of_sensor(session, sensor_id), time_us)
    if one is None or humidity_pct is None:
        return humidity_pct
    return min(max(one.offset_pct + one.gain * humidity_pct, _DRIEST_PCT), _DAMPEST_PCT)
