from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.words import Words, plain, short, span, words_for
from service.ageing.values import Direction, Finding, Quantity, Range
from service.clock import US_PER_S

BERLIN = ZoneInfo("Europe/Berlin")
# 25 October 2026, 00:30 and 01:30 UTC: both read 02:30 in Berlin, for the clocks go back.
FIRST_US, SECOND_US = 1_792_888_200 * US_PER_S, 1_792_891_800 * US_PER_S


def test_a_time_reads_with_its_day_in_the_household_s_zone() -> None:
    moment = Words(BERLIN).moment(1_795_613_520 * US_PER_S)

    assert moment == "Wed 25 Nov 14:32"


def test_the_hour_that_comes_twice_tells_its_offset() -> None:
    told = [Words(BERLIN).moment(each) for each in (FIRST_US, SECOND_US)]

    assert told == ["Sun 25 Oct 02:30 (UTC+2)", "Sun 25 Oct 02:30 (UTC+1)"]


@pytest.mark.parametrize(
    ("celsius", "told"),
    [(10.0, "50.0\xa0°F"), (32.0, "89.6\xa0°F"), (-40.0, "\N{MINUS SIGN}40.0\xa0°F")],
)
def test_fahrenheit_comes_in_at_the_edge(celsius: float, told: str) -> None:
    """By definition of the scale: °F = 1.8 °C + 32, and both meet at minus 40."""
    assert Words(fahrenheit=True).temperature(celsius) == told


def test_a_difference_in_fahrenheit_carries_no_offset() -> None:
    assert Words(fahrenheit=True).amount(Quantity.TEMPERATURE, 2.0) == "3.6\xa0°F"


def test_what_is_not_known_says_so() -> None:
    told = {Words().temperature(None), Words().humidity(float("nan"))}

    assert told == {"not known"}


def test_a_finding_tells_amount_way_and_time() -> None:
    finding = Finding(Quantity.HUMIDITY, Direction.BELOW, 2.0, since_us=0)

    assert Words().finding(finding, 9_600 * US_PER_S) == ("2.0\xa0%RH too dry for 2\xa0h 40\xa0min")


def test_a_finding_with_an_unseen_start_says_at_least() -> None:
    finding = Finding(Quantity.TEMPERATURE, Direction.ABOVE, 0.01, 0, since_is_start=False)

    assert Words().finding(finding, 60 * US_PER_S) == (
        "under 0.1\xa0°C too warm for at least 1\xa0min"
    )


def test_a_range_has_its_unit_and_no_place_to_break() -> None:
    told = Words(fahrenheit=True).range(Quantity.TEMPERATURE, Range(10, 12))

    assert told == "50\N{EN DASH}\u206053.6\xa0°F"


@pytest.mark.parametrize(
    ("seconds", "told"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (3_599, "59 min"),
        (3_600, "1 h"),
        (86_399, "23 h 59 min"),
        (86_400, "1 d"),
        (14 * 86_400 + 7_200, "14 d"),
        (-5, "0 s"),
    ],
)
def test_a_span_has_at_most_two_units(seconds: int, told: str) -> None:
    assert span(seconds * US_PER_S).replace("\xa0", " ") == told


@given(st.text())
def test_a_plain_name_is_one_visible_line(name: str) -> None:
    shown = plain(name)

    assert shown
    assert shown == shown.strip()
    assert all(character.isprintable() for character in shown)
    assert not set(shown) & set("\u202a\u202b\u202d\u202e\u2066\u2067\u200f")


@given(st.text(min_size=0, max_size=400))
def test_a_short_name_does_not_fill_the_page(name: str) -> None:
    assert len(short(name)) <= 80


def test_an_unknown_zone_reads_as_utc() -> None:
    assert words_for("Nowhere/At all", fahrenheit=False).zone == ZoneInfo("UTC")
