"""Cautions where they belong, each with its source. None of them says that a cheese is safe."""

# ruff: noqa: RUF001 - a range takes an en dash

from dataclasses import dataclass

from dashboards.drawings.wheels import style_of


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution and where it comes from."""

    words: str
    source: str


_MOULD = Caution(
    "A growth that does not belong to this style (black, pink, slimy, or with a foul smell):"
    " throw the cheese away, or ask someone qualified. Do not taste it to find out.",
    "Common practice, no source.",
)
_AT_RISK = Caution(
    "Not for people who are pregnant, old, very young or of weakened immunity: soft cheese with"
    " a white rind and soft blue cheese, unless cooked until steaming hot.",
    "After advice of the NHS (United Kingdom).",
)
_RAW_MILK = Caution(
    "Nothing made from unpasteurised milk is for people who are pregnant, old, very young or of"
    " weakened immunity, however long it has aged.",
    "After advice of the NHS (United Kingdom).",
)
_FRIDGE = Caution(
    "The kitchen fridge stays at or below 4–5 °C (39–41 °F).",
    "US FDA advice: 40 °F (4 °C); MAFF booklet Food Safety (United Kingdom): 5 °C.",
)
_CODES = Caution(
    "Local food rules come first, also for raw milk; ask your food authority. This service"
    " judges air, not cheese.",
    "",
)


def cautions_for(plan: str, stage: str | None) -> list[Caution]:
    """The cautions of a wheel's page."""
    found = [_MOULD, _RAW_MILK]
    if style_of(plan) in {"blue", "white", "washed"}:
        found.append(_AT_RISK)
    if stage in {"wrapped", "cold"}:
        found.append(_FRIDGE)
    return [*found, _CODES]
