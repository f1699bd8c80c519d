"""Causes planted in caves, and whether looking back ranks them first.

What drives a condition is the truth of whole simulated caves, or of the lighter weeks of
`tests.planted_weeks`; what looks back is the service from end to end: readings, wheels,
observations and care in a store, and only those. Causes are planted without exceptions, with
one look in 20 an exception, and loosely. The seeds are not those on which anything was set.
"""

import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import product
from pathlib import Path
from time import process_time

import numpy as np

from service.ageing.lookback import Comparison
from service.ageing.noted import Condition
from service.api.context import Context
from service.living.memory import Memory
from service.recalling.looking_back import look_back
from tests import builders
from tests.planted_caves import caves
from tests.planted_looks import enter_looks, forget, household, look, told_first
from tests.planted_weeks import CAUSES, Weeks, seen_of, weeks

SEEDS = range(700, 710)
NULL_SEEDS = range(800, 810)
NULLS_EACH = 20
SPACES, WEEKS = 4, 7
LOOKS = (12, 28)
KINDS = {"always": 0.0, "with one exception in 20": 0.05, "loosely": None}
EIGHT_WEEKS = 8
"""Of minutes, with eight wheels, for the time that it takes."""


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence for each kind of cause, for none, and for the time."""
    yield from _causes("whole caves", caves, CAUSES, every_min=1)
    yield from _causes("light weeks", weeks, CAUSES)
    within = partial(weeks, warm_by_k=0.0)
    yield from _causes("light weeks, no limit passed", within, [Condition.FOUL_SMELL])
    yield _nothing()
    yield _time()


def _compared(context: Context, condition: Condition, number: int, memory: Memory) -> Comparison:
    """Look back from a look, and take all looks out again."""
    with context.sessions() as session:
        found = look_back(
            session, context.plans, number, builders.NOW_US, memory, condition=condition
        )
    forget(context)
    assert found.comparison is not None
    return found.comparison


def _causes(
    where: str,
    made: Callable[[int], Weeks],
    conditions: Iterable[Condition],
    every_min: int = 5,
) -> Iterator[tuple[str, str]]:
    asked = list(product(KINDS, conditions, LOOKS))
    tallies: dict[tuple[str, Condition, int], Counter[str]] = {each: Counter() for each in asked}
    for seed in SEEDS:
        lived = made(seed)
        with tempfile.TemporaryDirectory() as folder:
            context, memory = household(Path(folder), lived, every_min), Memory()
            for kind, condition, looks in asked:
                draw = np.random.default_rng([seed, list(Condition).index(condition)])
                seen = seen_of(lived.drivers[condition], draw, KINDS[kind])
                number = enter_looks(context, lived, condition, seen, looks)
                found = _compared(context, condition, number, memory)
                tallies[kind, condition, looks].update(_told(found, condition))
            context.engine.dispose()
    for kind, condition in dict.fromkeys((kind, condition) for kind, condition, _ in asked):
        yield (
            f"{where}: {condition} driven by {CAUSES[condition]} {kind}, {len(SEEDS)} seeds",
            "; ".join(_words(looks, tallies[kind, condition, looks]) for looks in LOOKS),
        )


def _told(found: Comparison, condition: Condition) -> list[str]:
    """What holds of one comparison."""
    planted = CAUSES[condition]
    out = {row.feature for row in found.rows if row.stands_out}
    holds = {
        "first": found.rows[0].feature is planted,
        "told first": planted in told_first(found),
        "stands out": planted in out,
        "something else stands out": bool(out - {planted}),
        "too few": not found.enough,
    }
    return [name for name, there in holds.items() if there and (found.enough or name == "too few")]


def _words(looks: int, tally: Counter[str]) -> str:
    few = f", too few in {tally['too few']}" if tally["too few"] else ""
    return (
        f"{looks} looks: first in {tally['first']}, first or level with it in"
        f" {tally['told first']}{few}; it stands out in {tally['stands out']}, something else in"
        f" {tally['something else stands out']}"
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
                coin = draw.uniform(size=(WEEKS, SPACES)) < 0.4
                number = enter_looks(context, lived, Condition.AMMONIA, coin, coin.size)
                found = _compared(context, Condition.AMMONIA, number, memory)
                asked += 1
                stood += any(row.stands_out for row in found.rows)
            context.engine.dispose()
    return (
        f"nothing planted, {SPACES * WEEKS} looks",
        f"something stands out in {stood} of {asked} ({100 * stood / asked:.1f} %; 5 % is told)",
    )


def _time() -> tuple[str, str]:
    lived = weeks(1, 8, EIGHT_WEEKS)
    draw = np.random.default_rng(1)
    seen = {name: seen_of(driver, draw) for name, driver in lived.drivers.items()}
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
