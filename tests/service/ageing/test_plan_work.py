"""What plans ask beside air is read in full, and a slip is told with its line and mend."""

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from service.ageing.plans import Plan, parse_plan, shipped_plans, shipped_texts
from service.ageing.work import (
    CareRule,
    Counted,
    Days,
    Firmness,
    Gate,
    Place,
    Rind,
    Smell,
    Trigger,
    Work,
)
from service.errors import PlanError

GOOD = """\
format = 1
slug = "mine"
name = "Mine"
version = 1
family = "blue-veined"
kind = "blue"
smell = "strong"
reference_temperature_c = 10
activation_energy_kj_per_mol = { low = 20, value = 46.2, high = 100, source = "a book" }
paste = { water = 0.41, fat = 0.29, protein = 0.22, ash = 0.05, carbohydrate = 0.03, source = "t" }
water_activity = { low = 0.91, value = 0.94, high = 0.96, source = "a journal" }

[readiness]
from_stage = "growth"
firm = { earliest = 35, expected = 42, latest = 49, source = "firm end" }
oozy = { earliest = 60, expected = 70, latest = 84, source = "oozy end" }

[[stages]]
slug = "growth"
name = "Growth"
length_days = { earliest = 4.5, expected = 5.5, latest = 12.5, source = "a length" }
gate_days = { earliest = 7, expected = 10, latest = 14, counted = "make", source = "a gate" }
advice = "Turn it."
[stages.gate]
words = "A coat is in sight."
coat_pct = 60
rind = ["dry", "tacky"]
firmness = ["firm"]
questions = ["The holes are open."]
source = "a coat"

[[stages.care]]
work = "turn"
place = "wheel"
words = "Turn it over."
every_days = { earliest = 1, expected = 3, latest = 7, source = "an interval" }

[[stages.care]]
work = "pierce"
place = "wheel"
words = "Pierce it."
once_days = { earliest = 2, expected = 3, latest = 4, counted = "make", source = "a day" }

[[stages.care]]
work = "wipe the lid"
place = "box"
words = "Wipe it."
when = "wet face"
source = "a habit"

[[stages]]
slug = "keeping"
name = "Keeping"
length_days = { earliest = 4.5, expected = 5.5, latest = 12.5, source = "a length" }
gate = { words = "It is eaten." }
advice = "Keep it."
"""


@pytest.fixture(scope="module")
def good() -> Plan:
    return parse_plan(GOOD, "mine.toml")


def line_of(piece: str) -> int:
    return GOOD[: GOOD.index(piece)].count("\n") + 1


def test_a_gate_is_read_in_full(good: Plan) -> None:
    assert good.stage("growth").gate == Gate(
        words="A coat is in sight.",
        days=Days(7, 10, 14, "a gate", Counted.MAKE),
        coat_pct=60.0,
        rind=(Rind.DRY, Rind.TACKY),
        firmness=(Firmness.FIRM,),
        questions=("The holes are open.",),
        source="a coat",
    )


def test_a_gate_without_days_is_asked_for_by_the_length_of_its_stage(good: Plan) -> None:
    """A part of a day counts as a day: never too early."""
    gate = good.stage("keeping").gate

    assert gate == Gate("It is eaten.", Days(5, 6, 13, "a length", Counted.STAGE))


def test_care_is_read_in_its_three_ways(good: Plan) -> None:
    turn, pierce, wipe = good.stage("growth").care

    assert turn == CareRule(
        Work.TURN,
        Place.WHEEL,
        "Turn it over.",
        "an interval",
        every=Days(1, 3, 7, "an interval"),
    )
    assert pierce.once == Days(2, 3, 4, "a day", Counted.MAKE)
    assert (wipe.place, wipe.trigger, wipe.source) == (Place.BOX, Trigger.WET_FACE, "a habit")
    assert good.stage("keeping").care == ()


def test_readiness_and_smell_are_read(good: Plan) -> None:
    assert good.smell is Smell.STRONG
    assert good.readiness.from_stage == "growth"
    assert good.readiness.days == (
        (Firmness.FIRM, Days(35, 42, 49, "firm end")),
        (Firmness.OOZY, Days(60, 70, 84, "oozy end")),
    )


def test_a_style_that_hardens_may_be_firm_later_than_giving() -> None:
    text = GOOD.replace("oozy = { earliest = 60", "oozy = { earliest = 6").replace(
        "expected = 70, latest = 84", "expected = 7, latest = 8"
    )

    found = [firmness for firmness, _ in parse_plan(text, "mine.toml").readiness.days]

    assert found == [Firmness.FIRM, Firmness.OOZY]


MISTAKES = [
    ('work = "turn"', 'work = "stroke"', 'work is "stroke"; write one of "turn", "pat dry"'),
    ('work = "turn"', 'work = "air the box"', '"air the box" is no care of a wheel; write place'),
    ('place = "box"', 'place = "wheel"', 'is no care of a wheel; write place = "box"'),
    ('place = "wheel"', 'place = "shelf"', 'place is "shelf"; write one of "wheel", "box"'),
    ("every_days = { earliest = 1", "every_days = { earliest = 0", "earliest is 0; a care recurs"),
    ("expected = 3, latest = 7", "expected = 9, latest = 7", "latest 7 is less than expected 9"),
    ("expected = 3, latest = 7", "expected = 3.5, latest = 7", "expected is 3.5; write whole days"),
    ("latest = 7, source", "latest = 9999, source", "write a number from 0 to 3650"),
    (', source = "an interval"', "", "source is missing here"),
    (
        'latest = 7, source = "an interval"',
        'latest = 7, counted = "make", source = "an interval"',
        "counted is not a key of this table",
    ),
    ('counted = "make", source = "a day"', 'counted = "birth", source = "a day"', 'is "birth"'),
    ('when = "wet face"', 'when = "rain"', 'write one of "wet face", "growth stalls"'),
    ('work = "pierce"', 'wok = "pierce"', "work is missing here"),
    ("coat_pct = 60", "coat_pct = 160", "coat_pct is 160; write a number from 0 to 100"),
    ('source = "a coat"\n', "", "source is missing here"),
    ('rind = ["dry", "tacky"]', 'rind = "dry"', "rind is not a list; write rind = [ ... ]"),
    ('rind = ["dry", "tacky"]', "rind = []", "rind is not a list"),
    ('rind = ["dry", "tacky"]', 'rind = ["dry", "dry"]', "rind says one word twice"),
    ('rind = ["dry", "tacky"]', 'rind = ["arid"]', 'rind is "arid"; write one of "dry"'),
    ('questions = ["The holes are open."]', "questions = [3]", "holds what is no sentence"),
    ('firmness = ["firm"]', 'firmnes = ["firm"]', "firmnes is not a key of this table"),
    ("gate_days = { earliest = 7", "gate_days = { earliest = 17", "expected 10 is less than"),
    ('from_stage = "growth"', 'from_stage = "sleep"', "write one of growth, keeping"),
    ("oozy = { earliest = 60", "oozy = { earliest = 30", "the days of oozy do not go on from"),
    ("oozy = {", "runny = {", "runny is not a key of this table"),
]


@pytest.mark.parametrize(("piece", "slip", "words"), MISTAKES)
def test_a_slip_is_told_with_file_line_and_mend(piece: str, slip: str, words: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan(GOOD.replace(piece, slip, 1), "mine.toml")

    message = str(caught.value)
    # What is missing is told at the head of its table, which stands a little above; what two
    # keys say against each other is told at one of them.
    assert caught.value.line is not None
    assert abs(line_of(piece) - caught.value.line) <= (7 if "missing" in words else 1)
    assert message.startswith(f"mine.toml, line {caught.value.line}: ")
    assert words in message


def test_a_care_with_two_ways_is_refused() -> None:
    text = GOOD.replace('when = "wet face"', 'when = "wet face"\nevery_days = 3')

    with pytest.raises(PlanError, match="this one has 2; write exactly one of them"):
        parse_plan(text, "mine.toml")


def test_a_care_that_never_falls_due_is_refused() -> None:
    text = GOOD.replace('when = "wet face"\nsource = "a habit"\n', "")

    with pytest.raises(PlanError, match="this one has none; write exactly one of them"):
        parse_plan(text, "mine.toml")


def test_one_care_asked_for_twice_in_one_way_is_refused() -> None:
    text = GOOD.replace('work = "pierce"', 'work = "turn"').replace("once_days", "every_days")

    with pytest.raises(PlanError, match='"turn" is asked for in the same way above already'):
        parse_plan(text.replace('counted = "make", source = "a day"', 'source = "a day"'), "m")


def test_readiness_without_a_firmness_is_refused() -> None:
    start, end = GOOD.index("firm = {"), GOOD.index("[[stages]]")

    with pytest.raises(PlanError, match="line 13: no firmness stands here"):
        parse_plan(GOOD[:start] + GOOD[end:], "mine.toml")


SHIPPED = shipped_plans()
WITHOUT_SOURCE = {
    "format": "of the file",
    "version": "counts the edits",
    "reference_temperature_c": "the unit in which ripening is counted; any would do",
}


def unsourced(table: dict[str, Any], where: str = "") -> Iterator[str]:
    """Numbers beside which no source stands in their own table."""
    said = bool(table.get("source", ""))
    for key, value in table.items():
        if isinstance(value, dict):
            yield from unsourced(value, f"{where}{key}.")
        elif isinstance(value, list):
            for number, each in enumerate(value):
                if isinstance(each, dict):
                    yield from unsourced(each, f"{where}{key}.{number}.")
        elif isinstance(value, int | float) and not isinstance(value, bool) and not said:
            yield where + key


@pytest.mark.parametrize("slug", SHIPPED)
def test_every_number_of_a_shipped_plan_names_its_source(slug: str) -> None:
    found = set(unsourced(tomllib.loads(shipped_texts()[slug])))

    assert found == set(WITHOUT_SOURCE)


def test_a_blue_is_asked_for_piercing_from_day_7_with_a_coat_and_dry_faces() -> None:
    """Common practice, no source: not before day 7, usually about day 10, counted from making."""
    for slug in ("blue", "blue_wrapped"):
        gate = SHIPPED[slug].stage("first_growth").gate

        assert (gate.days.earliest, gate.days.expected) == (7, 10)
        assert gate.days.counted is Counted.MAKE
        assert gate.coat_pct is not None
        assert gate.coat_pct > 0
        assert gate.rind == (Rind.DRY,)


def test_a_blue_is_wrapped_once_its_coat_is_complete() -> None:
    """Common practice, no source. That 95 % counts as complete is our choice."""
    gate = SHIPPED["blue"].stage("ripening").gate

    assert gate.coat_pct == 95.0


def test_a_blue_is_pierced_again_when_growth_stalls() -> None:
    """Common practice, no source."""
    for slug in ("blue", "blue_wrapped"):
        asked = {rule.work: rule for rule in SHIPPED[slug].stage("ripening").care}

        assert asked[Work.PIERCE_AGAIN].trigger is Trigger.GROWTH_STALLS


@pytest.mark.parametrize("stage", ["first_growth", "piercing", "ripening"])
@pytest.mark.parametrize("slug", ["blue", "blue_wrapped"])
def test_a_blue_is_turned_and_aired_weekly_and_patted_dry(slug: str, stage: str) -> None:
    """Common practice, no source: turned and aired weekly or oftener, lid wiped, faces dried."""
    asked = {rule.work: rule for rule in SHIPPED[slug].stage(stage).care}

    for work in (Work.TURN, Work.AIR_BOX, Work.WIPE_LID):
        every = asked[work].every
        assert every is not None
        assert every.latest <= 7
    assert asked[Work.PAT_DRY].trigger is Trigger.WET_FACE


def test_a_blue_is_firm_at_six_weeks_and_oozy_at_ten() -> None:
    """Common practice, no source: 6 to 10 weeks from entering the cave, the firm end first."""
    for slug in ("blue", "blue_wrapped"):
        ready = SHIPPED[slug].readiness
        days = dict(ready.days)

        assert ready.from_stage == "first_growth"
        assert days[Firmness.FIRM].expected == 6 * 7
        assert days[Firmness.OOZY].expected == 10 * 7


def test_every_stage_before_the_kitchen_fridge_asks_for_care() -> None:
    bare = [
        (plan.slug, stage.slug)
        for plan in SHIPPED.values()
        for stage in plan.stages
        if not stage.care
    ]

    assert bare == []


def test_no_words_of_a_plan_call_a_cheese_safe() -> None:
    for text in shipped_texts().values():
        told = text.replace("MAFF booklet Food Safety", "")

        assert "safe" not in told.lower()
