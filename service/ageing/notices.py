"""The words of a notice: what, where, how much, since when, which wheels, and what to try.

All facts come as arguments, the times as words of the maker's own clock. A notice never says
that a cheese is fit to eat, nor that it is not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.ageing.values import WORDS, Direction, Quantity, in_fahrenheit

# Home fridge at or below 4 °C (40 °F): FDA advice to consumers. At or below 5 °C: MAFF (UK),
# booklet "Food Safety". Both as read for this project; the wider of the two is the limit.
KITCHEN_FRIDGE_LIMIT_C: Final = 5.0
"""Above this a kitchen fridge is warmer than food authorities advise. [°C]"""

_CAUTION: Final = (
    "Food authorities advise a home fridge at or below 4 to 5 °C (40 °F). If it was warmer for "
    "long, follow their advice for everything in it; this notice cannot judge what may be eaten."
)

TRY: Final = {
    (Quantity.HUMIDITY, Direction.BELOW): (
        "look at the water tray first and fill it; then see that door and lids close"
    ),
    (Quantity.HUMIDITY, Direction.ABOVE): (
        "air the box or open its lid a finger's width, wipe the lid dry, pat wet faces dry"
    ),
    (Quantity.TEMPERATURE, Direction.BELOW): (
        "turn the thermostat a little warmer, and see that the sensor does not touch the coil"
    ),
    (Quantity.TEMPERATURE, Direction.ABOVE): (
        "see whether the door is ajar; then look at the thermostat and that the fridge runs"
    ),
}
"""One thing to try when the air is out of range on that side, or on its way there."""


@dataclass(frozen=True, slots=True)
class Notice:
    """A message to the maker.

    Attributes:
        title: A few words for a list or a lock screen.
        body: The first line says all that matters; the lines after it explain.
    """

    title: str
    body: str


@dataclass(frozen=True, slots=True)
class AirFacts:
    """What is known of air that is out of range.

    Attributes:
        space: The space's name.
        quantity: What is out of range.
        direction: On which side.
        value: What it is now, smoothed. [°C or %RH]
        limit: The end of the range that it has passed. [°C or %RH]
        since: Since when, in the words of the maker's clock.
        wheels: The names of the wheels that it leaves out of range.
        kitchen_fridge: Whether the space is a kitchen fridge.
        since_is_start: False when it may have begun earlier.
        fahrenheit: Whether the maker reads temperatures in °F.
    """

    space: str
    quantity: Quantity
    direction: Direction
    value: float
    limit: float
    since: str
    wheels: Sequence[str]
    kitchen_fridge: bool = False
    since_is_start: bool = True
    fahrenheit: bool = False

    def reads(self, value: float, digits: str = ".1f") -> str:
        """A value of this quantity with its unit, as the maker reads it."""
        if self._is_temperature:
            return temperature_reads(value, digits, fahrenheit=self.fahrenheit)
        return f"{value:{digits}} {self.quantity.unit}"

    def distance(self) -> str:
        """How far the value lies from the limit, with its unit."""
        amount = abs(self.value - self.limit)
        if not self._is_temperature:
            return f"{amount:.1f} {self.quantity.unit}"
        return f"{amount * 9 / 5:.1f} °F" if self.fahrenheit else f"{amount:.1f} °C"

    @property
    def _is_temperature(self) -> bool:
        return self.quantity is Quantity.TEMPERATURE


def temperature_reads(celsius: float, digits: str = ".1f", *, fahrenheit: bool) -> str:
    """A temperature with its unit, as the maker reads it.

    Examples:
        >>> temperature_reads(10.0, fahrenheit=False)
        '10.0 °C'
        >>> temperature_reads(5.0, ".4g", fahrenheit=True)
        '41 °F'
    """
    if fahrenheit:
        return f"{in_fahrenheit(celsius):{digits}} °F"
    return f"{celsius:{digits}} °C"


def out_of_range(facts: AirFacts) -> Notice:
    """The notice of an alarm on the air of a space."""
    word = WORDS[facts.quantity, facts.direction]
    since = facts.since if facts.since_is_start else f"{facts.since} or earlier"
    first = (
        f"{facts.space} is {word}: {facts.reads(facts.value)}, {facts.distance()} "
        f"{facts.direction} {facts.reads(facts.limit, '.4g')}, since {since}. "
        f"{_affected(facts.wheels)} "
        f"Try: {TRY[facts.quantity, facts.direction]}."
    )
    too_warm = facts.quantity is Quantity.TEMPERATURE and facts.direction is Direction.ABOVE
    lines = [first]
    if facts.kitchen_fridge and too_warm and facts.value > KITCHEN_FRIDGE_LIMIT_C:
        lines.append(_CAUTION)
    return Notice(f"{facts.space}: {word}, {facts.reads(facts.value)}", "\n".join(lines))


def returned_to_normal(facts: AirFacts, extreme: float, returned: str) -> Notice:
    """The notice that an alarm on the air of a space is over.

    Args:
        facts: What is known of it; `value` is the value at its return.
        extreme: The value farthest out of range. [°C or %RH]
        returned: When it came back, in the words of the maker's clock.
    """
    word = WORDS[facts.quantity, facts.direction]
    farthest = "lowest" if facts.direction is Direction.BELOW else "highest"
    return Notice(
        f"{facts.space}: no longer {word}",
        f"{facts.space} is back in range: {facts.reads(facts.value)} since {returned}; it was "
        f"{word} from {facts.since}, {farthest} {facts.reads(extreme)}. {_affected(facts.wheels)} "
        "Try: look at the rinds at the next visit.",
    )


def sensor_silent(sensor: str, space: str, last: str | None, wheels: Sequence[str]) -> Notice:
    """The notice that a sensor has fallen silent.

    Args:
        sensor: Its name.
        space: The space in which it is.
        last: Its last reading, in the words of the maker's clock; None when there was none.
        wheels: The names of the wheels of which nothing is known meanwhile.
    """
    since = f"no reading since {last}" if last else "no reading yet"
    return Notice(
        f"{space}: sensor {sensor} is silent",
        f"Sensor {sensor} in {space} is silent: {since}. {wheels_named(wheels)} Try: its battery "
        "or plug first, then whether the door or the distance keeps its radio from the router.\n"
        "Nothing is known of the air there until it reports again.",
    )


def sensor_heard(sensor: str, space: str, returned: str) -> Notice:
    """The notice that a silent sensor reports again."""
    return Notice(
        f"{space}: sensor {sensor} reports again",
        f"Sensor {sensor} in {space} reports again since {returned}. Try: nothing, but the time "
        "of its silence stays a gap in the record.",
    )


def sensor_stuck(
    sensor: str, space: str, still: Mapping[Quantity, str], since: str, wheels: Sequence[str]
) -> Notice:
    """The notice that a sensor goes on sending, but stands still.

    Args:
        sensor: Its name.
        space: The space in which it is.
        still: What it tells again and again, and the value as the maker reads it.
        since: Since when, in the words of the maker's clock.
        wheels: The names of the wheels of which not all is known meanwhile.
    """
    told = " and ".join(f"the same {quantity}, {value}," for quantity, value in still.items())
    unknown = f"{' and '.join(still)} there {'are' if len(still) > 1 else 'is'} not known"
    return Notice(
        f"{space}: sensor {sensor} is stuck",
        f"Sensor {sensor} in {space} is stuck: it has told {told} since {since}. "
        f"{wheels_named(wheels)} Try: unplug it and put it back; then look whether it lies "
        f"against a wet wall.\nThe {unknown} until it moves again.",
    )


def sensor_wet(sensor: str, space: str, since: str, wheels: Sequence[str]) -> Notice:
    """The notice that a sensor is wet; told as that of one that is stuck."""
    return Notice(
        f"{space}: sensor {sensor} is wet",
        f"Sensor {sensor} in {space} is wet: it leapt to 100 %RH and has stayed there since "
        f"{since}. {wheels_named(wheels)} Try: dry it in room air; then hang it away from drips "
        "and from the lid.\nThe humidity there is not known until it has dried.",
    )


def sensor_tells_again(space: str, by: str) -> Notice:
    """The notice that the sensor of a space is stuck or wet no longer."""
    return Notice(
        f"{space}: its sensor tells the air again",
        f"The sensor in {space} is stuck or wet no longer, as seen by {by}. Try: nothing, but the "
        "time before stays a gap in what its wheels lived through.",
    )


def _affected(names: Sequence[str]) -> str:
    return wheels_named(names) if names else "No wheel there is out of range."


def wheels_named(names: Sequence[str]) -> str:
    """The wheels concerned, in a sentence."""
    if not names:
        return "No wheel is there."
    return f"Wheel: {names[0]}." if len(names) == 1 else f"Wheels: {', '.join(names)}."
