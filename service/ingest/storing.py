"""The one way into the store for messages, live or from a file of history.

Decodes, checks and stores a batch in the session given; who opened it commits it. What
cannot be stored goes to quarantine in the same commit, so that no message is lost between.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Self

from sensors.payloads import Mapping
from service.ingest.memory import SensorMemory
from service.ingest.messages import KEPT_BYTES, Message, contents_of
from service.store import air, arrivals, quarantine
from service.store.air import NewReading
from service.store.arrivals import Arrived
from service.store.database import Session

CONTRADICTION = "another value is stored for the same sensor and time"


@dataclass(slots=True)
class Tally:
    """What became of messages; adds up over batches.

    Attributes:
        messages: How many came.
        readings: Good readings in them.
        rows: Those that became new rows.
        repeats: Those that were stored already, or completed a stored half.
        quarantined: Messages put into quarantine, kept or counted there.
    """

    messages: int = 0
    readings: int = 0
    rows: int = 0
    repeats: int = 0
    quarantined: int = 0

    def __iadd__(self, other: Self) -> Self:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))
        return self

    def __sub__(self, other: Self) -> Self:
        return type(self)(
            *(getattr(self, one.name) - getattr(other, one.name) for one in fields(self))
        )


def store(
    session: Session, messages: Sequence[Message], mappings: Sequence[Mapping], memory: SensorMemory
) -> Tally:
    """Store the readings of these messages, each once, and quarantine what is not one.

    Args:
        session: Open; not committed here. After a failure roll it back, and have `memory`
            forget.
        messages: In the order in which they came.
        mappings: How to read topics that are not ours.
        memory: What this process knows of the sensors.
    """
    memory.load(session)
    tally = Tally(messages=len(messages))
    readings: list[NewReading] = []
    origins: list[Message] = []
    timeless: list[Arrived] = []
    aside = Aside(session)
    for message in _as_first_arrived(session, messages):
        contents = contents_of(message, mappings, memory.temperatures_c)
        if contents.refusal is not None:
            tally.quarantined += aside.put(message, contents.refusal)
        if contents.link is not None:
            memory.note_link(session, *contents.link, message.arrival_us)
        for sample in contents.samples:
            known = memory.sensor(session, sample.sensor, message.arrival_us)
            readings.append(
                NewReading(known.id, sample.time_us, sample.temperature_c, sample.humidity_pct)
            )
            origins.append(message)
            if sample.temperature_c is not None:
                memory.temperatures_c[sample.sensor] = sample.temperature_c
            if sample.battery_pct is not None or sample.battery_v is not None:
                memory.note_battery(session, sample, known)
        if message.delivery and not all(sample.timed_by_sensor for sample in contents.samples):
            timeless.append(Arrived(message.delivery, message.payload, message.arrival_us))
    arrivals.keep(session, timeless)
    added = air.add_readings(session, readings)
    # A message with several contradictions is set aside once.
    for message in dict.fromkeys(origins[position] for position in added.conflicts):
        tally.quarantined += aside.put(message, CONTRADICTION)
    tally.readings = len(readings)
    tally.rows = added.rows
    tally.repeats = len(readings) - added.rows - len(added.conflicts)
    return tally


def _as_first_arrived(session: Session, messages: Sequence[Message]) -> list[Message]:
    """The messages, those that are sent again with the time at which they came first."""
    again = {
        message.delivery: message.payload
        for message in messages
        if message.is_repeat and message.delivery is not None
    }
    known_us = arrivals.first_arrivals_us(session, again)
    return [
        replace(message, arrival_us=known_us[message.delivery])
        if message.is_repeat and message.delivery in known_us
        else message
        for message in messages
    ]


class Aside:
    """Where a batch's messages go that cannot be stored; asks for the room only when one does."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._shelf: quarantine.Shelf | None = None

    def put(self, message: Message, reason: str) -> int:
        """Put a message into quarantine, and say how many that made.

        A message that the broker sends again after a crash may be there already. One that is
        too long is cut, and the reason says how long it was.
        """
        kept = message.payload[:KEPT_BYTES]
        if len(kept) < len(message.payload):
            reason = f"{reason} (the first {KEPT_BYTES} of {len(message.payload)} bytes are kept)"
        topic, reason = _storable(message.topic), _storable(reason)
        if message.is_repeat and quarantine.holds(self._session, topic, kept, reason):
            return 0
        self._shelf = self._shelf or quarantine.Shelf(self._session)
        self._shelf.keep(message.arrival_us, topic, kept, reason)
        return 1


def set_aside(session: Session, message: Message, reason: str) -> int:
    """Put one message into quarantine, and say how many that made; see `Aside.put`."""
    return Aside(session).put(message, reason)


def _storable(text: str) -> str:
    """The same text, with what no database takes (lone surrogates, NUL) spelled out."""
    return text.encode("utf-8", "backslashreplace").decode().replace("\0", "\\x00")
