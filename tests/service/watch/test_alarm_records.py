"""Alarms as kept: acknowledging, listing, and the record of every change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from service.ageing.lifecycle import AlarmState
from service.errors import UnknownError
from service.store import alarm_records

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder

START_US = 1_795_608_000_000_000  # As in conftest.py.
MINUTE_US = 60_000_000


@pytest.fixture
def dry(larder: Larder) -> Larder:
    """A larder with an active alarm, number 1."""
    larder.steady(0, 120, humidity=70)
    larder.round_at(120)
    return larder


def test_acknowledging_notes_who_and_when(dry: Larder) -> None:
    with dry.sessions() as session:
        alarm = alarm_records.acknowledge(session, 1, "Ada", START_US)

    assert alarm.state is AlarmState.ACKNOWLEDGED
    assert (alarm.acknowledged_by, alarm.acknowledged_us) == ("Ada", START_US)


def test_acknowledging_twice_changes_nothing_more(dry: Larder) -> None:
    with dry.sessions() as session:
        first = alarm_records.acknowledge(session, 1, "Ada", START_US)
    with dry.sessions() as session:
        second = alarm_records.acknowledge(session, 1, "Ben", START_US + 1)
        history = alarm_records.transitions(session, 1)

    assert second == first
    assert [one.state for one in history] == [
        AlarmState.UNACKNOWLEDGED,
        AlarmState.ACKNOWLEDGED,
    ]


def test_an_acknowledged_alarm_is_normal_once_it_returns(dry: Larder) -> None:
    with dry.sessions() as session:
        alarm_records.acknowledge(session, 1, "Ada", START_US)
    dry.steady(120, 240)
    dry.round_at(241)
    with dry.sessions() as session:
        still_open = alarm_records.listed(session, only_open=True, limit=10)
        history = alarm_records.transitions(session, 1)

    assert still_open == ()
    assert [one.by for one in history] == [None, "Ada", None]


def test_acknowledging_an_alarm_that_has_returned_makes_it_normal(dry: Larder) -> None:
    dry.steady(120, 240)
    dry.round_at(241)
    with dry.sessions() as session:
        alarm = alarm_records.acknowledge(session, 1, "Ada", START_US)

    assert alarm.state is AlarmState.NORMAL


def test_an_unknown_alarm_cannot_be_acknowledged(dry: Larder) -> None:
    with dry.sessions() as session, pytest.raises(UnknownError, match="no alarm 99"):
        alarm_records.acknowledge(session, 99, "Ada", START_US)


def test_an_unknown_alarm_has_no_transitions(dry: Larder) -> None:
    with dry.sessions() as session, pytest.raises(UnknownError, match="no alarm 99"):
        alarm_records.transitions(session, 99)


def test_the_list_of_alarms_pages_on(larder: Larder) -> None:
    for spell in range(3):
        larder.steady(240 * spell, 240 * spell + 120, humidity=70)
        larder.steady(240 * spell + 120, 240 * spell + 240)
    larder.round_at(721)
    with larder.sessions() as session:
        first = alarm_records.listed(session, only_open=False, limit=2)
        second = alarm_records.listed(session, only_open=False, limit=2, before_id=first[-1].id)

    assert [alarm.id for alarm in (*first, *second)] == [3, 2, 1]


@pytest.mark.parametrize(
    ("from_min", "to_min", "count"),
    [
        pytest.param(-60, 0, 0, id="before it"),
        pytest.param(-60, 60, 1, id="over its beginning"),
        pytest.param(60, 70, 1, id="within it"),
        pytest.param(600, 700, 0, id="after it"),
    ],
)
def test_a_chart_finds_the_alarms_of_its_time(
    dry: Larder, from_min: int, to_min: int, count: int
) -> None:
    dry.steady(120, 240)
    dry.round_at(241)
    with dry.sessions() as session:
        found = alarm_records.between(
            session,
            dry.space_id,
            START_US + from_min * MINUTE_US,
            START_US + to_min * MINUTE_US,
        )

    assert len(found) == count
