"""How numbers, times and names read to the maker.

The service keeps °C, %RH and UTC; the household's zone and scale come in here and nowhere
else, so that no page can mix them. Knows nothing of pages, stores or clocks.
"""

# ruff: noqa: RUF001, RUF002 - the reader gets real dashes and minus signs

import unicodedata
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from service.ageing.moments import clock_words, day_words, moment_words
from service.ageing.phrases import listed as listed  # noqa: PLC0414 - pages take their words here
from service.ageing.values import Finding, Quantity, Range, Unknown, in_fahrenheit
from service.clock import US_PER_S, to_datetime, zone_or_utc

UNIT_SPACE = "\N{NO-BREAK SPACE}"
"""Stands between a number and its unit, so that a line never breaks there."""

_NO_BREAK = "\N{WORD JOINER}"

_MINUTE_S, _HOUR_S, _DAY_S = 60, 3_600, 86_400
_DAYS_WITH_HOURS = 14
"""From this many days on, hours say nothing more. Our choice."""


@dataclass(frozen=True, slots=True)
class Words:
    """The words of one household.

    Attributes:
        zone: In which its times read.
        fahrenheit: Whether its temperatures read in °F.
    """

    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))
    fahrenheit: bool = False

    @property
    def temperature_unit(self) -> str:
        """The unit in which temperatures read."""
        return "°F" if self.fahrenheit else "°C"

    def unit(self, quantity: Quantity) -> str:
        """The unit in which a quantity reads."""
        return self.temperature_unit if quantity is Quantity.TEMPERATURE else "%RH"

    def number(self, quantity: Quantity, value: float) -> float:
        """A value of the service in the household's unit."""
        if quantity is Quantity.TEMPERATURE and self.fahrenheit:
            return in_fahrenheit(value)
        return value

    def step(self, quantity: Quantity, difference: float) -> float:
        """A difference of the service in the household's unit."""
        scaled = quantity is Quantity.TEMPERATURE and self.fahrenheit
        return difference * 9 / 5 if scaled else difference

    def value(self, quantity: Quantity, value: float | None) -> str:
        r"""A value with its unit, or "not known".

        Examples:
            >>> Words().value(Quantity.HUMIDITY, 84.25)
            '84.2\xa0%RH'
            >>> Words(fahrenheit=True).value(Quantity.TEMPERATURE, 10.0)
            '50.0\xa0°F'
        """
        if value is None or value != value:  # noqa: PLR0124 - the one value unlike itself is NaN
            return "not known"
        return _with_unit(f"{self.number(quantity, value):.1f}", self.unit(quantity))

    def temperature(self, celsius: float | None) -> str:
        """A temperature with its unit, or "not known"."""
        return self.value(Quantity.TEMPERATURE, celsius)

    def humidity(self, pct: float | None) -> str:
        """A relative humidity with its unit, or "not known"."""
        return self.value(Quantity.HUMIDITY, pct)

    def amount(self, quantity: Quantity, difference: float) -> str:
        """A distance with its unit; what is less than a tenth says so."""
        shown = self.step(quantity, difference)
        number = f"{shown:.1f}" if shown >= 0.05 else "under 0.1"  # noqa: PLR2004 - would round to 0.0
        return _with_unit(number, self.unit(quantity))

    def range(self, quantity: Quantity, asked: Range | None) -> str:
        r"""A range with its unit; no line breaks within it.

        Examples:
            >>> Words().range(Quantity.HUMIDITY, Range(86, 92))
            '86–\u206092\xa0%RH'
        """
        if asked is None:
            return "nothing asked"
        low, high = (f"{self.number(quantity, end):.3g}" for end in (asked.low, asked.high))
        return _with_unit(f"{low}–{_NO_BREAK}{high}", self.unit(quantity))

    def finding(self, finding: Finding, now_us: int) -> str:
        """By how much, which way, for how long: "2.0 %RH too dry for 2 h 40 min"."""
        least = "" if finding.since_is_start else "at least "
        lasted = span(now_us - finding.since_us)
        return f"{self.amount(finding.quantity, finding.amount)} {finding.word} for {least}{lasted}"

    def unknown(self, unknown: Unknown) -> str:
        """What is not known, why, and since when."""
        words = f"{unknown.quantity} not known: {unknown.reason}"
        if unknown.last_us is not None:
            words += f" since {self.moment(unknown.last_us)}"
        return words

    def local(self, time_us: int) -> datetime:
        """The instant in the household's zone."""
        return to_datetime(time_us).astimezone(self.zone)

    def day(self, time_us: int) -> str:
        """The day: "Wed 25 Nov"."""
        return day_words(self.local(time_us))

    def clock(self, time_us: int) -> str:
        """The time of day; in the hour that comes twice in autumn, with its offset.

        Examples:
            >>> Words(ZoneInfo("Europe/Berlin")).clock(1_792_888_200_000_000)
            '02:30 (UTC+2)'
        """
        return clock_words(self.local(time_us))

    def moment(self, time_us: int) -> str:
        """The time with its day: "Wed 25 Nov 14:32"."""
        return moment_words(self.local(time_us))

    def dated(self, time_us: int) -> str:
        """The day with its year: "Wed 25 Nov 2026"."""
        return f"{self.day(time_us)} {self.local(time_us).year}"


def words_for(zone: str, *, fahrenheit: bool) -> Words:
    """The words of a household; a zone that this machine does not know reads as UTC."""
    return Words(zone_or_utc(zone), fahrenheit)


def span(duration_us: int) -> str:
    r"""A length of time in at most two units.

    Examples:
        >>> span(9_600_000_000), span(40_000_000), span(273_600_000_000)
        ('2\xa0h 40\xa0min', '40\xa0s', '3\xa0d 4\xa0h')
    """
    seconds = max(0, duration_us // US_PER_S)
    if seconds < _MINUTE_S:
        return _with_unit(str(seconds), "s")
    if seconds < _HOUR_S:
        return _with_unit(str(seconds // _MINUTE_S), "min")
    if seconds < _DAY_S:
        return _two(seconds // _HOUR_S, "h", seconds % _HOUR_S // _MINUTE_S, "min")
    days = seconds // _DAY_S
    hours = seconds % _DAY_S // _HOUR_S if days < _DAYS_WITH_HOURS else 0
    return _two(days, "d", hours, "h")


_LONGEST_NAME = 80

_UNSHOWN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
"""Unicode categories of what is never drawn, or turns the writing round."""


def plain(name: str, nameless: str = "no name") -> str:
    r"""A name as it may be shown: one line, without marks that turn or break the writing.

    Examples:
        >>> plain("  Larch\u202e  Lane\n")
        'Larch Lane'
    """
    shown = "".join(
        " " if character.isspace() else character
        for character in name
        if character.isspace() or unicodedata.category(character) not in _UNSHOWN
    )
    return " ".join(shown.split()) or nameless


def short(name: str) -> str:
    """A name for a heading or a choice: plain, and cut where it would fill the page."""
    shown = plain(name)
    return shown if len(shown) <= _LONGEST_NAME else shown[: _LONGEST_NAME - 1].rstrip() + "…"


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: "1 wheel", "3 wheels"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def _with_unit(number: str, unit: str) -> str:
    return f"{number.replace('-', '−')}{UNIT_SPACE}{unit}"


def _two(first: int, first_unit: str, second: int, second_unit: str) -> str:
    shown = _with_unit(str(first), first_unit)
    return f"{shown} {_with_unit(str(second), second_unit)}" if second else shown
