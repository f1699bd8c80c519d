"""Other people's JSON: where in it the values are, told by JSON Pointers from the settings."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, TypeGuard

from sensors import pointers
from sensors.errors import BadPayloadError
from sensors.moments import from_iso, whole_us
from sensors.samples import Sample, Sieve
from sensors.senml import double
from sensors.topics import MAX_KEY, check_filter

_UNIT_US = {"s": 1_000_000, "ms": 1_000}


@dataclass(frozen=True, slots=True)
class Mapping:
    """How to read the JSON on topics that are not ours.

    Attributes:
        topic_filter: The topics, with the wildcards `+` and `#`.
        sensor: Key of the sensor; None takes the topic, so that one mapping serves many.
        temperature: JSON Pointer to the temperature, None where there is none.
        humidity: JSON Pointer to the relative humidity in %, None where there is none.
        time: JSON Pointer to the time of the reading; None takes the arrival's.
        battery: JSON Pointer to the battery's level, None where there is none. A message
            that holds nothing there is as good: many sensors tell their battery once a day.
        temperature_unit: Unit in which the temperature comes.
        time_unit: ISO 8601 with an offset, or seconds or milliseconds since 1970.
        battery_unit: Percent of charge, or volts.

    Raises:
        ValueError: The filter or a pointer is not one, a unit is not known, the key is too
            long, or neither temperature nor humidity is pointed to.
    """

    topic_filter: str
    sensor: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    time: str | None = None
    battery: str | None = None
    temperature_unit: Literal["C", "F"] = "C"
    time_unit: Literal["iso8601", "s", "ms"] = "iso8601"
    battery_unit: Literal["%", "V"] = "%"

    def __post_init__(self) -> None:
        check_filter(self.topic_filter)
        if self.temperature is None and self.humidity is None:
            raise ValueError("a mapping needs a pointer to temperature or to humidity")
        for pointer in (self.temperature, self.humidity, self.time, self.battery):
            pointers.tokens(pointer or "")
        if self.sensor is not None and not 0 < len(self.sensor) <= MAX_KEY:
            raise ValueError(f"a sensor's name has 1 to {MAX_KEY} characters")
        for unit, known in (
            (self.temperature_unit, ("C", "F")),
            (self.time_unit, ("iso8601", "s", "ms")),
            (self.battery_unit, ("%", "V")),
        ):
            if unit not in known:
                raise ValueError(f"the unit {unit!r} is not one of {', '.join(known)}")


def sift(document: object, topic: str, mapping: Mapping, arrival_us: int, sieve: Sieve) -> None:
    """Read the one reading that the document holds and offer it to the sieve.

    Raises:
        BadPayloadError: A pointer other than the battery's points to nothing, or the value
            there is of the wrong kind.
    """
    key = mapping.sensor or topic
    if len(key) > MAX_KEY or not key.isprintable():
        raise BadPayloadError(f"the topic cannot name a sensor; {MAX_KEY} characters is the most")
    time_us = arrival_us
    if mapping.time is not None:
        time_us = _time(pointers.look_up(document, mapping.time), mapping)
    temperature_c = _number(document, mapping.temperature, "temperature")
    if temperature_c is not None and mapping.temperature_unit == "F":
        temperature_c = celsius(temperature_c)
    battery = _battery(document, mapping.battery, key, time_us, sieve)
    is_voltage = mapping.battery_unit == "V"
    sieve.offer(
        Sample(
            sensor=key,
            time_us=time_us,
            temperature_c=temperature_c,
            humidity_pct=_number(document, mapping.humidity, "humidity"),
            battery_pct=None if is_voltage else sieve.battery_pct(key, time_us, battery),
            battery_v=sieve.battery_v(key, time_us, battery) if is_voltage else None,
            timed_by_sensor=mapping.time is not None,
        )
    )


def celsius(temperature_f: float) -> float:
    """Degrees Fahrenheit as degrees Celsius.

    Examples:
        >>> celsius(32.0), celsius(50.0)
        (0.0, 10.0)
    """
    return (temperature_f - 32.0) * 5.0 / 9.0


def _number(document: object, pointer: str | None, quantity: str) -> float | None:
    if pointer is None:
        return None
    return _as_number(pointers.look_up(document, pointer), pointer, quantity)


def _as_number(value: object, pointer: str, quantity: str) -> float:
    if not _is_number(value):
        raise BadPayloadError(f"{quantity} at {pointer[:80]!r} is not a number")
    return double(value)


def _battery(
    document: object, pointer: str | None, key: str, time_us: int, sieve: Sieve
) -> float | None:
    """The battery's level when it is told; a fault in it never costs a reading."""
    if pointer is None:
        return None
    try:
        value = pointers.look_up(document, pointer)
    except BadPayloadError:
        return None
    try:
        return None if value is None else _as_number(value, pointer, "battery")
    except BadPayloadError as error:
        sieve.refuse(key, time_us, str(error))
        return None


def _time(value: object, mapping: Mapping) -> int:
    try:
        if mapping.time_unit == "iso8601" and isinstance(value, str):
            return from_iso(value)
        if mapping.time_unit != "iso8601" and _is_number(value):
            return whole_us(value, _UNIT_US[mapping.time_unit])
    except ValueError as error:
        raise BadPayloadError(f"the time cannot be read: {error}") from None
    kind = "text, as ISO 8601 is" if mapping.time_unit == "iso8601" else "a number"
    raise BadPayloadError(f"the time is not {kind}")


def _is_number(value: object) -> TypeGuard[int | Decimal]:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)
