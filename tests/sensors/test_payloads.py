"""From SenML bytes on our own topics to samples."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import BadPayloadError
from sensors.payloads import Decoded, Sample, decode, decode_status, encode, topic_of

NOW_US = 1_795_608_000_000_000
TOPIC = topic_of("larch-lane", "cave-air")
KEY = "larch-lane/cave-air"


def decoded(pack: bytes, previous_temperature_c: dict[str, float] | None = None) -> Decoded:
    return decode(TOPIC, pack, NOW_US, (), previous_temperature_c)


def keys(pack: bytes) -> list[str]:
    return [sample.sensor for sample in decoded(pack).samples]


def test_temperature_and_humidity_of_one_time_are_one_reading() -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":11.5},{"n":"humidity","u":"%RH","v":87.25}]'

    assert decoded(pack) == Decoded((Sample(KEY, NOW_US, 11.5, 87.25, timed_by_sensor=False),), ())


def test_times_of_the_sensor_are_told_from_times_of_arrival() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11,"t":1795607940.5},
                {"n":"humidity","u":"%RH","v":87,"t":-1}]"""

    assert [(s.time_us, s.timed_by_sensor) for s in decoded(pack).samples] == [
        (NOW_US - 59_500_000, True),
        (NOW_US - 1_000_000, False),
    ]


def test_readings_come_in_the_order_of_time() -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":11},{"n":"temperature","u":"Cel","v":12,"t":-60}]'

    assert [sample.temperature_c for sample in decoded(pack).samples] == [12.0, 11.0]


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("temperature", KEY),
        ("cave-air/temperature", KEY),
        ("cave-air:temperature", KEY),
        ("larch-lane/cave-air/temperature", KEY),
        ("box-2/temperature", f"{KEY}/box-2"),
        ("urn:dev:ow:10e2073a01080063:temperature", f"{KEY}/urn:dev:ow:10e2073a01080063"),
        ("box-2._-temperature", f"{KEY}/box-2"),
    ],
)
def test_device_before_the_quantity_names_the_sensor(name: str, key: str) -> None:
    assert keys(f'[{{"n":"{name}","u":"Cel","v":11}}]'.encode()) == [key]


def test_device_keeps_its_key_whatever_else_is_in_the_pack() -> None:
    alone = b'[{"bn":"box-2/","n":"temperature","u":"Cel","v":11}]'
    together = b'[{"n":"temperature","u":"Cel","v":12},{"n":"box-2/temperature","u":"Cel","v":11}]'

    assert keys(alone) == [f"{KEY}/box-2"]
    assert keys(together) == [KEY, f"{KEY}/box-2"]


def test_records_of_other_names_are_passed_over() -> None:
    pack = b'[{"n":"latitude","u":"lat","v":47},{"n":"temperature","u":"Cel","v":11}]'

    assert decoded(pack).refused == ()
    assert len(decoded(pack).samples) == 1


def test_pack_without_a_name_that_is_used_is_refused() -> None:
    with pytest.raises(BadPayloadError, match="nothing to keep"):
        decoded(b'[{"n":"latitude","u":"lat","v":47}]')


@pytest.mark.parametrize("unit", ['"u":"F",', '"u":"cel",', ""])
def test_wrong_or_missing_unit_costs_the_value_and_not_the_rest(unit: str) -> None:
    pack = f'[{{"n":"temperature",{unit}"v":52}},{{"n":"humidity","u":"%RH","v":87}}]'.encode()

    assert [(s.temperature_c, s.humidity_pct) for s in decoded(pack).samples] == [(None, 87.0)]
    assert "needed is a number with the unit Cel" in decoded(pack).refused[0]


def test_text_for_a_temperature_is_refused() -> None:
    assert "no number" in decoded(b'[{"n":"temperature","u":"Cel","vs":"11"}]').refused[0]


def test_impossible_value_does_not_cost_the_good_readings_beside_it() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":-127,"t":-60},
                {"n":"humidity","u":"%RH","v":87,"t":-60},
                {"n":"temperature","u":"Cel","v":11.5},{"n":"humidity","u":"%RH","v":87}]"""

    assert [sample.temperature_c for sample in decoded(pack).samples] == [11.5]
    (reason,) = decoded(pack).refused
    assert reason.startswith(f"{KEY} at 2026-11-25T11:59:00Z: temperature -127 °C is the error")


def test_humidity_just_beyond_its_range_is_kept_as_received() -> None:
    assert decoded(b'[{"n":"humidity","u":"%RH","v":100.4}]').samples[0].humidity_pct == 100.4


@pytest.mark.parametrize(("previous_c", "count"), [(None, 0), (11.0, 0), (82.0, 1)])
def test_exactly_85_needs_a_sensor_that_was_hot_before(
    previous_c: float | None, count: int
) -> None:
    previous = None if previous_c is None else {KEY: previous_c}

    assert len(decoded(b'[{"n":"temperature","u":"Cel","v":85}]', previous).samples) == count


def test_hot_reading_earlier_in_the_pack_makes_85_believable() -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":84,"t":-60},{"n":"temperature","u":"Cel","v":85.0}]'

    assert [sample.temperature_c for sample in decoded(pack, {KEY: 11.0}).samples] == [84.0, 85.0]


def test_same_value_said_twice_is_one_reading() -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":11},{"n":"temperature","u":"Cel","v":11.0}]'

    assert len(decoded(pack).samples) == 1
    assert decoded(pack).refused == ()


def test_two_values_for_one_time_are_both_refused() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11},{"n":"temperature","u":"Cel","v":12},
                {"n":"humidity","u":"%RH","v":87}]"""

    assert decoded(pack).samples == ()
    assert "temperature is given twice, 11 and 12" in decoded(pack).refused[0]


def test_battery_goes_with_the_reading_of_its_time() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11},{"n":"battery","u":"%EL","v":98},
                {"n":"battery","u":"V","v":2.95}]"""

    assert [(s.battery_pct, s.battery_v) for s in decoded(pack).samples] == [(98.0, 2.95)]


def test_battery_of_another_time_goes_with_the_last_reading_of_its_device() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11,"t":-60},
                {"n":"temperature","u":"Cel","v":12,"t":-30},
                {"n":"battery","u":"%EL","v":98},{"n":"box/temperature","u":"Cel","v":13}]"""

    assert [(s.temperature_c, s.battery_pct) for s in decoded(pack).samples] == [
        (11.0, None),
        (12.0, 98.0),
        (13.0, None),
    ]


def test_latest_of_several_battery_levels_counts() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11,"t":-60},
                {"n":"battery","u":"%EL","v":98,"t":-30},{"n":"battery","u":"%EL","v":97},
                {"n":"battery","u":"V","v":2.95,"t":-30}]"""

    assert [(s.battery_pct, s.battery_v) for s in decoded(pack).samples] == [(97.0, 2.95)]


def test_battery_of_its_own_time_goes_before_a_later_one() -> None:
    pack = b"""[{"n":"temperature","u":"Cel","v":11,"t":-60},
                {"n":"battery","u":"%EL","v":98,"t":-60},{"n":"battery","u":"%EL","v":97}]"""

    assert [sample.battery_pct for sample in decoded(pack).samples] == [98.0]


def test_battery_alone_is_no_reading() -> None:
    assert "neither" in decoded(b'[{"n":"battery","u":"%EL","v":98}]').refused[0]


@pytest.mark.parametrize(("unit", "value"), [("%EL", 100.1), ("%EL", -1), ("V", -0.1), ("V", 61)])
def test_impossible_battery_costs_no_reading(unit: str, value: float) -> None:
    pack = f'[{{"n":"temperature","u":"Cel","v":11}},{{"n":"battery","u":"{unit}","v":{value}}}]'
    result = decoded(pack.encode())

    assert result.samples == (Sample(KEY, NOW_US, 11.0, None, timed_by_sensor=False),)
    assert "battery" in result.refused[0]


def test_reading_from_the_future_is_refused_and_its_neighbour_kept() -> None:
    pack = b'[{"n":"temperature","u":"Cel","v":11,"t":601},{"n":"temperature","u":"Cel","v":12}]'

    assert [sample.temperature_c for sample in decoded(pack).samples] == [12.0]
    assert "601 s ahead" in decoded(pack).refused[0]


def test_many_refusals_are_counted_and_not_all_told() -> None:
    records = ",".join(f'{{"n":"temperature","u":"Cel","v":99,"t":-{t}}}' for t in range(500))
    refused = decoded(f"[{records}]".encode()).refused

    assert len(refused) == 21
    assert refused[-1] == "and 480 more refusals in the same message"


def test_topic_that_nobody_mapped_is_refused() -> None:
    with pytest.raises(BadPayloadError, match="no mapping"):
        decode("shed/climate", b"{}", NOW_US)


def test_name_too_long_for_a_key_is_refused() -> None:
    with pytest.raises(BadPayloadError, match="200 is the most"):
        decoded(f'[{{"n":"{"a" * 300}/temperature","u":"Cel","v":11}}]'.encode())


@pytest.mark.parametrize("word", ["up", "down"])
def test_status_says_which_sensor_is_up_or_down(word: str) -> None:
    assert decode_status("caves/larch-lane/cave-air/status", word.encode()) == (KEY, word)


@pytest.mark.parametrize(
    ("topic", "payload"),
    [
        ("caves/larch-lane/cave-air/status", b""),
        ("caves/larch-lane/cave-air/status", b"UP"),
        ("caves/larch-lane/cave-air/status", b"\xff"),
        ("caves/larch-lane/cave-air/senml", b"up"),
    ],
)
def test_status_that_says_neither_is_refused(topic: str, payload: bytes) -> None:
    with pytest.raises(BadPayloadError, match="status"):
        decode_status(topic, payload)


TEMPERATURES = st.floats(-40.0, 84.999)
HUMIDITIES = st.floats(-0.5, 100.5)
TIMES = st.integers(978_307_200_000_000, NOW_US + 600_000_000)


@st.composite
def histories(draw: st.DrawFn) -> list[Sample]:
    """Readings of one sensor in the order of time, each with at least one quantity."""
    times = sorted(draw(st.sets(TIMES, min_size=1, max_size=8)))
    readings = []
    for time_us in times:
        temperature_c, humidity_pct = draw(
            st.tuples(TEMPERATURES, HUMIDITIES)
            | st.tuples(TEMPERATURES, st.none())
            | st.tuples(st.none(), HUMIDITIES)
        )
        battery_pct = draw(st.none() | st.floats(0.0, 100.0))
        battery_v = draw(st.none() | st.floats(0.0, 60.0))
        readings.append(Sample(KEY, time_us, temperature_c, humidity_pct, battery_pct, battery_v))
    return readings


@given(histories(), st.sampled_from(["", "cave-air", "box-2", "urn:dev:ow:10e2"]))
def test_readings_come_back_from_a_pack_as_they_went_in(samples: list[Sample], device: str) -> None:
    key = KEY if device in {"", "cave-air"} else f"{KEY}/{device}"
    expected = tuple(dataclasses.replace(sample, sensor=key) for sample in samples)

    assert decoded(encode(device, samples)) == Decoded(expected, ())


@pytest.mark.parametrize(
    ("device", "samples", "reason"),
    [
        ("", [], "no reading"),
        ("", [Sample(KEY, NOW_US, None, None)], "nothing to send"),
        ("", [Sample(KEY, NOW_US, float("nan"), None)], "not a finite number"),
        ("", [Sample(KEY, NOW_US, None, float("inf"))], "not a finite number"),
        ("", [Sample(KEY, 0, 11.0, None)], "before 1978-07-04"),
        ('"', [Sample(KEY, NOW_US, 11.0, None)], "not allowed in SenML"),
        ("", [Sample(KEY, NOW_US - t, 11.0, 87.0) for t in range(501)], "too large"),
    ],
)
def test_what_senml_cannot_carry_is_not_encoded(
    device: str, samples: list[Sample], reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        encode(device, samples)
