"""The gate of a stage: when it is asked, what is missing, early and late.

The days are those of the blue's piercing gate: earliest day 7 after making, usually about day 10
(common practice, no source); the latest day is made up.
"""

from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.gates import GateStanding, NotYet, standing
from service.ageing.tended import Seen
from service.ageing.work import Counted, Firmness, Gate, Rind
from tests.care_builders import days, look, looks

MADE = date(2026, 10, 1)
STAGE_FROM = date(2026, 10, 6)
PIERCING = Gate(
    words="A coat is in sight and both faces are dry.",
    days=days(7, 10, 14, Counted.MAKE),
    coat_pct=30,
    rind=(Rind.DRY, Rind.TACKY),
)
QUESTIONS = Gate("It is out of the form.", days(1, 2, 3), questions=("Does it hold its shape?",))


def on(number: int) -> date:
    """So many days after making."""
    return MADE + timedelta(days=number)


def at(
    number: int,
    seen: Sequence[Seen] = (),
    answers: Sequence[NotYet] = (),
    gate: Gate = PIERCING,
) -> GateStanding:
    return standing(gate, MADE, STAGE_FROM, seen, answers, on(number))


def ready(number: int) -> Seen:
    return look(on(number), Rind.DRY, coat_pct=40)


@pytest.mark.parametrize(("number", "asks"), [(9, False), (10, True), (12, True)])
def test_nothing_seen_is_asked_from_the_expected_day(number: int, *, asks: bool) -> None:
    assert at(number).asks_now is asks


def test_all_seen_is_asked_before_the_expected_day() -> None:
    found = at(8, [ready(8)])

    assert found.asks_now
    assert found.ask_on == on(8)
    assert found.missing == ()


def test_all_seen_too_soon_waits_for_the_earliest_day() -> None:
    found = at(6, [ready(6)])

    assert not found.asks_now
    assert found.ask_on == on(7)
    assert found.early


def test_part_seen_waits_and_shows_what_is_missing() -> None:
    found = at(8, [look(on(8), Rind.WET, coat_pct=40)])

    assert not found.asks_now
    assert found.met == ("coat of 30 % or more: 40 % seen Fri 9 Oct",)
    assert found.missing == ("faces dry or tacky: wet seen Fri 9 Oct",)


def test_each_thing_is_judged_from_the_newest_look_that_tells_of_it() -> None:
    seen = [ready(8), look(on(9), rind=Rind.MOIST), look(on(9), firmness=Firmness.FIRM, order=1)]
    found = at(9, seen)

    assert found.met == ("coat of 30 % or more: 40 % seen Fri 9 Oct",)
    assert found.missing == ("faces dry or tacky: moist seen Sat 10 Oct",)


@pytest.mark.parametrize(("age", "holds"), [(3, True), (4, False)])
def test_a_look_holds_for_three_days(age: int, *, holds: bool) -> None:
    found = at(13, [ready(13 - age)])

    assert (found.missing == ()) is holds


def test_an_old_look_asks_to_look_again() -> None:
    assert at(13, [ready(8)]).missing[0] == (
        "coat of 30 % or more: look again, 40 % seen Fri 9 Oct"
    )


def test_firmness_and_coat_at_their_limits_are_met() -> None:
    gate = Gate("Soft.", days(1, 2, 3), coat_pct=30, firmness=(Firmness.GIVING, Firmness.SOFT))
    seen = [look(on(8), coat_pct=30, firmness=Firmness.SOFT)]

    assert at(8, seen, gate=gate).missing == ()
    assert at(8, [look(on(8), coat_pct=29, firmness=Firmness.FIRM)], gate=gate).met == ()


def test_not_yet_asks_again_on_the_day_named() -> None:
    answers = [NotYet(day=on(10), ask_again=on(13))]

    assert [at(number, [ready(number)], answers).asks_now for number in (10, 12, 13, 14)] == [
        *(False, False),
        *(True, True),
    ]


def test_the_last_answer_holds() -> None:
    answers = [NotYet(on(10), on(11), order=2), NotYet(on(10), on(13), order=1)]

    assert at(11, answers=answers).asks_now


def test_not_yet_without_a_later_day_rests_until_tomorrow() -> None:
    answers = [NotYet(on(10), on(10))]

    assert not at(10, answers=answers).asks_now
    assert at(11, answers=answers).asks_now


def test_an_answer_of_an_earlier_stage_does_not_hold() -> None:
    assert at(10, answers=[NotYet(on(4), on(13))]).asks_now


def test_a_late_gate_asks_although_a_later_day_was_named_in_time() -> None:
    answers = [NotYet(on(12), on(30))]

    assert not at(14, answers=answers).asks_now
    assert at(15, answers=answers).asks_now
    assert at(15, answers=answers).late


def test_not_yet_said_when_late_is_heeded_and_the_gate_stays_late() -> None:
    found = at(17, answers=[NotYet(on(16), on(18))])

    assert not found.asks_now
    assert found.late


@pytest.mark.parametrize(
    ("number", "early", "late"),
    [(6, True, False), (7, False, False), (14, False, False), (15, False, True)],
)
def test_passing_is_early_or_late_by_the_days_of_the_gate(
    number: int, *, early: bool, late: bool
) -> None:
    found = at(number, [ready(number)])

    assert (found.early, found.late) == (early, late)


def test_questions_are_answered_at_the_gate_and_call_no_one_before_the_expected_day() -> None:
    found = at(6, gate=QUESTIONS)

    assert not found.asks_now
    assert found.questions == ("Does it hold its shape?",)
    assert at(7, gate=QUESTIONS).asks_now


def test_days_count_from_the_stage_unless_the_gate_counts_from_making() -> None:
    assert at(6, gate=QUESTIONS).expected == STAGE_FROM + timedelta(days=2)
    assert at(6).expected == on(10)


@settings(max_examples=80)
@given(
    st.lists(looks, max_size=5),
    st.lists(st.tuples(st.integers(-3, 30), st.integers(0, 30)), max_size=4),
    st.integers(5, 60),
)
def test_no_gate_is_forgotten(seen: list[Seen], said: list[tuple[int, int]], number: int) -> None:
    """Whatever was seen and said, there is a day on which it asks, and it asks from that day on."""
    answers = [NotYet(on(day), on(again)) for day, again in said if day <= number]
    found = at(number, seen, answers)
    heard = [answer for answer in answers if answer.day >= STAGE_FROM]
    named = max((max(each.ask_again, each.day + timedelta(days=1)) for each in heard), default=None)

    assert found.asks_now is (on(number) >= found.ask_on)
    assert found.ask_on <= max(found.expected, named or found.expected, STAGE_FROM)
    assert len(found.met) + len(found.missing) == 2
    assert at((found.ask_on - MADE).days, seen, answers).ask_on <= max(found.ask_on, found.expected)


def test_a_gate_is_not_asked_from_before_its_stage_began() -> None:
    found = standing(PIERCING, MADE, on(12), [], [], on(12))

    assert found.asks_now
    assert (found.ask_on, found.expected) == (on(12), on(10))
