"""The calendar's secret address, and how changes and removals are counted."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from service.ageing.diary import DiaryEntry, DiaryKind
from service.store import calendar
from service.store.database import Session
from tests.builders import DAY_US, NOW_US, empty_home

TURN = DiaryEntry(
    key="turn-wheel-4-2026-11-20",
    kind=DiaryKind.TASK,
    title="Turn Tomme 1",
    words="",
    path="/wheels/4",
    day=date(2026, 11, 27),
    opens=date(2026, 11, 24),
    latest=date(2026, 11, 28),
)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    with empty_home(tmp_path).sessions() as opened:
        yield opened


def test_entry_that_stays_as_it_is_keeps_its_count_and_its_time(session: Session) -> None:
    calendar.said(session, [TURN], NOW_US)
    (again,) = calendar.said(session, [TURN], NOW_US + DAY_US)

    assert (again.sequence, again.modified_us) == (0, NOW_US)


def test_entry_that_moves_counts_one_change(session: Session) -> None:
    calendar.said(session, [TURN], NOW_US)
    moved = replace(TURN, day=date(2026, 11, 28))
    (changed,) = calendar.said(session, [moved], NOW_US + DAY_US)

    assert (changed.entry, changed.sequence) == (moved, 1)
    assert changed.modified_us == NOW_US + DAY_US


def test_entry_that_is_gone_is_said_to_be_taken_out_for_sixty_days(session: Session) -> None:
    calendar.said(session, [TURN], NOW_US)
    gone = [calendar.said(session, [], NOW_US + days * DAY_US) for days in (1, 2, 61, 62)]

    assert [len(each) for each in gone] == [1, 1, 1, 0]
    assert gone[1] == gone[0]
    assert gone[0][0].is_removed
    assert gone[0][0].entry == TURN
    assert gone[0][0].sequence == 1


def test_entry_that_was_done_leaves_without_being_taken_out(session: Session) -> None:
    calendar.said(session, [replace(TURN, done_us=NOW_US)], NOW_US)

    assert calendar.said(session, [], NOW_US + DAY_US) == []


def test_entry_that_comes_back_counts_on(session: Session) -> None:
    calendar.said(session, [TURN], NOW_US)
    calendar.said(session, [], NOW_US + DAY_US)
    (back,) = calendar.said(session, [TURN], NOW_US + 2 * DAY_US)

    assert (back.sequence, back.is_removed) == (2, False)


def test_new_address_ends_the_one_before(session: Session) -> None:
    first = calendar.replace_feed(session, NOW_US).secret
    second = calendar.replace_feed(session, NOW_US + 1).secret

    assert len(second) == 43  # 32 bytes of chance
    assert not calendar.answers_to(session, first)
    assert calendar.answers_to(session, second)


def test_without_an_address_nothing_answers(session: Session) -> None:
    assert not calendar.answers_to(session, "")
    calendar.replace_feed(session, NOW_US)
    calendar.close_feed(session, NOW_US + 1)

    assert calendar.feed(session) is None
