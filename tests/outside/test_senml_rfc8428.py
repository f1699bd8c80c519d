"""SenML against the examples of the standard.

Source: C. Jennings, Z. Shelby, J. Arkko, A. Keranen, C. Bormann, Sensor Measurement Lists
(SenML), RFC 8428, August 2018. The packs are those of §5.1.1 to §5.1.7; the resolved values
of §5.1.4 are printed there, the others follow from §4.5 and §4.6. (§5.1.7's third and fourth
pack add no rule to the first two.)
"""

from sensors.senml import ResolvedRecord, resolve
from sensors.strict_json import read_json

NOW_US = 1_795_608_000_000_000


def resolved(pack: bytes) -> list[ResolvedRecord]:
    return resolve(read_json(pack), NOW_US)


def rows(pack: bytes) -> list[tuple[str, str | None, int, float | None]]:
    return [(record.name, record.unit, record.time_us, record.value) for record in resolved(pack)]


def test_single_data_point_is_measured_now() -> None:
    """§5.1.1."""
    pack = b'[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'

    assert rows(pack) == [("urn:dev:ow:10e2073a01080063", "Cel", NOW_US, 23.1)]
    assert resolved(pack)[0].is_relative


def test_base_name_goes_before_each_name() -> None:
    """§5.1.2, first pack."""
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},'
        b'{"n":"current","u":"A","v":1.2}]'
    )

    assert rows(pack) == [
        ("urn:dev:ow:10e2073a01080063:voltage", "V", NOW_US, 120.1),
        ("urn:dev:ow:10e2073a01080063:current", "A", NOW_US, 1.2),
    ]


def test_times_add_to_the_base_time_and_sort_the_pack() -> None:
    """§5.1.2, second pack: times with milliseconds, unit and version from the base."""
    pack = b"""[
        {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
         "bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
        {"n":"current","t":-5,"v":1.2},
        {"n":"current","t":-4,"v":1.3},
        {"n":"current","t":-3,"v":1.4},
        {"n":"current","t":-2,"v":1.5},
        {"n":"current","t":-1,"v":1.6},
        {"n":"current","v":1.7}]"""
    base_us = 1_276_020_076_001_000
    current = "urn:dev:ow:10e2073a0108006:current"

    assert rows(pack) == [
        (current, "A", base_us - 5_000_000, 1.2),
        (current, "A", base_us - 4_000_000, 1.3),
        (current, "A", base_us - 3_000_000, 1.4),
        (current, "A", base_us - 2_000_000, 1.5),
        (current, "A", base_us - 1_000_000, 1.6),
        ("urn:dev:ow:10e2073a0108006:voltage", "V", base_us, 120.1),
        (current, "A", base_us, 1.7),
    ]
    assert {record.version for record in resolved(pack)} == {5}


def test_multiple_measurements_resolve_as_printed() -> None:
    """The pack of §5.1.3 against the resolved pack printed in §5.1.4."""
    pack = b"""[
        {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
        {"u":"lon","v":24.30621},
        {"u":"lat","v":60.07965},
        {"t":60,"v":20.3},
        {"u":"lon","t":60,"v":24.30622},
        {"u":"lat","t":60,"v":60.07965},
        {"t":120,"v":20.7},
        {"u":"lon","t":120,"v":24.30623},
        {"u":"lat","t":120,"v":60.07966},
        {"u":"%EL","t":150,"v":98},
        {"t":180,"v":21.2},
        {"u":"lon","t":180,"v":24.30628},
        {"u":"lat","t":180,"v":60.07967}]"""
    printed = [
        ("%RH", 1320067464, 20.0),
        ("lon", 1320067464, 24.30621),
        ("lat", 1320067464, 60.07965),
        ("%RH", 1320067524, 20.3),
        ("lon", 1320067524, 24.30622),
        ("lat", 1320067524, 60.07965),
        ("%RH", 1320067584, 20.7),
        ("lon", 1320067584, 24.30623),
        ("lat", 1320067584, 60.07966),
        ("%EL", 1320067614, 98.0),
        ("%RH", 1320067644, 21.2),
        ("lon", 1320067644, 24.30628),
        ("lat", 1320067644, 60.07967),
    ]

    assert rows(pack) == [
        ("urn:dev:ow:10e2073a01080063", unit, time_s * 1_000_000, value)
        for unit, time_s, value in printed
    ]
    assert not any(record.is_relative for record in resolved(pack))


def test_values_of_every_type_are_kept_apart() -> None:
    """§5.1.5."""
    pack = b"""[
        {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
        {"n":"label","vs":"Machine Room"},
        {"n":"open","vb":false},
        {"n":"nfv-reader","vd":"aGkgCg"}]"""

    assert [(r.value, r.text, r.flag, r.data) for r in resolved(pack)] == [
        (23.1, None, None, None),
        (None, "Machine Room", None, None),
        (None, None, False, None),
        (None, None, None, "aGkgCg"),
    ]


def test_base_fields_hold_until_the_same_field_comes_again() -> None:
    """§5.1.6: the last record takes the base name of the third and the base time of the first."""
    pack = b"""[
        {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
        {"n":"humidity","u":"%RH","v":30},
        {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
        {"n":"humidity","u":"%RH","v":67}]"""
    time_us = 1_320_078_429_000_000

    assert rows(pack) == [
        ("2001:db8::2/temperature", "Cel", time_us, 25.2),
        ("2001:db8::2/humidity", "%RH", time_us, 30.0),
        ("2001:db8::1/temperature", "Cel", time_us, 12.3),
        ("2001:db8::1/humidity", "%RH", time_us, 67.0),
    ]


def test_record_with_only_a_base_name_gives_no_record() -> None:
    """§5.1.7, first pack."""
    pack = b"""[
        {"bn":"urn:dev:ow:10e2073a01080063:"},
        {"n":"temp","u":"Cel","v":23.1},
        {"n":"heat","u":"/","v":1},
        {"n":"fan","u":"/","v":0}]"""

    assert rows(pack) == [
        ("urn:dev:ow:10e2073a01080063:temp", "Cel", NOW_US, 23.1),
        ("urn:dev:ow:10e2073a01080063:heat", "/", NOW_US, 1.0),
        ("urn:dev:ow:10e2073a01080063:fan", "/", NOW_US, 0.0),
    ]


def test_base_unit_serves_records_of_different_names() -> None:
    """§5.1.7, second pack."""
    pack = b"""[
        {"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":1},
        {"n":"2001:db8::4","v":1}]"""

    assert rows(pack) == [
        ("2001:db8::3", "/", 1_320_078_429_000_000, 1.0),
        ("2001:db8::4", "/", 1_320_078_429_000_000, 1.0),
    ]


def test_smallest_absolute_time_is_in_july_1978() -> None:
    """§4.5.3: 2**28 is 1978-07-04 21:24:16 UTC; one second less is in the future from now."""
    pack = b'[{"n":"a","v":1,"t":268435456},{"n":"b","v":1,"t":268435455}]'
    absolute, relative = resolved(pack)

    assert (absolute.name, absolute.time_us) == ("a", 268_435_456_000_000)
    assert (relative.name, relative.time_us) == ("b", NOW_US + 268_435_455_000_000)
    assert (absolute.is_relative, relative.is_relative) == (False, True)
