"""Pointers against the examples of the standard.

Source: P. Bryan (ed.), JavaScript Object Notation (JSON) Pointer, RFC 6901, April 2013:
§5 (document and values), §3 (escapes), §4 (order of unescaping, array indexes).
"""

import pytest

from sensors.errors import BadPayloadError
from sensors.pointers import look_up
from sensors.strict_json import read_json

DOCUMENT = read_json(
    rb"""{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4,
          "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}"""
)


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("", DOCUMENT),
        ("/foo", ["bar", "baz"]),
        ("/foo/0", "bar"),
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_pointer_of_section_5_gives_its_value(pointer: str, value: object) -> None:
    assert look_up(DOCUMENT, pointer) == value


def test_escaped_tilde_before_a_one_is_no_slash() -> None:
    """§4: `~01` becomes `~1` and never `/`."""
    assert look_up({"~1": "tilde", "/": "slash"}, "/~01") == "tilde"


@pytest.mark.parametrize(
    "pointer", ["/foo/-", "/foo/2", "/foo/00", "/foo/01", "/foo/+1", "/foo/1 "]
)
def test_index_that_section_4_does_not_allow_points_to_nothing(pointer: str) -> None:
    with pytest.raises(BadPayloadError, match="holds nothing"):
        look_up(DOCUMENT, pointer)


@pytest.mark.parametrize("pointer", ["foo", "/m~n", "/m~2n", "/m~"])
def test_pointer_that_section_3_does_not_allow_is_refused(pointer: str) -> None:
    with pytest.raises(BadPayloadError, match="JSON pointer"):
        look_up(DOCUMENT, pointer)
