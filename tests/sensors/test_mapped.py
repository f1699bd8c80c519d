"""Other people's JSON, read by pointers from the settings."""

import pytest

from sensors.errors import BadPayloadError
from sensors.payloads import Mapping, Sample, decode

NOW_US = 1_795_608_000_000_000
SHED = Mapping("shed/+/climate", temperature="/air/t", humidity="/air/rh")


def only(mapping: Mapping, payload: bytes, topic: str = "shed/box-2/climate") -> Sample:
    result = decode(topic, payload, NOW_US, [mapping])
    assert result.refused == ()
    (sample,) = result.samples
    return sample


def test_topic_names_the_sensor_and_arrival_the_time() -> None:
    assert only(SHED, b'{"air":{"t":11.5,"rh":87}}') == Sample(
        "shed/box-2/climate", NOW_US, 11.5, 87.0, timed_by_sensor=False
    )


def test_mapping_may_name_the_sensor() -> None:
    mapping = Mapping("shed/#", sensor="blue-box", temperature="/0")

    assert only(mapping, b"[11.5]").sensor == "blue-box"


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [("32", 0.0), ("50", 10.0), ("-40", -40.0), ("98.6", 37.0)]
)
def test_fahrenheit_becomes_celsius(fahrenheit: str, celsius: float) -> None:
    """Fixed points of the definition t/°F = 9/5 t/°C + 32 (NIST SP 811, 2008, B.8)."""
    mapping = Mapping("#", temperature="", temperature_unit="F")

    # Three roundings of doubles near 100 stay far below 1e-12.
    assert only(mapping, fahrenheit.encode()).temperature_c == pytest.approx(celsius, abs=1e-12)


@pytest.mark.parametrize(
    ("unit", "text", "time_us"),
    [
        ("iso8601", '"2026-11-25T11:59:59.25Z"', NOW_US - 750_000),
        ("iso8601", '"2026-11-25T12:59:00+01:00"', NOW_US - 60_000_000),
        ("s", "1795607999.999999", NOW_US - 1),
        ("s", "1795607999", NOW_US - 1_000_000),
        ("ms", "1795607999999", NOW_US - 1_000),
        ("ms", "1795607999999.5", NOW_US - 500),
    ],
)
def test_time_is_read_exactly_in_each_unit(unit: str, text: str, time_us: int) -> None:
    mapping = Mapping("#", temperature="/t", time="/at", time_unit=unit)  # type: ignore[arg-type]  # a parameter of the table
    sample = only(mapping, f'{{"t":11,"at":{text}}}'.encode())

    assert (sample.time_us, sample.timed_by_sensor) == (time_us, True)


@pytest.mark.parametrize(("unit", "pct", "volts"), [("%", 3.1, None), ("V", None, 3.1)])
def test_battery_is_read_in_its_unit(unit: str, pct: float | None, volts: float | None) -> None:
    mapping = Mapping("#", temperature="/t", battery="/b", battery_unit=unit)  # type: ignore[arg-type]  # a parameter of the table
    sample = only(mapping, b'{"t":11,"b":3.1}')

    assert (sample.battery_pct, sample.battery_v) == (pct, volts)


def test_first_mapping_that_matches_holds() -> None:
    other = Mapping("#", sensor="other", temperature="/air/t")
    result = decode("shed/box-2/climate", b'{"air":{"t":11,"rh":87}}', NOW_US, [SHED, other])

    assert [sample.sensor for sample in result.samples] == ["shed/box-2/climate"]


def test_our_own_topic_is_senml_whatever_the_mappings_say() -> None:
    greedy = Mapping("#", temperature="/0/v")
    pack = b'[{"n":"temperature","u":"Cel","v":11}]'

    assert decode("caves/a/b/senml", pack, NOW_US, [greedy]).samples[0].sensor == "a/b"


def test_impossible_value_is_refused_with_the_sensor_named() -> None:
    result = decode("shed/box-2/climate", b'{"air":{"t":-127,"rh":87}}', NOW_US, [SHED])

    assert result.samples == ()
    assert result.refused[0].startswith("shed/box-2/climate at 2026-11-25T12:00:00Z: temperature")


@pytest.mark.parametrize("payload", [b'{"t":11}', b'{"t":11,"b":null}'])
def test_a_message_without_the_battery_gives_its_reading(payload: bytes) -> None:
    sample = only(Mapping("#", temperature="/t", battery="/b"), payload)

    assert (sample.temperature_c, sample.battery_pct) == (11.0, None)


@pytest.mark.parametrize("battery", [b'"low"', b"true", b"1e999"])
def test_a_battery_that_is_no_number_is_told_and_costs_no_reading(battery: bytes) -> None:
    mapping = Mapping("#", temperature="/t", battery="/b")
    result = decode("shed/box-2/climate", b'{"t":11,"b":' + battery + b"}", NOW_US, [mapping])

    assert [sample.temperature_c for sample in result.samples] == [11.0]
    assert len(result.refused) == 1


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b'{"air":{"t":11}}', "nothing at '/air/rh'"),
        (b'{"air":{"t":"11","rh":87}}', "temperature at '/air/t' is not a number"),
        (b'{"air":{"t":null,"rh":87}}', "temperature at '/air/t' is not a number"),
        (b'{"air":{"t":true,"rh":87}}', "temperature at '/air/t' is not a number"),
        (b'{"air":{"t":11,"rh":1e400}}', "too large"),
        (b'{"air":{"t":11,"rh":NaN}}', "a value is NaN"),
        (b"11.5", "nothing at '/air/t'"),
    ],
)
def test_value_that_is_not_where_or_what_it_should_be_is_refused(
    payload: bytes, reason: str
) -> None:
    with pytest.raises(BadPayloadError, match=reason):
        decode("shed/box-2/climate", payload, NOW_US, [SHED])


@pytest.mark.parametrize(
    ("unit", "text", "reason"),
    [
        ("iso8601", '"2026-11-25T12:00:00"', "no UTC offset"),
        ("iso8601", '"yesterday"', "cannot be read"),
        ("iso8601", "1795608000", "not text"),
        ("iso8601", '"0001-01-01T00:00:00+23:59"', "beyond the years 1653 to 2286"),
        ("s", '"1795608000"', "not a number"),
        ("s", "true", "not a number"),
        ("s", "1e999999", "beyond the years 1653 to 2286"),
        ("ms", "1e9999999", "beyond the years 1653 to 2286"),
    ],
)
def test_time_that_names_no_instant_is_refused(unit: str, text: str, reason: str) -> None:
    mapping = Mapping("#", temperature="/t", time="/at", time_unit=unit)  # type: ignore[arg-type]  # a parameter of the table

    with pytest.raises(BadPayloadError, match=reason):
        decode("shed", f'{{"t":11,"at":{text}}}'.encode(), NOW_US, [mapping])


@pytest.mark.parametrize(
    ("settings", "reason"),
    [
        ({"topic_filter": "a/#/b", "temperature": ""}, "topic filter"),
        ({"topic_filter": "#"}, "needs a pointer"),
        ({"topic_filter": "#", "temperature": "t"}, "does not start with a slash"),
        ({"topic_filter": "#", "temperature": "", "temperature_unit": "K"}, "'K' is not one of"),
        ({"topic_filter": "#", "temperature": "", "time_unit": "min"}, "'min' is not one of"),
        ({"topic_filter": "#", "temperature": "", "sensor": ""}, "1 to 200"),
    ],
)
def test_mapping_that_cannot_work_is_refused_when_it_is_made(
    settings: dict[str, str], reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        Mapping(**settings)  # type: ignore[arg-type]  # wrong on purpose


def test_topic_too_long_for_a_key_is_refused() -> None:
    topic = f"shed/{'a' * 300}/climate"

    with pytest.raises(BadPayloadError, match="cannot name a sensor"):
        decode(topic, b'{"air":{"t":11,"rh":87}}', NOW_US, [SHED])
