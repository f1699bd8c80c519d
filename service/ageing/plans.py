"""Ageing plans: the ordered stages of a style, with what each asks of the air.

A plan is a TOML file that a maker can read, copy and edit. The files beside this module, in
the folder of the same name, are the plans that come with the service; every range in them
names its source or says "common practice, no source". A plan never says that a cheese is
fit to eat.

    format = 1                          # of the file, not of the plan
    slug = "blue"
    name = "Blue, natural rind"
    version = 1                         # raise it with every edit: history keeps its version
    family = "blue-veined, natural rind"
    kind = "blue"                       # decides on cautions: see Kind
    smell = "strong"                    # or "mild"
    reference_temperature_c = 10
    activation_energy_kj_per_mol = { low = 20, value = 46, high = 100, source = "..." }
    water_activity = { low = 0.91, value = 0.95, high = 0.97, source = "..." }

    [paste]                             # parts of the whole cheese, which sum to 1
    water = 0.40
    fat = 0.31
    protein = 0.21
    ash = 0.05
    carbohydrate = 0.03
    source = "..."

    [[stages]]
    slug = "ripening"
    name = "Ripening"
    temperature_c = { low = 8, high = 12, source = "..." }
    humidity_pct = { low = 88, high = 96, where = "air around the wheel", source = "..." }
    length_days = { earliest = 35, expected = 45, latest = 60, source = "..." }
    gate = { words = "what must be seen before the stage ends" }
    advice = "what to do in it"

A stage that asks nothing of the temperature or of the humidity leaves that line out. The keys for
wrap and kitchen fridge are told in `service.ageing.plan_keeping`, those for gates, care and
readiness in `service.ageing.plan_work`.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from importlib import resources
from typing import Final

from service.ageing.plan_keeping import read_keeping
from service.ageing.plan_reading import PlanFile, Section, ascending
from service.ageing.plan_work import LENGTH_DAYS, read_care, read_gate, read_readiness
from service.ageing.values import Range, Target
from service.ageing.work import CareRule, Days, Gate, Readiness, Smell
from service.errors import PlanError, UnknownError
from service.science.composition import TOLERANCE, Composition

FORMAT: Final = 1
"""The version of the file format that this module reads."""

# Wide bounds that only catch slips such as °F, a comma lost or a fraction for a percentage.
_TEMPERATURE_C: Final = (-5.0, 40.0)
_HUMIDITY_PCT: Final = (20.0, 100.0)
_ACTIVATION_ENERGY_KJ_PER_MOL: Final = (1.0, 250.0)
_FRACTION: Final = (0.0, 1.0)
_WATER: Final = (0.1, 0.9)
_WATER_ACTIVITY: Final = (0.7, 1.0)


class Kind(StrEnum):
    """What a cheese is, as far as its looks and the cautions for its eaters go."""

    BLUE = "blue"
    WHITE_MOULD = "white mould"
    WASHED_RIND = "washed rind"
    NATURAL_RIND = "natural rind"
    COATED = "coated"
    HARD = "hard"


@dataclass(frozen=True, slots=True)
class LengthDays:
    """How long a stage lasts. A gate opens on what is seen; these days only ask. [d]"""

    earliest: float
    expected: float
    latest: float
    source: str


@dataclass(frozen=True, slots=True)
class ActivationEnergy:
    """How strongly ripening speeds up with warmth, with the band of what is published. [kJ/mol]"""

    low: float
    value: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Paste:
    """What the wheels of a style are made of, and who says so."""

    composition: Composition
    source: str


@dataclass(frozen=True, slots=True)
class WaterActivity:
    """Water activity of the rind, with the band of what is published. [1]"""

    low: float
    value: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a plan.

    Attributes:
        slug: Its short name in records and addresses.
        name: Its name for the maker.
        target: What it asks of the air.
        temperature_source: Where the temperature range comes from; None when none is asked.
        humidity_source: Where the humidity range comes from; None when none is asked.
        humidity_where: In which air the humidity counts; None when none is asked.
        length_days: How long it lasts.
        gate: What must be seen before it ends, and when to ask.
        care: What it asks to be done with the wheels and their box.
        advice: What to do in it.
        wrapped: Whether it is lived under a wrap; no water passes then.
        in_kitchen_fridge: Whether it is lived in the kitchen fridge.
    """

    slug: str
    name: str
    target: Target
    temperature_source: str | None
    humidity_source: str | None
    humidity_where: str | None
    length_days: LengthDays
    gate: Gate
    care: tuple[CareRule, ...]
    advice: str
    wrapped: bool = False
    in_kitchen_fridge: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """The ageing plan of a style, in one of its versions.

    Attributes:
        slug: Its short name in records and addresses.
        name: Its name for the maker.
        version: Counts the edits; a wheel's history keeps the version that it ran under.
        family: The family of cheese, in words.
        kind: What it is; decides on cautions and looks, also for a copy under another name.
        smell: How much it smells of itself to its neighbours.
        reference_temperature_c: The temperature at which a day counts as a day. [°C]
        activation_energy_kj_per_mol: How strongly ripening speeds up with warmth. [kJ/mol]
        paste: What its wheels are made of.
        water_activity: Of their rind. [1]
        stages: In their order.
        readiness: How far its wheels have ripened when they feel so.
    """

    slug: str
    name: str
    version: int
    family: str
    kind: Kind
    smell: Smell
    reference_temperature_c: float
    activation_energy_kj_per_mol: ActivationEnergy
    paste: Paste
    water_activity: WaterActivity
    stages: tuple[Stage, ...]
    readiness: Readiness

    def stage(self, slug: str) -> Stage:
        """The stage with that short name.

        Raises:
            UnknownError: The plan has none.
        """
        for stage in self.stages:
            if stage.slug == slug:
                return stage
        names = ", ".join(stage.slug for stage in self.stages)
        raise UnknownError(f"plan {self.slug} has no stage {slug}; it has {names}")

    @property
    def kitchen_stage(self) -> Stage | None:
        """The first of its stages that is lived in the kitchen fridge; None when none is."""
        return next((stage for stage in self.stages if stage.in_kitchen_fridge), None)


def parse_plan(text: str, name: str) -> Plan:
    """Read a plan from the text of its file.

    Args:
        text: The file's text, TOML.
        name: What to call the file in messages.

    Returns:
        The plan, with every value checked.

    Raises:
        PlanError: It cannot be read; the message names the file, the line and the mend.
    """
    top = PlanFile(text, name).top
    if top.whole("format") != FORMAT:
        raise top.error("format", "this format is not known here", f"write format = {FORMAT}")
    stages = _stages(top.sections("stages"))
    plan = Plan(
        slug=top.slug("slug"),
        name=top.text("name"),
        version=top.whole("version"),
        family=top.text("family"),
        kind=top.choice("kind", Kind),
        smell=top.choice("smell", Smell),
        reference_temperature_c=top.number("reference_temperature_c", *_TEMPERATURE_C),
        activation_energy_kj_per_mol=_activation_energy(
            top.section("activation_energy_kj_per_mol")
        ),
        paste=_paste(top.section("paste")),
        water_activity=_water_activity(top.section("water_activity")),
        stages=stages,
        readiness=read_readiness(top.section("readiness"), [stage.slug for stage in stages]),
    )
    top.finish()
    return plan


def shipped_plans() -> dict[str, Plan]:
    """The plans that come with the service, by their short names.

    Raises:
        PlanError: A shipped file is broken, or two carry the same short name.
    """
    plans: dict[str, Plan] = {}
    for slug, text in shipped_texts().items():
        plan = parse_plan(text, f"{slug}.toml")
        if plan.slug != slug:
            raise PlanError(f"{slug}.toml: its slug is {plan.slug}; name the file {plan.slug}.toml")
        plans[slug] = plan
    return plans


def shipped_texts() -> dict[str, str]:
    """The texts of the plans that come with the service, by the names of their files."""
    folder = resources.files("service.ageing") / "plans"
    return {
        file.name.removesuffix(".toml"): file.read_text(encoding="utf-8")
        for file in sorted(folder.iterdir(), key=lambda entry: entry.name)
        if file.name.endswith(".toml")
    }


def _stages(sections: tuple[Section, ...]) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    for section in sections:
        stage = _stage(section)
        if any(stage.slug == earlier.slug for earlier in stages):
            raise section.error(
                "slug", f'a stage "{stage.slug}" stands above already', "give each its own slug"
            )
        stages.append(stage)
    return tuple(stages)


def _stage(section: Section) -> Stage:
    slug, name = section.slug("slug"), section.text("name")
    wrapped, in_kitchen_fridge = read_keeping(section, slug)
    temperature = humidity = None
    temperature_source = humidity_source = humidity_where = None
    if section.has("temperature_c"):
        part = section.section("temperature_c")
        temperature, temperature_source = _range(part, _TEMPERATURE_C)
        part.finish()
    if section.has("humidity_pct"):
        part = section.section("humidity_pct")
        humidity, humidity_source = _range(part, _HUMIDITY_PCT)
        humidity_where = part.text("where")
        part.finish()
    length = _length(section.section("length_days"))
    stage = Stage(
        slug=slug,
        name=name,
        target=Target(temperature_c=temperature, humidity_pct=humidity),
        temperature_source=temperature_source,
        humidity_source=humidity_source,
        humidity_where=humidity_where,
        length_days=length,
        gate=read_gate(section, _asked_by_length(length)),
        care=read_care(section),
        advice=section.text("advice"),
        wrapped=wrapped,
        in_kitchen_fridge=in_kitchen_fridge,
    )
    section.finish()
    return stage


def _range(section: Section, bounds: tuple[float, float]) -> tuple[Range, str]:
    low, high = ascending(section, ("low", "high"), *bounds)
    return Range(low, high), section.text("source")


def _length(section: Section) -> LengthDays:
    earliest, expected, latest = ascending(
        section, ("earliest", "expected", "latest"), *LENGTH_DAYS
    )
    length = LengthDays(earliest, expected, latest, section.text("source"))
    section.finish()
    return length


def _asked_by_length(length: LengthDays) -> Days:
    """When a gate without days of its own is asked for, in whole days of the stage."""
    return Days(
        math.ceil(length.earliest),
        math.ceil(length.expected),
        math.ceil(length.latest),
        length.source,
    )


def _activation_energy(section: Section) -> ActivationEnergy:
    low, value, high = ascending(section, ("low", "value", "high"), *_ACTIVATION_ENERGY_KJ_PER_MOL)
    energy = ActivationEnergy(low, value, high, section.text("source"))
    section.finish()
    return energy


def _paste(section: Section) -> Paste:
    parts = {name: section.number(name, *_FRACTION) for name in ("fat", "protein", "ash")}
    parts["carbohydrate"] = section.number("carbohydrate", *_FRACTION)
    parts["water"] = section.number("water", *_WATER)
    total = math.fsum(parts.values())
    if not abs(total - 1) <= TOLERANCE:
        raise section.error(
            None,
            f"the parts of the paste sum to {total:g}",
            "give parts of the whole cheese that sum to 1, such as water = 0.42",
        )
    paste = Paste(Composition(**parts), section.text("source"))
    section.finish()
    return paste


def _water_activity(section: Section) -> WaterActivity:
    low, value, high = ascending(section, ("low", "value", "high"), *_WATER_ACTIVITY)
    activity = WaterActivity(low, value, high, section.text("source"))
    section.finish()
    return activity
