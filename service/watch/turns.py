"""What an evaluation comes to: changes of one condition, ready to be entered."""

from dataclasses import dataclass
from datetime import tzinfo
from zoneinfo import ZoneInfo

from service.ageing.lifecycle import Priority
from service.ageing.moments import moment_words
from service.ageing.notices import Notice
from service.clock import to_datetime, zone_or_utc
from service.store.conditions import Watched
from service.store.tables import Site


@dataclass(frozen=True, slots=True)
class Raise:
    """An alarm is raised.

    Attributes:
        time_us: At which reading, or when a silence had lasted long enough. [µs UTC]
        priority: How soon the maker should act.
        limit: The limit that was passed; None for a silence. [°C or %RH]
        extreme: The value then; None for a silence. [°C or %RH]
        wheels: The names of the wheels concerned.
        notice: What to tell the maker.
    """

    time_us: int
    priority: Priority
    limit: float | None
    extreme: float | None
    wheels: tuple[str, ...]
    notice: Notice


@dataclass(frozen=True, slots=True)
class Return:
    """An alarm returns to normal.

    Attributes:
        time_us: When. [µs UTC]
        priority: Its priority in the end.
        extreme: The value farthest out; None for a silence. [°C or %RH]
        notice: What to tell the maker; None when there is nothing to tell.
    """

    time_us: int
    priority: Priority
    extreme: float | None
    notice: Notice | None


@dataclass(frozen=True, slots=True)
class Active:
    """How far an alarm has gone that is still raised.

    Attributes:
        priority: Its priority by now.
        extreme: The value farthest out so far; None for a silence. [°C or %RH]
        heard_us: The last reading that was taken into account; None when the alarm is that
            there is none. [µs UTC]
    """

    priority: Priority
    extreme: float | None
    heard_us: int | None


@dataclass(frozen=True, slots=True)
class Evaluated:
    """What became of one condition, and from which state on.

    Attributes:
        watched: The condition as it was read.
        evaluated_us: The last time that has now been taken into account. [µs UTC]
        state_json: The state of the evaluation after it.
        turns: The changes, in their order.
        active: The alarm that is raised after them.
    """

    watched: Watched
    evaluated_us: int
    state_json: str
    turns: tuple[Raise | Return, ...]
    active: Active | None

    @property
    def is_news(self) -> bool:
        """Whether there is anything to enter."""
        watched = self.watched
        return (self.evaluated_us, self.state_json) != (watched.evaluated_us, watched.state_json)


@dataclass(frozen=True, slots=True)
class Reader:
    """How the maker reads times and temperatures.

    Attributes:
        zone: In which the maker's clock runs.
        fahrenheit: Whether temperatures read in °F.
    """

    zone: tzinfo
    fahrenheit: bool = False

    def moment(self, time_us: int) -> str:
        """A time in the words of the maker's clock, with the day.

        Examples:
            >>> Reader(ZoneInfo("Europe/Vienna")).moment(1_795_613_520_000_000)
            'Wed 25 Nov 14:32'
        """
        return moment_words(to_datetime(time_us).astimezone(self.zone))


def reader_of(site: Site | None) -> Reader:
    """How the maker of a site reads; in UTC as long as there is no site."""
    if site is None:
        return Reader(ZoneInfo("UTC"))
    return Reader(zone_or_utc(site.time_zone), site.fahrenheit)
