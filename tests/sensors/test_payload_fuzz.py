"""Any bytes give what was decoded or a BadPayloadError, and nothing else ever."""

import json
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sensors.errors import BadPayloadError
from sensors.payloads import Decoded, Mapping, decode

NOW_US = 1_795_608_000_000_000
SENML = "caves/larch-lane/cave-air/senml"
MAPPINGS = [
    Mapping("iso/#", temperature="/t", time="/at"),
    Mapping("s/#", temperature="", humidity="", time_unit="s", time=""),
    Mapping(
        "ms/#", temperature="/0", temperature_unit="F", time="/1", time_unit="ms", battery="/2"
    ),
]
TOPICS = st.sampled_from([SENML, "iso/a", "s/a", "ms/a"]) | st.text(max_size=30)

PACK = (
    b'[{"bn":"box/","bt":1795607940.5,"bu":"Cel","bver":10,"n":"temperature","v":11.25},'
    b'{"n":"humidity","u":"%RH","t":0.000001,"v":87},{"n":"battery","u":"%EL","v":98,"s":1}]'
)

NUMBERS = st.sampled_from(
    ["1e400", "-1e400", "1E+1000000", "1e-1000000", "1e99999999999999999999", "9" * 5_000, "-0",
     "-0.0", "2.5e1", "268435455.9999999", "268435456", "1795608000", "true", "null", '"1"', "NaN"]
)  # fmt: skip
LABELS = st.sampled_from(
    ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x_"]
)
WORDS = st.sampled_from(
    ['"temperature"', '"a/humidity"', '"battery"', '"Cel"', '"%RH"', '"%EL"', '"V"', '"\\ud800"',
     "[]", "{}"]
)  # fmt: skip
RECORDS = st.dictionaries(LABELS, NUMBERS | WORDS, max_size=6)
PACKS = st.lists(RECORDS, max_size=5).map(
    lambda records: (
        "["
        + ",".join(
            "{" + ",".join(f'"{label}":{value}' for label, value in record.items()) + "}"
            for record in records
        )
        + "]"
    ).encode()
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(LABELS | st.text(), inner),
).map(lambda value: json.dumps(value).encode())


def check_decodes_or_refuses(topic: str, payload: bytes) -> None:
    try:
        result = decode(topic, payload, NOW_US, MAPPINGS)
    except BadPayloadError as error:
        reason = str(error)
        assert reason
        # A reason is stored, so it must be text that can be.
        reason.encode("utf-8")
        return
    assert isinstance(result, Decoded)
    assert result.samples or result.refused
    for sample in result.samples:
        assert sample.temperature_c is None or math.isfinite(sample.temperature_c)
        assert sample.humidity_pct is None or math.isfinite(sample.humidity_pct)
        assert sample.time_us <= NOW_US + 600_000_000
    for reason in (*result.refused, *(sample.sensor for sample in result.samples)):
        reason.encode("utf-8")


@given(TOPICS, st.binary(max_size=200))
@example(SENML, b"[" * 65_536)
@example(SENML, b"[" * 100_000)
@example(SENML, b'[{"n":"\\ud800temperature","u":"Cel","v":1}]')
@example("s/a", b"9" * 4_300)
@example("s/a", b"-")
@example("iso/a", b'{"t":1,"at":"\\ud800"}')
@example("iso/a", b'{"t":1,"at":"0001-01-01T00:00:00+23:59"}')
@example("iso/a", b'{"\\ud800":1,"\\ud800":1}')
@example(SENML, b"\xef\xbb\xbf" + PACK)
def test_any_bytes_decode_or_are_refused(topic: str, payload: bytes) -> None:
    check_decodes_or_refuses(topic, payload)


@given(TOPICS, JSON)
def test_any_json_decodes_or_is_refused(topic: str, payload: bytes) -> None:
    check_decodes_or_refuses(topic, payload)


@given(PACKS)
def test_any_arrangement_of_senml_fields_decodes_or_is_refused(payload: bytes) -> None:
    check_decodes_or_refuses(SENML, payload)


@given(st.integers(0, len(PACK) - 1), st.integers(0, 4), st.binary(max_size=4))
def test_damaged_pack_decodes_or_is_refused(place: int, removed: int, put_in: bytes) -> None:
    check_decodes_or_refuses(SENML, PACK[:place] + put_in + PACK[place + removed :])


@given(NUMBERS, NUMBERS)
def test_any_number_in_a_mapping_decodes_or_is_refused(value: str, time: str) -> None:
    for topic in ("s/a", "ms/a"):
        check_decodes_or_refuses(topic, f"[{value},{time},{value}]".encode())
    check_decodes_or_refuses("s/a", value.encode())


def test_the_undamaged_pack_is_good() -> None:
    """Else the test of damaged packs would show little."""
    result = decode(SENML, PACK, NOW_US, MAPPINGS)

    assert [sample.temperature_c for sample in result.samples] == [11.25, None]
    with pytest.raises(BadPayloadError):
        decode(SENML, PACK[:-1], NOW_US, MAPPINGS)
