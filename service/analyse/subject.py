"""The wheel under study: what its file says, and what is taken where the file is silent."""

from dataclasses import dataclass

import numpy as np

from service.ageing.plans import Plan, shipped_plans
from service.analyse.wheel_file import WheelFile
from service.clock import from_datetime
from service.science.composition import Composition, properties
from service.science.ripening import Activation
from service.science.solid import Cylinder
from service.science.surface import Rind
from service.science.transfer import water_activity_from_composition
from service.science.weighing import Weighing

USUAL_PLAN = "tomme"
"""Whose paste and ripening are taken for a wheel without a plan. Our choice: a middling one."""
WHOLE_GRAMS_SD_G, FINE_SD_G = 1.5, 0.5
"""Standard deviation of a weighing told in whole grams, and of one told finer. [g] Our choice."""
_LIGHTEST, _HEAVIEST = 500.0, 1_300.0
"""Density of wheels, with many holes and with none. [kg/m³] Our choice."""


@dataclass(frozen=True, slots=True)
class Subject:
    """The wheel as the science needs it.

    Attributes:
        cylinder: Its body.
        rind: Its surface.
        started_us: When its life began; None where not told. [µs UTC]
        start_c: Its temperature then; None where not told. [°C]
        start_g: Its mass then; None where not told. [g]
        start_sd_g: Standard deviation of that. [g]
        weighings: Without the mass at the start.
    """

    cylinder: Cylinder
    rind: Rind
    started_us: int | None
    start_c: float | None
    start_g: float | None
    start_sd_g: float
    weighings: tuple[Weighing, ...]


@dataclass(frozen=True, slots=True)
class Ripens:
    """How the wheel ripens with temperature: reference [°C] and activation energy [kJ/mol]."""

    reference_temperature_c: float
    activation: Activation


def plan_of(file: WheelFile) -> tuple[Plan, list[str]]:
    """The plan whose values stand in for what the file leaves out, and a note."""
    plans = shipped_plans()
    if file.plan is None:
        return plans[USUAL_PLAN], []
    wanted = file.plan.strip().casefold()
    for plan in plans.values():
        if wanted in {plan.slug.casefold(), plan.name.casefold()}:
            return plan, []
    return plans[USUAL_PLAN], [
        (
            f'The plan "{file.plan}" is not known here; what the wheel\'s file leaves out is taken '
            f'from "{USUAL_PLAN}". Plans are {", ".join(plans)}.'
        )
    ]


def subject_of(file: WheelFile, plan: Plan, usual_c: float) -> tuple[Subject | None, list[str]]:
    """The wheel, with a note for each thing that was not told.

    Args:
        file: The wheel's file.
        plan: Stands in for a composition that is not told.
        usual_c: Usual temperature of the air. [°C]

    Returns:
        The wheel, or None where its size is not told; and the notes.

    Raises:
        OutOfRangeError: The composition or the water activity cannot be.
    """
    if file.diameter_mm is None or file.height_mm is None:
        return None, [
            (
                "Without diameter_mm and height_mm the wheel has no body: its temperature, sweat "
                "and mass are left empty, and it ages as the air would."
            )
        ]
    notes: list[str] = []
    made_of = plan.paste.composition
    if file.composition is not None:
        given = file.composition
        made_of = Composition(given.water, given.fat, given.protein, given.ash, given.carbohydrate)
    else:
        notes.append(
            f'No composition is told: that of the plan "{plan.slug}" is taken '
            f"({made_of.water:.0%} water). Heat moves through most cheeses within a tenth alike."
        )
    mass_kg = None if file.mass_g is None else file.mass_g / 1_000
    paste = properties(made_of, float(np.clip(usual_c, 0.0, 30.0)))
    cylinder = Cylinder.of(paste, file.diameter_mm / 1_000, file.height_mm / 1_000, mass_kg)
    if not _LIGHTEST <= cylinder.density_kg_m3 <= _HEAVIEST:
        notes.append(
            f"Mass and size make {cylinder.density_kg_m3:.0f} kg/m³, which is no cheese; check "
            "diameter_mm, height_mm and mass_g."
        )
    # The mass at the start may have been weighed elsewhere, so its digits speak for it alone.
    start_sd_g = _scale_sd_g([] if file.mass_g is None else [file.mass_g])
    scale_sd_g = _scale_sd_g([one.grams for one in file.weighings])
    activity, note = _activity(file, plan, made_of)
    subject = Subject(
        cylinder,
        Rind(activity),
        None if file.started is None else from_datetime(file.started),
        file.initial_temperature_c,
        file.mass_g,
        start_sd_g,
        tuple(Weighing(from_datetime(one.time), one.grams, scale_sd_g) for one in file.weighings),
    )
    return subject, notes + note


def ripens(file: WheelFile, plan: Plan) -> tuple[Ripens, list[str]]:
    """How the wheel ripens; the band of the activation energy is the plan's."""
    energy = plan.activation_energy_kj_per_mol
    if file.ripening is None:
        activation = Activation(energy.value, energy.low, energy.high)
        note = (
            f"No ripening is told: days count as at {plan.reference_temperature_c:g} °C, with "
            f'{energy.value:g} kJ/mol, as in the plan "{plan.slug}".'
        )
        return Ripens(plan.reference_temperature_c, activation), [note]
    told = file.ripening
    value = told.activation_energy_kj_per_mol
    activation = Activation(value, min(energy.low, value), max(energy.high, value))
    return Ripens(told.reference_temperature_c, activation), []


def _activity(file: WheelFile, plan: Plan, made_of: Composition) -> tuple[float, list[str]]:
    """Water activity of the rind, and where it comes from."""
    if file.water_activity is not None:
        return file.water_activity, []
    if file.composition is not None:
        activity = water_activity_from_composition(made_of.water, made_of.ash)
        where = "from water and ash, taking ash above 1.8 % for salt"
    else:
        activity = plan.water_activity.value
        where = f'as in the plan "{plan.slug}"'
    note = (
        f"No water activity is told: {activity:.3f} is taken, {where}; 0.01 of it is as much as "
        "1 %RH."
    )
    return activity, [note]


def _scale_sd_g(grams: list[float]) -> float:
    """How sure weighings on one scale are, by the digits of all of them. [g]"""
    return WHOLE_GRAMS_SD_G if all(one == round(one) for one in grams) else FINE_SD_G
