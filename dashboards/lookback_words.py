"""A look back in words: the window, what differs most, how sure that is; never a cause."""

# ruff: noqa: RUF001 - the reader gets real dashes and minus signs

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dashboards.words import UNIT_SPACE, Words, counted, listed
from service.ageing.lookback import FEWEST, RARE, Comparison, Feature, Group, Row, Value
from service.ageing.noted import Condition
from service.ageing.values import Quantity
from service.recalling.looking_back import LookBack
from service.science.rank_difference import RankDifference

_HOURS: Final = (Feature.TOO_DRY, Feature.TOO_DAMP, Feature.TOO_COLD, Feature.TOO_WARM)
_NAMES: Final = {
    Feature.TOO_DRY: "hours too dry",
    Feature.TOO_DAMP: "hours too damp",
    Feature.TOO_COLD: "hours too cold",
    Feature.TOO_WARM: "hours too warm",
    Feature.WET: "wet hours, estimate",
    Feature.OPENINGS: "openings of the door",
    Feature.TEMPERATURE: "mean temperature",
    Feature.HUMIDITY: "mean humidity",
    Feature.SINCE_TURNED: "days since turned",
}
_QUANTITIES: Final = {
    Feature.TEMPERATURE: Quantity.TEMPERATURE,
    Feature.HUMIDITY: Quantity.HUMIDITY,
}
_FINE: Final = 10.0
_WHOLE: Final = 0.995
_LEAST: Final = 0.05
_SAME_DAY_D: Final = 1.0

NOT_A_CAUSE: Final = (
    "What differs goes along with what was seen. It may share its reason with something that"
    " nobody measured, or come by chance; this page does not say that one made the other."
)


@dataclass(frozen=True, slots=True)
class TableRow:
    """One feature as it reads in the table."""

    name: str
    this: str
    cases: str
    others: str
    difference: str
    stands_out: bool


def window_words(found: LookBack, words: Words) -> list[str]:
    """The window in sentences."""
    values = found.values
    parts = []
    calm = []
    for feature in _HOURS:
        amount = values[feature].amount
        if amount is not None and amount >= _LEAST:
            parts.append(f"{_amount(feature, amount, words)} {feature}")
        elif amount is not None:
            calm.append(str(feature))
    wet = values[Feature.WET].amount
    if wet is not None:
        band = found.wet_band_h
        ends = f"{_number(band.low)}–{_number(band.high)}{UNIT_SPACE}h, " if band else ""
        parts.append(f"wet {_amount(Feature.WET, wet, words)} ({ends}estimate)")
    opened = values[Feature.OPENINGS].amount
    if opened is not None:
        parts.append(counted(round(opened), "opening"))
    for feature in _QUANTITIES:
        mean = values[feature].amount
        if mean is not None:
            parts.append(f"{_NAMES[feature]} {_amount(feature, mean, words)}")
    lines = [f"In the {found.days} days before: {', '.join(parts) or 'nothing is known'}."]
    if calm:
        lines.append(f"At no time {_or(calm)}.")
    lines.append(_turned(values[Feature.SINCE_TURNED].amount))
    lines += _unknown(values)
    return lines


def _turned(days: float | None) -> str:
    if days is None:
        return "When it was last turned is not recorded."
    if days < _SAME_DAY_D:
        return "Last turned less than a day before."
    return f"Last turned {_number(days)}{UNIT_SPACE}d before."


def _unknown(values: Mapping[Feature, Value]) -> list[str]:
    """What is not known, and what is known only in part."""
    missing = [
        _NAMES[feature].removesuffix(", estimate")
        for feature, value in values.items()
        if value.amount is None and feature is not Feature.SINCE_TURNED
    ]
    lines = [f"Too little is known for {listed(missing)}."] if missing else []
    partly = [
        value.covered
        for feature, value in values.items()
        if value.amount is not None and value.covered < _WHOLE
    ]
    if partly:
        lines.append(
            f"Only {100 * min(partly):.0f}{UNIT_SPACE}% of that time is known at least;"
            " hours and openings are told as for all of it."
        )
    return lines


def compared_words(found: Comparison) -> list[str]:
    """With what the window is compared, and what differs most."""
    of = f"“{found.condition}”"
    cases = f"{counted(found.cases, 'window')} before {of} was seen"
    looked = found.others - found.regular
    others = []
    if looked or not found.regular:
        others.append(f"{counted(looked, 'window')} before it was looked for and not seen")
    if found.regular:
        others.append(
            f"{counted(found.regular, 'regular window')} in which nobody noted it, which is less"
            " sure"
        )
    lines = [f"Compared are {cases}, and {listed(others)}."]
    if not found.enough:
        lines.append(f"Too few to compare: at least {FEWEST} of each are needed.")
        return lines
    first = found.rows[0]
    if first.difference is None:
        lines.append("Too little is known of them to compare.")
        return lines
    lines.append(_most(first, first.difference, of))
    lines.append(_chance(first, found))
    lines += _level(found)
    return lines


def _most(row: Row, difference: RankDifference, of: str) -> str:
    if not difference.delta:
        return "Nothing differs: no feature tends to be higher or lower with it."
    side = "higher" if difference.delta > 0 else "lower"
    name = _NAMES[row.feature].removesuffix(", estimate")
    return f"What differs most: {name}, {side} where {of} was seen; {_pairs(difference)}."


def _chance(first: Row, found: Comparison) -> str:
    compared = sum(row.chance is not None for row in found.rows)
    if first.chance is None:
        times = min(found.case_times, found.other_times)
        return (
            f"The wheels lay together so much that one side comes from only"
            f" {counted(times, 'separate stretch', 'separate stretches')} of air: too few to tell"
            " it from chance."
        )
    often = max(1, round(100 * first.chance))
    told = f"Chance alone sets one of {compared} features so far apart in"
    if first.chance <= RARE:
        limit = "fewer than 1" if first.chance < RARE / 5 else f"about {often}"
        return f"{told} {limit} of 100 such comparisons: it stands out."
    return f"{told} about {often} of 100 such comparisons: it may well be chance."


def _level(found: Comparison) -> list[str]:
    """What measures the same as the first, and too few looks tell from it."""
    level = [
        f"{_NAMES[row.feature]}, {_pairs(row.difference)}"
        for row in found.level_with_first
        if row.difference is not None
    ]
    told = f"These looks do not tell it from what also measures {found.rows[0].feature.quantity}:"
    return [f"{told} {'; '.join(level)}."] if level else []


def table_rows(found: Comparison, values: Mapping[Feature, Value], words: Words) -> list[TableRow]:
    """The features as they read in the table, in the order in which they are compared."""
    return [
        TableRow(
            name=_NAMES[row.feature],
            this=_this(row.feature, values[row.feature].amount, words),
            cases=_group(row.feature, row.cases, words),
            others=_group(row.feature, row.others, words),
            difference=_difference(row, words),
            stands_out=row.stands_out,
        )
        for row in found.rows
    ]


def condition_words(condition: Condition) -> str:
    """A condition as it heads a page.

    Examples:
        >>> condition_words(Condition.WET_RIND)
        'Wet rind'
    """
    return f"{condition[:1].upper()}{condition[1:]}"


def _this(feature: Feature, amount: float | None, words: Words) -> str:
    return "not known" if amount is None else _amount(feature, amount, words)


def _group(feature: Feature, group: Group | None, words: Words) -> str:
    if group is None:
        return "not known"
    low, high = (_bare(feature, end, words) for end in (group.low, group.high))
    middle = _amount(feature, group.middle, words)
    return f"{middle} ({low}–{high}), n{UNIT_SPACE}={UNIT_SPACE}{group.count}"


def _difference(row: Row, words: Words) -> str:
    found = row.difference
    if found is None:
        return "too few to compare"
    sign = "+" if found.shift > 0 else "−" if found.shift < 0 else "±"
    quantity = _QUANTITIES.get(row.feature)
    size = abs(found.shift)
    by = words.amount(quantity, size) if quantity else _amount(row.feature, size, words)
    return f"{sign}{by}; {_pairs(found)}"


def _pairs(found: RankDifference) -> str:
    """In how many pairs of a case and another the case lies higher, or lower."""
    side = "higher" if found.delta >= 0 else "lower"
    shares = sorted(
        (1 + (end if found.delta >= 0 else -end)) / 2 for end in (found.low, found.high)
    )
    share = (1 + abs(found.delta)) / 2
    ends = f"{100 * shares[0]:.0f}–{100 * shares[1]:.0f}"
    return f"{side} in {100 * share:.0f} of 100 pairs ({ends})"


def _amount(feature: Feature, amount: float, words: Words) -> str:
    quantity = _QUANTITIES.get(feature)
    if quantity is not None:
        return words.value(quantity, amount)
    unit = f"{UNIT_SPACE}{feature.unit}" if feature.unit else ""
    return f"{_number(amount)}{unit}"


def _bare(feature: Feature, amount: float, words: Words) -> str:
    quantity = _QUANTITIES.get(feature)
    return f"{words.number(quantity, amount):.1f}" if quantity else _number(amount)


def _number(amount: float) -> str:
    return f"{amount:.0f}" if amount >= _FINE else f"{round(amount, 1):g}"


def _or(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} or {items[-1]}"
