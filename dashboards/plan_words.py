"""How a plan reads to the maker: its windows, gates, care and readiness in sentences."""

from dashboards.words import Words, plain
from service.ageing.plans import Kind, Plan, Stage
from service.ageing.values import Quantity
from service.ageing.work import CareRule, Counted, Days, Gate, Trigger

Line = tuple[str, str]
"""A sentence and where it comes from."""

KINDS = {
    Kind.BLUE: "blue cheese",
    Kind.WHITE_MOULD: "cheese with a white mould rind",
    Kind.WASHED_RIND: "cheese with a washed rind",
    Kind.NATURAL_RIND: "cheese with a natural rind",
    Kind.COATED: "waxed or coated cheese",
    Kind.HARD: "hard cheese",
}
_KEPT = {
    (True, False): "It is wrapped.",
    (True, True): "It is wrapped, and in the kitchen fridge.",
    (False, True): "It is in the kitchen fridge, bare.",
}
"""How a stage is lived where it is not bare in the cave."""
_WHEN = {
    Trigger.WET_FACE: "when a face is wet",
    Trigger.GROWTH_STALLS: "when the growth stands still",
}


def stage_lines(stage: Stage, words: Words) -> list[Line]:
    """What a stage asks of the air, and how long it lasts, each with its source."""
    lines: list[Line] = []
    if kept := _KEPT.get((stage.wrapped, stage.in_kitchen_fridge)):
        lines.append((kept, ""))
    for quantity, source, where in (
        (Quantity.TEMPERATURE, stage.temperature_source, None),
        (Quantity.HUMIDITY, stage.humidity_source, stage.humidity_where),
    ):
        asked = stage.target.of(quantity)
        if asked is not None:
            there = f" ({plain(where)})" if where else ""
            told = f"{quantity.value.capitalize()}: {words.range(quantity, asked)}{there}."
            lines.append((told, plain(source or "")))
    length = stage.length_days
    usual, latest = _days(length.expected), _days(length.latest)
    told = f"Lasts about {usual}, from {length.earliest:g} to {latest}."
    lines.append((told, plain(length.source)))
    return lines


def gate_lines(gate: Gate) -> list[Line]:
    """What must be seen, and when the tool asks."""
    lines: list[Line] = []
    if gate.coat_pct is not None:
        told = f"The coat covers {gate.coat_pct:g} % of the rind or more."
        lines.append((told, plain(gate.source or "")))
    if gate.rind:
        lines.append((f"The rind is {_either([each.value for each in gate.rind])}.", ""))
    if gate.firmness:
        told = _either([each.value for each in gate.firmness])
        lines.append((f"Under the thumb it is {told}.", ""))
    lines += [(plain(question), "") for question in gate.questions]
    days = gate.days
    since = "the day of making" if days.counted is Counted.MAKE else "the beginning of the stage"
    told = (
        f"Asked for from day {days.earliest}, usually about day {days.expected},"
        f" late after day {days.latest}; counted from {since}."
    )
    lines.append((told, plain(days.source)))
    return lines


def care_line(rule: CareRule) -> Line:
    """One care: what, when and how."""
    if rule.every is not None:
        when = _every(rule.every)
    elif rule.once is not None:
        when = _once(rule.once)
    else:
        when = _WHEN[rule.trigger or Trigger.WET_FACE]
    told = f"{rule.work.value.capitalize()}, {when}: {plain(rule.words)}"
    return told, plain(rule.source)


def readiness_lines(plan: Plan) -> list[Line]:
    """How far a wheel has ripened when it feels so, each with its source."""
    lines: list[Line] = []
    for firmness, days in plan.readiness.days:
        feels, window = firmness.value.capitalize(), f"from {days.earliest} to {days.latest}"
        lines.append((f"{feels}: about {days.expected} days, {window}.", plain(days.source)))
    return lines


def _every(days: Days) -> str:
    if days.earliest == days.latest == 1:
        return "daily"
    return (
        f"about every {_days(days.expected) if days.expected > 1 else 'day'},"
        f" {days.latest} days apart at most"
    )


def _once(days: Days) -> str:
    since = "of making" if days.counted is Counted.MAKE else "of the stage"
    if days.earliest == days.latest:
        return f"once, on day {days.expected} {since}"
    return f"once, from day {days.earliest} to day {days.latest} {since}"


def _days(number: float) -> str:
    return f"{number:g} {'day' if number == 1 else 'days'}"


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
