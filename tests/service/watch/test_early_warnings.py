"""Early warnings: before the limit, once, and not on a cave that only breathes."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import numpy as np
import pytest
from sqlalchemy import text

from service.watch import foreseeing, sweat

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.service.watch.conftest import Larder, LarderMaker

DAY_MIN = 1_440
DRIES_FROM = 8 * DAY_MIN


def cave(
    days: float, humidity: Callable[[np.ndarray], np.ndarray], seed: int = 7
) -> list[tuple[float, float, float]]:
    """Readings every five minutes of a cave that cools in cycles of 36 minutes.

    Swings of 0.5 K and 2 %RH, a warm afternoon, and noise: what a steady cave does anyway.
    """
    minutes = np.arange(0.0, days * DAY_MIN, 5.0)
    random = np.random.default_rng(seed)
    phase = np.abs((minutes % 36) / 36 - 0.3)
    swing = np.abs(phase - 0.35) * 4 - 0.7
    day = np.sin(2 * np.pi * minutes / DAY_MIN)
    warm = 10.5 + 0.5 * swing + 0.3 * day + random.normal(0, 0.02, minutes.size)
    damp = humidity(minutes) - 2 * swing - 0.5 * day + random.normal(0, 0.2, minutes.size)
    return list(zip(minutes.tolist(), warm.tolist(), damp.tolist(), strict=True))


def steady(minutes: np.ndarray) -> np.ndarray:
    return np.full(minutes.size, 89.0)


def drying(minutes: np.ndarray) -> np.ndarray:
    """Steady for eight days, then 0.35 %RH an hour down: at 85 %RH after about 11 hours."""
    gone: np.ndarray = np.maximum(minutes - DRIES_FROM, 0.0) * 0.35 / 60
    return 89.0 - gone


def live(larder: Larder, from_min: int, to_min: int, every_min: int) -> None:
    """Let the watch look every so often, limits first as it does."""
    for minute in range(from_min, to_min, every_min):
        larder.round_at(minute + 1)
        larder.watch.look_ahead()


def told(larder: Larder) -> list[tuple[str, int, int | None, str]]:
    """The record of warnings: kind, raised, returned, title."""
    return [
        (alarm.kind, alarm.raised_us, alarm.returned_us, alarm.title)
        for alarm in larder.alarms()
        if alarm.kind in foreseeing.FORETELLS
    ]


@pytest.fixture
def dried(larder: Larder) -> Larder:
    """A cave that has dried below its limit, watched every other hour of its last day."""
    larder.read(cave(9.0, drying))
    live(larder, DRIES_FROM - 120, 9 * DAY_MIN, 120)
    return larder


def test_a_drying_cave_is_told_of_before_its_alarm(dried: Larder) -> None:
    alarms = {alarm.kind: alarm for alarm in dried.alarms()}

    assert set(alarms) == {"humidity_falling", "humidity_below"}
    early, late = alarms["humidity_falling"], alarms["humidity_below"]
    # The drying shows over half a day's restlessness some hours before the limit.
    assert early.raised_us < late.raised_us - 2 * 3_600_000_000
    assert early.priority.value == "low"
    assert early.wheels == "Tomme 1"
    assert "Humidity will be below 85 % in about " in early.body


def test_the_alarm_takes_over_from_its_warning_without_a_word(dried: Larder) -> None:
    alarms = {alarm.kind: alarm for alarm in dried.alarms()}
    titles = [notice.title for notice in dried.notices()]

    assert alarms["humidity_falling"].returned_us is not None
    assert alarms["humidity_below"].returned_us is None
    assert not any("no longer" in title for title in titles)


def test_a_refilled_tray_ends_the_warning_and_says_so(larder: Larder) -> None:
    def refilled(minutes: np.ndarray) -> np.ndarray:
        return np.where(minutes < DRIES_FROM + 540, drying(minutes), 89.5)

    larder.read(cave(9.0, refilled))
    live(larder, DRIES_FROM, 9 * DAY_MIN, 120)

    assert [(kind, back is not None) for kind, _, back, _ in told(larder)] == [
        ("humidity_falling", True)
    ]
    assert "Larder cave: no longer drying" in [notice.title for notice in larder.notices()]


@pytest.mark.parametrize("seed", range(3))
def test_a_steady_cave_with_cycles_is_not_warned_of_for_a_week(larder: Larder, seed: int) -> None:
    larder.read(cave(8.0, steady, seed))
    # From its very first day on, of which nothing can be compared with a day before.
    for day in range(1, 9):
        larder.round_at(day * DAY_MIN + 1)
        larder.watch.look_ahead()

    assert larder.alarms() == []


def test_the_record_is_the_same_however_often_somebody_looks(make_larder: LarderMaker) -> None:
    records = []
    for every_min in (60, 190, 2_000):
        larder = make_larder()
        larder.stand()
        larder.shelve()
        larder.read(cave(9.0, drying))
        live(larder, DRIES_FROM, 9 * DAY_MIN + every_min, every_min)
        records.append(told(larder))

    assert records[0]
    assert records[1:] == records[:1] * 2


def test_a_reading_that_comes_late_but_in_order_changes_nothing(make_larder: LarderMaker) -> None:
    """A sensor out of reach keeps its readings for five hours and sends them together."""
    rows = cave(9.0, drying)
    records = []
    for hold in (False, True):
        larder = make_larder()
        larder.stand()
        larder.shelve()
        cut = DRIES_FROM + 300
        larder.read([row for row in rows if row[0] < cut])
        live(larder, DRIES_FROM, cut, 120)
        if hold:
            live(larder, cut, cut + 300, 120)
        larder.read([row for row in rows if row[0] >= cut])
        live(larder, cut + 300, 9 * DAY_MIN, 120)
        records.append(told(larder))

    assert records[0]
    assert records[1] == records[0]


def test_of_a_long_history_only_the_last_two_days_are_looked_at(larder: Larder) -> None:
    larder.read(cave(9.0, drying))
    larder.read((9 * DAY_MIN + minute, 10.5, 89.0) for minute in range(0, 3 * DAY_MIN, 5))
    larder.round_at(12 * DAY_MIN)
    larder.watch.look_ahead()

    assert told(larder) == []


def test_a_sensor_that_is_taken_out_ends_its_warnings(dried: Larder) -> None:
    with dried.sessions() as session:
        session.execute(
            text("update condition set state_json = :state where kind = 'temperature_rising'"),
            {"state": '{"seen": 2, "gone": 0, "since_us": 1, "raised_us": 2}'},
        )
        number = session.execute(
            text("select id from condition where kind = 'temperature_rising'")
        ).scalar_one()
        session.execute(
            text(
                "insert into alarm (condition_id, state, priority, raised_us, wheels, title, body)"
                " values (:number, 'unacknowledged', 'low', 2, '', 'x', 'x')"
            ),
            {"number": number},
        )
    dried.stand(at_min=9 * DAY_MIN, out=True)
    dried.round_at(9 * DAY_MIN + 60)
    dried.watch.look_ahead()

    rising = [alarm for alarm in dried.alarms() if alarm.kind == "temperature_rising"]
    assert [alarm.returned_us is not None for alarm in rising] == [True]


def test_between_two_steps_nothing_is_evaluated(
    larder: Larder, monkeypatch: pytest.MonkeyPatch
) -> None:
    larder.steady(0, 119)
    larder.round_at(115)
    larder.watch.look_ahead()
    asked: list[str] = []

    def ask(*_: object) -> list[object]:
        asked.append("asked")
        return []

    for part in (foreseeing, sweat):
        monkeypatch.setattr(part, "evaluate", ask)

    larder.round_at(118)
    larder.watch.look_ahead()

    assert asked == []


def test_a_failure_in_looking_ahead_leaves_the_limit_alarms_alone(
    larder: Larder, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> list[object]:
        raise RuntimeError("planted")

    monkeypatch.setattr(foreseeing, "evaluate", fail)
    monkeypatch.setattr("service.watch.rounds._LOOK_EVERY_S", 0.01)
    larder.steady(0, 120, humidity=70)
    larder.clock.time_us += 120 * 60_000_000
    stop = threading.Event()
    rounds = 0
    whole = larder.watch.round

    def counted() -> int:
        nonlocal rounds
        rounds += 1
        if rounds == 3:
            stop.set()
        return whole()

    monkeypatch.setattr(larder.watch, "round", counted)
    larder.watch.run(stop)

    assert rounds == 3
    assert "looking ahead failed" in caplog.text
    assert [alarm.kind for alarm in larder.alarms()] == ["humidity_below"]
