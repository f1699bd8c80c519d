"""SenML's rules that the examples of the standard do not show (RFC 8428, section named)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import BadPayloadError
from sensors.moments import seconds_text
from sensors.senml import MAX_RECORDS, ResolvedRecord, resolve
from sensors.strict_json import read_json

NOW_US = 1_795_608_000_000_000


def resolved(pack: bytes) -> list[ResolvedRecord]:
    return resolve(read_json(pack), NOW_US)


def test_base_value_is_added_exactly() -> None:
    """§4.5.4; as doubles 0.1 and 0.2 would add to a little more than 0.3."""
    assert resolved(b'[{"n":"a","bv":0.1,"v":0.2}]')[0].value == 0.3


def test_base_sum_alone_is_the_sum() -> None:
    """§4.5.4."""
    first, second = resolved(b'[{"n":"a","bs":5,"v":1},{"n":"b","s":0.5}]')

    assert (first.integral, second.integral, second.value) == (5.0, 5.5, None)


def test_own_unit_goes_before_the_base_unit() -> None:
    """§4.5.2."""
    first, second = resolved(b'[{"n":"a","bu":"Cel","u":"%RH","v":1},{"n":"b","v":1}]')

    assert (first.unit, second.unit) == ("%RH", "Cel")


def test_base_value_does_not_touch_text() -> None:
    assert resolved(b'[{"n":"a","bv":1,"vs":"x"}]')[0].value is None


def test_unknown_field_is_ignored() -> None:
    """§4.4."""
    assert resolved(b'[{"n":"a","v":1,"colour":{"r":[1]}}]')[0].value == 1.0


def test_unknown_field_that_must_be_understood_is_refused() -> None:
    """§4.4."""
    with pytest.raises(BadPayloadError, match=r"record 1 .* 'colour_' must be understood"):
        resolved(b'[{"n":"a","v":1,"colour_":1}]')


def test_update_time_is_read() -> None:
    """§4.2."""
    assert resolved(b'[{"n":"a","v":1,"ut":60}]')[0].update_within_s == 60.0


@pytest.mark.parametrize(
    ("pack", "reason"),
    [
        (b"{}", "is an array"),
        (b"3", "is an array"),
        (b"[]", "is empty"),
        (b"[1]", "record 1 of the pack: it is not an object"),
        (b"[{}]", "no value"),
        (b'[{"n":"a"}]', "no value"),
        (b'[{"bn":"a","t":1}]', "no value"),
        (b'[{"n":"a","v":1},{"n":"a","u":"Cel"}]', "record 2 of the pack: it has no value"),
        (b'[{"n":"a","v":1,"vs":"x"}]', "more than one value"),
        (b'[{"n":"a","v":"1"}]', "'v' must be a number"),
        (b'[{"n":"a","v":true}]', "'v' must be a number"),
        (b'[{"n":"a","v":null}]', "'v' must be a number"),
        (b'[{"n":"a","vb":0}]', "'vb' must be true or false"),
        (b'[{"n":1,"v":1}]', "'n' must be text"),
        (b'[{"n":"a","v":1,"t":"now"}]', "'t' must be a number"),
        (b'[{"n":"a","v":1e400}]', "too large"),
        (b'[{"n":"a","v":-1e400}]', "too large"),
        (b'[{"n":"a","bv":1e999999,"v":1}]', "too large"),
        (b'[{"n":"a","v":1' + b"0" * 400 + b"}]", "too large"),
        (b'[{"n":"a","v":1,"t":1e999999}]', "beyond the years 1653 to 2286"),
        (b'[{"n":"a","v":1,"t":-1E+1000000}]', "beyond the years 1653 to 2286"),
        (b'[{"n":"a","v":1,"t":1' + b"0" * 400 + b"}]", "beyond the years 1653 to 2286"),
        (b'[{"v":1}]', "neither a name nor a base name"),
        (b'[{"n":"-a","v":1}]', "must start with a letter or digit"),
        (b'[{"n":"a b","v":1}]', "must start with a letter or digit"),
        (b'[{"n":"a\\n","v":1}]', "must start with a letter or digit"),
        (b'[{"n":"k\xc3\xa4se","v":1}]', "must start with a letter or digit"),
        (b'[{"n":"a\\ud800","v":1}]', "must start with a letter or digit"),
        (b'[{"n":"a","bver":11,"v":1}]', "version is above 10"),
        (b'[{"n":"a","bver":1e999999,"v":1}]', "version is above 10"),
        (b'[{"n":"a","bver":-1e999999,"v":1}]', "positive whole"),
        (b'[{"n":"a","bver":0,"v":1}]', "positive whole"),
        (b'[{"n":"a","bver":5.5,"v":1}]', "positive whole"),
        (b'[{"n":"a","v":1},{"n":"a","bver":5,"v":1}]', "version differs"),
        (b'[{"n":"a","bver":5,"v":1},{"n":"a","bver":6,"v":1}]', "version differs"),
        (b'[{"n":"a","vd":"aGkgCg=="}]', "base64url"),
        (b'[{"n":"a","vd":"aGkg/g"}]', "base64url"),
        (b'[{"n":"a","vd":"aGkgC"}]', "base64url"),
    ],
)
def test_pack_against_the_rules_is_refused_with_the_reason(pack: bytes, reason: str) -> None:
    with pytest.raises(BadPayloadError, match=reason):
        resolved(pack)


def test_version_said_again_in_the_same_pack_is_fine() -> None:
    """§4.4."""
    assert len(resolved(b'[{"n":"a","bver":5,"v":1},{"n":"a","bver":5.0,"v":1}]')) == 2


def test_pack_of_just_the_most_records_is_read_and_one_more_is_not() -> None:
    records = [{"n": "a", "v": 1}] * MAX_RECORDS

    assert len(resolve(records, NOW_US)) == MAX_RECORDS
    with pytest.raises(BadPayloadError, match="1001 records"):
        resolve([*records, records[0]], NOW_US)


@given(st.integers(min_value=2**28 * 10**6, max_value=10**16 - 1))
def test_absolute_time_is_exact_to_the_microsecond(time_us: int) -> None:
    pack = f'[{{"n":"a","v":1,"t":{seconds_text(time_us)}}}]'.encode()

    assert resolved(pack)[0].time_us == time_us


@given(st.integers(min_value=-(10**13), max_value=2**28 * 10**6 - 1))
def test_relative_time_is_exact_to_the_microsecond(offset_us: int) -> None:
    pack = f'[{{"n":"a","v":1,"t":{seconds_text(offset_us)}}}]'.encode()

    assert resolved(pack)[0].time_us == NOW_US + offset_us


@given(st.integers(min_value=1_500_000_000, max_value=2_000_000_000), st.integers(-(10**9), 10**9))
def test_base_time_and_time_add_exactly(base_s: int, offset_us: int) -> None:
    pack = f'[{{"n":"a","v":1,"bt":{base_s}.000001,"t":{seconds_text(offset_us)}}}]'.encode()

    assert resolved(pack)[0].time_us == base_s * 10**6 + 1 + offset_us
