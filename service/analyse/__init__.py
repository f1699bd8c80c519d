"""One file of readings and one wheel in, findings out as JSON: no database, no network.

What the analysis cannot tell yet is left out of the JSON, and its notes say so in words.
"""

import json
from pathlib import Path

from service.analyse.excursions import find_excursions
from service.analyse.series import Series, read_series
from service.analyse.wheel_file import WheelFile, read_wheel
from service.clock import from_datetime, to_datetime
from service.errors import SettingsError
from service.science.signals import gaps

_NOT_YET = {
    "condensation": "sweat on the wheel and on a lid is not computed yet",
    "wheel_temperature": "the wheel's surface and mean temperature are not computed yet",
    "mass": "the wheel's weight is not computed yet",
    "equivalent_age_days": "ripening is not counted in equivalent days yet",
    "door_openings": "openings of the door are not looked for yet",
    "cooling_cycles": "cooling cycles are not looked for yet",
    "humidity_correction": "the sensor is not corrected by a saturated-salt test yet",
}

_SLOW_S = 60.0
"""Readings further apart than this leave minutes to be filled in. [s]"""

_TOLD = 5
"""Rejected lines whose reason is told; the others are counted."""


def analyse(
    readings: Path, wheel: Path, outer: Path | None, salts: dict[str, Path], out: Path
) -> None:
    """Write what the readings tell of the wheel's air to a JSON file.

    Args:
        readings: CSV of the air around the wheel: `time,temperature_c,humidity_pct`.
        wheel: JSON of the wheel and the stages of its ageing.
        outer: CSV of the cave's air when the wheel lies in a lidded box. Read, not used yet.
        salts: CSV of a saturated-salt test, by name of the salt. Read, not used yet.
        out: The JSON file to write; a file of that name is replaced.

    Raises:
        BadReadingsError: A file of readings cannot be read, or holds no row that can be used.
        SettingsError: The wheel's file cannot be used, or the JSON cannot be written.
    """
    described = read_wheel(wheel)
    series = read_series(readings)
    aside = [] if outer is None else [_aside("--outer", outer, "sweat on the lid needs it")]
    aside += [
        _aside(f"--salt {name}", path, "the correction of the sensor needs it")
        for name, path in salts.items()
    ]
    found = {
        "excursions": _excursions(series, described),
        "gaps": [
            {"from": _iso(last_us), "to": _iso(first_us)}
            for last_us, first_us in gaps(series.times_us, series.longest_s).tolist()
        ],
        "rejected_readings": len(series.rejected),
        "notes": _notes(series, described, wheel) + aside,
    }
    text = json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False)
    try:
        out.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise SettingsError(
            f"{out}: cannot be written ({error.strerror}); name a file in a folder that exists"
        ) from error


def _excursions(series: Series, wheel: WheelFile) -> list[dict[str, str | float]]:
    """The excursions as the contract writes them."""
    stages = [(from_datetime(stage.begins), stage.target) for stage in wheel.stages]
    return [
        {
            "quantity": spell.quantity.value,
            "direction": spell.direction.value,
            "from": _iso(spell.from_us),
            "to": _iso(spell.to_us),
            "extreme": round(spell.extreme, 3),
        }
        for spell in find_excursions(series, stages)
    ]


def _notes(series: Series, wheel: WheelFile, file: Path) -> list[str]:
    """What a reader must know to trust the numbers, and what they do not tell."""
    notes = [f"{key} is left out: {why}." for key, why in _NOT_YET.items()]
    notes.append(
        "Excursions are judged on the readings as they are: the sensor's lag, noise and creep "
        "are not corrected yet."
    )
    if series.interval_s > _SLOW_S:
        notes.append(
            f"Readings come every {series.interval_s:g} s: the minutes between them are taken "
            "from the straight line between neighbours, so the ends of an excursion are no "
            "surer than that."
        )
    notes.append(f"A silence longer than {series.longest_s:g} s is a gap and ends an excursion.")
    notes += [f"Line {line} was rejected: {why}." for line, why in series.rejected[:_TOLD]]
    if len(series.rejected) > _TOLD:
        notes.append(f"{len(series.rejected) - _TOLD} more lines were rejected.")
    return notes + _notes_on_the_wheel(series, wheel, file)


def _notes_on_the_wheel(series: Series, wheel: WheelFile, file: Path) -> list[str]:
    """What the wheel's file leaves open."""
    notes = [
        f"{key} in {file.name} means nothing here and was not used; is it misspelt?"
        for key in wheel.unknown_keys
    ]
    if not wheel.stages:
        notes.append(f"{file.name} has no stages, so there is no range and no excursion.")
        if wheel.plan is not None:
            notes.append(
                f'The ranges of the plan "{wheel.plan}" are not used yet; write them as stages.'
            )
        return notes
    first_us = min(from_datetime(stage.begins) for stage in wheel.stages)
    if int(series.times_us[0]) < first_us:
        notes.append(f"Before the first stage, which begins {_iso(first_us)}, there is no range.")
    return notes


def _aside(option: str, path: Path, why: str) -> str:
    """A note on a file that is read but not used yet."""
    series = read_series(path)
    return (
        f"{option} {path.name} was read ({len(series.times_us)} readings, {len(series.rejected)} "
        f"rejected) but is not used yet: {why}, and that is not built."
    )


def _iso(time_us: int) -> str:
    """ISO 8601 with a Z."""
    return to_datetime(time_us).isoformat().replace("+00:00", "Z")
