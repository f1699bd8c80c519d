"""The words of warnings and of sweat."""

# ruff: noqa: RUF001 - the reader gets a real dash between two numbers

import re
from dataclasses import replace

import pytest

from service.ageing.ahead_notices import (
    Ahead,
    SweatFacts,
    ahead_sentence,
    early_warning,
    lid_dry,
    lid_sweats,
    warning_of_sweat_over,
    warning_over,
    wheels_dry,
    wheels_sweat,
    wheels_will_sweat,
)
from service.ageing.values import Direction, Quantity
from service.science.band import Band

H = 3_600.0
DRYING = Ahead(Quantity.HUMIDITY, Direction.BELOW, 85.0, 87.26, 9 * H, 6 * H, 14 * H)
WARMING = Ahead(Quantity.TEMPERATURE, Direction.ABOVE, 13.0, 11.5, 3 * H, 2 * H, 7 * H)
WET = SweatFacts("Blue box", ["Blue A1", "Blue A2"], 9.4, 9.8, 1.44, "Tue 24 Nov 08:20", box=True)
NOTICES = [
    early_warning("Cave", DRYING, ["Tomme 1"]),
    early_warning("Cave", WARMING, []),
    warning_over("Cave", Quantity.HUMIDITY, Direction.BELOW, "Tue 24 Nov 08:20"),
    wheels_sweat(WET),
    wheels_will_sweat(replace(WET, in_h=1.6)),
    warning_of_sweat_over("Cave", "Tue 24 Nov 08:20"),
    wheels_dry("Cave", "Tue 24 Nov 08:20"),
    lid_sweats(WET),
    lid_dry("Blue box", "Tue 24 Nov 08:20"),
]


def test_a_warning_tells_what_how_soon_who_and_what_to_try() -> None:
    notice = early_warning("Cave", DRYING, ["Tomme 1"])

    assert notice.title == "Cave: below 85 % in about 9 h (6–14 h), estimate"
    assert notice.body == (
        "Cave is drying. Humidity will be below 85 % in about 9 h (6–14 h), estimate. "
        "Now 87.3 %. Wheel: Tomme 1. "
        "Try: look at the water tray first and fill it; then see that door and lids close."
    )


def test_a_warning_reads_in_fahrenheit_where_the_household_does() -> None:
    """13 °C is 55.4 °F, and 11.5 °C is 52.7 °F, by the definition of the scale."""
    body = early_warning("Cave", replace(WARMING, fahrenheit=True), []).body

    assert "Temperature will be above 55.4 °F in about 3 h (2–7 h), estimate. Now 52.7 °F." in body


def test_humidity_has_no_fahrenheit() -> None:
    assert ahead_sentence(replace(DRYING, fahrenheit=True)) == ahead_sentence(DRYING)


def test_what_is_near_is_about_an_hour_and_never_none() -> None:
    sentence = ahead_sentence(replace(DRYING, expected_s=600.0, low_s=0.0, high_s=1_200.0))

    assert "in about 1 h (0–1 h)" in sentence


def test_sweat_tells_how_much_since_when_and_why() -> None:
    body = wheels_sweat(WET).body

    assert body == (
        "Wheels in Blue box sweat: about 1.4 g/m² of water where it is thickest, since Tue 24 Nov "
        "08:20, estimate. Wheels: Blue A1, Blue A2. Try: pat wet faces dry, wipe the lid, then "
        "open it a finger's width.\n"
        "Their surface has 9.4 °C, the dew point of the air is 9.8 °C. A surface below the dew "
        "point takes up water."
    )


def test_what_is_estimated_of_sweat_stands_with_its_ends() -> None:
    unsure = replace(WET, surface_band_c=Band(9.0, 9.75), film_band_g_m2=Band(0.0, 3.12))

    for notice in (wheels_sweat(unsure), lid_sweats(unsure)):
        assert "about 1.4 g/m² (0.0 to 3.1) of water" in notice.body
        assert "has 9.4 °C (9.0 °C to 9.8 °C)" in notice.body


@pytest.mark.parametrize(
    ("between_h", "said"),
    [((0.75, 4.6), "in about 2 h (1 h to 5 h)"), ((1.2, None), "in about 2 h (1 h to not at all)")],
)
def test_sweat_that_is_to_come_stands_with_its_ends(
    between_h: tuple[float, float | None], said: str
) -> None:
    notice = wheels_will_sweat(replace(WET, in_h=1.6, between_h=between_h))

    assert said in notice.title
    assert said in notice.body


def test_sweat_reads_in_fahrenheit_where_the_household_does() -> None:
    """9.4 °C is 48.9 °F and 9.8 °C is 49.6 °F."""
    body = lid_sweats(replace(WET, fahrenheit=True)).body

    assert "The lid has 48.9 °F, the dew point of the air beneath it is 49.6 °F." in body


def test_a_wheel_without_a_lid_over_it_is_not_told_to_open_one() -> None:
    body = wheels_sweat(replace(WET, box=False)).body

    assert "lid" not in body
    assert "let wheels that come in cold warm up in a closed box or wrapped" in body


@pytest.mark.parametrize("notice", NOTICES, ids=lambda notice: notice.title)
def test_every_estimate_says_so_and_has_one_thing_to_try(notice: object) -> None:
    body = notice.body  # type: ignore[attr-defined]  # a Notice; pytest's ids want object

    assert "estimate" in body
    assert body.count("Try: ") == 1


@pytest.mark.parametrize("notice", NOTICES, ids=lambda notice: notice.title)
def test_nothing_is_said_of_what_may_be_eaten(notice: object) -> None:
    said = f"{notice.title} {notice.body}".lower()  # type: ignore[attr-defined]  # as above

    assert not re.search(r"\b(safe|edible|eat|eaten|spoilt?)\b", said)
