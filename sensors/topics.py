"""MQTT topics: where a sensor of ours speaks, and filters for the topics of others."""

PREFIX = "caves"
MAX_KEY = 200
"""Longest key of a sensor, in characters. Our choice: it is read by people."""


def topic_of(site: str, sensor: str) -> str:
    """Where a sensor publishes its SenML packs.

    Raises:
        ValueError: A name is empty or holds a slash, a wildcard or a control character.

    Examples:
        >>> topic_of("larch-lane", "cave-air")
        'caves/larch-lane/cave-air/senml'
    """
    return f"{PREFIX}/{_level(site)}/{_level(sensor)}/senml"


def status_topic_of(site: str, sensor: str) -> str:
    """Where a sensor says, retained, that it is up, and its last will that it is down.

    Raises:
        ValueError: A name is empty or holds a slash, a wildcard or a control character.
    """
    return f"{PREFIX}/{_level(site)}/{_level(sensor)}/status"


def address_of(topic: str, ending: str) -> tuple[str, str] | None:
    """Site and sensor of a topic `caves/{site}/{sensor}/{ending}`, or None for any other."""
    match topic.split("/"):
        case [first, site, sensor, last] if (
            first == PREFIX and last == ending and site and sensor and topic.isprintable()
        ):
            return site, sensor
    return None


def check_filter(topic_filter: str) -> None:
    """Make sure that a topic filter is one.

    Raises:
        ValueError: A wildcard shares its level with other characters, `#` is not the last
            level, or the filter is empty.

    References:
        MQTT Version 5.0, OASIS Standard, 7 March 2019, §4.7.1.
    """
    levels = topic_filter.split("/")
    if not topic_filter:
        raise ValueError("a topic filter is empty; # stands for every topic")
    if "#" in levels[:-1] or any(
        len(level) > 1 and ("#" in level or "+" in level) for level in levels
    ):
        raise ValueError(
            f"in the topic filter {topic_filter!r} + and # must stand alone between slashes,"
            " and # only at the end"
        )


def matches(topic_filter: str, topic: str) -> bool:
    """Whether a topic falls under a filter with `+` and `#`.

    A wildcard at the start does not reach the broker's own topics, which begin with `$`.

    References:
        MQTT Version 5.0, OASIS Standard, 7 March 2019, §4.7.1 and MQTT-4.7.2-1.

    Examples:
        >>> matches("shed/+/climate", "shed/box-2/climate"), matches("#", "$SYS/uptime")
        (True, False)
    """
    wanted, given = topic_filter.split("/"), topic.split("/")
    if given[0].startswith("$") and wanted[0] in {"+", "#"}:
        return False
    if wanted[-1] == "#":
        # "a/#" also matches its parent "a" (§4.7.1.2).
        wanted.pop()
        given = given[: len(wanted)]
    return len(wanted) == len(given) and all(
        level in {"+", here} for level, here in zip(wanted, given, strict=True)
    )


def _level(name: str) -> str:
    if not name or not name.isprintable() or any(sign in name for sign in "/+#"):
        raise ValueError(f"{name!r} cannot be a part of a topic; use letters, digits, - and _")
    return name
