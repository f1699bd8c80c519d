"""The record of a period: the same however it is computed, and free of nonsense."""

import json

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.alarm_record import fold
from service.ageing.alarms import AlarmRule, Change, Condition, Raised, Returned, alarm_rule, step
from service.ageing.means import Smoothing
from service.ageing.values import Direction, Quantity
from service.science.signals import US_PER_S

RULES = st.builds(
    AlarmRule,
    on_delay_s=st.sampled_from([0.0, 300.0, 900.0]),
    off_delay_s=st.sampled_from([0.0, 300.0, 600.0]),
    deadband=st.sampled_from([0.0, 0.5, 1.0]),
    smoothing=st.builds(
        Smoothing,
        time_constant_s=st.sampled_from([0.0, 120.0, 900.0]),
        gap_s=st.sampled_from([600.0, 1800.0]),
        reach=st.sampled_from([1.0, 5.0, float("inf")]),
    ),
)
# Long stretches on either side of the limit, with silences, repeats and missing values.
STRETCHES = st.lists(
    st.tuples(
        st.sampled_from([80.0, 84.0, 85.0, 85.5, 86.0, 90.0, float("nan")]),
        st.integers(1, 25),
        st.sampled_from([60, 60, 60, 300, 700, 2000, 0, -120]),
        st.sampled_from([85.0, 85.0, 85.0, 82.0, float("nan")]),
    ),
    max_size=14,
)
Series = tuple[np.ndarray, np.ndarray, np.ndarray]


@st.composite
def series(draw: st.DrawFn) -> Series:
    stretches = draw(STRETCHES)
    noise = np.random.default_rng(draw(st.integers(0, 99))).normal(0, 0.3, 400)
    values: list[float] = []
    limits: list[float] = []
    gaps: list[int] = []
    for value, count, first_gap_s, limit in stretches:
        values += [value + noise[len(values) + n] for n in range(count)]
        gaps += [first_gap_s] + [60] * (count - 1)
        limits += [limit] * count
    times = np.cumsum(np.array(gaps, dtype=np.int64)) * US_PER_S
    return times, np.array(values, dtype=float), np.array(limits, dtype=float)


def stepped(
    readings: Series, direction: Direction, rule: AlarmRule, condition: Condition
) -> tuple[Condition, list[Change]]:
    changes = []
    for time_us, value, limit in zip(*(part.tolist() for part in readings), strict=True):
        condition, change = step(
            condition,
            time_us,
            value,
            None if limit != limit else limit,  # noqa: PLR0124 - the one value unlike itself is NaN
            direction=direction,
            rule=rule,
        )
        if change:
            changes.append(change)
    return condition, changes


@given(readings=series(), direction=st.sampled_from(Direction), rule=RULES)
def test_folding_gives_what_stepping_gives(
    readings: Series, direction: Direction, rule: AlarmRule
) -> None:
    folded = fold(Condition(), *readings, direction=direction, rule=rule)

    assert folded == stepped(readings, direction, rule, Condition())


@given(readings=series(), direction=st.sampled_from(Direction), rule=RULES, share=st.floats(0, 1))
def test_a_restart_anywhere_leaves_the_record_as_it_is(
    readings: Series, direction: Direction, rule: AlarmRule, share: float
) -> None:
    cut = int(share * readings[0].size)
    before, after = tuple(p[:cut] for p in readings), tuple(p[cut:] for p in readings)

    condition, first = fold(Condition(), *before, direction=direction, rule=rule)
    again = Condition.from_dict(json.loads(json.dumps(condition.to_dict())))
    last, second = fold(again, *after, direction=direction, rule=rule)

    whole = fold(Condition(), *readings, direction=direction, rule=rule)
    assert (last, first + second) == whole


@settings(max_examples=50)
@given(readings=series(), direction=st.sampled_from(Direction), rule=RULES)
def test_replaying_a_stream_twice_counts_it_once(
    readings: Series, direction: Direction, rule: AlarmRule
) -> None:
    once = fold(Condition(), *readings, direction=direction, rule=rule)

    twice = fold(once[0], *readings, direction=direction, rule=rule)

    assert twice == (once[0], [])


@settings(max_examples=50)
@given(readings=series(), direction=st.sampled_from(Direction), rule=RULES)
def test_raised_and_returned_alternate(
    readings: Series, direction: Direction, rule: AlarmRule
) -> None:
    _, changes = fold(Condition(), *readings, direction=direction, rule=rule)

    kinds = [type(change) for change in changes]
    assert kinds == ([Raised, Returned] * len(kinds))[: len(kinds)]


@settings(max_examples=50)
@given(
    values=st.lists(st.floats(85.0, 92.0), min_size=1, max_size=80),
    gap_s=st.sampled_from([1, 60, 3600]),
    rule=RULES,
)
def test_a_steady_stream_in_its_band_never_alarms(
    values: list[float], gap_s: int, rule: AlarmRule
) -> None:
    times = np.arange(len(values), dtype=np.int64) * gap_s * US_PER_S

    for direction, limit in ((Direction.BELOW, 85.0), (Direction.ABOVE, 92.0)):
        _, changes = fold(
            Condition(), times, np.array(values), limit, direction=direction, rule=rule
        )
        assert changes == []


def test_one_limit_may_serve_a_whole_period() -> None:
    times = np.arange(60, dtype=np.int64) * 60 * US_PER_S
    rule = alarm_rule(Quantity.HUMIDITY)

    _, changes = fold(
        Condition(), times, np.full(60, 80.0), 85.0, direction=Direction.BELOW, rule=rule
    )

    assert changes == [Raised(900 * US_PER_S, 80.0, since_us=0)]


def test_no_limit_may_serve_a_whole_period() -> None:
    times = np.arange(60, dtype=np.int64) * 60 * US_PER_S
    rule = alarm_rule(Quantity.HUMIDITY)

    _, changes = fold(
        Condition(), times, np.full(60, 80.0), None, direction=Direction.BELOW, rule=rule
    )

    assert changes == []
