"""JSON from strangers: what is refused, and that the refusal is a reason and not a crash."""

import json
import time
from decimal import Decimal

import pytest

from sensors.errors import BadPayloadError
from sensors.strict_json import MAX_BYTES, MAX_DEPTH, read_json


def test_fraction_keeps_every_digit() -> None:
    assert read_json(b"[1276020076.001, 7]") == [Decimal("1276020076.001"), 7]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", "not JSON"),
        (b"[1", "not JSON"),
        (b"-", "not JSON"),
        (b"[-]", "not JSON"),
        (b"[1] [2]", "not JSON"),
        (b"\xef\xbb\xbf[1]", "not JSON"),
        (b'["\n"]', "not JSON"),
        (b'["\xff"]', "not UTF-8"),
        (b'["\xed\xa0\x80"]', "not UTF-8"),
        (b"[NaN]", "a value is NaN"),
        (b"[Infinity]", "a value is infinite"),
        (b"[-Infinity]", "a value is infinite"),
        (b'{"v":1,"v":2}', "says 'v' twice"),
        (b'{"v":1,"\\u0076":1}', "says 'v' twice"),
        (b"1" * 5_000, "more digits"),
        (b"1e99999999999999999999", "more digits"),
    ],
)
def test_text_that_is_not_plain_json_is_refused_with_the_reason(
    payload: bytes, reason: str
) -> None:
    with pytest.raises(BadPayloadError, match=reason):
        read_json(payload)


def test_message_of_just_the_limit_is_read_and_one_byte_more_is_not() -> None:
    longest = b'"' + b"a" * (MAX_BYTES - 2) + b'"'

    assert len(str(read_json(longest))) == MAX_BYTES - 2
    with pytest.raises(BadPayloadError, match="65537 bytes"):
        read_json(longest + b" ")


@pytest.mark.parametrize(("opening", "closing"), [(b"[", b"]"), (b'{"a":', b"}")])
def test_nesting_to_the_limit_is_read_and_one_level_more_is_not(
    opening: bytes, closing: bytes
) -> None:
    read_json(opening * MAX_DEPTH + b"1" + closing * MAX_DEPTH)

    with pytest.raises(BadPayloadError, match="nested deeper"):
        read_json(opening * (MAX_DEPTH + 1) + b"1" + closing * (MAX_DEPTH + 1))


@pytest.mark.parametrize("payload", [b"[" * MAX_BYTES, b'{"a":' * 13_000, b'["]",' * 13_000])
def test_bottomless_nesting_is_refused_before_parsing(payload: bytes) -> None:
    with pytest.raises(BadPayloadError, match="nested deeper"):
        read_json(payload)


def test_brackets_in_strings_do_not_count_as_nesting() -> None:
    text = r"[[[[[[[[[[[[[[[[[[[[ \\\" ]{{{{{{{{{{{{{{{{{{{{ \\"
    payload = f'["{text}", "[{{"]'.encode()

    assert read_json(payload) == json.loads(payload)


@pytest.mark.parametrize("payload", [b'\\"' * 32_768, b'["' + b"\\" * 65_000, b'"' * 65_536])
def test_hostile_quotes_cost_no_time(payload: bytes) -> None:
    """A scan that starts over at each quote would need minutes here."""
    started_s = time.monotonic()
    with pytest.raises(BadPayloadError):
        read_json(payload)

    assert time.monotonic() - started_s < 1.0
