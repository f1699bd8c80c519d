"""What all warnings on steps share: which steps are to be taken, and what a condition keeps."""

import json
from dataclasses import dataclass
from typing import Final

from service.ageing.ahead import Standing, StepRule, Turn, take_step
from service.ageing.lifecycle import Priority
from service.ageing.notices import Notice
from service.behaving.calm import STEP_US, step_before
from service.store.conditions import Watched
from service.watch.turns import Active, Evaluated, Raise, Return


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a space.

    Attributes:
        newest_us: Its newest reading; None before the first. [µs UTC]
        removed_us: Since when no sensor stands there; None while one does. [µs UTC]
        look_back_us: Steps older than this before the newest reading are not taken. [µs]
    """

    newest_us: int | None
    removed_us: int | None
    look_back_us: int

    def steps(self, evaluated_us: int, not_after_us: int | None = None) -> range:
        """The steps to take after one up to which a condition has been evaluated."""
        if self.newest_us is None:
            return range(0)
        last_us = self.newest_us if not_after_us is None else min(self.newest_us, not_after_us)
        last_us = step_before(last_us)
        first_us = max(step_before(evaluated_us) + STEP_US, last_us - self.look_back_us)
        return range(step_before(first_us), last_us + 1, STEP_US)


@dataclass(frozen=True, slots=True)
class Sighting:
    """What is warned of, as seen at a step.

    Attributes:
        wheels: The names of the wheels concerned.
        notice: What to tell the maker if the alarm is raised now.
        limit: The limit concerned, if any. [°C or %RH]
        value: The value now, if any. [°C, %RH or g/m²]
    """

    wheels: tuple[str, ...]
    notice: Notice
    limit: float | None = None
    value: float | None = None


class Stepper:
    """One condition, step after step."""

    def __init__(self, watched: Watched, rule: StepRule, priority: Priority) -> None:
        self.watched = watched
        self._rule = rule
        self._priority = priority
        self._standing = Standing.from_dict(json.loads(watched.state_json))
        self._evaluated_us = watched.evaluated_us
        self._turns: list[Raise | Return] = []

    @property
    def active(self) -> bool:
        """Whether the alarm is raised."""
        return self._standing.active

    @property
    def raised_us(self) -> int | None:
        """When the alarm was raised; None while it is not. [µs UTC]"""
        return self._standing.raised_us

    def take(
        self, at_us: int, sighting: Sighting | None, over: Notice, *, taken_over: bool = False
    ) -> None:
        """Take one step.

        Args:
            at_us: The step. [µs UTC]
            sighting: What is seen, or None.
            over: What to tell the maker if the alarm returns now.
            taken_over: Whether the alarm that this one foretells is raised.
        """
        if not self.active and at_us - self._evaluated_us > STEP_US:
            # Steps between were never taken, so these two are no neighbours.
            self._standing = Standing()
        self._standing, turn = take_step(
            self._standing,
            at_us,
            seen=sighting is not None,
            taken_over=taken_over,
            rule=self._rule,
        )
        self._evaluated_us = at_us
        if turn is Turn.RAISED:
            assert sighting is not None
            self._turns.append(
                Raise(
                    at_us,
                    self._priority,
                    sighting.limit,
                    sighting.value,
                    sighting.wheels,
                    sighting.notice,
                )
            )
        elif turn is not None:
            told = over if turn is Turn.RETURNED else None
            self._turns.append(Return(at_us, self._priority, None, told))

    def hold(self, at_us: int) -> None:
        """Nothing is known at this step, for the sensor is stuck or wet: what stands stays."""
        self._evaluated_us = at_us

    def end(self, removed_us: int) -> None:
        """No sensor stands in the space any more: nothing is known, so nothing is warned of."""
        if self.active:
            at_us = max(removed_us, self._evaluated_us)
            self._turns.append(Return(at_us, self._priority, None, None))
            self._standing = Standing()

    def evaluated(self) -> Evaluated:
        """What became of the condition."""
        return Evaluated(
            watched=self.watched,
            evaluated_us=self._evaluated_us,
            state_json=json.dumps(self._standing.to_dict()),
            turns=tuple(self._turns),
            active=Active(self._priority, None, self._evaluated_us) if self.active else None,
        )


WARNING: Final = Priority.LOW
"""Of what is only expected. Our choice."""
