"""What sensors may send: the one door from a message's bytes to readings.

SenML on our own topics, any JSON on other topics by a mapping from the settings. Knows no
broker, no store and no clock.
"""

from collections.abc import Mapping as Lookup
from collections.abc import Sequence
from typing import Literal

from sensors import mapped, packs, senml
from sensors.errors import BadPayloadError
from sensors.mapped import Mapping
from sensors.packs import encode
from sensors.samples import Decoded, Sample, Sieve
from sensors.strict_json import read_json
from sensors.topics import address_of, matches, status_topic_of, topic_of

__all__ = [
    "Decoded",
    "Mapping",
    "Sample",
    "decode",
    "decode_status",
    "encode",
    "status_topic_of",
    "topic_of",
]


def decode(
    topic: str,
    payload: bytes,
    arrival_us: int,
    mappings: Sequence[Mapping] = (),
    previous_temperature_c: Lookup[str, float] | None = None,
) -> Decoded:
    """The readings in a message, and why some of it was refused.

    A fault of the message as a whole raises; an impossible value costs only its reading.

    Args:
        topic: Where it came.
        payload: Its bytes, whatever they are.
        arrival_us: When it came; the time of readings that say none. [µs since 1970, UTC]
        mappings: How to read topics that are not ours; the first that matches holds.
        previous_temperature_c: The temperature last accepted from each sensor, by key: it
            tells a hot sensor from one just switched on. [°C]

    Raises:
        BadPayloadError: Nothing in the message can be used; the text says why.

    Examples:
        >>> pack = b'[{"n":"temperature","u":"Cel","v":11.5}]'
        >>> decode("caves/larch-lane/cave-air/senml", pack, 1795608000000000).samples[0].sensor
        'larch-lane/cave-air'
    """
    sieve = Sieve(arrival_us, previous_temperature_c)
    address = address_of(topic, "senml")
    if address is not None:
        records = senml.resolve(read_json(payload), arrival_us)
        packs.sift(records, *address, sieve)
        return sieve.result()
    for mapping in mappings:
        if matches(mapping.topic_filter, topic):
            mapped.sift(read_json(payload), topic, mapping, arrival_us, sieve)
            return sieve.result()
    raise BadPayloadError("no mapping in the settings tells how to read this topic")


def decode_status(topic: str, payload: bytes) -> tuple[str, Literal["up", "down"]]:
    """The key of the sensor that a status message is about, and what it says.

    Raises:
        BadPayloadError: The topic is not a sensor's status, or it says neither.

    Examples:
        >>> decode_status("caves/larch-lane/cave-air/status", b"down")
        ('larch-lane/cave-air', 'down')
    """
    address = address_of(topic, "status")
    if address is None:
        raise BadPayloadError("the topic is not the status of a sensor")
    key = packs.key_of(*address)
    if payload == b"up":
        return key, "up"
    if payload == b"down":
        return key, "down"
    raise BadPayloadError("a status is either up or down, and this is neither")
