"""When messages without a time of their own came, so that one sent again keeps its time.

A reading that says no time takes its arrival's. Were it stored, the worker killed before it
acknowledged, and the reading sent again, it would take a second time and so become a second
reading. The broker numbers deliveries and uses a number again only once it is acknowledged;
so there are never more rows than messages that may be under way.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b

from sqlmodel import Session, col, select

from service.store.tables import Arrival


@dataclass(frozen=True, slots=True)
class Arrived:
    """A delivery and when it came.

    Attributes:
        delivery: The client and MQTT's number of the delivery.
        payload: What came.
        arrival_us: When it came the first time. [µs UTC]
    """

    delivery: str
    payload: bytes
    arrival_us: int


def keep(session: Session, arrived: Sequence[Arrived]) -> None:
    """Keep these arrivals in place of what was known of the same deliveries."""
    for one in arrived:
        session.merge(
            Arrival(delivery=one.delivery, digest=_digest(one.payload), arrival_us=one.arrival_us)
        )


def first_arrivals_us(session: Session, payloads: Mapping[str, bytes]) -> dict[str, int]:
    """When these deliveries came the first time, where that is known. [µs UTC]

    Args:
        session: Only read from.
        payloads: What came, by delivery; a delivery that was of another message then is new.
    """
    if not payloads:
        return {}
    rows = session.exec(select(Arrival).where(col(Arrival.delivery).in_(list(payloads)))).all()
    return {
        row.delivery: row.arrival_us
        for row in rows
        if row.digest == _digest(payloads[row.delivery])
    }


def _digest(payload: bytes) -> str:
    return blake2b(payload, digest_size=16).hexdigest()
