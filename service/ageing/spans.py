"""Lengths of time as a maker types and reads them: "13:19", "13 min 19 s".

Knows no clock. What could mean two things is not guessed: a number alone is refused.
"""

import math
import re
from typing import Final

from service.errors import OutOfRangeError

_MINUTE_S: Final = 60
_HOUR_S: Final = 3_600
_LONGEST_S: Final = 7 * 24 * _HOUR_S
"""Our choice: nothing on a make day takes longer than a week; more is a slip of the finger."""

_CLOCK: Final = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2})")
_PART: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)")
_UNITS: Final = {
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), _HOUR_S),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes"), _MINUTE_S),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1),
}
_EXAMPLES: Final = "write it as 13:19 (minutes:seconds) or 13 min 19 s"


def span_s(text: str) -> float:
    """The length of time that a maker has typed. [s]

    Minutes and seconds with a colon, hours before them if there are any; or numbers with their
    units, the largest unit first.

    Raises:
        OutOfRangeError: It is none, could mean two things, is nothing, or over a week.

    Examples:
        >>> span_s("13:19"), span_s("13 min 19 s"), span_s("1:02:03"), span_s("1,5 h")
        (799.0, 799.0, 3723.0, 5400.0)
    """
    typed = " ".join(text.casefold().split())
    clock = _CLOCK.fullmatch(typed)
    seconds = _of_clock(clock, text) if clock else _of_parts(typed, text)
    if not 0 < seconds <= _LONGEST_S:
        raise OutOfRangeError(f"“{text.strip()}” is no time of more than nothing, up to 7 days")
    return seconds


def _of_clock(found: re.Match[str], text: str) -> float:
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    if seconds >= _MINUTE_S or (found[1] and minutes >= _MINUTE_S):
        raise OutOfRangeError(
            f"“{text.strip()}” has 60 or more after a colon; {_EXAMPLES}, or 1:05:00 with hours"
        )
    return float(hours * _HOUR_S + minutes * _MINUTE_S + seconds)


def _of_parts(typed: str, text: str) -> float:
    parts = _PART.findall(typed)
    if not parts or _PART.sub("", typed).strip(" ,"):
        raise OutOfRangeError(f"“{text.strip()}” is no length of time; {_EXAMPLES}")
    total, last = 0.0, math.inf
    for number, word in parts:
        if not word:
            raise OutOfRangeError(
                f"“{text.strip()}” could be minutes or seconds; {_EXAMPLES}, or 13 min"
            )
        unit = _UNITS.get(word)
        if unit is None:
            raise OutOfRangeError(f"“{word}” is no unit known here; use h, min and s")
        if unit >= last:
            raise OutOfRangeError(f"“{text.strip()}” is not in the order h, min, s; {_EXAMPLES}")
        total += float(number.replace(",", ".")) * unit
        last = unit
    return total


def span_words(seconds: float) -> str:
    r"""A length of time to the second, with its units; what is below zero reads as nothing.

    Examples:
        >>> span_words(799), span_words(3196.4), span_words(7200), span_words(0)
        ('13\xa0min 19\xa0s', '53\xa0min 16\xa0s', '2\xa0h', '0\xa0s')
    """
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, _HOUR_S)
    minutes, left = divmod(rest, _MINUTE_S)
    parts = [
        f"{number}\N{NO-BREAK SPACE}{unit}"
        for number, unit in ((hours, "h"), (minutes, "min"), (left, "s"))
        if number
    ]
    return " ".join(parts) or "0\N{NO-BREAK SPACE}s"
