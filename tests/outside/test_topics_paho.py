"""Topic filters against MQTT 5.0 and against paho-mqtt 2.2's own matcher.

Source: MQTT Version 5.0, OASIS Standard, 7 March 2019, §4.7.1 and §4.7.2. The examples below
are of that kind and were written from memory of the section; the reference library checks
every one of them and many more.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from sensors.topics import check_filter, matches

EXAMPLES = [
    ("sport/tennis/#", "sport/tennis", True),
    ("sport/tennis/#", "sport/tennis/player1/ranking", True),
    ("sport/#", "sport", True),
    ("#", "sport", True),
    ("sport/tennis/+", "sport/tennis/player1", True),
    ("sport/tennis/+", "sport/tennis/player1/ranking", False),
    ("sport/+", "sport", False),
    ("sport/+", "sport/", True),
    ("+/+", "/finance", True),
    ("/+", "/finance", True),
    ("+", "/finance", False),
    ("#", "$SYS/monitor", False),
    ("+/monitor", "$SYS/monitor", False),
    ("$SYS/#", "$SYS/monitor", True),
]

LEVELS = st.sampled_from(["", "a", "b", "$a"])
TOPICS = st.lists(LEVELS, min_size=1, max_size=4).map("/".join).filter(bool)
FILTERS = st.builds(
    lambda levels, end: "/".join([*levels, *end]),
    st.lists(LEVELS | st.just("+"), max_size=4),
    st.sampled_from([["#"], ["a"], ["+"]]),
)


@pytest.mark.parametrize(("topic_filter", "topic", "expected"), EXAMPLES)
def test_filter_matches_as_the_standard_says(topic_filter: str, topic: str, expected: bool) -> None:  # noqa: FBT001 (a parameter of the table)
    assert matches(topic_filter, topic) is expected
    assert topic_matches_sub(topic_filter, topic) is expected


@given(FILTERS, TOPICS)
def test_filter_matches_as_the_reference_library_does(topic_filter: str, topic: str) -> None:
    check_filter(topic_filter)

    assert matches(topic_filter, topic) is topic_matches_sub(topic_filter, topic)
