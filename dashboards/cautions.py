"""Cautions where they belong, each with its source. None of them says that a cheese is safe."""

# ruff: noqa: RUF001 - a range takes an en dash

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from service.ageing.plans import Kind, Plan, Stage


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution and where it comes from."""

    words: str
    source: str


MOULD = Caution(
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
_RAW_AGED = Caution(
    "Raw milk: rules of the United States ask that many kinds of cheese made from it are cured"
    " for at least 60 days at no less than 1.7 °C (35 °F) before they are sold. The days alone"
    " make no cheese safe.",
    "21 CFR Part 133, for example 133.182(a).",
)
_BLUE_AGED = Caution(
    "What is sold as blue cheese in the United States is at least 60 days old, of whatever milk.",
    "21 CFR 133.106(a)(1).",
)
FRIDGE = Caution(
    "The kitchen fridge stays at or below 4–5 °C (39–41 °F).",
    "US FDA advice: 40 °F (4 °C); MAFF booklet Food Safety (United Kingdom): 5 °C.",
)
_CODES = Caution(
    "Local food rules come first, also for raw milk; ask your food authority. This service"
    " judges air, not cheese.",
    "",
)


_RISKY = frozenset({Kind.BLUE, Kind.WHITE_MOULD, Kind.WASHED_RIND})
_RISKY_WORDS = ("blue", "soft", "white", "washed")


def cautions_for(
    plan: Plan | None, stage: Stage | None, *, raw_milk: bool | None = None
) -> list[Caution]:
    """The cautions of a wheel's page, or of its plan's where no stage is given.

    A copy of a plan keeps them, whatever its name; a plan that is not known has all of them.
    Milk of which nothing is said may be raw.
    """
    found = [MOULD] if raw_milk is False else [MOULD, _RAW_MILK]
    if plan is None or _is_risky(plan):
        found.append(_AT_RISK)
    if plan is None or (stage is not None and (stage.wrapped or stage.in_kitchen_fridge)):
        found.append(FRIDGE)
    return [*found, _CODES]


def make_cautions(raw_milk: bool | None) -> list[Caution]:  # noqa: FBT001 - a fact of the milk
    """The cautions of a make day; where it is not said, the milk may be raw."""
    return [_CODES] if raw_milk is False else [_RAW_AGED, _RAW_MILK, _CODES]


def _is_risky(plan: Plan) -> bool:
    """By its kind; or by its words, should a maker have named the kind wrongly."""
    words = f"{plan.slug} {plan.name} {plan.family}".casefold()
    return plan.kind in _RISKY or any(word in words for word in _RISKY_WORDS)


def eating_cautions(wheels: Iterable[tuple[Plan, bool | None]]) -> list[Caution]:
    """The cautions beside days on which wheels are planned to be eaten.

    Args:
        wheels: The plan of each, and whether its milk was raw; where it is not said, it may be.
    """
    told = list(wheels)
    found = [MOULD]
    if any(raw is not False for _, raw in told):
        found += [_RAW_AGED, _RAW_MILK]
    if any(plan.kind is Kind.BLUE for plan, _ in told):
        found.append(_BLUE_AGED)
    if any(_is_risky(plan) for plan, _ in told):
        found.append(_AT_RISK)
    return [*found, FRIDGE, _CODES]


def sixty_days(plan: Plan, made: date, eat_from: date, *, raw_milk: bool | None) -> date | None:
    """When a wheel is 60 days old, where a rule asks for that and it would be eaten before.

    The rules are those of the United States for raw milk and for what is sold as blue.
    """
    asked = plan.kind is Kind.BLUE or raw_milk is not False
    aged = made + _SIXTY_DAYS
    return aged if asked and eat_from < aged else None


_SIXTY_DAYS = timedelta(days=60)
