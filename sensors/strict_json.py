"""JSON as bytes from a stranger: bounded, unambiguous and exact, or refused with the reason.

Knows nothing of sensors. Numbers with a point or an exponent come out as `Decimal`, so that
a time keeps its microseconds and a huge exponent costs nothing.
"""

import json
from collections.abc import Iterable
from decimal import Decimal, DecimalException
from itertools import accumulate
from typing import NoReturn

from sensors.errors import BadPayloadError

MAX_BYTES = 64 * 1024
"""Longest message. The issue's limit; a day of readings every two minutes fits."""

MAX_DEPTH = 16
"""Deepest nesting of arrays and objects. Our choice: four times what any sensor sends,
and far below where a parser runs out of stack."""

_NOT_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))
_STEPS = {ord("["): 1, ord("{"): 1, ord("]"): -1, ord("}"): -1}


def read_json(payload: bytes) -> object:
    """The value that the bytes spell, as RFC 8259 reads it and somewhat stricter.

    Refused are: more than `MAX_BYTES`, nesting beyond `MAX_DEPTH` (looked for before any
    parsing), bytes that are not UTF-8, a byte order mark, NaN and infinities, and an object
    that says the same name twice.

    Raises:
        BadPayloadError: The bytes are refused; the text says why.

    References:
        T. Bray (ed.), The JavaScript Object Notation (JSON) Data Interchange Format,
        RFC 8259, 2017.
    """
    if len(payload) > MAX_BYTES:
        raise BadPayloadError(f"the message has {len(payload)} bytes; {MAX_BYTES} is the most")
    if _depth(payload) > MAX_DEPTH:
        raise BadPayloadError(f"the JSON is nested deeper than {MAX_DEPTH} levels")
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError:
        raise BadPayloadError("the message is not UTF-8 text") from None
    try:
        # An untyped library: the annotation of the return value ends the Any here.
        value: object = json.loads(
            text,
            parse_float=Decimal,
            parse_constant=_refuse_constant,
            object_pairs_hook=_object,
        )
    except BadPayloadError:
        raise
    except json.JSONDecodeError as error:
        raise BadPayloadError(
            f"the message is not JSON: {error.msg} at character {error.pos}"
        ) from None
    except (ValueError, DecimalException):
        raise BadPayloadError("a number has more digits than any sensor needs") from None
    return value


def _depth(payload: bytes) -> int:
    """How deep brackets nest outside strings, in linear time and without recursion.

    Escaped backslashes go first and escaped quotes second, so that every quote left over
    opens or closes a string. Up to the first error in the JSON the count is exact, and no
    parser goes beyond that.
    """
    bare = payload.replace(b"\\\\", b"").replace(b'\\"', b"")
    brackets = b"".join(bare.split(b'"')[::2]).translate(None, _NOT_BRACKETS)
    return max(accumulate(map(_STEPS.__getitem__, brackets)), default=0)


def _object(pairs: Iterable[tuple[str, object]]) -> dict[str, object]:
    pairs = list(pairs)
    made = dict(pairs)
    if len(made) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise BadPayloadError(f"an object says {twice[:40]!r} twice")
    return made


def _refuse_constant(name: str) -> NoReturn:
    raise BadPayloadError("a value is NaN" if name == "NaN" else "a value is infinite")
