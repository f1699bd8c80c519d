"""Numbers as a person types them, with a point or a comma; and back into a field."""

import math

from dashboards.words import plain
from service.api.refusals import RefusedError

_MOST_SHOWN = 24
_G_PER_KG = 1_000.0


def number(text: str | None, what: str) -> float | None:
    """The number in a field; None when the field is empty.

    Raises:
        RefusedError: It is no number; the message says in which field.

    Examples:
        >>> number("32,5", "the milk"), number(" ", "the milk")
        (32.5, None)
    """
    typed = plain(text or "", "").replace(",", ".")
    if not typed:
        return None
    try:
        found = float(typed)
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        raise RefusedError(
            f"“{typed[:_MOST_SHOWN]}” in {what} is no number; write one such as 12 or 2.5"
        )
    return found


def needed_number(text: str | None, what: str) -> float:
    """The number in a field that must hold one.

    Raises:
        RefusedError: It holds none.
    """
    found = number(text, what)
    if found is None:
        raise RefusedError(f"enter {what}")
    return found


def field_text(value: object) -> str:
    """A value as its field shows it, so that sending it back changes nothing.

    Examples:
        >>> field_text(12.0), field_text(3.7854), field_text(None), field_text("ewe")
        ('12', '3.7854', '', 'ewe')
    """
    if value is None:
        return ""
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def grams_of(weight: str, unit: str) -> float:
    """A weight as the maker writes it, in grams.

    Raises:
        RefusedError: It is no number.

    Examples:
        >>> grams_of("1,95", "kg"), grams_of(" 412 ", "g")
        (1950.0, 412.0)
    """
    try:
        number = float(plain(weight).replace(",", "."))
    except ValueError:
        raise RefusedError("write the weight as a number, such as 412 or 1.95") from None
    return number * _G_PER_KG if unit == "kg" else number
