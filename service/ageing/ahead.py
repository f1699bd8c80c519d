"""When a warning is raised before a limit is passed, and when it returns: a fold over steps.

The steps are even in the readings' own time. A warning is raised once it has been seen at two
steps in a row, so that one odd hour says nothing, and returns once it has not been seen for
some steps, or at once when the alarm that it foretold has taken its place.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any, Final, Self


@dataclass(frozen=True, slots=True)
class StepRule:
    """How patient a warning is.

    Attributes:
        on_steps: Steps in a row at which it must be seen.
        off_steps: Steps in a row at which it must not be seen.
    """

    on_steps: int
    off_steps: int


FORESEEN: Final = StepRule(on_steps=2, off_steps=6)
"""Of steps of twenty minutes: seen twice, and gone for two hours. Our choice: a forecast that
comes and goes with an opening of the door is one warning and not three."""
WET: Final = StepRule(on_steps=2, off_steps=3)
"""Wet at two steps in a row, dry for an hour. Our choice: a lid that sweats at each cooling
cycle is one alarm and not forty a day."""


class Turn(StrEnum):
    """What a step can change."""

    RAISED = "raised"
    RETURNED = "returned"
    TAKEN_OVER = "taken over"


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of a warning after the steps so far.

    Attributes:
        seen: Steps in a row at which it was seen, up to the last.
        gone: Steps in a row at which it was not, while it is raised.
        since_us: The first of those at which it was seen. [µs UTC]
        raised_us: When it was raised; None while it is not. [µs UTC]
    """

    seen: int = 0
    gone: int = 0
    since_us: int | None = None
    raised_us: int | None = None

    @property
    def active(self) -> bool:
        """Whether it is raised."""
        return self.raised_us is not None

    def to_dict(self) -> dict[str, Any]:
        """It as JSON knows values."""
        return asdict(self)

    @classmethod
    def from_dict(cls, saved: Mapping[str, Any]) -> Self:
        """What `to_dict` gave; an empty mapping gives a new one."""
        return cls(**saved)


def take_step(
    standing: Standing, at_us: int, *, seen: bool, taken_over: bool, rule: StepRule
) -> tuple[Standing, Turn | None]:
    """Take one step.

    Args:
        standing: What is known so far.
        at_us: The step. [µs UTC]
        seen: Whether what is warned of is seen.
        taken_over: Whether the alarm that it foretells is raised; then it says nothing.
        rule: How patient the warning is.

    Returns:
        What is known now, and the change if there was one.

    Examples:
        >>> first, _ = take_step(Standing(), 1, seen=True, taken_over=False, rule=FORESEEN)
        >>> take_step(first, 2, seen=True, taken_over=False, rule=FORESEEN)[1]
        <Turn.RAISED: 'raised'>
    """
    if taken_over:
        return Standing(), Turn.TAKEN_OVER if standing.active else None
    if standing.active:
        gone = 0 if seen else standing.gone + 1
        if gone >= rule.off_steps:
            return Standing(), Turn.RETURNED
        return replace(standing, gone=gone), None
    if not seen:
        return Standing(), None
    since_us = at_us if standing.since_us is None else standing.since_us
    now = Standing(seen=standing.seen + 1, since_us=since_us)
    if now.seen < rule.on_steps:
        return now, None
    return replace(now, raised_us=at_us), Turn.RAISED
