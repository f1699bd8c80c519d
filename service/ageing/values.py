"""The words of the trade as plain values: quantities, ranges, targets, verdicts."""

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What a sensor measures of the air."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"

    @property
    def unit(self) -> str:
        """The unit in which the service keeps it."""
        return "°C" if self is Quantity.TEMPERATURE else "%RH"


class Direction(StrEnum):
    """The side of a range on which a value lies."""

    BELOW = "below"
    ABOVE = "above"


def in_fahrenheit(celsius: float) -> float:
    """The same temperature on the other scale, whose degrees are 5/9 K by definition. [°F]

    Examples:
        >>> in_fahrenheit(10.0)
        50.0
    """
    return celsius * 9 / 5 + 32


@dataclass(frozen=True, slots=True)
class Range:
    """A closed range; both ends belong to it."""

    low: float
    high: float

    def beyond(self, value: float, direction: Direction) -> float:
        """How far `value` lies outside on that side; zero or less when it does not.

        In the unit of the range: K or %RH.
        """
        return self.low - value if direction is Direction.BELOW else value - self.high


@dataclass(frozen=True, slots=True)
class Target:
    """What a stage asks of the air. None where the plan asks nothing."""

    temperature_c: Range | None
    humidity_pct: Range | None

    def of(self, quantity: Quantity) -> Range | None:
        """The range of one quantity."""
        return self.temperature_c if quantity is Quantity.TEMPERATURE else self.humidity_pct


WORDS = {
    (Quantity.HUMIDITY, Direction.BELOW): "too dry",
    (Quantity.HUMIDITY, Direction.ABOVE): "too damp",
    (Quantity.TEMPERATURE, Direction.BELOW): "too cold",
    (Quantity.TEMPERATURE, Direction.ABOVE): "too warm",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One quantity outside its range: by how much, and since when.

    Attributes:
        quantity: What is out of range.
        direction: On which side.
        amount: Distance from the nearer end of the range, above zero. [K or %RH]
        since_us: Start of the unbroken time outside. [µs UTC]
        since_is_start: False when the history looked at, or the part of it since the last
            silence, is outside from its first reading on, so that `since_us` is only the
            latest possible start.
    """

    quantity: Quantity
    direction: Direction
    amount: float
    since_us: int
    since_is_start: bool = True

    @property
    def word(self) -> str:
        """Too dry, too damp, too cold or too warm."""
        return WORDS[self.quantity, self.direction]


@dataclass(frozen=True, slots=True)
class Unknown:
    """A quantity on which no verdict can be given, and why, in words for the maker.

    Attributes:
        quantity: What cannot be judged.
        reason: Why, in words for the maker.
        last_us: When the last reading of it came that counts, or from when on its sensor was
            wet; None when none ever did. [µs UTC]
    """

    quantity: Quantity
    reason: str
    last_us: int | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """A wheel against its stage.

    Attributes:
        findings: What is out of range, the gravest first.
        unknown: What cannot be judged.
    """

    findings: tuple[Finding, ...] = ()
    unknown: tuple[Unknown, ...] = ()

    @property
    def word(self) -> str:
        """The verdict in the words of the trade."""
        if self.findings:
            return self.findings[0].word
        return "not known" if self.unknown else "in range"
