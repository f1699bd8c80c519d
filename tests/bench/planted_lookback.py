"""Causes planted in simulated caves, and whether looking back ranks them first.

What drives a condition is the truth of the caves of `tests.planted_weeks`, with chance in it;
what looks back is the service from end to end: readings, wheels, observations and care in a
store, and only those. The seeds are not those on which anything was set.
"""

import tempfile
from collections import Counter
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from time import process_time

import numpy as np
import numpy.typing as npt

from service.ageing.lookback import FEWEST, Comparison
from service.ageing.noted import Condition
from service.api.context import Context
from service.living.memory import Memory
from service.recalling.looking_back import look_back
from tests import builders
from tests.planted_weeks import CAUSES, Weeks, forget, household, look, seen_of, weeks

BoolArray = npt.NDArray[np.bool_]

SEEDS = range(700, 710)
NULL_SEEDS = range(800, 810)
NULLS_EACH = 20
SPACES, WEEKS = 4, 7
LOOKS = (12, 16, 28)
EIGHT_WEEKS = 8
"""Of minutes, with eight wheels, for the time that it takes."""


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence for each kind of cause, for none, and for the time."""
    yield from _causes()
    yield _nothing()
    yield _time()


def compared(
    context: Context, lived: Weeks, seen: dict[Condition, BoolArray], looks: int, memory: Memory
) -> dict[Condition, Comparison]:
    """Look back from the newest look that shows each condition, after so many looks at least.

    There are more looks where else one of the groups would be too small to compare.
    """
    found = {}
    for condition, there in seen.items():
        number, count, sides = 0, 0, [0, 0]
        # The newest first, so that more looks do not move the end of what is looked at.
        while count < SPACES * WEEKS and (count < looks or min(sides) < FEWEST):
            week, place = WEEKS - 1 - count // SPACES, count % SPACES
            told = bool(there[week, place])
            made = look(context, lived, {condition: told}, week, place, "look")
            number = number or (made if told else 0)
            sides[told] += 1
            count += 1
        if number:
            with context.sessions() as session:
                back = look_back(
                    session, context.plans, number, builders.NOW_US, memory, condition=condition
                )
            assert back.comparison is not None
            found[condition] = back.comparison
        forget(context)
    return found


def _causes() -> Iterator[tuple[str, str]]:
    kinds = list(product((True, False), LOOKS, CAUSES))
    firsts: dict[tuple[bool, int, Condition], Counter[str]] = {kind: Counter() for kind in kinds}
    told: Counter[tuple[bool, int, Condition]] = Counter()
    beside: Counter[tuple[bool, int, Condition]] = Counter()
    for seed in SEEDS:
        lived = weeks(seed, SPACES, WEEKS)
        with tempfile.TemporaryDirectory() as folder:
            context, memory = household(Path(folder), lived), Memory()
            for clear, looks in product((True, False), LOOKS):
                draw = np.random.default_rng(seed)
                seen = {
                    name: seen_of(driver, draw, clear=clear)
                    for name, driver in lived.drivers.items()
                }
                for condition, found in compared(context, lived, seen, looks, memory).items():
                    key = (clear, looks, condition)
                    first = str(found.rows[0].feature) if found.enough else "too few to compare"
                    firsts[key][first] += 1
                    out = {row.feature for row in found.rows if row.stands_out}
                    told[key] += CAUSES[condition] in out
                    beside[key] += bool(out - {CAUSES[condition]})
            context.engine.dispose()
    for key in kinds:
        clear, looks, condition = key
        said = ", ".join(f"{name} {count}" for name, count in firsts[key].most_common())
        yield (
            (
                f"{condition} driven by {CAUSES[condition]}, {'clearly' if clear else 'loosely'},"
                f" {looks} looks, {len(SEEDS)} seeds"
            ),
            (
                f"ranked first: {said}; it stands out in {told[key]},"
                f" something else in {beside[key]}"
            ),
        )


def _nothing() -> tuple[str, str]:
    """A condition that comes by the toss of a coin."""
    stood = asked = 0
    for seed in NULL_SEEDS:
        lived = weeks(seed, SPACES, WEEKS)
        draw = np.random.default_rng(seed)
        with tempfile.TemporaryDirectory() as folder:
            context, memory = household(Path(folder), lived), Memory()
            for _ in range(NULLS_EACH):
                coin = {Condition.AMMONIA: draw.uniform(size=(WEEKS, SPACES)) < 0.4}
                found = compared(context, lived, coin, SPACES * WEEKS, memory)
                for comparison in found.values():
                    asked += 1
                    stood += any(row.stands_out for row in comparison.rows)
            context.engine.dispose()
    return (
        f"nothing planted, {SPACES * WEEKS} looks",
        f"something stands out in {stood} of {asked} ({100 * stood / asked:.1f} %; 5 % is told)",
    )


def _time() -> tuple[str, str]:
    lived = weeks(1, 8, EIGHT_WEEKS)
    draw = np.random.default_rng(1)
    seen = {name: seen_of(driver, draw, clear=True) for name, driver in lived.drivers.items()}
    with tempfile.TemporaryDirectory() as folder:
        context, memory = household(Path(folder), lived, every_min=1), Memory()
        number = 0
        for week in range(EIGHT_WEEKS):
            for place in range(8):
                told = {condition: bool(there[week, place]) for condition, there in seen.items()}
                number = look(context, lived, told | {Condition.WET_RIND: True}, week, place, "t")
        took = []
        for _ in range(2):
            began = process_time()
            with context.sessions() as session:
                look_back(session, context.plans, number, builders.NOW_US, memory)
            took.append(process_time() - began)
        context.engine.dispose()
    return (
        "8 wheels in 8 spaces, 8 weeks of minutes, 64 looks",
        f"first look back {took[0]:.1f} s of one core, the next {took[1]:.2f} s",
    )
