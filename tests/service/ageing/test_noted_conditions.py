"""What an observation tells of conditions that are looked back from."""

import pytest

from service.ageing.noted import Condition, Told, conditions, low_losses, seen_in
from service.ageing.seen import CoatColour, Look, Scent
from service.ageing.work import Firmness, Rind


@pytest.mark.parametrize(
    ("told", "seen"),
    [
        (Told(Look(rind=Rind.WET)), [Condition.WET_RIND]),
        (Told(Look(rind=Rind.DRY)), [Condition.DRY_RIND]),
        (Told(Look(rind=Rind.MOIST)), []),
        (Told(Look(slimy=True)), [Condition.SLIME]),
        (Told(Look(smell=Scent.FOUL)), [Condition.FOUL_SMELL]),
        (Told(Look(smell=Scent.AMMONIA)), [Condition.AMMONIA]),
        (Told(Look(firmness=Firmness.OOZY)), [Condition.OOZY]),
        (Told(Look(coat={CoatColour.PINK: 5.0})), [Condition.PINK]),
        (Told(Look(coat={CoatColour.BLACK: 5.0})), [Condition.BLACK]),
        (Told(Look(), coat_late=True), [Condition.COAT_LATE]),
        (Told(Look(), low_loss=True), [Condition.LOW_LOSS]),
        (Told(Look(), "Two cracks at the rim"), [Condition.CRACKS]),
        (Told(Look(), "the rind has split"), [Condition.CRACKS]),
        (Told(Look(), "stuck to its mat."), [Condition.STICKING]),
        (Told(Look(), "a bit sticky and slimy"), [Condition.SLIME, Condition.STICKING]),
    ],
)
def test_a_condition_that_was_there_is_told(told: Told, seen: list[Condition]) -> None:
    assert seen_in(conditions(told)) == seen


@pytest.mark.parametrize(
    "words",
    [
        "no cracks",
        "there aren't any cracks",
        "not a crack to be seen",
        "free of cracks",
        "Never cracked",
    ],
)
def test_words_that_deny_a_condition_say_that_it_was_looked_for(words: str) -> None:
    assert conditions(Told(Look(), words))[Condition.CRACKS] is False


def test_a_denial_ends_at_a_comma() -> None:
    found = conditions(Told(Look(), "no slime, stuck to its mat"))

    assert (found[Condition.SLIME], found[Condition.STICKING]) == (False, True)


def test_what_was_not_looked_at_is_neither_seen_nor_missing() -> None:
    assert conditions(Told(Look(), "lovely")) == {}


def test_who_felt_the_rind_would_have_told_of_cracks() -> None:
    assert conditions(Told(Look(rind=Rind.TACKY)))[Condition.CRACKS] is False


def test_slime_that_was_ticked_counts_whatever_the_words_deny() -> None:
    assert conditions(Told(Look(slimy=True), "no slime"))[Condition.SLIME]


def test_less_than_half_of_the_usual_loss_is_little() -> None:
    assert low_losses({1: 0.2, 2: 0.2, 3: 0.2, 4: 0.2, 5: 0.1, 6: 0.099}) == {
        1: False,
        2: False,
        3: False,
        4: False,
        5: False,
        6: True,
    }


def test_three_losses_are_too_few_to_call_one_little() -> None:
    assert low_losses({1: 0.2, 2: 0.2, 3: 0.0}) == {}
