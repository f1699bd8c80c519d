"""A stuck sensor sees no door, so its time is not one in which the door stayed shut."""

from pathlib import Path

import numpy as np
import pytest

from service.living.memory import Memory
from service.recalling.doors import Doors
from service.store import places, set_up
from service.store.tables import Site
from tests import builders

NOW_US, HOUR_US = builders.NOW_US, builders.HOUR_US


def test_hours_of_a_stuck_sensor_are_not_hours_of_a_shut_door(tmp_path: Path) -> None:
    noise = np.random.default_rng(6).normal(0.0, 0.3, (2, 2_000))
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_sensor(
            session,
            "cave-air",
            cave,
            lambda ago: 11.0 if 20 <= ago < 40 else 10.0 + float(noise[0, round(ago * 12)]),
            lambda ago: 88.0 + float(noise[1, round(ago * 12)]),
        )
        spaces = {space.id: space for space in places.spaces(session) if space.id is not None}
        doors = Doors(session, Memory(), spaces, "", NOW_US)
        seen = doors.seen(cave, NOW_US - 60 * HOUR_US, NOW_US)

    _, watched_s = seen.watched.between(NOW_US - 60 * HOUR_US, NOW_US)
    # Of sixty hours twenty are not known; the grid of half an hour blurs the ends.
    assert watched_s / 3_600 == pytest.approx(40.0, abs=0.6)
