"""What a reader must know to trust the numbers of an analysis, in plain words."""

import numpy as np

from sensors.moments import iso
from service.analyse.best_air import BestAir
from service.analyse.life import FORGOTTEN_US, Life, weighings_within
from service.analyse.series import Series
from service.analyse.subject import Subject
from service.analyse.wheel_file import WheelFile
from service.clock import from_datetime
from service.science.conduction import Temperatures
from service.science.sensor_truth import Fault, Finding
from service.science.signals import US_PER_S
from service.science.weighing import Weighing

_SLOW_S = 60.0
"""Readings further apart than this leave minutes to be filled in. [s]"""
_TOLD = 5
"""Rejected lines and faults of the sensor that are told; the others are counted."""
_S_PER_H = 3_600

_FAULTS = {
    Fault.STUCK_TEMPERATURE: "the temperature stood still at {value:.2f} °C: is the sensor stuck?",
    Fault.STUCK_HUMIDITY: "the humidity stood still at {value:.2f} %: is the sensor stuck?",
    Fault.SATURATED: "the humidity stayed at {value:.1f} %: the sensor is wet, or the air is fog",
    Fault.CREEP: "after damp days the humidity may read up to {value:.1f} %RH too high (creep)",
}


def notes_on_the_readings(series: Series, cave: Series | None) -> list[str]:
    """How the readings were taken, and what was rejected."""
    notes = []
    if series.interval_s > _SLOW_S:
        notes.append(
            f"Readings come every {series.interval_s:g} s: the minutes between them are taken "
            "from the straight line between neighbours, so the ends of an excursion are no "
            "surer than that."
        )
    notes.append(
        f"A silence longer than {series.longest_s:g} s is a gap: it ends an excursion and a spell "
        "of sweat, and nothing is told of either within it. The wheel's temperature and mass "
        "are drawn through gaps from air on a straight line; there they are estimates of less "
        "worth."
    )
    notes += [f"Line {line} was rejected: {why}." for line, why in series.rejected[:_TOLD]]
    if len(series.rejected) > _TOLD:
        notes.append(f"{len(series.rejected) - _TOLD} more lines were rejected.")
    if series.strayed_us:
        notes.append(
            f"Readings from another time, put aside and counted as rejected: "
            f"{len(series.strayed_us)}, the first of {iso(series.strayed_us[0])}. More than 400 "
            "days lie between them and the others; was the sensor's clock set?"
        )
    if cave is not None:
        notes.append(
            f"The cave's air ({len(cave.times_us)} readings, {cave.rejected_count} rejected) "
            "serves for the lid, door_openings and cooling_cycles. The salt tests are of the "
            "sensor about the wheel, so the cave's humidity is not corrected."
        )
    return notes


def notes_on_the_sensor(air: BestAir) -> list[str]:
    """What was done with the readings, and what they tell against their sensor."""
    notes = [
        (
            "Excursions are judged on the air behind the readings, an estimate: noise is taken out "
            "where the air allows it. The sensor's own lag is not known; 15 s is taken, and a "
            "sensor in still air may lag by up to two minutes, which blurs the ends of short "
            "excursions."
        )
    ]
    if air.spikes:
        notes.append(
            f"Values that stood alone, set aside as glitches of the sensor: {air.spikes}. They are "
            "not counted in rejected_readings."
        )
    if air.silenced:
        notes.append(
            f"Values of a sensor that stood still, or leapt to 100 % and stayed there, which tell "
            f"nothing of the air: {air.silenced}. They are not used, as if the sensor had been "
            "silent, and not counted in rejected_readings."
        )
    notes += [_fault(finding) for finding in air.faults[:_TOLD]]
    if len(air.faults) > _TOLD:
        notes.append(f"{len(air.faults) - _TOLD} more such findings on the sensor.")
    return notes


def _fault(finding: Finding) -> str:
    """One finding on the sensor."""
    what = _FAULTS[finding.fault].format(value=finding.value)
    stop = "" if what.endswith("?") else "."
    return f"From {iso(finding.from_us)} to {iso(finding.to_us)} {what}{stop}"


def notes_on_the_file(series: Series, wheel: WheelFile, name: str) -> list[str]:
    """What the wheel's file leaves open."""
    notes = [
        f"{key} in {name} means nothing here and was not used; is it misspelt?"
        for key in wheel.unknown_keys
    ]
    if not wheel.stages:
        notes.append(f"{name} has no stages, so there is no range and no excursion.")
        if wheel.plan is not None:
            notes.append(
                f'The ranges of the plan "{wheel.plan}" begin when its gates open, which no file '
                "of readings tells; write them as stages with their dates."
            )
        return notes
    first_us = min(from_datetime(stage.begins) for stage in wheel.stages)
    if int(series.times_us[0]) < first_us:
        notes.append(f"Before the first stage, which begins {iso(first_us)}, there is no range.")
    return notes


def notes_on_life(
    life: Life | None, warmth: Temperatures | None, subject: Subject, series: Series
) -> list[str]:
    """From where the wheel's life is told, with what coefficients, and how sure it is."""
    if life is None and warmth is not None:
        return [
            (
                "Humidity is never known together with temperature, so sweat and mass are left "
                "empty, and wheel_temperature is that of a wheel that neither dries nor sweats, an "
                "estimate: a wheel that dries is colder, up to some tenths of a kelvin."
            )
        ]
    if life is None:
        return [
            (
                "The wheel's temperature, sweat and mass are left empty: there is no air of its "
                "time with a temperature."
            )
        ]
    notes = _notes_on_the_start(life, subject, series)
    notes.append(
        f"wheel_temperature is an estimate, for a heat coefficient of {life.heat_w_m2_k:.1f} W/(m² "
        "K), radiation included, which is not known to better than a third. While the wheel "
        "dries, its surface may be a few tenths of a kelvin off."
    )
    notes.append(
        "Sweat is an estimate. It hangs on the humidity: 1 %RH too much is a surface 0.15 K too "
        "cold. Film that was patted off is not known."
    )
    low, high = life.coefficient.low * 1e9, life.coefficient.high * 1e9
    band = f"{life.coefficient.median * 1e9:.2g} ({low:.2g} to {high:.2g}) e-9 kg/(m² s Pa)"
    if life.fit is None:
        notes.append(
            "mass is left empty: neither mass_g nor a weighing within the readings is told, or the "
            f"wheel's readings span less than half an hour. The moisture coefficient is a guess, "
            f"{band}."
        )
        return notes
    notes.append(
        "mass is an estimate of the wheel wiped dry, low to high its 90 % band, each day and at "
        f"the end. The moisture coefficient is {band}."
    )
    if not _used(life, subject, series):
        notes.append(
            "No weighing within the readings tells how fast this wheel dries, so the band of mass "
            "is wide; two weighings some days apart make it narrow."
        )
    return notes + [note[0].upper() + note[1:] + "." for note in life.fit.notes]


def _notes_on_the_start(life: Life, subject: Subject, series: Series) -> list[str]:
    """Where the life begins, and from what temperature."""
    notes = []
    first_us, from_us = int(series.times_us[0]), int(life.times_us[0])
    started_us = subject.started_us
    late_us = 0 if started_us is None else max(0, from_us - started_us)
    if started_us is None:
        notes.append("No start is told: the wheel's life is told from the first reading on.")
    elif late_us:
        notes.append(
            f"The wheel began {late_us / US_PER_S / _S_PER_H:.1f} h before the first reading; its "
            "life, mass and age are told from there on."
        )
        if late_us >= FORGOTTEN_US and subject.start_c is not None:
            notes.append(
                "initial_temperature_c is so long ago that the wheel is begun at the temperature "
                "of its air."
            )
    elif from_us > first_us:
        notes.append("Readings before the wheel began count only for the air, not for the wheel.")
    if subject.start_c is None:
        notes.append(
            "No initial_temperature_c is told: the wheel is begun at the temperature of its air."
        )
    outside = len(subject.weighings) - len(_used(life, subject, series))
    if outside:
        notes.append(f"Weighings outside the readings, which are not used: {outside}.")
    hours = _hours_unknown(life)
    if hours > 0:
        notes.append(f"For {hours:.1f} h of the wheel's life the air is not known.")
    return notes


def _used(life: Life, subject: Subject, series: Series) -> list[Weighing]:
    """The weighings that count."""
    first_us, last_us = int(life.times_us[0]), int(life.times_us[-1])
    return weighings_within(subject, first_us, last_us, int(series.longest_s * US_PER_S))


def _hours_unknown(life: Life) -> float:
    """Time in gaps. [h]"""
    between = life.unknown[1:] | life.unknown[:-1]
    return float(np.diff(life.times_us)[between].sum()) / US_PER_S / _S_PER_H
