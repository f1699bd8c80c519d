"""Where the air of a space is going: which limit it will reach, and in how many hours."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from service.ageing.ahead_notices import Ahead
from service.ageing.limits import SpaceTarget
from service.ageing.notices import KITCHEN_FRIDGE_LIMIT_C
from service.ageing.values import Direction, Quantity
from service.behaving.calm import CalmAir
from service.clock import DAY_US, HOUR_US
from service.science import forecast
from service.science.forecast import Forecast
from service.science.signals import FloatArray, IntArray

PAST_US: Final = 14 * DAY_US
"""How much de-cycled air a forecast looks at. [µs]"""
AHEAD_S: Final = 86_400.0
"""The farthest crossing that is told. [s] Our choice: a day is time enough to act, and what a
cave does after the next night is not known."""
_LEAST_PAST_US: Final = 72 * HOUR_US
"""With less air than this behind it nothing is foretold. [µs] Our choice: the warmth of an
afternoon looks like a trend to whoever has not seen some afternoons before."""
_LATE_STEPS: Final = 6
_MOVED_US: Final = 6 * HOUR_US
_LEAST_MOVE: Final = {Quantity.TEMPERATURE: 0.1, Quantity.HUMIDITY: 0.3}
"""Less than this towards a limit in six hours is not told. [K, %RH] Our choice: a good sensor's
last digits; at that pace a limit within a day's reach is so near that its alarm serves."""

Limits = Mapping[tuple[Quantity, Direction], float]


@dataclass(frozen=True, slots=True)
class Outlook:
    """A limit that will be reached if things go on as they do: an estimate.

    Attributes:
        quantity: What moves.
        direction: On which side the limit lies.
        limit: The limit. [°C or %RH]
        level: The newest de-cycled value. [°C or %RH]
        at_us: When it was foretold. [µs UTC]
        forecast: How long it will take.
    """

    quantity: Quantity
    direction: Direction
    limit: float
    level: float
    at_us: int
    forecast: Forecast

    def ahead(self, *, fahrenheit: bool) -> Ahead:
        """It as its words want it, for a maker who reads that scale."""
        return Ahead(
            quantity=self.quantity,
            direction=self.direction,
            limit=self.limit,
            level=self.level,
            expected_s=self.forecast.expected_s,
            low_s=self.forecast.low_s,
            high_s=self.forecast.high_s,
            fahrenheit=fahrenheit,
        )


def limits_of(
    target: SpaceTarget, *, kitchen_fridge: bool
) -> dict[tuple[Quantity, Direction], float]:
    """Every limit that the air of a space has."""
    limits = {
        (quantity, direction): limit
        for quantity, direction in product(Quantity, Direction)
        if (limit := target.of(quantity).limit(direction)) is not None
    }
    if kitchen_fridge:
        key = (Quantity.TEMPERATURE, Direction.ABOVE)
        limits[key] = min(limits.get(key, KITCHEN_FRIDGE_LIMIT_C), KITCHEN_FRIDGE_LIMIT_C)
    return limits


def outlook(
    calm: CalmAir, quantity: Quantity, direction: Direction, limit: float, at_us: int
) -> Outlook | None:
    """Whether and when a limit will be reached, as known at a step of the grid; mostly None.

    Args:
        calm: De-cycled air; what was not known at `at_us` does not count.
        quantity: What to look at.
        direction: On which side the limit lies.
        limit: The limit. [°C or %RH]
        at_us: The step. [µs UTC]
    """
    known = calm.known_at(at_us, at_us - PAST_US)
    values = known.of(quantity)
    seen = ~np.isnan(values)
    times_us, values = known.middles_us[seen], values[seen]
    if not times_us.size or at_us - times_us[0] < _LEAST_PAST_US:
        return None
    if not _moves(times_us, values, quantity, direction):
        return None
    found = forecast.time_to_limit(
        times_us,
        values,
        limit,
        forecast.Direction(direction.value),
        at_us,
        horizon_s=AHEAD_S,
    )
    if found is None:
        return None
    return Outlook(quantity, direction, limit, float(values[-1]), at_us, found)


def _moves(
    times_us: IntArray, values: FloatArray, quantity: Quantity, direction: Direction
) -> bool:
    """Whether the air has moved towards that side at all: it spares most of the arithmetic."""
    earlier = values[np.searchsorted(times_us, times_us[-1] - _MOVED_US) :][:_LATE_STEPS]
    moved = float(np.median(values[-_LATE_STEPS:]) - np.median(earlier))
    towards = -moved if direction is Direction.BELOW else moved
    return towards >= _LEAST_MOVE[quantity]
