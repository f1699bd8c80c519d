"""JSON Pointers (RFC 6901): one string that says where in a document a value is.

Knows nothing of sensors; the settings use it to read JSON that is not SenML.
"""

import re
from functools import lru_cache

from sensors.errors import BadPayloadError

_BAD_ESCAPE = re.compile(r"~(?![01])")
_INDEX = re.compile(r"0|[1-9][0-9]{0,9}")


def look_up(document: object, pointer: str) -> object:
    """The value in `document` to which `pointer` points.

    Raises:
        BadPayloadError: The pointer is not written as RFC 6901 wants it, or points to nothing.

    References:
        P. Bryan (ed.), JavaScript Object Notation (JSON) Pointer, RFC 6901, 2013, §3-§4, §7.

    Examples:
        >>> look_up({"air": [{"t": 11}]}, "/air/0/t")
        11
    """
    value = document
    for token in tokens(pointer):
        if isinstance(value, dict) and token in value:
            value = value[token]
        elif (
            isinstance(value, list)
            and _INDEX.fullmatch(token)
            and (index := int(token)) < len(value)
        ):
            value = value[index]
        else:
            raise BadPayloadError(f"the message holds nothing at {pointer[:80]!r}")
    return value


@lru_cache(maxsize=256)
def tokens(pointer: str) -> tuple[str, ...]:
    """The steps of a pointer, unescaped; none of them for the whole document.

    Raises:
        BadPayloadError: The pointer does not start with a slash, or a tilde in it is not
            followed by 0 or 1.
    """
    if not pointer:
        return ()
    if not pointer.startswith("/"):
        raise BadPayloadError(f"the JSON pointer {pointer[:80]!r} does not start with a slash")
    if _BAD_ESCAPE.search(pointer):
        raise BadPayloadError(
            f"in the JSON pointer {pointer[:80]!r} write ~0 for a tilde and ~1 for a slash"
        )
    # The order matters: ~01 is a tilde and a 1, never a slash (RFC 6901 §4).
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in pointer[1:].split("/"))
