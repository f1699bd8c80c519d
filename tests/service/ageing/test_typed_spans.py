"""Lengths of time as typed: what reads, what is refused with help, and the way back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ageing.spans import span_s, span_words
from service.errors import OutOfRangeError

WEEK_S = 7 * 24 * 3_600


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("13:19", 799),
        ("13 min 19 s", 799),
        ("13min19s", 799),
        ("13 MIN 19 Sec", 799),
        (" 13 minutes, 19 seconds ", 799),
        ("90 min", 5_400),
        ("90:00", 5_400),
        ("1:30:00", 5_400),
        ("1 h 30 min", 5_400),
        ("1.5 h", 5_400),
        ("1,5 hours", 5_400),
        ("45 s", 45),
        ("13\N{NO-BREAK SPACE}min 19\N{NO-BREAK SPACE}s", 799),
    ],
)
def test_a_length_of_time_reads_however_it_is_typed(typed: str, seconds: float) -> None:
    assert span_s(typed) == seconds


@pytest.mark.parametrize(
    ("typed", "help_"),
    [
        ("13", "could be minutes or seconds"),
        ("13 min 19", "could be minutes or seconds"),
        ("13:75", "60 or more after a colon"),
        ("1:75:00", "60 or more after a colon"),
        ("soon", "13:19"),
        ("", "13:19"),
        ("-5 min", "13:19"),
        ("13.19.5", "13:19"),
        ("0:00", "more than nothing"),
        ("9 days", "no unit known"),
        ("200 h", "up to 7 days"),
        ("19 s 13 min", "order"),
        ("5 min 5 min", "order"),
    ],
)
def test_what_is_no_length_of_time_is_refused_with_help(typed: str, help_: str) -> None:
    with pytest.raises(OutOfRangeError, match=help_):
        span_s(typed)


@given(st.integers(1, WEEK_S))
def test_the_words_of_a_length_read_back_as_that_length(seconds: int) -> None:
    assert span_s(span_words(seconds)) == seconds


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_is_refused(typed: str) -> None:
    try:
        seconds = span_s(typed)
    except OutOfRangeError:
        return

    assert 0 < seconds <= WEEK_S
