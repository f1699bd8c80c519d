"""How a wheel of some equivalent age feels, by what its plan tells; all of it an estimate.

Soft styles grow softer with age and dry ones harder, so the order of a plan's firmnesses is
that of their days, not of their softness.
"""

from dataclasses import replace

from service.ageing.work import Days, Firmness, Readiness
from service.errors import OutOfRangeError


def in_order(readiness: Readiness) -> tuple[tuple[Firmness, Days], ...]:
    """The firmnesses of a plan in the order in which a wheel comes to them."""
    return tuple(sorted(readiness.days, key=lambda each: each[1].expected))


def usual_wish(readiness: Readiness) -> Firmness:
    """What a wheel is taken to be wanted for while the maker says nothing: the middle one.

    Our choice. Of an even number it is the younger of the two in the middle.
    """
    order = in_order(readiness)
    return order[(len(order) - 1) // 2][0]


def feels(readiness: Readiness, age_days: float, end: str = "expected") -> Firmness | None:
    """How a wheel of that equivalent age feels; None before the first that the plan tells of.

    Args:
        readiness: The plan's.
        age_days: Equivalent age. [d]
        end: The end of the readiness windows that counts: earliest, expected or latest.
    """
    found = None
    for firmness, days in in_order(readiness):
        if age_days >= getattr(days, end):
            found = firmness
    return found


def bounds(readiness: Readiness, firmness: Firmness) -> tuple[Days, Days]:
    """When a firmness is reached, and when the next one is. [d of equivalent age]

    The last of a plan is past at the latest end of its own window.

    Raises:
        OutOfRangeError: The plan does not tell of that firmness.
    """
    order = in_order(readiness)
    names = [each for each, _ in order]
    if firmness not in names:
        raise OutOfRangeError(
            f"this plan does not tell when a wheel is {firmness}; it tells of {', '.join(names)}"
        )
    place = names.index(firmness)
    wanted = order[place][1]
    if place + 1 < len(order):
        return wanted, order[place + 1][1]
    return wanted, replace(wanted, earliest=wanted.latest, expected=wanted.latest)
