"""The forms of a make day: what was typed becomes values of the record, and wheels."""

import json
import re

from pydantic import BaseModel, ConfigDict, Field

from dashboards.make_words import FIELD_NAMES
from dashboards.typed import needed_number, number
from service.ageing.measures import MassUnit, VolumeUnit, in_grams, in_litres
from service.api.actions import EnteredWheel
from service.api.refusals import RefusedError
from service.store.make_days import Value

RAW = {"raw": True, "pasteurised": False, "": None}
"""Whether the milk is raw, by what its choice sends."""
FORMS = {
    "record": (
        *("name", "plan", "raw_milk", "milk", "milk_l", "cultures", "rennet", "moulds"),
        "words",
    ),
    "salt": ("curd_g", "salting", "salt_pct"),
    "multiplier": ("multiplier",),
}
"""The fields of the record that each form sends."""
MOST_WHEELS = 200


class EditForm(BaseModel):
    """One of the forms of a record: its fields as typed, and as they were when it was shown."""

    model_config = ConfigDict(extra="ignore", frozen=True)

    form: str = Field(pattern="^(record|salt|multiplier)$")
    version: int = Field(ge=1, le=2**31 - 1)
    was: str = Field("{}", max_length=40_000)
    name: str = Field("", max_length=200)
    plan: str = Field("", max_length=200)
    raw_milk: str = Field("", max_length=20)
    milk: str = Field("", max_length=4_000)
    milk_l: str = Field("", max_length=40)
    milk_unit: VolumeUnit = VolumeUnit.LITRE
    cultures: str = Field("", max_length=4_000)
    rennet: str = Field("", max_length=4_000)
    moulds: str = Field("", max_length=4_000)
    words: str = Field("", max_length=4_000)
    multiplier: str = Field("", max_length=40)
    curd_g: str = Field("", max_length=40)
    curd_unit: MassUnit = MassUnit.GRAM
    salting: str = Field("", max_length=20)
    salt_pct: str = Field("", max_length=40)

    def changes(self) -> dict[str, Value]:
        """What the maker wants the fields of this form to hold.

        Raises:
            RefusedError: A number is none.
        """
        found: dict[str, Value] = {}
        for field in FORMS[self.form]:
            typed = str(getattr(self, field))
            found[field] = self._value(field, typed)
        return found

    def before(self) -> dict[str, Value]:
        """What they held when the form was shown; nothing where that cannot be read."""
        try:
            told = json.loads(self.was)
        except ValueError:
            return {}
        if not isinstance(told, dict):
            return {}
        return {
            field: value
            for field, value in told.items()
            if field in FORMS[self.form] and isinstance(value, (str, float, int, type(None)))
        }

    def _value(self, field: str, typed: str) -> Value:
        name = f"“{FIELD_NAMES[field]}”"
        if field == "raw_milk":
            return RAW.get(typed)
        if field == "salting":
            return typed or None
        if field in {"milk_l", "curd_g", "salt_pct", "multiplier"}:
            value = number(typed, name)
            if value is not None and field == "milk_l":
                value = round(in_litres(value, self.milk_unit), 4)
            if value is not None and field == "curd_g":
                value = round(in_grams(value, self.curd_unit), 2)
            return value
        return typed


def wheels_of_form(
    count: int, diameter_mm: str, height_mm: str, mass_g: str, each_g: str
) -> list[EnteredWheel]:
    """The wheels of one size; weighed each by itself where weights were typed.

    Raises:
        RefusedError: A number is none, or neither kind of weight was typed.
    """
    diameter = needed_number(diameter_mm, "the diameter")
    height = needed_number(height_mm, "the height")
    weights = [needed_number(each, "the weights") for each in re.split(r"[\s;]+", each_g) if each]
    if not weights:
        weights = [needed_number(mass_g, "the weight of each wheel, or all their weights")] * count
    if len(weights) > MOST_WHEELS:
        raise RefusedError(f"a batch has up to {MOST_WHEELS} wheels")
    return [EnteredWheel(diameter, height, weight) for weight in weights]
