"""Readings in SenML packs: from resolved records to samples, and from samples to bytes.

Names end in `temperature` (unit `Cel`), `humidity` (`%RH`) or `battery` (`%EL` or `V`); what
stands before names the device, when one topic speaks for several.
"""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from sensors.errors import BadPayloadError
from sensors.moments import seconds_text
from sensors.samples import Sample, Sieve
from sensors.senml import ABSOLUTE_FROM_S, MAX_RECORDS, ResolvedRecord
from sensors.strict_json import MAX_BYTES
from sensors.topics import MAX_KEY

_UNITS = {
    "temperature": {"Cel": "temperature"},
    "humidity": {"%RH": "humidity"},
    "battery": {"%EL": "battery_pct", "V": "battery_v"},
}
"""Which field a unit fills. Units: RFC 8428 §12.1, table of registered units."""

_SEPARATORS = ":/._-"
_DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")


@dataclass(slots=True)
class _Reading:
    """What the records of one device and one time have said so far."""

    is_relative: bool
    temperature: float | None = None
    humidity: float | None = None
    battery_pct: float | None = None
    battery_v: float | None = None
    conflict: str = ""


def sift(records: Iterable[ResolvedRecord], site: str, sensor: str, sieve: Sieve) -> None:
    """Form readings from the records of a pack and offer them to the sieve.

    Temperature and humidity of one device at one time are one reading. Records of other
    names are passed over. A battery record without a reading at its time goes with the
    device's last reading in the pack, for a battery changes slowly.

    Args:
        records: Resolved, in the order of time.
        site: From the topic.
        sensor: From the topic.
        sieve: Judges the readings.

    Raises:
        BadPayloadError: No record has a name that is used here.
    """
    readings: dict[tuple[str, int], _Reading] = {}
    names_used = False
    for record in records:
        device_quantity = _device_and_quantity(record.name)
        if device_quantity is None:
            continue
        names_used = True
        device, quantity = device_quantity
        units = _UNITS[quantity]
        field = units.get(record.unit or "")
        if field is None or record.value is None:
            needed = " or ".join(units)
            said = "no number" if field else f"the unit {(record.unit or 'none')[:20]!r}"
            sieve.refuse(
                key_of(site, sensor, device),
                record.time_us,
                f"{quantity} has {said}; needed is a number with the unit {needed}",
            )
            continue
        place = device, record.time_us
        reading = readings.get(place)
        if reading is None:
            reading = readings[place] = _Reading(record.is_relative)
        said_before = getattr(reading, field)
        if said_before is not None and said_before != record.value:
            reading.conflict = f"{quantity} is given twice, {said_before:g} and {record.value:g}"
        setattr(reading, field, record.value)
    if not names_used:
        raise BadPayloadError(
            "no record has a name that ends in temperature or humidity, so there is nothing to keep"
        )
    _join_batteries(readings)
    for (device, time_us), reading in readings.items():
        _offer(key_of(site, sensor, device), time_us, reading, sieve)


def _join_batteries(readings: dict[tuple[str, int], _Reading]) -> None:
    """Move battery levels that stand alone to the last reading of their device."""
    alone = {
        place: reading
        for place, reading in readings.items()
        if reading.temperature is None and reading.humidity is None
    }
    if not alone:
        return
    last_of = {place[0]: reading for place, reading in readings.items() if place not in alone}
    # The latest level first, so that it is the one that counts.
    for place, battery in reversed(alone.items()):
        last = last_of.get(place[0])
        if last is not None:
            del readings[place]
            for field in ("battery_pct", "battery_v"):
                if getattr(last, field) is None:
                    setattr(last, field, getattr(battery, field))


def _offer(key: str, time_us: int, reading: _Reading, sieve: Sieve) -> None:
    if reading.conflict:
        sieve.refuse(key, time_us, reading.conflict)
        return
    sieve.offer(
        Sample(
            sensor=key,
            time_us=time_us,
            temperature_c=reading.temperature,
            humidity_pct=reading.humidity,
            battery_pct=sieve.battery_pct(key, time_us, reading.battery_pct),
            battery_v=sieve.battery_v(key, time_us, reading.battery_v),
            timed_by_sensor=not reading.is_relative,
        )
    )


@lru_cache(maxsize=1024)
def _device_and_quantity(name: str) -> tuple[str, str] | None:
    """The device's part of a record's name and the quantity at its end; None for other names.

    Examples:
        >>> _device_and_quantity("box-2/humidity"), _device_and_quantity("pressure")
        (('box-2', 'humidity'), None)
    """
    for quantity in _UNITS:
        if name.endswith(quantity):
            return name.removesuffix(quantity).rstrip(_SEPARATORS), quantity
    return None


@lru_cache(maxsize=1024)
def key_of(site: str, sensor: str, device: str = "") -> str:
    """The key of a device that speaks on the topic of `sensor`.

    The same device always has the same key, whatever else its packs hold.

    Raises:
        BadPayloadError: The key would be longer than `MAX_KEY`.

    Examples:
        >>> key_of("larch-lane", "cave-air"), key_of("larch-lane", "gateway", "box-2")
        ('larch-lane/cave-air', 'larch-lane/gateway/box-2')
    """
    key = f"{site}/{sensor}"
    if device not in {"", sensor, key}:
        key = f"{key}/{device}"
    if len(key) > MAX_KEY:
        raise BadPayloadError(f"the sensor's name has {len(key)} characters; {MAX_KEY} is the most")
    return key


def encode(device: str, samples: Sequence[Sample]) -> bytes:
    """A SenML pack of these readings, as our own sensors send it.

    Args:
        device: What stands before the quantity in each name; empty where the topic alone
            names the sensor.
        samples: Readings of this one device, at most about 350 of them. Their `sensor` is
            not sent.

    Raises:
        ValueError: A reading holds nothing or a number that JSON has not, a time is before
            1978-07-04 (SenML could not tell it from a relative one), the device's name is
            not allowed in SenML, or the pack would be too large.

    Examples:
        >>> encode("", [Sample("", 1795608000000000, 11.5, None)])
        b'[{"bt":1795608000,"n":"temperature","u":"Cel","v":11.5}]'
    """
    if device and not _DEVICE.fullmatch(device):
        raise ValueError(f"the device's name {device!r} is not allowed in SenML")
    if not samples:
        raise ValueError("there is no reading to send")
    base_us = min(sample.time_us for sample in samples)
    if base_us < ABSOLUTE_FROM_S * 1_000_000:
        raise ValueError("a reading is from before 1978-07-04 and cannot be sent as SenML")
    head = f'"bn":"{device}/",' if device else ""
    head += f'"bt":{seconds_text(base_us)},'
    records: list[str] = []
    for sample in samples:
        time = f',"t":{seconds_text(sample.time_us - base_us)}' if sample.time_us > base_us else ""
        values = (
            ("temperature", "Cel", sample.temperature_c),
            ("humidity", "%RH", sample.humidity_pct),
            ("battery", "%EL", sample.battery_pct),
            ("battery", "V", sample.battery_v),
        )
        count = len(records)
        for name, unit, value in values:
            if value is not None:
                if not math.isfinite(value):
                    raise ValueError(f"{name} is not a finite number")
                # Made a plain float first, for numpy spells its own kind differently.
                records.append(f'{{{head}"n":"{name}","u":"{unit}"{time},"v":{float(value)!r}}}')
                head = ""
        if len(records) == count:
            raise ValueError("a reading holds nothing to send")
    payload = f"[{','.join(records)}]".encode()
    if len(records) > MAX_RECORDS or len(payload) > MAX_BYTES:
        raise ValueError(
            f"a pack of {len(records)} records and {len(payload)} bytes is too large;"
            f" {MAX_RECORDS} records and {MAX_BYTES} bytes are the most"
        )
    return payload
