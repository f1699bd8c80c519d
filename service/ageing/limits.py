"""Limits of a space: the tightest target among its wheels, and who sets it.

One alarm serves a space, so the wheels in it must share their limits. Where two wheels ask for
what cannot both be had, that is a finding on the plan and no reason for an alarm.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, overload

import numpy as np
import numpy.typing as npt

from service.ageing.values import Direction, Quantity, Range, Target

HAIR: Final = 1e-6
"""Below this distance a value is on its limit. [K or %RH] Our choice: ten thousand times finer
than a sensor's last digit, but wider than the rounding of a mean that creeps up to a limit."""


@overload
def past_limit(value: float, limit: float, direction: Direction) -> float: ...
@overload
def past_limit(
    value: npt.NDArray[np.float64],
    limit: float | npt.NDArray[np.float64],
    direction: Direction,
) -> npt.NDArray[np.float64]: ...
def past_limit(
    value: float | npt.NDArray[np.float64],
    limit: float | npt.NDArray[np.float64],
    direction: Direction,
) -> float | npt.NDArray[np.float64]:
    """How far a value lies beyond a limit on that side; zero or less when it does not.

    Examples:
        >>> past_limit(84.0, 85.0, Direction.BELOW)
        1.0
    """
    return limit - value if direction is Direction.BELOW else value - limit


@dataclass(frozen=True, slots=True)
class QuantityTarget:
    """What the wheels of a space ask of one quantity.

    Attributes:
        limits: Where an alarm begins; None when no wheel asks anything. With a common range
            they are that range. Without one they reach from the lowest low end to the
            highest high end: there an alarm still comes when every wheel is out of range on
            that side, and the conflict tells of the rest.
        common: What suits every wheel; None when nothing does, or no wheel asks.
        low_set_by: The wheels that set the low limit.
        high_set_by: The wheels that set the high limit.
        conflict: The wheels of which each has another with which it shares no range.
    """

    limits: Range | None = None
    common: Range | None = None
    low_set_by: tuple[int, ...] = ()
    high_set_by: tuple[int, ...] = ()
    conflict: tuple[int, ...] = ()

    def limit(self, direction: Direction) -> float | None:
        """The limit on that side; None when no wheel asks anything."""
        if self.limits is None:
            return None
        return self.limits.low if direction is Direction.BELOW else self.limits.high

    def set_by(self, direction: Direction) -> tuple[int, ...]:
        """The wheels that set the limit on that side."""
        return self.low_set_by if direction is Direction.BELOW else self.high_set_by


@dataclass(frozen=True, slots=True)
class SpaceTarget:
    """What the wheels of a space ask of its air."""

    temperature_c: QuantityTarget = QuantityTarget()
    humidity_pct: QuantityTarget = QuantityTarget()

    def of(self, quantity: Quantity) -> QuantityTarget:
        """What they ask of one quantity."""
        return self.temperature_c if quantity is Quantity.TEMPERATURE else self.humidity_pct


def tightest(targets: Iterable[tuple[int, Target]]) -> SpaceTarget:
    """The tightest target among the wheels of a space.

    Args:
        targets: Each wheel's number, and what its stage asks.

    Returns:
        Limits per quantity, the wheels that set them, and the wheels that cannot agree.
    """
    wheels = tuple(targets)
    return SpaceTarget(
        temperature_c=_tightest(wheels, Quantity.TEMPERATURE),
        humidity_pct=_tightest(wheels, Quantity.HUMIDITY),
    )


def wheels_outside(
    targets: Iterable[tuple[int, Target]], quantity: Quantity, value: float, direction: Direction
) -> tuple[int, ...]:
    """The wheels that such air leaves outside their own range: those an alarm names."""
    return tuple(
        wheel
        for wheel, target in targets
        if (asked := target.of(quantity)) is not None and asked.beyond(value, direction) > HAIR
    )


def _tightest(wheels: Sequence[tuple[int, Target]], quantity: Quantity) -> QuantityTarget:
    asked = [(w, r) for w, target in wheels if (r := target.of(quantity)) is not None]
    if not asked:
        return QuantityTarget()
    highest_low = max(r.low for _, r in asked)
    lowest_high = min(r.high for _, r in asked)
    if highest_low <= lowest_high:
        common = limits = Range(highest_low, lowest_high)
        conflict: tuple[int, ...] = ()
    else:
        common = None
        limits = Range(min(r.low for _, r in asked), max(r.high for _, r in asked))
        conflict = tuple(w for w, r in asked if r.low > lowest_high or r.high < highest_low)
    return QuantityTarget(
        limits=limits,
        common=common,
        low_set_by=tuple(w for w, r in asked if r.low == limits.low),
        high_set_by=tuple(w for w, r in asked if r.high == limits.high),
        conflict=conflict,
    )
