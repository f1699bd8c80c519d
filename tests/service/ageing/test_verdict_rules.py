"""The verdict: word, amount and since when, on air that a cooling cycle does not sway."""

import math

import numpy as np
import pytest

from service.ageing.means import Smoothing
from service.ageing.values import Direction, Quantity, Range, Target, Unknown
from service.ageing.verdict import AirHistory, JudgingRules, judge, judging_rules
from service.science.signals import US_PER_S

TARGET = Target(temperature_c=Range(8.0, 12.0), humidity_pct=Range(85.0, 92.0))
MINUTE_US = 60 * US_PER_S
RAW = JudgingRules(Smoothing(time_constant_s=0), Smoothing(time_constant_s=0))
"""Rules without smoothing, where a test is about limits and not about means."""


def air(
    humidity: list[float], temperature: list[float] | float = 10.0, every_s: float = 60
) -> AirHistory:
    times = (np.arange(len(humidity)) * every_s * US_PER_S).astype(np.int64)
    warmth = np.array(temperature) if isinstance(temperature, list) else temperature
    return AirHistory(times, np.full(len(humidity), warmth), np.array(humidity, dtype=float))


def at(history: AirHistory, later_s: float = 0) -> int:
    return int(history.times_us[-1] + later_s * US_PER_S)


@pytest.mark.parametrize(
    ("humidity", "temperature", "word"),
    [
        (85.0, 10.0, "in range"),
        (92.0, 10.0, "in range"),
        (84.99, 10.0, "too dry"),
        (92.01, 10.0, "too damp"),
        (85.01, 10.0, "in range"),
        (91.99, 10.0, "in range"),
        (90.0, 8.0, "in range"),
        (90.0, 12.0, "in range"),
        (90.0, 7.99, "too cold"),
        (90.0, 12.01, "too warm"),
    ],
)
def test_the_ends_of_a_range_belong_to_it(humidity: float, temperature: float, word: str) -> None:
    history = air([humidity] * 5, temperature)

    assert judge(TARGET, history, at(history)).word == word


def test_a_mean_that_creeps_up_to_its_limit_is_in_range() -> None:
    history = air([84.0] + [85.0] * 2000)

    assert judge(TARGET, history, at(history)).word == "in range"


def test_the_amount_is_the_distance_from_the_nearer_end() -> None:
    history = air([82.5] * 5)

    (finding,) = judge(TARGET, history, at(history)).findings

    # Exact in binary: a constant series has itself as its mean.
    assert finding.amount == 2.5
    assert finding.direction is Direction.BELOW


def test_since_when_is_the_first_reading_of_the_unbroken_run_outside() -> None:
    history = air([80.0, 90.0, 84.0, 83.0, 84.0])

    (finding,) = judge(TARGET, history, at(history), RAW).findings

    assert finding.since_us == 2 * MINUTE_US
    assert finding.since_is_start


def test_a_run_from_the_first_reading_on_may_have_begun_earlier() -> None:
    history = air([84.0, 83.0, 84.0])

    (finding,) = judge(TARGET, history, at(history), RAW).findings

    assert finding.since_us == 0
    assert not finding.since_is_start


def test_what_was_outside_before_a_silence_is_not_counted_on() -> None:
    history = air([90.0, 84.0, 84.0, 84.0])
    history.times_us[2:] += 3600 * US_PER_S

    (finding,) = judge(TARGET, history, at(history), RAW).findings

    assert finding.since_us == history.times_us[2]
    assert not finding.since_is_start


def test_a_run_that_began_after_a_silence_was_seen_to_begin() -> None:
    history = air([84.0, 90.0, 84.0, 84.0])
    history.times_us[1:] += 3600 * US_PER_S

    (finding,) = judge(TARGET, history, at(history), RAW).findings

    assert finding.since_us == history.times_us[2]
    assert finding.since_is_start


def test_a_missing_value_neither_breaks_a_run_nor_counts() -> None:
    history = air([90.0, 84.0, math.nan, 84.0])

    (finding,) = judge(TARGET, history, at(history), RAW).findings

    assert finding.since_us == MINUTE_US


@pytest.mark.parametrize(("dip", "word"), [(70.0, "in range"), (55.0, "in range")])
def test_a_verdict_waits_out_a_door_opening(dip: float, word: str) -> None:
    opened, closed = [90.0] * 60 + [dip] * 3, 90.0 - (90.0 - dip) * np.exp(-np.arange(20) / 3)

    for seen in range(60, 83):
        history = air((opened + closed.tolist())[:seen])

        assert judge(TARGET, history, at(history)).word == word


def test_a_verdict_does_not_flip_with_the_cooling_cycle() -> None:
    cycle = (88.0 + 4.0 * np.sin(2 * np.pi * np.arange(400) / 40)).tolist()

    words = {judge(TARGET, air(cycle[:n]), (n - 1) * MINUTE_US).word for n in range(100, 400, 3)}

    assert words == {"in range"}


def test_a_tray_that_runs_dry_makes_the_wheel_too_dry() -> None:
    history = air(np.linspace(90.0, 78.0, 12 * 60).tolist())

    (finding,) = judge(TARGET, history, at(history)).findings

    # The air falls by 1 %RH an hour, and a mean of 15 min lags it by a quarter of that.
    assert finding.word == "too dry"
    assert finding.amount == pytest.approx(85.0 - 78.25, abs=0.02)
    # It crossed 85 after 5 h; the mean follows 15 min later.
    assert finding.since_us / US_PER_S == pytest.approx(5.25 * 3600, abs=120)


def test_the_gravest_finding_comes_first() -> None:
    slightly_warm = air([80.0] * 5, 12.5)
    very_warm = air([84.0] * 5, 14.0)

    assert judge(TARGET, slightly_warm, at(slightly_warm)).word == "too dry"
    assert judge(TARGET, very_warm, at(very_warm)).word == "too warm"
    assert len(judge(TARGET, very_warm, at(very_warm)).findings) == 2


def test_without_a_fresh_reading_nothing_is_known() -> None:
    history = air([84.0] * 5)

    verdict = judge(TARGET, history, at(history, later_s=1801))

    assert verdict.word == "not known"
    assert verdict.unknown == (
        Unknown(Quantity.TEMPERATURE, "no fresh reading", 4 * MINUTE_US),
        Unknown(Quantity.HUMIDITY, "no fresh reading", 4 * MINUTE_US),
    )


def test_a_reading_is_fresh_up_to_the_last_second() -> None:
    history = air([84.0] * 5)

    assert judge(TARGET, history, at(history, later_s=1800)).word == "too dry"


def test_a_reading_from_a_fast_clock_counts_as_fresh() -> None:
    history = air([84.0] * 5)

    assert judge(TARGET, history, at(history, later_s=-300)).word == "too dry"


def test_without_any_reading_nothing_is_known() -> None:
    verdict = judge(TARGET, air([]), 0)

    assert [u.reason for u in verdict.unknown] == ["no sensor in this space has reported"] * 2


def test_a_sensor_without_humidity_leaves_only_that_unknown() -> None:
    history = air([math.nan] * 5, 13.0)

    verdict = judge(TARGET, history, at(history))

    assert verdict.word == "too warm"
    assert verdict.unknown == (Unknown(Quantity.HUMIDITY, "no reading of the humidity has come"),)


def test_what_a_stage_does_not_ask_is_not_judged() -> None:
    history = air([20.0] * 5, 4.0)

    verdict = judge(Target(temperature_c=Range(1.0, 5.0), humidity_pct=None), history, at(history))

    assert verdict.word == "in range"
    assert verdict.findings == ()


def test_an_hourly_sensor_can_be_judged_between_its_readings() -> None:
    history = air([90.0, 84.0, 82.0, 82.0], every_s=3600)

    (finding,) = judge(TARGET, history, at(history, later_s=3000), judging_rules(3600)).findings

    assert finding.since_us == 2 * 3600 * US_PER_S
    assert finding.since_is_start
