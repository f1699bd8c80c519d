"""Saturated-salt tests of a sensor, from files, and the correction that they ask for."""

from collections.abc import Sequence
from pathlib import Path

from service.analyse.series import read_series
from service.errors import OutOfRangeError, SettingsError
from service.science.correction import Comparison, Correction, correction_from
from service.science.plateau import Hindrance, Plateau, PlateauState, find_plateau
from service.science.salts import salt_humidity_pct, salt_named

_MOIST_PCT = 90.0
"""The humidity at which the uncertainty of a correction is told. [%RH] Caves lie there."""

_WHY = {
    Hindrance.BROKEN_OFF: "it was broken off before the sensor had settled",
    Hindrance.TOO_SLOW: "the sensor was still far from settled",
    Hindrance.TOO_UNEVEN: "the readings are too uneven",
    Hindrance.TOO_FAR: (
        "the sensor is further from the salt than any sensor in order; was it in the bag?"
    ),
    Hindrance.WET: "the sensor was wet, or read 100 %",
    Hindrance.NO_READINGS: "no reading can be used",
}


def correction_of(salts: Sequence[tuple[str, Path]]) -> tuple[Correction | None, list[str]]:
    """The correction of a sensor from its tests.

    Args:
        salts: Name of the salt and CSV of the test, one a test.

    Returns:
        The correction, None where no test gives one; and notes in words.

    Raises:
        BadReadingsError: A file cannot be read, or holds no row that can be used.
        SettingsError: A salt is not known, or the tests contradict each other.
    """
    notes: list[str] = []
    comparisons: list[Comparison] = []
    for name, path in salts:
        comparison, note = _compared(name, path)
        notes.append(note)
        if comparison is not None:
            comparisons.append(comparison)
    if not comparisons:
        notes.append(
            "Humidity is taken as the sensor says it (offset 0, gain 1): there is no "
            "saturated-salt test to correct it by. Cheap sensors are off by 2 to 5 %RH."
        )
        return None, notes
    try:
        correction = correction_from(comparisons)
    except OutOfRangeError as error:
        raise SettingsError(f"--salt: {error}") from error
    moist_pct = float(correction.reading_pct(_MOIST_PCT))
    notes.append(
        f"Corrected humidity = {correction.offset_pct:.2f} + {correction.gain:.4f} times reading: "
        f"an estimate, ±{correction.standard_uncertainty_pct(moist_pct):.1f} %RH (one standard "
        f"error) near {_MOIST_PCT:g} %RH."
    )
    if not correction.gain_known:
        notes.append(
            "One salt, or salts close together, tell no gain; it is taken as 1. A test with a "
            "second salt, such as K2SO4, makes damp readings surer."
        )
    if not correction.plausible:
        notes.append(
            "No sensor in order needs so large a correction: repeat the tests or replace it."
        )
    return correction, notes


def _compared(name: str, path: Path) -> tuple[Comparison | None, str]:
    """What one test says, and a note on it."""
    try:
        salt = salt_named(name)
    except OutOfRangeError as error:
        raise SettingsError(f"--salt {name}={path.name}: {error}") from error
    series = read_series(path)
    test = find_plateau(
        series.times_us, series.temperature_c, series.humidity_pct, salt, finished=True
    )
    told = f"Salt test {salt.value} ({path.name}, {len(series.times_us)} readings)"
    comparison = test.comparison()
    why = "" if test.hindrance is None else _WHY[test.hindrance]
    if comparison is None or test.hindrance in {Hindrance.TOO_FAR, Hindrance.WET}:
        stop = "" if why.endswith("?") else "."
        return None, f"{told} is not used: {why}{stop}"
    if test.state is not PlateauState.DONE:
        why = f"; {why}, so that is where it was going, less sure than a finished test"
    return comparison, f"{told}: {_facts(test)}{why}."


def _facts(test: Plateau) -> str:
    """The plateau in words."""
    truth = float(salt_humidity_pct(test.salt, test.temperature_c))
    difference = test.difference_pct or 0.0
    return (
        f"the sensor read {truth + difference:.2f} % where the salt holds {truth:.2f} % at "
        f"{test.temperature_c:.1f} °C"
    )
