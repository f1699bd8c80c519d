"""The findings of an analysis in the keys and forms of its contract, notes among them."""

from typing import Any

import numpy as np

from sensors.moments import iso
from service.analyse.best_air import BestAir, best_air
from service.analyse.excursions import find_excursions
from service.analyse.life import EVERY_US, Life, begins_us, lid_sweat, live, warmed
from service.analyse.notes import (
    notes_on_life,
    notes_on_the_file,
    notes_on_the_readings,
    notes_on_the_sensor,
)
from service.analyse.series import FloatArray, Series
from service.analyse.subject import Ripens, plan_of, ripens, subject_of
from service.analyse.wheel_file import WheelFile
from service.clock import from_datetime
from service.science.conduction import Temperatures
from service.science.correction import Correction
from service.science.cycles import cooling_cycles
from service.science.film import WetSpell
from service.science.openings import door_openings
from service.science.ripening import EquivalentAge, equivalent_age
from service.science.signals import gaps

_FAR_APART_S = 1e12
"""No silence is a gap for the age: the wheel's temperature is drawn through the gaps. [s]"""


_LID_NOTE = (
    "Sweat on the lid is an estimate for a thin plastic lid that lies two parts to the cave and "
    "one part to the box; how strongly a fan blows on it is not known. Water that was wiped off "
    "is not known either."
)
_NO_LID_NOTE = (
    "Nothing is told of sweat on the lid: the cave's air and the air in the box are never known at "
    "the same time."
)
_USUAL_C = 12.0
"""Taken for a file without a single temperature; the paste hardly heeds it. [°C]"""


def report(
    series: Series,
    file: WheelFile,
    file_name: str,
    cave: Series | None,
    correction: Correction | None,
) -> dict[str, Any]:
    """Everything that the readings tell, as the contract writes it.

    Args:
        series: Readings of the air about the wheel.
        file: The wheel's file.
        file_name: What to call it in notes.
        cave: Readings of the cave about a lidded box, or None.
        correction: The correction of the sensor about the wheel, or None.

    Returns:
        The findings by the contract's keys.

    Raises:
        OutOfRangeError: The wheel cannot be as its file says.
    """
    air = best_air(series, correction)
    around = air if cave is None else best_air(cave, None)
    plan, notes = plan_of(file)
    notes = notes_on_the_file(series, file, file_name) + notes
    notes += notes_on_the_readings(series, cave) + notes_on_the_sensor(air)
    usual_c = float(np.nanmedian(series.temperature_c)) if _any(series.temperature_c) else _USUAL_C
    subject, more = subject_of(file, plan, usual_c)
    notes += more
    life, warmth = None, None
    if subject is not None:
        from_us, in_box = begins_us(air.best, subject), cave is not None
        if from_us is not None:
            life = live(air.best, subject, from_us, in_box=in_box)
            warmth = (
                warmed(air.best, subject, from_us, in_box=in_box)
                if life is None
                else life.climate.temperatures
            )
        notes += notes_on_life(life, warmth, subject, series)
    ripening, more = ripens(file, plan)
    notes += more
    age = _age(air.best, file, warmth, ripening)
    notes += _notes_on_age(age)
    lid: list[WetSpell] = []
    if cave is not None:
        lid, lid_c = lid_sweat(air.best, around.best)
        notes.append(_LID_NOTE if lid_c.size else _NO_LID_NOTE)
    cycles = _cycles(around)
    if cycles is None:
        notes.append(
            "cooling_cycles holds no figures: the air shows no regular cycle of 10 minutes to "
            "2 hours, or is read too seldom to show one."
        )
    return {
        "excursions": _excursions(air.best, file),
        "condensation": _condensation([] if life is None else life.sweat(), lid),
        "wheel_temperature": [] if warmth is None else _temperatures(warmth),
        "mass": [] if life is None else _masses(life),
        "equivalent_age_days": None if age is None else round(age.days, 4),
        "door_openings": _openings(around),
        "cooling_cycles": cycles or {"period_s": None, "duty": None},
        "gaps": [
            {"from": iso(last_us), "to": iso(first_us)}
            for last_us, first_us in gaps(series.times_us, series.longest_s).tolist()
        ],
        "rejected_readings": series.rejected_count,
        "humidity_correction": {
            "offset_pct": 0.0 if correction is None else round(correction.offset_pct, 4),
            "gain": 1.0 if correction is None else round(correction.gain, 6),
        },
        "notes": notes,
    }


def _any(values: FloatArray) -> bool:
    """Whether anything was read."""
    return bool((~np.isnan(values)).any())


def _excursions(air: Series, file: WheelFile) -> list[dict[str, str | float]]:
    """The air outside the ranges of the stages."""
    stages = [(from_datetime(stage.begins), stage.target) for stage in file.stages]
    return [
        {
            "quantity": spell.quantity.value,
            "direction": spell.direction.value,
            "from": iso(spell.from_us),
            "to": iso(spell.to_us),
            "extreme": round(spell.extreme, 3),
        }
        for spell in find_excursions(air, stages)
    ]


def _condensation(wheel: list[WetSpell], lid: list[WetSpell]) -> list[dict[str, str | float]]:
    """Wet spells of both surfaces, by start."""
    both = [("wheel", spell) for spell in wheel] + [("lid", spell) for spell in lid]
    return [
        {
            "surface": surface,
            "from": iso(spell.from_us),
            "to": iso(spell.to_us),
            "peak_g_per_m2": round(spell.peak_g_m2, 3),
        }
        for surface, spell in sorted(both, key=lambda one: one[1].from_us)
    ]


def _temperatures(temperatures: Temperatures) -> list[dict[str, str | float]]:
    """Surface and mean of the wheel on whole ten minutes."""
    at = np.flatnonzero(temperatures.times_us % EVERY_US == 0)
    return [
        {"time": iso(time_us), "surface_c": surface_c, "mean_c": mean_c}
        for time_us, surface_c, mean_c in zip(
            temperatures.times_us[at].tolist(),
            temperatures.surface_c[at].round(3).tolist(),
            temperatures.mean_c[at].round(3).tolist(),
            strict=True,
        )
    ]


def _masses(life: Life) -> list[dict[str, str | float]]:
    """Mass of the wheel wiped dry, day by day."""
    band = life.daily_mass()
    if band is None:
        return []
    columns = (band.times_us, band.grams.round(2), band.low.round(2), band.high.round(2))
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return [
        {"time": iso(time_us), "grams": grams, "low": low, "high": high}
        for time_us, grams, low, high in rows
    ]


def _age(
    air: Series, file: WheelFile, warmth: Temperatures | None, ripening: Ripens
) -> EquivalentAge | None:
    """Age of the wheel's mean temperature; of the air's where the wheel has no body.

    None where no temperature is known.
    """
    if warmth is not None:
        times_us, mean_c = warmth.times_us, warmth.mean_c
    else:
        started_us = 0 if file.started is None else from_datetime(file.started)
        since = air.times_us >= started_us
        times_us, mean_c = air.times_us[since], air.temperature_c[since]
    if not _any(mean_c):
        return None
    return equivalent_age(
        times_us, mean_c, ripening.reference_temperature_c, ripening.activation, _FAR_APART_S
    )


def _notes_on_age(age: EquivalentAge | None) -> list[str]:
    """The band of the age."""
    if age is None:
        return ["equivalent_age_days is null: no temperature of the wheel's time is known."]
    return [
        (
            f"equivalent_age_days is an estimate: {age.days:.1f} d, {age.low_days:.1f} to "
            f"{age.high_days:.1f} d across the activation energies published for cheese, in "
            f"{age.elapsed_days:.1f} d by the calendar."
        )
    ]


def _openings(around: BestAir) -> list[str]:
    """When the door was opened."""
    air = around.corrected
    found = door_openings(air.times_us, air.temperature_c, air.humidity_pct)
    return [iso(opening.time_us) for opening in found]


def _cycles(around: BestAir) -> dict[str, float] | None:
    """Period and duty of the cooling."""
    air = around.corrected
    cycles = cooling_cycles(air.times_us, air.temperature_c)
    if cycles is None:
        return None
    return {"period_s": round(cycles.period_s, 1), "duty": round(cycles.duty, 4)}
