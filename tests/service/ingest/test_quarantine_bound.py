"""Quarantine keeps messages whole up to a bound, and beyond it counts what is alike."""

from pathlib import Path

import pytest
from sqlalchemy import Engine

from service.clock import HOUR_US, US_PER_S
from service.ingest.memory import SensorMemory
from service.ingest.messages import Message
from service.ingest.storing import store
from service.store import quarantine
from service.store.database import SessionMaker
from service.store.quarantine import SHORT_BYTES, SHORT_ROWS, VARIED, Shelf
from service.store.tables import Quarantine

NOW_US = 1_795_608_000 * US_PER_S
TOPIC = "caves/larch-lane/cave-air/senml"


def rows(sessions: SessionMaker) -> list[Quarantine]:
    with sessions() as session:
        found = list(quarantine.newest(session, 1_000))[::-1]
        session.expunge_all()
    return found


def test_a_reason_without_its_numbers_is_its_kind() -> None:
    kinds = {
        quarantine.kind_of(
            f"larch-lane/a at {when}: its time {when} is {ahead} s ahead of its arrival"
        )
        for when, ahead in (("2026-11-25T13:00:05Z", 601), ("2027-01-02T03:04:05.5Z", -99_999))
    }

    assert kinds == {"larch-lane/a at …: its time … is … s ahead of its arrival"}


def test_a_kind_holds_nothing_that_turns_text_round() -> None:
    assert quarantine.kind_of("no \u202epack\n here") == "no pack here"


def test_beyond_the_bound_what_is_alike_is_counted(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_rows=2)
        kept = [
            shelf.keep(NOW_US + second, TOPIC, b"{}", f"humidity {130 + second} %RH is none")
            for second in range(6)
        ]

    assert kept == [True, True, False, False, False, False]
    assert [(row.more, row.last_us) for row in rows(sessions)] == [(0, None), (4, NOW_US + 5)]
    with sessions() as session:
        assert quarantine.count(session) == 6


def test_a_full_quarantine_still_shows_each_new_topic_and_reason(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_rows=1)
        shelf.keep(NOW_US, TOPIC, b"{}", "no pack")
        shelf.keep(NOW_US, TOPIC, b"{}", "another reason")
        shelf.keep(NOW_US, f"{TOPIC}/b", b"x" * 9_000, "no pack")

    _, second, third = rows(sessions)
    assert (second.reason, second.more) == ("another reason", 0)
    assert third.payload == b"x" * SHORT_BYTES
    assert third.reason == f"no pack (quarantine is full: {SHORT_BYTES} of 9000 bytes are kept)"


def test_bytes_fill_quarantine_as_well_as_rows(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_bytes=10_000)
        kept = [shelf.keep(NOW_US, TOPIC, b"x" * 4_000, "no pack") for _ in range(5)]

    assert kept == [True, True, False, False, False]


def test_an_hour_later_what_is_alike_gets_a_row_of_its_own(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_rows=1)
        for hour in range(3):
            shelf.keep(NOW_US + hour * HOUR_US, TOPIC, b"{}", "no pack")
            shelf.keep(NOW_US + hour * HOUR_US + 1, TOPIC, b"{}", "no pack")

    assert [row.more for row in rows(sessions)] == [1, 1, 1]


def test_counting_goes_on_over_batches(sessions: SessionMaker) -> None:
    for second in range(4):
        with sessions() as session:
            Shelf(session, most_rows=1).keep(NOW_US + second, TOPIC, b"{}", "no pack")

    assert [row.more for row in rows(sessions)] == [3]


def test_messages_of_many_kinds_are_counted_on_one_row_an_hour(sessions: SessionMaker) -> None:
    many = SHORT_ROWS + 100
    for start in range(0, many, 10):
        with sessions() as session:
            shelf = Shelf(session, most_rows=0)
            for number in range(start, min(start + 10, many)):
                shelf.keep(NOW_US + number, f"t/{number}", b"{}", "no mapping")

    found = rows(sessions)
    assert len(found) == SHORT_ROWS + 1
    assert (found[-1].reason, found[-1].more) == (VARIED, 99)
    with sessions() as session:
        assert quarantine.count(session) == many


@pytest.mark.parametrize("alike", [True, False])
def test_a_flood_of_bad_messages_does_not_grow_the_store_past_its_bound(
    sessions: SessionMaker,
    engine: Engine,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    alike: bool,  # noqa: FBT001 - a test's own case
) -> None:
    # A hundredth of the real bound, so that the flood may be a tenth of a real one.
    monkeypatch.setattr(quarantine, "MOST_ROWS", 100)
    flood = 3_000
    memory = SensorMemory()
    for start in range(0, flood, 500):
        messages = [
            Message(TOPIC if alike else f"t/{number}", b'{"n": %d}' % number, NOW_US + number)
            for number in range(start, start + 500)
        ]
        with sessions() as session:
            tally = store(session, messages, (), memory)
        assert tally.quarantined == 500

    with sessions() as session:
        assert quarantine.count(session) == flood
    assert len(rows(sessions)) <= 100 + SHORT_ROWS + 1
    engine.dispose()
    # An empty store is about 400 kB, and so is a write-ahead log that was just written back.
    assert sum(part.stat().st_size for part in tmp_path.glob("store.db*")) < 1_500_000
