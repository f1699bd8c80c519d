"""Bands in words: "(9.3 to 10.3)", as they stand behind every value that is an estimate."""

# ruff: noqa: RUF001, RUF002 - the reader gets a real minus sign

from dashboards.words import UNIT_SPACE, Words, span
from service.ageing.values import Quantity
from service.science.band import Band

_LEAST_US = 60_000_000


def between(low: float, high: float, digits: int = 1) -> str:
    """Two ends as they stand in brackets.

    Examples:
        >>> between(0.04, 6.25)
        '(0.0 to 6.2)'
        >>> between(-1.0, 2.0, 0)
        '(−1 to 2)'
    """
    told = f"({low:.{digits}f} to {high:.{digits}f})"
    return told.replace("(-", "(−").replace("to -", "to −")


def temperature_band(band: Band | None, words: Words) -> str:
    """The ends of a temperature, a space before them; nothing where there is no band."""
    if band is None:
        return ""
    low, high = (words.number(Quantity.TEMPERATURE, end) for end in (band.low, band.high))
    return f" {between(low, high)}"


def margin_band(band: Band | None, words: Words) -> str:
    """The ends of a distance from the dew point, a space before them.

    Examples:
        >>> margin_band(Band(1.56, 2.6), Words())
        ' (1.6 to 2.6)'
        >>> margin_band(Band(-0.9, 0.1), Words())
        ' (0.9 below to 0.1 above)'
        >>> margin_band(Band(-0.9, -0.1), Words())
        ' (0.1 to 0.9)'
    """
    if band is None:
        return ""
    low, high = (words.step(Quantity.TEMPERATURE, end) for end in (band.low, band.high))
    if low < 0 < high:
        return f" ({-low:.1f} below to {high:.1f} above)"
    near, far = sorted((abs(low), abs(high)))
    return " " + between(near, far)


def film_words(film_g_m2: float, band: Band | None) -> str:
    """Water on a surface with its ends.

    Examples:
        >>> film_words(1.26, Band(0.4, 2.5)).replace(UNIT_SPACE, " ")
        '1.3 g/m² (0.4 to 2.5)'
    """
    told = f"{film_g_m2:.1f}{UNIT_SPACE}g/m²"
    return told if band is None else f"{told} {between(band.low, band.high)}"


def lasting_words(lasted_us: float, band: Band | None) -> str:
    """For how long, with its ends, each in at most two units.

    Examples:
        >>> lasting_words(7.2e9, Band(0.0, 9.6e9)).replace(UNIT_SPACE, " ")
        '2 h (none to 2 h 40 min)'
    """
    told = span(round(lasted_us))
    if band is None:
        return told
    low = span(round(band.low)) if band.low >= _LEAST_US else "none"
    return f"{told} ({low} to {span(round(band.high))})"


def soon_words(in_h: float, ends_h: tuple[float, float | None] | None) -> str:
    """In how long, with its ends; one that may never come says so.

    Examples:
        >>> soon_words(2.2, (0.75, 5.0)).replace(UNIT_SPACE, " ")
        '2 h (45 min to 5 h)'
        >>> soon_words(2.2, (1.0, None)).replace(UNIT_SPACE, " ")
        '2 h (1 h to not at all)'
        >>> soon_words(0.25, (0.25, 0.25)).replace(UNIT_SPACE, " ")
        '15 min'
    """
    told = _hours(in_h)
    if ends_h is None:
        return told
    early, late = _hours(ends_h[0]), "not at all" if ends_h[1] is None else _hours(ends_h[1])
    return told if told == early == late else f"{told} ({early} to {late})"


def _hours(hours: float) -> str:
    if hours < 1:
        return f"{round(hours * 60):.0f}{UNIT_SPACE}min"
    return f"{hours:.0f}{UNIT_SPACE}h"
