"""The words of the day's notice of care: what is to be done where, which gates ask, what is late.

All facts come as values, days and names as words of the maker's household.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.ageing.notices import Notice


@dataclass(frozen=True, slots=True)
class Opening:
    """What is to be done in one opening of a space.

    Attributes:
        space: The outermost space, by name.
        tasks: What to do, in words: "turn Blue 1".
        planned: The day for which it is planned, in words; empty for today.
    """

    space: str
    tasks: Sequence[str]
    planned: str = ""


@dataclass(frozen=True, slots=True)
class Late:
    """A care that is overdue: what, in words, and the day since which it is."""

    task: str
    since: str


def care_today(
    openings: Sequence[Opening], gates: Sequence[str], overdue: Sequence[Late]
) -> Notice | None:
    """The notice of a day's care; None when nothing asks.

    Args:
        openings: What is due, today's openings before those that are planned for later days.
        gates: The gates that ask, each with its wheels: "Blue 1: The coat is complete?"
        overdue: What is overdue.

    Examples:
        >>> care_today([Opening("Cave", ["turn Blue 1"])], [], []).body.splitlines()[0]
        'Care today: Cave: turn Blue 1.'
    """
    if not openings and not gates:
        return None
    lines = []
    now = [opening for opening in openings if not opening.planned]
    if now:
        lines.append(f"Care today: {_in_spaces(now)}.")
    lines.extend(
        f"Due, planned for {opening.planned}: {_in_spaces([opening])}."
        for opening in openings
        if opening.planned
    )
    if gates:
        asked = "asks" if len(gates) == 1 else "ask"
        counted = "A gate" if len(gates) == 1 else f"{len(gates)} gates"
        lines.append(f"{counted} {asked} whether it is time:")
        lines.extend(gates)
    if overdue:
        lines.append("Overdue:")
        lines.extend(f"{late.task}, since {late.since}" for late in overdue)
    lines.append("Try: open the care page, and touch Done as you go.")
    return Notice(_title(now, gates, overdue), "\n".join(lines))


def _in_spaces(openings: Sequence[Opening]) -> str:
    return "; ".join(f"{each.space}: {', '.join(each.tasks)}" for each in openings)


def _title(now: Sequence[Opening], gates: Sequence[str], overdue: Sequence[Late]) -> str:
    where = ", ".join(opening.space for opening in now)
    told = [f"Care today: {where}" if where else "Care is due"]
    if gates:
        told.append("1 gate asks" if len(gates) == 1 else f"{len(gates)} gates ask")
    if overdue:
        told.append(f"{len(overdue)} overdue")
    return "; ".join(told)
