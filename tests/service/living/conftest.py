"""A cave, a box in it and a kitchen fridge, with air that each test writes itself."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from service.api.context import Context
from service.living.climate import climate
from service.living.memory import Memory
from service.living.now import LidNow, SurfaceNow, lids_now, surfaces_now
from service.living.values import WheelClimate
from service.store import set_up, weighings, wheels
from service.store.tables import Site
from tests import builders

Air = Callable[[float], float]


@dataclass
class House:
    """Space 1 is the cave, 2 the box in it, 3 the fridge; the time is `builders.NOW_US`."""

    context: Context
    cave: int
    box: int
    fridge: int

    def air(self, space_id: int, temperature: Air, humidity: Air, hours: float = 72.0) -> int:
        """A sensor with that air, by hours before now; its number."""
        with self.context.sessions() as session:
            return builders.add_sensor(
                session, f"sensor-{space_id}", space_id, temperature, humidity, hours
            )

    def wheel(self, space_id: int, plan: str = "blue", stage: str = "ripening") -> int:
        """A small wheel that was made ten days ago and has been there ever since."""
        sizes = {"blue": (90.0, 70.0, 430.0), "tomme": (190.0, 75.0, 1950.0)}
        with self.context.sessions() as session:
            name = f"{plan} in {space_id}"
            found = builders.add_batch(session, 1, name, plan, 10, [sizes[plan]], space_id, stage)
        return found[0]

    def move(self, wheel_id: int, space_id: int, hours_ago: float) -> None:
        with self.context.sessions() as session:
            at_us = builders.NOW_US - round(hours_ago * builders.HOUR_US)
            wheels.place_wheel(session, wheel_id, space_id, at_us)

    def begin(self, wheel_id: int, stage: str, hours_ago: float) -> None:
        with self.context.sessions() as session:
            at_us = builders.NOW_US - round(hours_ago * builders.HOUR_US)
            wheels.begin_stage(session, wheel_id, stage, at_us)

    def weigh(self, wheel_id: int, grams: float, hours_ago: float) -> int:
        with self.context.sessions() as session:
            at_us = builders.NOW_US - round(hours_ago * builders.HOUR_US)
            made = weighings.enter(session, wheel_id, at_us, grams)
            assert made.id is not None
            return made.id

    def climate(
        self, wheel_id: int, memory: Memory | None = None, hours_later: float = 0.0
    ) -> WheelClimate:
        now_us = builders.NOW_US + round(hours_later * builders.HOUR_US)
        with self.context.sessions() as session:
            return climate(session, self.context.plans, wheel_id, now_us, memory or Memory())

    def surfaces(self) -> tuple[SurfaceNow, ...]:
        with self.context.sessions() as session:
            return surfaces_now(session, self.context.plans, builders.NOW_US)

    def lids(self) -> tuple[LidNow, ...]:
        with self.context.sessions() as session:
            return lids_now(session, builders.NOW_US)


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A house without sensors and wheels."""
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        box = builders.add_space(session, site.id, "box", "Blue box", "box", cave)
        fridge = builders.add_space(session, site.id, "fridge", "Fridge", "kitchen_fridge")
    return House(context, cave, box, fridge)
