"""What was quarantined is tried again by today's rules: good readings are stored, once."""

import pytest

from sensors.payloads import Mapping, Sample, encode
from service.clock import HOUR_US, US_PER_S
from service.ingest.again import TriedAgain, try_again
from service.ingest.memory import SensorMemory
from service.ingest.messages import Message
from service.ingest.storing import store
from service.store import air, places, quarantine
from service.store.database import SessionMaker
from service.store.quarantine import Shelf

NOW_US = 1_795_608_000 * US_PER_S
TOPIC = "caves/larch-lane/cave-air/senml"
PROBE = Mapping(topic_filter="cellar/+/state", temperature="/t", humidity="/rh")


def pack(*times_us: int, humidity: float = 88.0) -> bytes:
    return encode("", [Sample("", time_us, 10.0, humidity) for time_us in times_us])


def take(sessions: SessionMaker, *messages: Message) -> None:
    with sessions() as session:
        store(session, messages, (), SensorMemory())


def again(
    sessions: SessionMaker,
    *,
    mappings: tuple[Mapping, ...] = (),
    kind: str | None = None,
    now_us: int = NOW_US,
) -> TriedAgain:
    with sessions() as session:
        return try_again(session, mappings, now_us, kind)


def stored_us(sessions: SessionMaker, key: str = "larch-lane/cave-air") -> list[int]:
    with sessions() as session:
        sensors = {sensor.key: sensor.id for sensor in places.sensors(session)}
        if key not in sensors:
            return []
        return [int(time) for time in air.recent_times_us(session, sensors[key] or 0, 1_000)]


def left(sessions: SessionMaker) -> int:
    with sessions() as session:
        return quarantine.count(session)


def test_readings_that_came_while_the_clock_was_behind_are_stored(sessions: SessionMaker) -> None:
    times_us = [NOW_US - minutes * 60 * US_PER_S for minutes in (3, 2, 1)]
    behind_us = NOW_US - 24 * HOUR_US
    take(sessions, *(Message(TOPIC, pack(time_us), behind_us) for time_us in times_us))
    assert (stored_us(sessions), left(sessions)) == ([], 3)

    assert again(sessions) == TriedAgain(tried=3, taken_out=3, readings=3)
    assert (stored_us(sessions), left(sessions)) == (times_us, 0)


def test_tried_twice_stores_nothing_twice(sessions: SessionMaker) -> None:
    message = Message(TOPIC, pack(NOW_US - US_PER_S), NOW_US - HOUR_US)
    take(sessions, message)
    again(sessions)
    take(sessions, message)

    assert again(sessions) == TriedAgain(tried=1, taken_out=1, readings=0)
    assert again(sessions) == TriedAgain(tried=0, taken_out=0, readings=0)
    assert stored_us(sessions) == [NOW_US - US_PER_S]


def test_what_is_still_bad_stays_and_what_was_good_in_it_is_stored(sessions: SessionMaker) -> None:
    bad = encode("", [Sample("", NOW_US - 2, 10.0, 130.0), Sample("", NOW_US - 1, 10.0, 88.0)])
    take(
        sessions,
        Message(TOPIC, bad, NOW_US - HOUR_US),
        Message(TOPIC, b"\xff", NOW_US),
        Message(TOPIC, pack(NOW_US + HOUR_US), NOW_US),
    )

    assert again(sessions) == TriedAgain(tried=3, taken_out=0, readings=1)
    assert (stored_us(sessions), left(sessions)) == ([NOW_US - 1], 3)


def test_a_topic_gets_its_readings_once_it_has_a_mapping(sessions: SessionMaker) -> None:
    take(sessions, Message("cellar/shelf/state", b'{"t": 10, "rh": 88}', NOW_US - HOUR_US))
    assert again(sessions).taken_out == 0

    assert again(sessions, mappings=(PROBE,)) == TriedAgain(1, 1, 1)
    # It says no time, so it keeps that of its arrival.
    assert stored_us(sessions, "cellar/shelf/state") == [NOW_US - HOUR_US]


def test_what_the_broker_had_kept_without_a_time_is_not_passed_off_as_fresh(
    sessions: SessionMaker,
) -> None:
    untimed = b'[{"n":"temperature","u":"Cel","v":10}]'
    take(sessions, Message(TOPIC, untimed, NOW_US - HOUR_US, is_kept=True))

    assert again(sessions) == TriedAgain(tried=1, taken_out=0, readings=0)


def test_another_value_of_the_same_time_stays(sessions: SessionMaker) -> None:
    for humidity in (88.0, 77.0):
        take(sessions, Message(TOPIC, pack(NOW_US - 1, humidity=humidity), NOW_US))

    assert again(sessions) == TriedAgain(tried=1, taken_out=0, readings=0)
    with sessions() as session:
        newest = air.latest(session, 1)
        assert newest is not None
        assert newest.humidity_pct == pytest.approx(88.0, abs=0)  # stored as received


def test_one_kind_may_be_tried_alone(sessions: SessionMaker) -> None:
    take(
        sessions,
        Message(TOPIC, pack(NOW_US - 1), NOW_US - HOUR_US),
        Message("cellar/shelf/state", b'{"t": 10, "rh": 88}', NOW_US - HOUR_US),
    )
    with sessions() as session:
        (kind,) = [each.kind for each in quarantine.kinds(session) if "ahead" in each.kind]

    assert again(sessions, mappings=(PROBE,), kind=kind) == TriedAgain(1, 1, 1)
    assert left(sessions) == 1


def test_a_row_on_which_others_were_counted_keeps_their_number(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_rows=1)
        for _ in range(3):
            shelf.keep(NOW_US - HOUR_US, TOPIC, pack(NOW_US - 1), "too far ahead")

    assert again(sessions) == TriedAgain(tried=1, taken_out=0, readings=1)
    assert left(sessions) == 3


def test_a_failure_leaves_readings_and_quarantine_as_they_were(
    sessions: SessionMaker, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(sessions, Message(TOPIC, pack(NOW_US - 1), NOW_US - HOUR_US))

    def fails(*_: object) -> int:
        raise OSError("the disk is full")

    monkeypatch.setattr(quarantine, "let_go", fails)
    with pytest.raises(OSError, match="disk"):
        again(sessions)

    assert (stored_us(sessions), left(sessions)) == ([], 1)
