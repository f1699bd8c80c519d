"""The words of warnings and of sweat: what will be, how soon, which wheels, what to try.

All of it is estimated and says so. As in `notices`, nothing is said of what may be eaten.
"""

# ruff: noqa: RUF001, RUF002 - the reader gets a real dash between two numbers

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.ageing.notices import TRY, Notice, temperature_reads, wheels_named
from service.ageing.values import Direction, Quantity
from service.science.band import Band

GOING: Final = {
    (Quantity.HUMIDITY, Direction.BELOW): "is drying",
    (Quantity.HUMIDITY, Direction.ABOVE): "is getting damper",
    (Quantity.TEMPERATURE, Direction.BELOW): "is getting colder",
    (Quantity.TEMPERATURE, Direction.ABOVE): "is getting warmer",
}
_TRY_BOX: Final = "pat wet faces dry, wipe the lid, then open it a finger's width"
_TRY_OPEN: Final = (
    "pat wet faces dry, and let wheels that come in cold warm up in a closed box or wrapped"
)
_TRY_LID: Final = "wipe the lid dry, then open it a finger's width"
_S_PER_H: Final = 3_600.0


@dataclass(frozen=True, slots=True)
class Ahead:
    """A limit that will be reached: an estimate.

    Attributes:
        quantity: What moves.
        direction: On which side the limit lies.
        limit: The limit. [°C or %RH]
        level: Where the air is now, its cycle taken out. [°C or %RH]
        expected_s: Time until then. [s]
        low_s: Early end. [s]
        high_s: Late end. [s]
        fahrenheit: Whether the maker reads temperatures in °F.
    """

    quantity: Quantity
    direction: Direction
    limit: float
    level: float
    expected_s: float
    low_s: float
    high_s: float
    fahrenheit: bool = False

    def reads(self, value: float, digits: str) -> str:
        """A value with its unit, as the maker reads it."""
        if self.quantity is Quantity.HUMIDITY:
            return f"{value:{digits}} %"
        return temperature_reads(value, digits, fahrenheit=self.fahrenheit)


@dataclass(frozen=True, slots=True)
class SweatFacts:
    """Sweat on wheels of a space, or what leads to it: an estimate.

    Attributes:
        space: The space's name.
        wheels: The names of the wheels.
        surface_c: Mean temperature of their surface. [°C]
        dew_point_c: Of the air. [°C]
        film_g_m2: Water where it is thickest. [g/m²]
        since: Since when, in the words of the maker's clock; empty when it is to come.
        in_h: Hours until it is expected; None when it is there.
        box: Whether the space is a box with a lid.
        fahrenheit: Whether the maker reads temperatures in °F.
        surface_band_c: Ends of the temperature. [°C]
        film_band_g_m2: Ends of the water.
        between_h: Early and late end of `in_h`; late is None where it may stay dry. [h]
    """

    space: str
    wheels: Sequence[str]
    surface_c: float
    dew_point_c: float
    film_g_m2: float = 0.0
    since: str = ""
    in_h: float | None = None
    box: bool = False
    fahrenheit: bool = False
    surface_band_c: Band | None = None
    film_band_g_m2: Band | None = None
    between_h: tuple[float, float | None] | None = None

    @property
    def film(self) -> str:
        """The water with its ends: "1.4 g/m² (0.2 to 2.9)"."""
        told, band = f"{self.film_g_m2:.1f} g/m²", self.film_band_g_m2
        return told if band is None else f"{told} ({band.low:.1f} to {band.high:.1f})"

    @property
    def surface(self) -> str:
        """The temperature with its ends."""
        told, band = self.temperature(self.surface_c), self.surface_band_c
        if band is None:
            return told
        return f"{told} ({self.temperature(band.low)} to {self.temperature(band.high)})"

    @property
    def soon(self) -> str:
        """In how many hours, with the ends: "in about 2 h (1 to 5 h)"."""
        assert self.in_h is not None
        told = f"in about {max(1, round(self.in_h))} h"
        if self.between_h is None:
            return told
        early, late = self.between_h
        last = "not at all" if late is None else f"{max(1, round(late))} h"
        return f"{told} ({round(early)} h to {last})"

    def temperature(self, celsius: float) -> str:
        """A temperature as the maker reads it."""
        return temperature_reads(celsius, fahrenheit=self.fahrenheit)


def ahead_sentence(ahead: Ahead) -> str:
    """What will be, in one sentence.

    Examples:
        >>> ahead_sentence(
        ...     Ahead(Quantity.HUMIDITY, Direction.BELOW, 85.0, 87.2, 32e3, 22e3, 50e3)
        ... )
        'Humidity will be below 85 % in about 9 h (6–14 h), estimate.'
    """
    return (
        f"{ahead.quantity.value.capitalize()} will be {ahead.direction} "
        f"{ahead.reads(ahead.limit, '.4g')} {hours(ahead)}, estimate."
    )


def hours(ahead: Ahead) -> str:
    """In how many hours, with the interval: "in about 9 h (6–14 h)"."""
    low, high = (round(end / _S_PER_H) for end in (ahead.low_s, ahead.high_s))
    return f"in about {max(1, round(ahead.expected_s / _S_PER_H))} h ({low}–{max(1, high)} h)"


def going_words(space: str, ahead: Ahead) -> str:
    """Where the air of a space is going: "Cave is drying."."""
    return f"{space} {GOING[ahead.quantity, ahead.direction]}."


def what_to_try(quantity: Quantity, direction: Direction) -> str:
    """One thing to try, as a sentence."""
    return f"Try: {TRY[quantity, direction]}."


def early_warning(space: str, ahead: Ahead, wheels: Sequence[str]) -> Notice:
    """The notice that a limit will be reached."""
    return Notice(
        f"{space}: {ahead.direction} {ahead.reads(ahead.limit, '.4g')} {hours(ahead)}, estimate",
        f"{going_words(space, ahead)} {ahead_sentence(ahead)} Now "
        f"{ahead.reads(ahead.level, '.1f')}. {wheels_named(wheels)} "
        f"{what_to_try(ahead.quantity, ahead.direction)}",
    )


def warning_over(space: str, quantity: Quantity, direction: Direction, returned: str) -> Notice:
    """The notice that a limit is no longer expected to be reached."""
    going = GOING[quantity, direction].removeprefix("is ")
    return Notice(
        f"{space}: no longer {going}",
        f"{space} is no longer {going} towards its limit since {returned}, "
        "estimate. Try: nothing; what was done has helped, or the air has turned by itself.",
    )


def wheels_sweat(facts: SweatFacts) -> Notice:
    """The notice that wheels are wet."""
    return Notice(
        f"{facts.space}: wheels sweat",
        f"Wheels in {facts.space} sweat: about {facts.film} of water where it is "
        f"thickest, since {facts.since}, estimate. {wheels_named(facts.wheels)} "
        f"Try: {_TRY_BOX if facts.box else _TRY_OPEN}.\n"
        f"{_why(facts)}",
    )


def wheels_will_sweat(facts: SweatFacts) -> Notice:
    """The notice that wheels are close to sweating."""
    soon = facts.soon
    return Notice(
        f"{facts.space}: wheels sweat {soon}, estimate",
        f"Wheels in {facts.space} will sweat {soon}, estimate. {wheels_named(facts.wheels)} "
        f"Try: {_TRY_LID if facts.box else _TRY_OPEN}.\n"
        f"{_why(facts)}",
    )


def warning_of_sweat_over(space: str, returned: str) -> Notice:
    """The notice that wheels are no longer expected to sweat."""
    return Notice(
        f"{space}: sweat no longer expected",
        f"Wheels in {space} are no longer expected to sweat since {returned}, estimate. "
        "Try: nothing.",
    )


def wheels_dry(space: str, returned: str) -> Notice:
    """The notice that wheels have dried."""
    return Notice(
        f"{space}: wheels are dry again",
        f"Wheels in {space} are dry again since {returned}, estimate. "
        "Try: look at the faces at the next visit, and turn the wheels.",
    )


def lid_sweats(facts: SweatFacts) -> Notice:
    """The notice that water gathers beneath a lid; `surface_c` is the lid's."""
    return Notice(
        f"{facts.space}: the lid sweats",
        f"The lid of {facts.space} sweats: about {facts.film} of water beneath it, "
        f"since {facts.since}, estimate. {wheels_named(facts.wheels)} Try: {_TRY_LID}.\n"
        f"The lid has {facts.surface}, the dew point of the air beneath it "
        f"is {facts.temperature(facts.dew_point_c)}. What gathers there drips on the wheels.",
    )


def lid_dry(space: str, returned: str) -> Notice:
    """The notice that a lid has dried."""
    return Notice(
        f"{space}: the lid is dry again",
        f"The lid of {space} is dry again since {returned}, estimate. "
        "Try: wipe it at the next visit all the same.",
    )


def _why(facts: SweatFacts) -> str:
    return (
        f"Their surface has {facts.surface}, the dew point of the air is "
        f"{facts.temperature(facts.dew_point_c)}. A surface below the dew point takes up water."
    )
