"""The shipped plans can be read, and a plan that cannot be says where and how to mend it."""

import tracemalloc
from importlib import resources

import pytest

from service.ageing.plan_keeping import said_outright
from service.ageing.plan_reading import with_value
from service.ageing.plans import Plan, parse_plan, shipped_plans, shipped_texts
from service.ageing.values import Range
from service.errors import PlanError, UnknownError

GOOD = """\
format = 1
slug = "blue"
name = "Blue"
version = 3
family = "blue-veined"
kind = "blue"
smell = "strong"
reference_temperature_c = 10
activation_energy_kj_per_mol = { low = 20, value = 46.2, high = 100, source = "a book" }
paste = { water = 0.41, fat = 0.29, protein = 0.22, ash = 0.05, carbohydrate = 0.03, source = "t" }
water_activity = { low = 0.91, value = 0.94, high = 0.96, source = "a journal" }
readiness.from_stage = "ripening"
readiness.firm = { earliest = 30, expected = 40, latest = 50, source = "a book" }

[[stages]]
slug = "ripening"
name = "Ripening"
temperature_c = { low = 8, high = 12.5, source = "a book" }
humidity_pct = { low = 88, high = 96, where = "air around the wheel", source = "a paper" }
length_days = { earliest = 35, expected = 45, latest = 60, source = "common practice" }
gate = { words = "firm" }
advice = \"\"\"
Turn it.
slug = "not a key, but words"
\"\"\"

[[stages]]
slug = "cold"
name = "Kitchen fridge"
temperature_c.low = 1
temperature_c.high = 5
temperature_c.source = "advice"
advice = "Keep it wrapped."
[stages.gate]
words = "eaten"
[stages.length_days]
earliest = 0
expected = 7
latest = 30
source = "common practice"
"""

STAGES = {
    "blue": ["draining", "salting", "first_growth", "piercing", "ripening", "wrapped", "cold"],
    "blue_wrapped": [
        "draining",
        "salting",
        "first_growth",
        "piercing",
        "ripening",
        "wrapped",
        "cold",
    ],
    "coated": ["draining", "salting", "drying", "coating", "ripening", "cold"],
    "white_mould": ["draining", "salting", "first_growth", "coat", "wrapped", "cold"],
    "tomme": ["draining", "salting", "first_growth", "ripening", "cold"],
    "washed_rind": ["draining", "salting", "washing", "ripening", "wrapped", "cold"],
    "hard": ["draining", "salting", "first_growth", "ripening", "cold"],
}


def refusal(text: str) -> str:
    with pytest.raises(PlanError) as caught:
        parse_plan(text, "mine.toml")
    return str(caught.value)


def line_of(text: str, piece: str) -> int:
    return text[: text.index(piece)].count("\n") + 1


@pytest.fixture(scope="module")
def good() -> Plan:
    return parse_plan(GOOD, "mine.toml")


def test_seven_styles_are_shipped_with_their_stages_in_order() -> None:
    shipped = shipped_plans()

    assert {slug: [s.slug for s in plan.stages] for slug, plan in shipped.items()} == STAGES


def test_a_plan_is_read_in_full(good: Plan) -> None:
    ripening = good.stage("ripening")

    assert (good.slug, good.name, good.version, good.family) == ("blue", "Blue", 3, "blue-veined")
    assert good.reference_temperature_c == 10.0
    assert good.activation_energy_kj_per_mol.value == 46.2
    assert (good.paste.composition.water, good.paste.source) == (0.41, "t")
    assert (good.water_activity.low, good.water_activity.high) == (0.91, 0.96)
    assert ripening.target.temperature_c == Range(8.0, 12.5)
    assert ripening.target.humidity_pct == Range(88.0, 96.0)
    assert (ripening.temperature_source, ripening.humidity_source) == ("a book", "a paper")
    assert ripening.humidity_where == "air around the wheel"
    assert ripening.length_days.expected == 45.0
    assert ripening.gate.words == "firm"


def test_words_over_several_lines_become_one_line(good: Plan) -> None:
    assert good.stage("ripening").advice == 'Turn it. slug = "not a key, but words"'


def test_a_stage_without_a_range_asks_nothing(good: Plan) -> None:
    cold = good.stage("cold")

    assert cold.target.humidity_pct is None
    assert cold.humidity_source is None
    assert cold.humidity_where is None


def test_a_stage_may_leave_out_its_temperature() -> None:
    text = GOOD.replace('temperature_c = { low = 8, high = 12.5, source = "a book" }\n', "")

    stage = parse_plan(text, "mine.toml").stage("ripening")

    assert stage.target.temperature_c is None
    assert stage.temperature_source is None


def test_a_stage_says_itself_that_it_is_wrapped_and_in_the_kitchen_fridge() -> None:
    head = 'name = "Ripening"\n'
    text = GOOD.replace(head, f"{head}wrapped = true\nin_kitchen_fridge = true\n")

    stage = parse_plan(text, "mine.toml").stage("ripening")

    assert (stage.wrapped, stage.in_kitchen_fridge) == (True, True)


def test_what_a_stage_says_goes_before_its_name() -> None:
    head = 'name = "Kitchen fridge"\n'
    text = GOOD.replace(head, f"{head}wrapped = false\nin_kitchen_fridge = false\n")

    plan = parse_plan(text, "mine.toml")

    assert (plan.stage("cold").wrapped, plan.stage("cold").in_kitchen_fridge) == (False, False)
    assert plan.kitchen_stage is None


def without_keeping(text: str) -> str:
    """A plan as it was written before stages said of themselves how they are kept."""
    return text.replace("wrapped = true\n", "").replace("in_kitchen_fridge = true\n", "")


@pytest.mark.parametrize("slug", STAGES)
def test_a_plan_kept_before_stages_said_so_means_the_same(slug: str) -> None:
    """In files of that time the short names alone told it."""
    text = shipped_texts()[slug]
    old = without_keeping(text)

    assert len(text.splitlines()) - len(old.splitlines()) >= 2
    assert parse_plan(old, "old.toml") == shipped_plans()[slug]


@pytest.mark.parametrize("slug", STAGES)
def test_an_old_plan_is_given_to_be_edited_with_its_meaning_in_lines(slug: str) -> None:
    """Only the order of two lines may be another."""
    text = shipped_texts()[slug]

    given = said_outright(without_keeping(text), "old.toml")

    assert sorted(given.splitlines()) == sorted(text.splitlines())
    assert parse_plan(given, "old.toml") == shipped_plans()[slug]
    assert said_outright(text, "new.toml") == text


def test_stages_that_stand_on_no_lines_of_their_own_are_given_as_they_are() -> None:
    inline = 'format = 1\nstages = [{ slug = "cold", name = "Upstairs" }]\n'

    assert said_outright(inline, "mine.toml") == inline


@pytest.mark.parametrize("key", ["wrapped", "in_kitchen_fridge"])
@pytest.mark.parametrize("value", ['"yes"', "1", "[]"])
def test_a_stage_that_says_neither_true_nor_false_is_refused(key: str, value: str) -> None:
    head = 'name = "Ripening"\n'

    message = refusal(GOOD.replace(head, f"{head}{key} = {value}\n"))

    assert message == (
        f"mine.toml, line {line_of(GOOD, head) + 1}: {key} is neither true nor false; write"
        f" {key} = true, without quotes"
    )


def test_a_slip_in_the_word_for_a_wrap_is_told_with_the_word_that_was_meant() -> None:
    head = 'name = "Ripening"\n'

    message = refusal(GOOD.replace(head, f"{head}wraped = true\n"))

    assert "wraped is not a key of this table; did you mean wrapped?" in message


def test_an_unknown_stage_is_refused_with_those_there_are(good: Plan) -> None:
    with pytest.raises(UnknownError, match="plan blue has no stage coat; it has ripening, cold"):
        good.stage("coat")


MISTAKES = [
    ("low = 8,", "low = 18,", "high 12.5 is less than low 18; put the smaller number first"),
    ("low = 8,", 'low = "8",', "low is not a number; write it without quotes and unit"),
    ("low = 8,", "low = true,", "low is not a number; write it without quotes and unit"),
    ("low = 8,", "low = nan,", "low is not a number; write it without quotes and unit"),
    ("low = 8,", "low = 46,", "low is 46; write a number from -5 to 40"),
    ("low = 88,", "low = 0.88,", "low is 0.88; write a number from 20 to 100"),
    ("high = 96,", "", "high is missing here; add high: a number from 20 to 100"),
    (
        'source = "a paper"',
        'source = " "',
        'source has no words; write source = "..." with words in it',
    ),
    ("humidity_pct =", "humidty_pct =", "humidty_pct is not a key of this table; did you mean"),
    ("reference_temperature_c = 10", "reference_temperature_c = 99", "write a number from -5"),
    ("expected = 45", "expected = 25", "expected 25 is less than earliest 35"),
    ("low = 20,", "low = 0,", "low is 0; write a number from 1 to 250"),
    ("water = 0.41", "water = 41", "water is 41; write a number from 0.1 to 0.9"),
    ("fat = 0.29", "fat = 0.49", "the parts of the paste sum to 1.2; give parts of the whole"),
    ("ash = 0.05, ", "", "ash is missing here; add ash: a number from 0 to 1"),
    (', source = "t"', "", "source is missing here"),
    ("value = 0.94", "value = 94", "value is 94; write a number from 0.7 to 1"),
    ("value = 0.94", "value = 0.9", "value 0.9 is less than low 0.91"),
    ("version = 3", "version = 0", "version is not a whole number from 1 on; write version = 1"),
    ("version = 3", "version = 1.5", "version is not a whole number from 1 on"),
    ("version = 3", "version = true", "version is not a whole number from 1 on"),
    ("format = 1", "format = 2", "this format is not known here; write format = 1"),
    ('slug = "blue"', 'slug = "My Blue"', "use up to 40 small letters, digits and underscores"),
    ('gate = { words = "firm" }', 'gate = "firm"', "gate is not a table; write gate = { ... }"),
    ('"firm" }', '"firm", day = 3 }', "day is not a key of this table; take it out"),
    ('slug = "cold"', 'slug = "ripening"', 'a stage "ripening" stands above already'),
    ('words = "eaten"', "words = 3", "words has no words"),
    ("latest = 30", "latest = 3", "latest 3 is less than expected 7"),
    ("temperature_c.high = 5", "temperature_c.high = 0", "high 0 is less than low 1"),
    ('name = "Blue"', 'name = "Blue', "this is not TOML"),
    ('kind = "blue"', 'kind = "green"', 'kind is "green"; write one of "blue", "white mould"'),
    ('kind = "blue"', "kind = 3", "kind is not a word in quotes"),
    ('smell = "strong"', 'smell = "foul"', 'smell is "foul"; write one of "mild", "strong"'),
    ("version = 3", "version = 1" + "0" * 30, "version is not a whole number from 1 on"),
    ("low = 8,", "low = 1" + "0" * 400 + ",", "low is not a number"),
]


@pytest.mark.parametrize(("piece", "slip", "words"), MISTAKES)
def test_a_mistake_is_told_with_file_line_and_mend(piece: str, slip: str, words: str) -> None:
    text = GOOD.replace(piece, slip, 1)

    message = refusal(text)

    assert message.startswith(f"mine.toml, line {line_of(GOOD, piece)}: ")
    assert words in message


def test_a_missing_stage_key_is_told_at_the_head_of_its_stage() -> None:
    head = line_of(GOOD, 'slug = "cold"') - 1

    message = refusal(GOOD.replace('name = "Kitchen fridge"\n', ""))

    assert f"line {head}: name is missing here" in message


def test_a_missing_top_key_is_told_at_the_first_line() -> None:
    assert refusal("") == (
        "mine.toml, line 1: format is missing here; add format: a whole number from 1 on"
    )


@pytest.mark.parametrize("stages", ["stages = 3", "stages = []", "stages = [1]"])
def test_stages_must_be_tables(stages: str) -> None:
    text = GOOD[: GOOD.index("[[stages]]")] + stages

    message = refusal(text)

    assert "line 15: stages is not a list of tables; head each with [[stages]]" in message


@pytest.mark.parametrize("text", ["a = " + "[" * 20_000, "a = " + "1" * 5_000])
def test_a_text_that_python_gives_up_on_is_refused_like_any_other(text: str) -> None:
    assert "too long or brackets are nested too deep" in refusal(text)


@pytest.mark.parametrize("text", ["a" + ".a" * 19_990 + " = 1", "[a" + " . a" * 9_000 + "]"])
def test_a_key_of_thousands_of_names_is_refused_before_it_takes_gigabytes(text: str) -> None:
    tracemalloc.start()
    try:
        message = refusal(GOOD + text)
        _, most_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert f"line {GOOD.count(chr(10)) + 1}: more than 16 names are joined by points" in message
    assert most_bytes < 5_000_000  # measured before: 3.1 GB for 40,000 signs


@pytest.mark.parametrize("escape", [r"\u0000", r"\u0007", r"\u001b", r"\u202e", r"\ufeff"])
@pytest.mark.parametrize("piece", ['name = "Blue', 'words = "'])
def test_words_that_cannot_be_shown_are_refused_with_their_line(piece: str, escape: str) -> None:
    # RFC 5545, 3.3.11: text in a calendar has no control characters, and one breaks the whole.
    message = refusal(GOOD.replace(piece, piece + escape, 1))

    assert f"line {line_of(GOOD, piece)}: " in message
    assert "holds signs that cannot be shown" in message


@pytest.mark.parametrize(
    "name",
    [
        "Blue \N{WOMAN}\u200d\N{EAR OF RICE}",
        "Glas\u00adhaus",
        "\u0645\u06cc\u200c\u0634\u0648\u062f",
    ],
)
def test_signs_that_only_join_are_kept(name: str) -> None:
    assert parse_plan(GOOD.replace('"Blue"', f'"{name}"', 1), "t").name == name


def test_an_error_carries_its_line() -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan(GOOD.replace("low = 8,", "low = 18,", 1), "mine.toml")

    assert caught.value.line == line_of(GOOD, "low = 8,")


def test_a_value_at_the_top_is_replaced_and_its_comment_kept() -> None:
    text = GOOD.replace("version = 3", "version = 3  # the third")

    changed = with_value(with_value(text, "t", "version", "12"), "t", "slug", '"other"')

    assert "version = 12  # the third\n" in changed
    assert (parse_plan(changed, "t").slug, parse_plan(changed, "t").version) == ("other", 12)
    assert 'slug = "ripening"' in changed


def test_a_value_that_runs_over_lines_is_not_replaced() -> None:
    text = GOOD.replace('name = "Blue"', 'name = """\nBlue\n"""')

    with pytest.raises(PlanError, match="name does not stand on a line of its own"):
        with_value(text, "t", "name", '"Red"')


def test_a_file_that_ends_too_early_is_told_at_its_last_line() -> None:
    message = refusal('format = 1\nname = """never\nclosed\n')

    assert message.startswith("mine.toml, line 3: this is not TOML")


class Shelf:
    """A folder with one plan file in it, or the file itself."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __truediv__(self, name: str) -> "Shelf":
        return self

    def iterdir(self) -> "list[Shelf]":
        return [self, Shelf("README.txt")]

    def read_text(self, encoding: str) -> str:
        return GOOD.encode(encoding).decode(encoding)


def test_a_shipped_file_bears_the_name_of_its_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resources, "files", lambda _package: Shelf("stilo.toml"))

    with pytest.raises(PlanError, match=r"its slug is blue; name the file blue\.toml"):
        shipped_plans()


def test_every_range_names_where_it_comes_from() -> None:
    stages = [stage for plan in shipped_plans().values() for stage in plan.stages]

    for stage in stages:
        assert (stage.target.temperature_c is None) == (stage.temperature_source is None)
        assert (stage.target.humidity_pct is None) == (stage.humidity_source is None)
        assert (stage.target.humidity_pct is None) == (stage.humidity_where is None)


def test_no_plan_calls_a_cheese_safe() -> None:
    for plan in shipped_plans().values():
        for stage in plan.stages:
            assert "safe" not in f"{stage.advice} {stage.gate.words}".lower()
