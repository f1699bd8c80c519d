"""What the API answers of what is ahead of wheels. All days and ages are estimates."""

from datetime import date
from typing import Self

from pydantic import Field

from service.ageing.mending import Spell
from service.ageing.moving import Moving, Reach
from service.ageing.values import Quantity
from service.ageing.work import Firmness
from service.api.shapes import Answer, RangeAnswer
from service.planning.fitting import Together
from service.planning.recent import Recent
from service.planning.values import PlanAhead


class WindowAnswer(Answer):
    """Days of the household's calendar between which something is expected."""

    earliest: date
    expected: date
    latest: date


class StandAnswer(Answer):
    """How far a wheel is on a day, in days at its plan's reference temperature."""

    low_days: float
    days: float
    high_days: float
    at_least: Firmness | None
    firmness: Firmness | None
    at_most: Firmness | None


class MovingAnswer(Answer):
    """When to wrap, move and eat a wheel."""

    firmness: Firmness
    wanted_days: float = Field(description="Equivalent age at which it is expected to be so.")
    day: date | None
    reach: Reach = Field(description="Whether it can be so on that day.")
    wrap: WindowAnswer | None
    move: WindowAnswer | None
    before_gate: bool = Field(description="Whether it would be moved before its gate is due.")
    eat_from: WindowAnswer
    eat_until: WindowAnswer
    now: StandAnswer
    on_day: StandAnswer | None


class WarmerAnswer(Answer):
    """The same with a warmer cave, and how many days each then comes later."""

    kelvin: float
    wrap_later_days: int | None
    move_later_days: int | None
    eat_later_days: int
    until_later_days: int
    wrap_later_between: tuple[int, int] | None
    move_later_between: tuple[int, int] | None
    eat_later_between: tuple[int, int]
    until_later_between: tuple[int, int]
    moving: MovingAnswer


class PlaceAnswer(Answer):
    """How warm a place was of late, as it is taken to go on."""

    mean_c: float
    spread_k: float
    days_of_readings: int = Field(description="0 where nobody measured and the plan stands in.")

    @classmethod
    def of(cls, found: Recent) -> Self:
        """The answer that tells of a place."""
        return cls(
            mean_c=round(found.air.mean_c, 3),
            spread_k=round(found.air.spread_k, 3),
            days_of_readings=found.days,
        )


class PlanAheadAnswer(Answer):
    """What is ahead of a wheel; nulls where nothing can be planned, with the reason in notes."""

    wheel_id: int
    choices: tuple[Firmness, ...]
    in_kitchen: bool
    place: PlaceAnswer | None
    kitchen_fridge: PlaceAnswer | None
    kitchen_fridge_space_id: int | None = Field(
        description="The fridge in which it is or for which it is planned; null without one."
    )
    plan: MovingAnswer | None
    warmer: WarmerAnswer | None
    notes: tuple[str, ...]

    @classmethod
    def of(cls, found: PlanAhead) -> Self:
        """The answer that tells what is ahead."""
        return cls(
            wheel_id=found.wheel_id,
            choices=found.choices,
            in_kitchen=found.in_kitchen,
            place=PlaceAnswer.of(found.cave) if found.cave else None,
            kitchen_fridge=PlaceAnswer.of(found.fridge) if found.fridge else None,
            kitchen_fridge_space_id=found.kitchen_id,
            plan=_moving(found.moving),
            warmer=WarmerAnswer.model_validate(found.warmer) if found.warmer else None,
            notes=found.notes,
        )


class WishAnswer(Answer):
    """What the maker wants of a wheel."""

    wheel_id: int
    firmness: Firmness | None
    day: date | None


class MoveAnswer(Answer):
    """Wheels into another place."""

    wheel_ids: tuple[int, ...] = Field(validation_alias="wheels")
    to_space_id: int | None = Field(
        validation_alias="to", description="Null for a box of their own where they are."
    )
    boxed: bool = Field(description="Whether into a box of their own there.")
    unknown: tuple[Quantity, ...] = Field(
        description="What they ask of the air there and nobody knows."
    )


class MendAnswer(Answer):
    """One move, or two together, after which the wheels of a space fit, or more of them."""

    moves: tuple[MoveAnswer, ...]
    left: tuple[int, ...] = Field(description="Who is outside still; nobody where it mends it.")


class SpellAnswer(Answer):
    """Whether the wheels of a space fit together from one day up to but without another."""

    from_: date = Field(serialization_alias="from")
    to: date
    wheel_ids: tuple[int, ...]
    temperature_c: RangeAnswer | None
    humidity_pct: RangeAnswer | None
    clash: tuple[Quantity, ...]
    outside: tuple[int, ...]
    mends: tuple[MendAnswer, ...]

    @classmethod
    def of(cls, spell: Spell) -> Self:
        """The answer that tells of a spell."""
        fit = spell.fit
        return cls(
            from_=spell.from_day,
            to=spell.to_day,
            wheel_ids=spell.wheels,
            temperature_c=fit.temperature_c and RangeAnswer.model_validate(fit.temperature_c),
            humidity_pct=fit.humidity_pct and RangeAnswer.model_validate(fit.humidity_pct),
            clash=fit.clash,
            outside=fit.outside,
            mends=tuple(MendAnswer.model_validate(each) for each in spell.mends),
        )


class TogetherAnswer(Answer):
    """Which wheels fit together in a space, now and through the stages to come."""

    space_id: int
    spells: tuple[SpellAnswer, ...]

    @classmethod
    def of(cls, found: Together) -> Self:
        """The answer that tells who fits together."""
        return cls(
            space_id=found.space_id, spells=tuple(SpellAnswer.of(each) for each in found.spells)
        )


class RoomAnswer(Answer):
    """How much of a space is free for wheels; null where that is not known."""

    space_id: int
    room_cm2: float | None


def _moving(found: Moving | None) -> MovingAnswer | None:
    return None if found is None else MovingAnswer.model_validate(found)
