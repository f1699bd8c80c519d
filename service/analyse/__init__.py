"""One file of readings and one wheel in, findings out as JSON: no database, no network.

What cannot be told is left empty or null, and a note says so in words.
"""

import json
from collections.abc import Sequence
from pathlib import Path

from service.analyse.calibration import correction_of
from service.analyse.report import report
from service.analyse.series import read_series
from service.analyse.wheel_file import read_wheel
from service.errors import OutOfRangeError, SettingsError


def analyse(
    readings: Path,
    wheel: Path,
    outer: Path | None,
    salts: Sequence[tuple[str, Path]],
    out: Path,
) -> None:
    """Write what the readings tell of a wheel and its air to a JSON file.

    Args:
        readings: CSV of the air around the wheel: `time,temperature_c,humidity_pct`.
        wheel: JSON of the wheel and the stages of its ageing.
        outer: CSV of the cave's air when the wheel lies in a lidded box.
        salts: Name of the salt and CSV of each saturated-salt test of the same sensor.
        out: The JSON file to write; a file of that name is replaced.

    Raises:
        BadReadingsError: A file of readings cannot be read, or holds no row that can be used.
        SettingsError: The wheel's file or a salt test cannot be used, or the JSON cannot be
            written.
    """
    described = read_wheel(wheel)
    series = read_series(readings)
    cave = None if outer is None else read_series(outer)
    correction, notes = correction_of(salts)
    try:
        found = report(series, described, wheel.name, cave, correction)
    except OutOfRangeError as error:
        raise SettingsError(f"{wheel} with {readings}: {error}") from error
    found["notes"] = [*notes, *found["notes"]]
    text = json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False)
    try:
        out.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise SettingsError(
            f"{out}: cannot be written ({error.strerror}); name a file in a folder that exists"
        ) from error
