"""The newest reading of a space, by which warnings are stepped."""

from pathlib import Path

import pytest

from service.api.context import Context
from service.store import air, places
from tests import builders
from tests.builders import HOUR_US, NOW_US

LAST_US = NOW_US - 40_000_000


@pytest.fixture
def cave(tmp_path: Path) -> Context:
    """A cave whose sensor has reported every five minutes up to shortly before now."""
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, builders.steady(88.0))
    return context


def test_the_newest_reading_is_not_after_the_time_asked_for(cave: Context) -> None:
    with cave.sessions() as session:
        assert air.newest_us(session, 1, NOW_US) == LAST_US
        assert air.newest_us(session, 1, LAST_US - 1) == LAST_US - 5 * 60_000_000


def test_what_a_sensor_reads_elsewhere_is_not_of_the_space(cave: Context) -> None:
    with cave.sessions() as session:
        places.place_sensor(session, 1, None, LAST_US - HOUR_US)

        newest_us = air.newest_us(session, 1, NOW_US)

    assert newest_us is not None
    assert newest_us < LAST_US - HOUR_US


def test_a_space_in_which_no_sensor_stood_has_no_newest_reading(cave: Context) -> None:
    with cave.sessions() as session:
        assert air.newest_us(session, 99, NOW_US) is None
