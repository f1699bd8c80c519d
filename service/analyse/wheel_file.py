"""WHEEL.json: the wheel, its plan and the stages it is judged against.

Every key may be missing, but what is written must be right: a wrong key is told in one line with
the file, the key and the mend.
"""

from pathlib import Path
from typing import Annotated, Self

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    FiniteFloat,
    ValidationError,
    model_validator,
)

from service.ageing.values import Range, Target
from service.errors import SettingsError


def _text(value: object) -> object:
    """Refuses a number where a time belongs; it would count as seconds since 1970."""
    if not isinstance(value, str):
        raise ValueError("this is no time")  # noqa: TRY004 - pydantic reports only ValueError
    return value


def _unless_null(value: object) -> object:
    """A list that is null is one that is missing, as with every other key."""
    return () if value is None else value


Moment = Annotated[AwareDatetime, BeforeValidator(_text)]
# Our choice of bounds: no wheel is outside them, and within them no number overflows.
Length = Annotated[FiniteFloat, Field(ge=5, le=2_000)]
Mass = Annotated[FiniteFloat, Field(ge=1, le=1_000_000)]
Energy = Annotated[FiniteFloat, Field(gt=0, le=500)]
Fraction = Annotated[FiniteFloat, Field(ge=0, le=1)]
Temperature = Annotated[FiniteFloat, Field(ge=-40, le=60)]
Activity = Annotated[FiniteFloat, Field(ge=0.5, le=1)]


def _low_end_first(ends: tuple[float, float]) -> tuple[float, float]:
    """Refuses a range that nothing could meet."""
    if ends[0] > ends[1]:
        raise ValueError("the high end comes first")
    return ends


Ends = Annotated[tuple[FiniteFloat, FiniteFloat], AfterValidator(_low_end_first)]


class _Part(BaseModel):
    """Keys that are not known are kept, so that a note can name them."""

    model_config = ConfigDict(frozen=True, extra="allow")


class Stage(_Part):
    """A stage of the wheel's ageing; it lasts until the next one begins."""

    name: str
    begins: Moment = Field(alias="from")
    temperature_c: Ends | None
    humidity_pct: Ends | None

    @property
    def target(self) -> Target:
        """What the stage asks of the air."""
        temperature, humidity = self.temperature_c, self.humidity_pct
        return Target(
            temperature_c=None if temperature is None else Range(*temperature),
            humidity_pct=None if humidity is None else Range(*humidity),
        )


class Composition(_Part):
    """Mass fractions of the fresh cheese."""

    water: Fraction
    fat: Fraction
    protein: Fraction
    ash: Fraction
    carbohydrate: Fraction


class Weighing(_Part):
    """The wheel on the scales."""

    time: Moment
    grams: Mass


class Ripening(_Part):
    """How ripening follows temperature."""

    reference_temperature_c: Temperature
    activation_energy_kj_per_mol: Energy


class WheelFile(_Part):
    """The whole file."""

    plan: str | None = None
    started: Moment | None = None
    diameter_mm: Length | None = None
    height_mm: Length | None = None
    mass_g: Mass | None = None
    composition: Composition | None = None
    water_activity: Activity | None = None
    initial_temperature_c: Temperature | None = None
    weighings: Annotated[tuple[Weighing, ...], BeforeValidator(_unless_null)] = ()
    ripening: Ripening | None = None
    stages: Annotated[tuple[Stage, ...], BeforeValidator(_unless_null)] = ()

    @model_validator(mode="after")
    def _one_stage_at_a_time(self) -> Self:
        begins = [stage.begins for stage in self.stages]
        if len(set(begins)) < len(begins):
            raise ValueError("two stages begin at the same time")
        return self

    @property
    def unknown_keys(self) -> list[str]:
        """Keys that mean nothing here, misspelt perhaps, as paths into the file."""
        parts: list[tuple[str, _Part | None]] = [("", self), ("composition.", self.composition)]
        parts.append(("ripening.", self.ripening))
        parts += [(f"stages[{n}].", stage) for n, stage in enumerate(self.stages)]
        parts += [(f"weighings[{n}].", weighing) for n, weighing in enumerate(self.weighings)]
        return [prefix + key for prefix, part in parts if part for key in part.model_extra or ()]


_FORMS = {
    "plan": "the name of a plan or null",
    "composition": "the mass fractions water, fat, protein, ash and carbohydrate",
    "weighings": 'a list of {"time", "grams"}',
    "ripening": '{"reference_temperature_c", "activation_energy_kj_per_mol"}',
    "stages": 'a list of {"name", "from", "temperature_c", "humidity_pct"}, each "from" once',
    "name": "a text in quotes",
    "temperature_c": "[low, high] in °C, or null for no range",
    "humidity_pct": "[low, high] in %RH, or null for no range",
    **dict.fromkeys(("from", "started", "time"), 'a time with its offset, "2026-11-25T12:00:00Z"'),
    **dict.fromkeys(("water", "fat", "protein", "ash", "carbohydrate"), "a fraction from 0 to 1"),
    "water_activity": "a fraction from 0.5 to 1",
    **dict.fromkeys(("diameter_mm", "height_mm"), "a number from 5 to 2000 mm"),
    **dict.fromkeys(("mass_g", "grams"), "a number from 1 to 1000000 g"),
    "activation_energy_kj_per_mol": "a number above 0 and up to 500 kJ/mol",
    "initial_temperature_c": "a number from -40 to 60 °C",
    "reference_temperature_c": "a number from -40 to 60 °C",
}


def read_wheel(path: Path) -> WheelFile:
    """The wheel that a file describes.

    Raises:
        SettingsError: The file cannot be read, is no JSON, or a key in it is wrong.
    """
    try:
        return WheelFile.model_validate_json(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror}); check the name") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path}: is no text in UTF-8; save it as UTF-8") from error
    except ValidationError as error:
        raise SettingsError(f"{path}: {_first_of(error)}") from error


def _first_of(error: ValidationError) -> str:
    """The first thing wrong: key, what is wrong, what to write."""
    first = error.errors(include_url=False)[0]
    if first["type"] == "json_invalid":
        return f"{first['msg'].removeprefix('Invalid JSON: ')}; mend the JSON there"
    if first["type"] == "model_type" and not first["loc"]:
        return 'is no JSON object; write {"plan": null, "stages": []} and what else is known'
    keys = [part for part in first["loc"] if isinstance(part, str)]
    where = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in first["loc"])
    what = (
        "is missing" if first["type"] == "missing" else first["msg"].removeprefix("Value error, ")
    )
    form = _FORMS.get(keys[-1] if keys else "stages", "a number above zero")
    more = error.error_count() - 1
    rest = f" (and {more} more to mend)" if more else ""
    return f"{where.lstrip('.') or 'stages'}: {what}; write {form}{rest}"
