"""Which kitchen fridge a wheel is planned for, where a household has more than one."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from service.ageing.courses import PlaceAir
from service.ageing.kitchen import Fridge, best_fridge, footprint_cm2
from service.ageing.plans import Plan
from service.planning.recent import Recent, as_asked
from service.store import places, wheels
from service.store.database import Session
from service.store.tables import Space, SpaceKind

_USUAL_FRIDGE_C: Final = 4.0
_USUAL_FRIDGE: Final = Recent(PlaceAir(_USUAL_FRIDGE_C, 2.0), 0, None)
"""Our choice, for a kitchen fridge of which neither a sensor nor the plan tells anything."""


@dataclass(frozen=True, slots=True)
class Kept:
    """The kitchen fridge for which a wheel is planned.

    Attributes:
        space: The fridge; None when none is entered.
        warm: How warm it is of late, or as the plan asks where nobody measures.
    """

    space: Space | None
    warm: Recent


def kitchens(spaces: Iterable[Space]) -> tuple[Space, ...]:
    """The kitchen fridges among spaces, in their order."""
    return tuple(each for each in spaces if each.kind == SpaceKind.KITCHEN_FRIDGE)


def around(spaces: Sequence[Space]) -> dict[int, Space]:
    """For each space that is a kitchen fridge, or a box that stands in one, that fridge."""
    own = {each.id: each for each in kitchens(spaces)}
    return {
        each.id: own[outer]
        for each in spaces
        if each.id is not None and (outer := each.id if each.id in own else each.parent_id) in own
    }


class Fridges:
    """The kitchen fridges of a household, in the order in which they were entered.

    Args:
        session: The store.
        now_us: Now. [µs UTC]
        warm: How warm a space is of late; None when nobody measures.
    """

    def __init__(self, session: Session, now_us: int, warm: Callable[[int], Recent | None]) -> None:
        self._warm = warm
        rows = places.spaces(session)
        self.spaces: Final = kitchens(rows)
        self._around = around(rows)
        self._taken = self._taken_now(session, now_us) if len(self.spaces) > 1 else {}

    def around(self, space_id: int) -> Space | None:
        """The kitchen fridge that a place is, or in which the box stands; None when it is none."""
        return self._around.get(space_id)

    def planned(self, plan: Plan, diameter_mm: float, space_id: int) -> Kept:
        """The fridge in which a wheel is, else the one that suits its plan best."""
        stage = plan.kitchen_stage
        asked = stage.target.temperature_c if stage else None
        unmeasured = as_asked(asked, _USUAL_FRIDGE_C) if asked else _USUAL_FRIDGE
        space = self.around(space_id)
        if space is None and self.spaces:
            told = [self._told(each) for each in self.spaces]
            space = self.spaces[told.index(best_fridge(told, asked, footprint_cm2(diameter_mm)))]
        measured = self._warm(space.id) if space is not None and space.id is not None else None
        return Kept(space, measured or unmeasured)

    def _told(self, space: Space) -> Fridge:
        assert space.id is not None  # it comes from the store
        warm = self._warm(space.id)
        return Fridge(
            space.id, warm.air.mean_c if warm else None, space.room_cm2, self._taken.get(space.id)
        )

    def _taken_now(self, session: Session, now_us: int) -> dict[int, float]:
        """What the wheels take that are in each of them today. [cm²]"""
        footprints = {
            wheel.id: footprint_cm2(wheel.diameter_mm)
            for wheel, _ in wheels.wheels(session)
            if wheel.ended_us is None
        }
        taken: dict[int, float] = {}
        for inside, fridge in self._around.items():
            assert fridge.id is not None  # it comes from the store
            for stay in wheels.placements_in(session, inside, now_us, now_us + 1):
                taken[fridge.id] = taken.get(fridge.id, 0.0) + footprints.get(stay.wheel_id, 0.0)
        return taken
