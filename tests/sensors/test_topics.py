"""Topics of our own, and filters that are none. Matching is checked in tests/outside."""

import pytest

from sensors.topics import address_of, check_filter, status_topic_of, topic_of


def test_topic_gives_back_the_names_it_was_made_of() -> None:
    assert address_of(topic_of("larch-lane", "cave-air"), "senml") == ("larch-lane", "cave-air")
    assert address_of(status_topic_of("larch-lane", "box"), "status") == ("larch-lane", "box")


@pytest.mark.parametrize(
    "topic",
    [
        "caves/larch-lane/cave-air/status",
        "caves/larch-lane/senml",
        "caves/larch-lane/cave-air/more/senml",
        "caves//cave-air/senml",
        "caves/larch-lane//senml",
        "/caves/larch-lane/cave-air/senml",
        "Caves/larch-lane/cave-air/senml",
        "caves/larch\nlane/cave-air/senml",
        "",
    ],
)
def test_other_topics_have_no_address(topic: str) -> None:
    assert address_of(topic, "senml") is None


@pytest.mark.parametrize("name", ["", "a/b", "a+", "#", "a\nb"])
def test_name_that_would_break_the_topic_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="cannot be a part of a topic"):
        topic_of("larch-lane", name)


@pytest.mark.parametrize("topic_filter", ["", "a/#/b", "a#", "a/b+", "+a/b", "##", "#/a"])
def test_filter_against_the_rules_is_refused(topic_filter: str) -> None:
    with pytest.raises(ValueError, match="topic filter"):
        check_filter(topic_filter)
