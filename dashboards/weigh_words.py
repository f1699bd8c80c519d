"""How a weighing of several wheels reads: what each weighed last, what is asked, what was kept."""

# ruff: noqa: RUF001 - the reader gets a real dash

from collections.abc import Sequence

from dashboards.care_words import Names, wheels_words
from dashboards.wheel_charts import grams
from dashboards.words import Words, listed
from service.living.life import Weighed
from service.living.weight_doubts import WeightDoubt
from service.store import observations
from service.store.ageing_tables import Observation
from service.store.database import Session


def last_words(weighed: Sequence[Weighed], new_g: float, words: Words) -> str:
    """What a wheel weighed last, beside its field."""
    if not weighed:
        return f"{grams(new_g)} when new"
    return f"last {grams(weighed[-1].grams)}, {words.moment(weighed[-1].time_us)}"


def doubt_words(doubt: WeightDoubt) -> str:
    r"""What is asked about a weight.

    Examples:
        >>> doubt_words(WeightDoubt(430.0, 412.0, None)).replace("\xa0", " ")
        'Heavier than the 412 g before. Is it right?'
    """
    told = []
    if doubt.heavier_than_g is not None:
        told.append(f"Heavier than the {grams(doubt.heavier_than_g)} before.")
    if doubt.expected_g is not None:
        low, high = doubt.expected_g.low, doubt.expected_g.high
        told.append(f"Expected now: {low:,.0f}–{grams(high)}, estimate.")
    return " ".join([*told, "Is it right?"])


def weighed_words(session: Session, rows: Sequence[Observation], names: Names, words: Words) -> str:
    """What one touch has entered of several wheels, taken back or not."""
    told = [
        f"{wheels_words([row.wheel_id], names)} {grams(weighing.mass_g)}"
        for row in rows
        if (weighing := observations.weighing_entered(session, row)) is not None
    ]
    return f"Weighed {listed(told)}, {words.moment(rows[0].time_us)}." if told else ""
