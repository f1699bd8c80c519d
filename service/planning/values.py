"""What the planner tells of a wheel and of the kitchen fridge: plain values, all estimates."""

from dataclasses import dataclass
from datetime import date

from service.ageing.coming import StageAhead
from service.ageing.kitchen import KitchenDay, KitchenStay, kitchen_on
from service.ageing.moving import Moving, Warmer
from service.ageing.plans import Plan
from service.ageing.work import Firmness
from service.planning.recent import Recent
from service.planning.ripened import Ripened
from service.store.tables import Space


@dataclass(frozen=True, slots=True)
class Wish:
    """How soft a wheel is wanted, and for which day; None where the maker has not said."""

    firmness: Firmness | None = None
    day: date | None = None


@dataclass(frozen=True, slots=True)
class PlanAhead:
    """What is ahead of one wheel.

    Attributes:
        wheel_id: Its number.
        label: Its label.
        batch_id: The number of its batch.
        batch: The name of its batch.
        plan: Its plan; None when that is not here.
        diameter_mm: Its diameter. [mm]
        space_id: Where it is; None when it is nowhere.
        wish: What the maker wants of it.
        choices: The firmnesses that its plan tells of, in the order in which it comes to them.
        ahead: The stages ahead of it, the one that it lives first.
        ripened: How far it has ripened; None when nothing can be planned.
        moving: When to wrap, move and eat it; None when nothing can be planned.
        warmer: The same with a warmer cave; None when it is in no cave.
        cave: How warm it is where it is.
        fridge: How warm its kitchen fridge is.
        kitchen_id: The number of the kitchen fridge in which it is, or for which it is planned;
            None when none is entered, or nothing can be planned.
        kitchen: The name of that fridge.
        kitchens: How many kitchen fridges there are.
        in_kitchen: Whether it is in a kitchen fridge.
        notes: What the reader should know, as sentences without their full stop.
    """

    wheel_id: int
    label: str
    batch_id: int
    batch: str
    plan: Plan | None
    diameter_mm: float
    space_id: int | None
    wish: Wish
    choices: tuple[Firmness, ...]
    ahead: tuple[StageAhead, ...]
    ripened: Ripened | None
    moving: Moving | None
    warmer: Warmer | None
    cave: Recent | None
    fridge: Recent | None
    kitchen_id: int | None
    kitchen: str | None
    kitchens: int
    in_kitchen: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KitchenAhead:
    """A kitchen fridge and the wheels that are to be in it.

    Attributes:
        space: The fridge.
        stays: Who is to be in it, from when until when.
        too_full: The first day without room for all; None when there is none.
    """

    space: Space
    stays: tuple[KitchenStay, ...]
    too_full: KitchenDay | None

    def on(self, day: date) -> KitchenDay:
        """The kitchen fridge on a day."""
        return kitchen_on(self.stays, self.space.room_cm2, day)
