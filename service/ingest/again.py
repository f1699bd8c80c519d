"""Tries quarantined messages again by today's rules, and stores what is good by now.

A board that starts without the time takes right readings for readings from the future; a topic
gets its mapping only after its messages came. What was good at the time is stored already, and
is stored once however often it is tried.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sensors.payloads import Mapping
from service.ingest.memory import SensorMemory
from service.ingest.messages import KEPT_UNTIMED, Contents, Message, contents_of
from service.store import air, quarantine
from service.store.air import NewReading
from service.store.database import Session
from service.store.tables import Quarantine

_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class TriedAgain:
    """What became of quarantined messages.

    Attributes:
        tried: How many were tried.
        taken_out: How many of them had nothing bad left, and left quarantine.
        readings: New readings that are stored now.
    """

    tried: int
    taken_out: int
    readings: int


def try_again(
    session: Session, mappings: Sequence[Mapping], now_us: int, kind: str | None = None
) -> TriedAgain:
    """Decode again what is in quarantine, store what is good, and keep what is still bad.

    Whether a time lies ahead is judged by the time now; a reading without a time of its own
    keeps that of its arrival. A row on which others were counted stays, for those others have
    left nothing that could be tried.

    Args:
        session: Open; not committed here, so that readings and quarantine change together.
        mappings: How to read topics that are not ours, as the settings say today.
        now_us: The time now. [µs UTC]
        kind: Only messages of this kind of reason (`quarantine.kind_of`); all unless given.
    """
    memory = SensorMemory()
    memory.load(session)
    tried = readings = 0
    good: list[int] = []
    batch: list[_Tried] = []
    for row in quarantine.each(session, kind):
        tried += 1
        contents = _contents_now(row, mappings, now_us)
        if contents.samples:
            batch.append(_Tried(row, contents))
        if len(batch) == _AT_ONCE:
            readings += _store(session, batch, memory, good)
            batch = []
    readings += _store(session, batch, memory, good)
    return TriedAgain(tried, quarantine.let_go(session, good), readings)


@dataclass(frozen=True, slots=True)
class _Tried:
    row: Quarantine
    contents: Contents


def _contents_now(row: Quarantine, mappings: Sequence[Mapping], now_us: int) -> Contents:
    """What a message holds by today's rules.

    No temperature before it is known, so a probe's 85 °C after power-on stays out.
    """
    arrived = Message(row.topic, row.payload, row.received_us, is_kept=KEPT_UNTIMED in row.reason)
    by_now = contents_of(replace(arrived, arrival_us=max(now_us, row.received_us)), mappings, {})
    at_arrival = contents_of(arrived, mappings, {})
    samples = [sample for sample in by_now.samples if sample.timed_by_sensor]
    samples += [sample for sample in at_arrival.samples if not sample.timed_by_sensor]
    return Contents(samples=tuple(samples), refusal=by_now.refusal)


def _store(session: Session, batch: Sequence[_Tried], memory: SensorMemory, good: list[int]) -> int:
    """Store the good readings, note which messages have nothing bad left; how many are new."""
    readings: list[NewReading] = []
    origins: list[int] = []
    for place, tried in enumerate(batch):
        for sample in tried.contents.samples:
            known = memory.sensor(session, sample.sensor, tried.row.received_us)
            readings.append(
                NewReading(known.id, sample.time_us, sample.temperature_c, sample.humidity_pct)
            )
            origins.append(place)
    added = air.add_readings(session, readings)
    contradicted = {origins[position] for position in added.conflicts}
    for place, tried in enumerate(batch):
        bad = tried.contents.refusal is not None or place in contradicted or tried.row.more > 0
        if not bad and tried.row.id is not None:
            good.append(tried.row.id)
    return added.rows
