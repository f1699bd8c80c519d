"""Whether wheels fit together: the range of air that suits all of them, and who is outside it.

When no air suits all, those are outside whose leaving lets the most others share a range.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from service.ageing.limits import tightest
from service.ageing.values import Quantity, Range, Target

_FREE: Final = 0.0
"""Any value serves where nobody asks for one."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether wheels fit together.

    Attributes:
        temperature_c: The range that suits all; None when none does, or none is asked. [°C]
        humidity_pct: The same of humidity. [%RH]
        clash: Of which quantities nothing suits all.
        outside: The fewest wheels without which the rest share a range.
        rest_temperature_c: What suits the rest. [°C]
        rest_humidity_pct: The same of humidity. [%RH]
    """

    temperature_c: Range | None
    humidity_pct: Range | None
    clash: tuple[Quantity, ...]
    outside: tuple[int, ...]
    rest_temperature_c: Range | None
    rest_humidity_pct: Range | None

    @property
    def holds(self) -> bool:
        """Whether all of them fit together."""
        return not self.clash


def fit_of(asked: Iterable[tuple[int, Target]]) -> Fit:
    """Whether wheels fit together, and who does not.

    Args:
        asked: Each wheel's number, and what it asks.
    """
    wheels = tuple(asked)
    target = tightest(wheels)
    clash = tuple(quantity for quantity in Quantity if target.of(quantity).conflict)
    kept = _most_agreeing(wheels) if clash else wheels
    rest = tightest(kept)
    inside = {wheel for wheel, _ in kept}
    return Fit(
        temperature_c=target.temperature_c.common,
        humidity_pct=target.humidity_pct.common,
        clash=clash,
        outside=tuple(wheel for wheel, _ in wheels if wheel not in inside),
        rest_temperature_c=rest.temperature_c.common,
        rest_humidity_pct=rest.humidity_pct.common,
    )


def _most_agreeing(wheels: Sequence[tuple[int, Target]]) -> tuple[tuple[int, Target], ...]:
    """The most wheels that one air suits; of several such, those with the highest low ends.

    Ranges that share anything share the highest of their low ends, so only these are tried.
    """
    lows = {
        quantity: sorted(
            {asks.low for _, target in wheels if (asks := target.of(quantity)) is not None}
            or {_FREE}
        )
        for quantity in Quantity
    }
    best: tuple[tuple[int, Target], ...] = ()
    for values in product(*(lows[quantity] for quantity in Quantity)):
        air = dict(zip(Quantity, values, strict=True))
        kept = tuple(
            (wheel, target)
            for wheel, target in wheels
            if all(
                (asks := target.of(quantity)) is None or asks.low <= air[quantity] <= asks.high
                for quantity in Quantity
            )
        )
        if len(kept) >= len(best):
            best = kept
    return best
