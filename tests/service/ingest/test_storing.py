"""From messages to rows: what is stored once, what is set aside, what is noted of a sensor."""

import json
from collections.abc import Sequence

import pytest
from sqlmodel import Session, col, select

from sensors.payloads import Mapping, Sample, encode
from service.clock import US_PER_S
from service.ingest.memory import SensorMemory
from service.ingest.messages import KEPT_BYTES, Message
from service.ingest.storing import CONTRADICTION, Tally, store
from service.store import places, quarantine
from service.store.database import SessionMaker
from service.store.tables import Quarantine, Reading, Sensor

NOW_US = 1_795_608_000 * US_PER_S
TOPIC = "caves/larch-lane/cave-air/senml"


def pack(*readings: tuple[int, float | None, float | None]) -> bytes:
    """A SenML pack of (seconds from `NOW_US`, temperature, humidity)."""
    return encode("", [Sample("", NOW_US + s * US_PER_S, c, h) for s, c, h in readings])


def message(
    payload: bytes, topic: str = TOPIC, *, repeat: bool = False, kept: bool = False
) -> Message:
    return Message(topic, payload, NOW_US, is_repeat=repeat or kept, is_kept=kept)


def stored(
    sessions: SessionMaker,
    *messages: Message,
    mappings: Sequence[Mapping] = (),
    memory: SensorMemory | None = None,
) -> Tally:
    with sessions() as session:
        return store(session, messages, mappings, memory or SensorMemory())


def rows(sessions: SessionMaker) -> list[tuple[int, float | None, float | None]]:
    """All readings as (seconds from `NOW_US`, temperature, humidity), in the store's order."""
    with sessions() as session:
        found = session.exec(select(Reading).order_by(col(Reading.sensor_id), col(Reading.time_us)))
        return [
            ((row.time_us - NOW_US) // US_PER_S, row.temperature_c, row.humidity_pct)
            for row in found
        ]


def set_aside(sessions: SessionMaker) -> list[Quarantine]:
    with sessions() as session:
        found = list(quarantine.newest(session, 100))
        session.expunge_all()
        return found


def sensor(session: Session, key: str = "larch-lane/cave-air") -> Sensor:
    return session.exec(select(Sensor).where(col(Sensor.key) == key)).one()


def test_a_reading_is_stored_as_it_came(sessions: SessionMaker) -> None:
    tally = stored(sessions, message(pack((0, 11.25, 92.5))))

    assert rows(sessions) == [(0, 11.25, 92.5)]
    assert tally == Tally(messages=1, readings=1, rows=1)


def test_the_same_message_again_adds_no_row(sessions: SessionMaker) -> None:
    again = message(pack((0, 11.25, 92.5), (60, 11.5, 92.0)))
    stored(sessions, again)
    tally = stored(sessions, again, again)

    assert rows(sessions) == [(0, 11.25, 92.5), (60, 11.5, 92.0)]
    assert tally == Tally(messages=2, readings=4, repeats=4)


def test_late_and_out_of_order_readings_go_where_they_belong(sessions: SessionMaker) -> None:
    stored(sessions, message(pack((0, 11.0, 90.0))))
    stored(sessions, message(pack((-3600, 10.0, 91.0))), message(pack((-60, 10.5, 90.5))))

    assert rows(sessions) == [(-3600, 10.0, 91.0), (-60, 10.5, 90.5), (0, 11.0, 90.0)]


def test_a_sensor_seen_for_the_first_time_is_new_and_not_placed(sessions: SessionMaker) -> None:
    stored(sessions, message(pack((-60, 11.0, 90.0))))
    with sessions() as session:
        new = sensor(session)
        assert new.id is not None

        assert new.first_seen_us == NOW_US
        assert not places.placements_of_sensor(session, new.id)
    assert len(rows(sessions)) == 1


def test_a_contradiction_is_set_aside_and_the_first_value_stands(sessions: SessionMaker) -> None:
    stored(sessions, message(pack((0, 11.0, 90.0))))
    tally = stored(sessions, message(pack((0, 12.0, 90.0), (60, 12.0, 90.0))))

    assert rows(sessions) == [(0, 11.0, 90.0), (60, 12.0, 90.0)]
    assert [entry.reason for entry in set_aside(sessions)] == [CONTRADICTION]
    assert tally == Tally(messages=1, readings=2, rows=1, quarantined=1)


@pytest.mark.parametrize(
    "payload",
    [b"", b"\xff\xfe\x00", b"[" * 50_000, b'{"t": 1}', b'[{"n":"temperature","u":"Cel","v":NaN}]'],
)
def test_what_is_no_reading_is_set_aside_with_topic_bytes_time_and_reason(
    sessions: SessionMaker, payload: bytes
) -> None:
    stored(sessions, message(payload), message(pack((0, 11.0, 90.0))))
    (entry,) = set_aside(sessions)

    assert (entry.topic, entry.payload, entry.received_us) == (TOPIC, payload, NOW_US)
    assert entry.reason
    assert rows(sessions) == [(0, 11.0, 90.0)]


def test_an_impossible_reading_costs_only_itself(sessions: SessionMaker) -> None:
    payload = pack((0, 11.0, 90.0), (60, -127.0, 90.0))
    stored(sessions, message(payload))
    (entry,) = set_aside(sessions)

    assert rows(sessions) == [(0, 11.0, 90.0)]
    assert entry.payload == payload
    assert "-127" in entry.reason


def test_a_time_far_ahead_of_the_arrival_is_set_aside(sessions: SessionMaker) -> None:
    stored(sessions, message(pack((601, 11.0, 90.0))), message(pack((600, 12.0, 90.0))))

    assert rows(sessions) == [(600, 12.0, 90.0)]
    assert len(set_aside(sessions)) == 1


def test_a_payload_that_is_too_long_is_kept_in_part_and_its_size_told(
    sessions: SessionMaker,
) -> None:
    payload = pack((0, 11.0, 90.0)) + b" " * KEPT_BYTES
    stored(sessions, message(payload))
    (entry,) = set_aside(sessions)

    assert entry.payload == payload[:KEPT_BYTES]
    assert str(len(payload)) in entry.reason
    assert not rows(sessions)


def test_a_bad_message_that_is_sent_again_is_set_aside_once(sessions: SessionMaker) -> None:
    stored(sessions, message(b"mud"))
    tally = stored(sessions, message(b"mud", repeat=True))

    assert len(set_aside(sessions)) == 1
    assert tally.quarantined == 0


def test_a_kept_reading_without_a_time_is_not_passed_off_as_fresh(sessions: SessionMaker) -> None:
    untimed = b'[{"n":"temperature","u":"Cel","v":11.0}]'
    stored(sessions, message(untimed, kept=True), message(pack((-60, 10.0, None)), kept=True))

    assert rows(sessions) == [(-60, 10.0, None)]
    assert "kept" in set_aside(sessions)[0].reason


def test_a_reading_without_a_time_takes_the_arrivals(sessions: SessionMaker) -> None:
    stored(sessions, message(b'[{"n":"temperature","u":"Cel","v":11.0}]'))

    assert rows(sessions) == [(0, 11.0, None)]


def test_eighty_five_degrees_pass_only_after_a_hot_reading(sessions: SessionMaker) -> None:
    stored(sessions, message(pack((0, 85.0, None))), message(pack((1, 84.0, None))))
    # Another process has to ask the store what came before.
    stored(sessions, message(pack((2, 85.0, None))), memory=SensorMemory())

    assert rows(sessions) == [(1, 84.0, None), (2, 85.0, None)]


def test_a_status_is_noted_and_a_wrong_one_set_aside(sessions: SessionMaker) -> None:
    topic = "caves/larch-lane/cave-air/status"
    stored(sessions, message(b"up", topic), message(b"down", topic), message(b"perhaps", topic))
    with sessions() as session:
        assert sensor(session).link == "down"
    assert [entry.payload for entry in set_aside(sessions)] == [b"perhaps"]


def test_a_late_message_does_not_overrule_the_battery(sessions: SessionMaker) -> None:
    memory = SensorMemory()
    for seconds, level in ((0, 80.0), (-60, 81.0)):
        sample = Sample("", NOW_US + seconds * US_PER_S, 11.0, 90.0, battery_pct=level)
        stored(sessions, message(encode("", [sample])), memory=memory)
    with sessions() as session:
        assert sensor(session).battery_pct == 80.0


def test_after_a_rollback_the_memory_is_asked_to_forget_and_new_sensors_are_made_again(
    sessions: SessionMaker,
) -> None:
    memory = SensorMemory()
    with sessions() as session:
        store(session, [message(pack((0, 11.0, 90.0)))], (), memory)
        session.rollback()
    assert not rows(sessions)
    memory.forget()
    stored(sessions, message(pack((0, 11.0, 90.0))), memory=memory)

    assert rows(sessions) == [(0, 11.0, 90.0)]


@pytest.mark.parametrize(
    "topic",
    [
        "shed/'; drop table reading; --",
        "shed/<script>alert(1)</script>",
        "shed/../../etc/passwd",
        "shed/%s%n{0}",
        "shed/Käse 🧀",
        "shed/" + "x" * 150,
    ],
)
def test_odd_names_are_only_names(sessions: SessionMaker, topic: str) -> None:
    shed = Mapping("shed/#", temperature="/t")
    stored(sessions, message(json.dumps({"t": 11.5}).encode(), topic), mappings=[shed])
    with sessions() as session:
        assert sensor(session, topic).name
    assert rows(sessions) == [(0, 11.5, None)]


@pytest.mark.parametrize(
    "topic", ["shed/" + "x" * 60_000, "shed/\x07bell", "shed/\udcff", "shed/\0", "nowhere", "", "/"]
)
def test_a_topic_that_names_no_sensor_is_set_aside(sessions: SessionMaker, topic: str) -> None:
    shed = Mapping("shed/#", temperature="/t")
    stored(sessions, message(b'{"t": 11.5}', topic), mappings=[shed])

    assert not rows(sessions)
    assert len(set_aside(sessions)) == 1


TIMELESS = b'[{"n":"temperature","u":"Cel","v":11},{"n":"humidity","u":"%RH","v":90}]'
LATER_US = NOW_US + 40 * US_PER_S


def timeless(arrival_us: int, *, again: bool, payload: bytes = TIMELESS) -> Message:
    return Message(TOPIC, payload, arrival_us, is_repeat=again, delivery="worker/7")


def test_a_reading_without_a_time_sent_again_after_a_crash_adds_no_row(
    sessions: SessionMaker,
) -> None:
    stored(sessions, timeless(NOW_US, again=False))
    tally = stored(sessions, timeless(LATER_US, again=True), memory=SensorMemory())

    assert rows(sessions) == [(0, 11.0, 90.0)]
    assert tally.repeats == 1


def test_a_number_of_a_delivery_used_for_another_message_does_not_hide_it(
    sessions: SessionMaker,
) -> None:
    stored(sessions, timeless(NOW_US, again=False))
    stored(sessions, timeless(LATER_US, again=False))
    stored(sessions, timeless(LATER_US + US_PER_S, again=True, payload=TIMELESS + b" "))

    assert [seconds for seconds, *_ in rows(sessions)] == [0, 40, 41]
