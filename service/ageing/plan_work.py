"""Reads what a plan asks beside air: the gates, the care and the readiness of its file.

In a stage, the gate names what must be seen; whatever does not matter is left out. Its days say
when to ask, and are the stage's `length_days` where `gate_days` is missing:

    gate_days = { earliest = 7, expected = 10, latest = 14, counted = "make", source = "..." }
    [stages.gate]
    words = "A coat is in sight and both faces are dry."
    coat_pct = 60
    rind = ["dry", "tacky"]
    firmness = ["firm", "giving"]
    questions = ["The holes are open at their mouths."]
    source = "..."                       # of coat_pct

Care stands below its stage, one table each, with exactly one of these three lines:

    [[stages.care]]
    work = "turn"
    place = "wheel"                      # or "box"
    words = "how to do it"
    every_days = { earliest = 1, expected = 3, latest = 7, source = "..." }
    once_days = { earliest = 3, expected = 5, latest = 9, counted = "stage", source = "..." }
    when = "wet face"                    # or "growth stalls"; with source = "..." beside it

Readiness tells how far a wheel has ripened when it feels so, in days at the plan's reference
temperature; a firmness that the style does not reach is left out. The days of a style either all
ascend as it softens or all descend, as those of one that dries and hardens:

    [readiness]
    from_stage = "first_growth"
    firm = { earliest = 35, expected = 42, latest = 49, source = "..." }
    oozy = { earliest = 63, expected = 70, latest = 84, source = "..." }
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from service.ageing.plan_reading import Section, ascending
from service.ageing.work import (
    CareRule,
    Counted,
    Days,
    Firmness,
    Gate,
    Place,
    Readiness,
    Rind,
    Trigger,
    Work,
)

LENGTH_DAYS: Final = (0.0, 3650.0)
"""No stage and no window is longer; more is a slip of the finger. [d]"""

_PERCENT: Final = (0.0, 100.0)
_WINDOW: Final = ("earliest", "expected", "latest")
_OF_A_BOX: Final = frozenset({Work.AIR_BOX, Work.WIPE_LID})
_WAYS: Final = ("every_days", "once_days", "when")


def read_gate(stage: Section, by_length: Days) -> Gate:
    """The gate of a stage.

    Args:
        stage: The stage's table.
        by_length: When to ask where the file does not say.

    Raises:
        PlanError: A key is missing, unknown or out of its bounds.
    """
    section = stage.section("gate")
    with_number = section.has("coat_pct")
    gate = Gate(
        words=section.text("words"),
        days=_days(stage.section("gate_days")) if stage.has("gate_days") else by_length,
        coat_pct=section.number("coat_pct", *_PERCENT) if with_number else None,
        rind=section.choices("rind", Rind) if section.has("rind") else (),
        firmness=section.choices("firmness", Firmness) if section.has("firmness") else (),
        questions=section.texts("questions") if section.has("questions") else (),
        source=section.text("source") if with_number else None,
    )
    section.finish()
    return gate


def read_care(stage: Section) -> tuple[CareRule, ...]:
    """The care that a stage asks for; none where it has no such tables.

    Raises:
        PlanError: A key is missing, unknown or out of its bounds; or a rule stands there twice.
    """
    rules: list[CareRule] = []
    for section in stage.sections("care") if stage.has("care") else ():
        rule = _rule(section)
        for earlier in rules:
            if (earlier.work, _way(earlier)) == (rule.work, _way(rule)):
                raise section.error(
                    "work",
                    f'"{rule.work.value}" is asked for in the same way above already',
                    "take one of the two out",
                )
        rules.append(rule)
    return tuple(rules)


def read_readiness(section: Section, stages: Sequence[str]) -> Readiness:
    """How far a wheel has ripened when it feels so.

    Raises:
        PlanError: A key is missing or unknown, the stage is none of the plan, or wheels would
            soften, then harden.
    """
    from_stage = section.text("from_stage")
    if from_stage not in stages:
        raise section.error(
            "from_stage", f'there is no stage "{from_stage}"', f"write one of {', '.join(stages)}"
        )
    found: list[tuple[Firmness, Days]] = []
    for firmness in Firmness:
        if not section.has(firmness.value):
            continue
        days = _days(section.section(firmness.value), may_be_counted=False)
        found.append((firmness, days))
        told = [each for _, each in found]
        if not (_ascend(told) or _ascend(told[::-1])):
            raise section.error(
                firmness.value,
                f"the days of {firmness.value} do not go on from those of {found[-2][0].value}",
                "let all days grow from firm to soft, or all from soft to firm",
            )
    section.finish()
    if not found:
        raise section.error(
            None,
            "no firmness stands here",
            "add a line such as firm = { earliest = 35, expected = 42, latest = 49, source = ... }",
        )
    return Readiness(from_stage, tuple(found))


def _rule(section: Section) -> CareRule:
    work, place = section.choice("work", Work), section.choice("place", Place)
    right = Place.BOX if work in _OF_A_BOX else Place.WHEEL
    if place is not right:
        raise section.error(
            "place", f'"{work.value}" is no care of a {place.value}', f'write place = "{right}"'
        )
    given = [way for way in _WAYS if section.has(way)]
    if len(given) != 1:
        raise section.error(
            given[1] if given else None,
            f"a care has one of {', '.join(_WAYS)}, and this one has {len(given) or 'none'}",
            "write exactly one of them",
        )
    every = once = trigger = None
    words = section.text("words")
    if given == ["when"]:
        trigger = section.choice("when", Trigger)
        source = section.text("source")
    else:
        part = section.section(given[0])
        days = _days(part, may_be_counted=given == ["once_days"])
        source = days.source
        if given == ["every_days"]:
            every = days
            if days.earliest < 1:
                raise part.error("earliest", "earliest is 0", "a care recurs after a day or more")
        else:
            once = days
    section.finish()
    return CareRule(work, place, words, source, every, once, trigger)


def _days(section: Section, *, may_be_counted: bool = True) -> Days:
    numbers = ascending(section, _WINDOW, *LENGTH_DAYS)
    for key, number in zip(_WINDOW, numbers, strict=True):
        if number != int(number):
            raise section.error(key, f"{key} is {number:g}", "write whole days")
    counted = Counted.STAGE
    if may_be_counted and section.has("counted"):
        counted = section.choice("counted", Counted)
    earliest, expected, latest = (int(number) for number in numbers)
    days = Days(earliest, expected, latest, section.text("source"), counted)
    section.finish()
    return days


def _ascend(days: Sequence[Days]) -> bool:
    return all(
        before.earliest <= after.earliest
        and before.expected <= after.expected
        and before.latest <= after.latest
        for before, after in pairwise(days)
    )


def _way(rule: CareRule) -> object:
    return rule.trigger or ("every" if rule.every else "once")
