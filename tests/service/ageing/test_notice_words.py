"""A notice says in its first line all that matters, and never that a cheese may be eaten."""

import pytest

from service.ageing.notices import (
    AirFacts,
    Notice,
    out_of_range,
    returned_to_normal,
    sensor_heard,
    sensor_silent,
    sensor_stuck,
    sensor_tells_again,
    sensor_wet,
)
from service.ageing.values import Direction, Quantity

DRY = AirFacts(
    space="Cave",
    quantity=Quantity.HUMIDITY,
    direction=Direction.BELOW,
    value=82.04,
    limit=85.0,
    since="Tue 14:05",
    wheels=("Tomme 1", "Blue 2"),
)
WARM_FRIDGE = AirFacts(
    space="Kitchen fridge",
    quantity=Quantity.TEMPERATURE,
    direction=Direction.ABOVE,
    value=6.3,
    limit=5.0,
    since="02:10",
    wheels=("Blue 1",),
    kitchen_fridge=True,
)


def facts(quantity: Quantity, direction: Direction) -> AirFacts:
    return AirFacts("Box", quantity, direction, 90.0, 92.0, "10:00", ())


def test_the_first_line_says_what_where_how_much_since_when_which_and_what_to_try() -> None:
    notice = out_of_range(DRY)

    assert notice == Notice(
        "Cave: too dry, 82.0 %RH",
        "Cave is too dry: 82.0 %RH, 3.0 %RH below 85 %RH, since Tue 14:05. "
        "Wheels: Tomme 1, Blue 2. "
        "Try: look at the water tray first and fill it; then see that door and lids close.",
    )


def test_a_distance_in_temperature_is_in_kelvin() -> None:
    assert (
        "6.3 °C, 1.3 °C above 5 °C, since 02:10. Wheel: Blue 1." in out_of_range(WARM_FRIDGE).body
    )


def test_a_start_that_was_not_seen_may_lie_earlier() -> None:
    notice = out_of_range(
        AirFacts("Cave", DRY.quantity, DRY.direction, 80, 85, "Tue", (), since_is_start=False)
    )

    assert "since Tue or earlier. No wheel there is out of range." in notice.body


@pytest.mark.parametrize(
    ("quantity", "direction", "word", "hint"),
    [
        (Quantity.HUMIDITY, Direction.BELOW, "too dry", "water tray"),
        (Quantity.HUMIDITY, Direction.ABOVE, "too damp", "wipe the lid"),
        (Quantity.TEMPERATURE, Direction.BELOW, "too cold", "thermostat"),
        (Quantity.TEMPERATURE, Direction.ABOVE, "too warm", "door is ajar"),
    ],
)
def test_each_side_has_a_thing_to_try(
    quantity: Quantity, direction: Direction, word: str, hint: str
) -> None:
    first_line = out_of_range(facts(quantity, direction)).body.splitlines()[0]

    assert f"Box is {word}" in first_line
    assert hint in first_line.split("Try: ")[1]


def test_a_warm_kitchen_fridge_brings_the_advice_of_food_authorities() -> None:
    caution = out_of_range(WARM_FRIDGE).body.splitlines()[1]

    assert caution.startswith("Food authorities advise a home fridge at or below 4 to 5 °C")


def test_a_warm_cave_brings_no_fridge_advice() -> None:
    notice = out_of_range(facts(Quantity.TEMPERATURE, Direction.ABOVE))

    assert "authorities" not in notice.body


def test_a_cold_kitchen_fridge_brings_no_fridge_advice() -> None:
    cold = AirFacts(
        "Kitchen fridge",
        Quantity.TEMPERATURE,
        Direction.BELOW,
        value=0.2,
        limit=1.0,
        since="02:10",
        wheels=(),
        kitchen_fridge=True,
    )

    assert "authorities" not in out_of_range(cold).body


@pytest.mark.parametrize(
    ("direction", "words"),
    [(Direction.BELOW, "lowest 78.2 %RH"), (Direction.ABOVE, "highest 78.2 %RH")],
)
def test_a_return_tells_how_far_it_went(direction: Direction, words: str) -> None:
    over = AirFacts("Cave", Quantity.HUMIDITY, direction, 86.2, 85.0, "Tue", ("Tomme 1",))

    notice = returned_to_normal(over, extreme=78.2, returned="17:30")

    assert words in notice.body
    assert "86.2 %RH since 17:30" in notice.body
    assert notice.title.startswith("Cave: no longer too d")


def test_a_silent_sensor_names_its_last_reading_and_its_wheels() -> None:
    first_line = sensor_silent("s1", "Cave", "03:00", ["Tomme 1"]).body.splitlines()[0]

    assert "Sensor s1 in Cave is silent: no reading since 03:00. Wheel: Tomme 1." in first_line
    assert "battery" in first_line


def test_a_sensor_that_never_reported_has_no_last_reading() -> None:
    assert "silent: no reading yet." in sensor_silent("s1", "Cave", None, []).body


def test_a_silent_sensor_does_not_speak_of_wheels_out_of_range() -> None:
    assert "out of range" not in sensor_silent("s1", "Cave", None, []).body


def test_a_sensor_that_reports_again_leaves_its_gap() -> None:
    notice = sensor_heard("s1", "Cave", "09:00")

    assert "reports again since 09:00" in notice.body
    assert "gap" in notice.body


@pytest.mark.parametrize(
    "notice",
    [
        out_of_range(DRY),
        out_of_range(WARM_FRIDGE),
        returned_to_normal(WARM_FRIDGE, 7.0, "05:00"),
        sensor_silent("s1", "Cave", None, []),
        sensor_heard("s1", "Cave", "09:00"),
        sensor_stuck("s1", "Cave", {Quantity.HUMIDITY: "91.5 %RH"}, "03:00", []),
        sensor_wet("s1", "Cave", "03:00", []),
        sensor_tells_again("Cave", "09:00"),
    ],
)
def test_no_notice_calls_a_cheese_safe(notice: Notice) -> None:
    assert "safe" not in f"{notice.title} {notice.body}".lower()


def test_a_household_that_reads_fahrenheit_gets_fahrenheit() -> None:
    facts = AirFacts(
        space="Kitchen fridge",
        quantity=Quantity.TEMPERATURE,
        direction=Direction.ABOVE,
        value=10.0,
        limit=5.0,
        since="Wed 25 Nov 14:32",
        wheels=(),
        fahrenheit=True,
    )

    notice = out_of_range(facts)

    # 10 °C is 50 °F and 5 °C is 41 °F by definition of the scale.
    assert notice.title == "Kitchen fridge: too warm, 50.0 °F"
    assert "is too warm: 50.0 °F, 9.0 °F above 41 °F, since" in notice.body
    assert "lowest" not in returned_to_normal(facts, 15.0, "Wed 25 Nov 15:00").body
    assert "highest 59.0 °F" in returned_to_normal(facts, 15.0, "Wed 25 Nov 15:00").body


def test_humidity_reads_the_same_in_fahrenheit() -> None:
    facts = AirFacts(
        space="Cave",
        quantity=Quantity.HUMIDITY,
        direction=Direction.BELOW,
        value=82.0,
        limit=85.0,
        since="Wed 25 Nov 14:32",
        wheels=(),
        fahrenheit=True,
    )

    assert "82.0 %RH, 3.0 %RH below 85 %RH" in out_of_range(facts).body
