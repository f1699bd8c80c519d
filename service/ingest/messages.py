"""A message as it came in, and what becomes of it before the store is asked.

Pure: decodes and judges, knows no broker and no store.
"""

from collections.abc import Mapping as Lookup
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sensors.errors import BadPayloadError
from sensors.payloads import Mapping, Sample, decode, decode_status
from sensors.topics import address_of

KEPT_BYTES = 64 * 1024
"""How much of a message quarantine keeps; no longer one is decoded."""


KEPT_UNTIMED = "the broker had kept it, and no time says since when"
"""Why a reading without a time is refused that the broker had kept."""


@dataclass(frozen=True, slots=True)
class Message:
    """A message and when it came.

    Attributes:
        topic: Where it was published.
        payload: Its bytes.
        arrival_us: When it came the first time. [µs UTC]
        is_repeat: The broker has sent it before, or had kept it from an earlier time, so
            it may have been dealt with already.
        is_kept: The broker had kept it from an unknown earlier time (MQTT's retained flag).
        delivery: The client and MQTT's number of the delivery; None when it has none.
    """

    topic: str
    payload: bytes
    arrival_us: int
    is_repeat: bool = False
    is_kept: bool = False
    delivery: str | None = None


@dataclass(frozen=True, slots=True)
class Contents:
    """What a message holds for the store.

    Attributes:
        samples: Readings to store.
        link: A sensor's key and whether it says to be up or down.
        refusal: Why the message, or a part of it, belongs in quarantine; None if it does not.
    """

    samples: tuple[Sample, ...] = ()
    link: tuple[str, Literal["up", "down"]] | None = None
    refusal: str | None = None


def contents_of(
    message: Message, mappings: Sequence[Mapping], temperatures_c: Lookup[str, float]
) -> Contents:
    """What is to be stored of a message, and why the rest is not.

    A reading without a time of its own takes the arrival's. In a message that the broker
    had kept, that would pass an old reading off as fresh, so it is refused.

    Args:
        message: As it came.
        mappings: How to read topics that are not ours.
        temperatures_c: The temperature last accepted from each sensor, by key. [°C]
    """
    try:
        if address_of(message.topic, "status") is not None:
            if not message.payload:
                # How a retained status is cleared (MQTT 5.0 §3.3.1.3); it says nothing.
                return Contents()
            return Contents(link=decode_status(message.topic, message.payload))
        decoded = decode(
            message.topic, message.payload, message.arrival_us, mappings, temperatures_c
        )
    except BadPayloadError as error:
        return Contents(refusal=str(error))
    samples, refused = decoded.samples, decoded.refused
    if message.is_kept:
        timed = tuple(sample for sample in samples if sample.timed_by_sensor)
        if len(timed) < len(samples):
            refused += (KEPT_UNTIMED,)
        samples = timed
    return Contents(samples=samples, refusal="; ".join(refused) or None)
