"""Alarms on the air of a space: its readings against the tightest target among its wheels.

Everything is worked out from the readings, the placements and the stages at the readings' own
times, never from the clock, so the record of a period does not depend on how often or how late
somebody looked. Readings that come later than one that has been evaluated, with a time before
it, are stored and shown, but the alarms are not worked out again for them; so are placements
and stages that are entered for the past.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Final

import numpy as np
import numpy.typing as npt

from service.ageing.alarm_record import fold
from service.ageing.alarms import Change, Condition, Raised, Returned, alarm_rule
from service.ageing.lifecycle import priority
from service.ageing.limits import past_limit, wheels_outside
from service.ageing.notices import (
    KITCHEN_FRIDGE_LIMIT_C,
    AirFacts,
    out_of_range,
    returned_to_normal,
)
from service.ageing.values import Direction, Quantity
from service.ageing.verdict import AirHistory
from service.clock import US_PER_S
from service.judging import Plans, TargetSpan, stage_spans, target_spans
from service.store import air, conditions, wheels
from service.store.conditions import Watched
from service.store.database import Session
from service.store.tables import Space, SpaceKind
from service.watch.listening import INTERVALS, coverage_ends, usual_intervals_s
from service.watch.turns import Active, Evaluated, Raise, Reader, Return

KINDS: Final = {
    f"{quantity}_{direction}": (quantity, direction)
    for quantity, direction in product(Quantity, Direction)
}
"""The kinds of condition on a space's air, for example `humidity_below`."""


@dataclass(frozen=True, slots=True)
class _State:
    """What one condition remembers between rounds.

    Attributes:
        fold: The state of the fold.
        recent_us: The last times read, for the usual interval. [µs UTC]
        limit: The limit at which the active alarm was raised.
        wheels: The wheels that it names.
    """

    fold: Condition
    recent_us: tuple[int, ...] = ()
    limit: float | None = None
    wheels: tuple[str, ...] = ()

    def to_json(self) -> str:
        return json.dumps(
            {
                "fold": self.fold.to_dict(),
                "recent_us": self.recent_us,
                "limit": self.limit,
                "wheels": self.wheels,
            }
        )

    @classmethod
    def from_json(cls, text: str) -> "_State":
        saved = json.loads(text)
        return cls(
            fold=Condition.from_dict(saved.get("fold", {})),
            recent_us=tuple(saved.get("recent_us", ())),
            limit=saved.get("limit"),
            wheels=tuple(saved.get("wheels", ())),
        )


@dataclass(frozen=True, slots=True)
class _Look:
    """What is known of a space for one round."""

    session: Session
    plans: Plans
    space_id: int
    space: str
    kitchen_fridge: bool
    reader: Reader
    history: AirHistory
    spans: Sequence[TargetSpan]
    without_sensor_from_us: Sequence[int]
    has_sensor: bool


def evaluate(
    session: Session,
    plans: Plans,
    space: Space,
    watched: Mapping[str, Watched],
    until_us: int,
    reader: Reader,
) -> list[Evaluated]:
    """Evaluate the air of a space up to and with that time; what is news of it.

    Args:
        session: Only read from.
        plans: The ageing plans by slug.
        space: The space.
        watched: Its conditions, one of each of `KINDS`.
        until_us: Readings of later times wait for another round. [µs UTC]
        reader: How the maker reads times and temperatures.
    """
    assert space.id is not None
    from_us = min(one.evaluated_us for one in watched.values()) + 1
    stays = conditions.sensor_stays(session, space.id)
    history = air.space_history(session, space.id, from_us, until_us + 1)
    times = history.times_us
    look = _Look(
        session=session,
        plans=plans,
        space_id=space.id,
        space=space.name,
        kitchen_fridge=space.kind == SpaceKind.KITCHEN_FRIDGE,
        reader=reader,
        history=history,
        spans=target_spans(session, plans, space.id, int(times[0]), int(times[-1]) + 1)
        if times.size
        else (),
        without_sensor_from_us=[end for end in coverage_ends(stays) if end <= until_us],
        has_sensor=any(to_us is None or to_us > until_us for _from_us, to_us in stays),
    )
    evaluations = [_Evaluation(look, one).evaluate() for one in watched.values()]
    return [one for one in evaluations if one.is_news]


class _Evaluation:
    """The evaluation of one condition in one round."""

    def __init__(self, look: _Look, watched: Watched) -> None:
        self._look = look
        self._watched = watched
        self._quantity, self._direction = KINDS[watched.kind]
        self._state = _State.from_json(watched.state_json)
        self._since_us = self._state.fold.since_us
        self._turns: list[Raise | Return] = []

    def evaluate(self) -> Evaluated:
        watched, look = self._watched, self._look
        values = look.history.of(self._quantity)
        taken = (look.history.times_us > watched.evaluated_us) & ~np.isnan(values)
        times, values = look.history.times_us[taken], values[taken]
        limits = self._limits()[taken]
        ends = [end for end in look.without_sensor_from_us if end > watched.evaluated_us]
        self._fold(times, values, limits, ends)
        if self._state.fold.active and not look.has_sensor:
            # Its placement was ended for a time that had been evaluated already.
            self._end(max(watched.evaluated_us, self._state.fold.last_us or 0))
        return Evaluated(
            watched=watched,
            evaluated_us=max(
                watched.evaluated_us,
                int(look.history.times_us[-1]) if look.history.times_us.size else 0,
                *ends,
            ),
            state_json=self._state.to_json(),
            turns=tuple(self._turns),
            active=self._active(),
        )

    def _limits(self) -> npt.NDArray[np.float64]:
        """The limit at each reading; NaN where there is none."""
        times = self._look.history.times_us
        limits = np.full(times.shape, np.nan)
        for span in self._look.spans:
            first, end = np.searchsorted(times, (span.from_us, span.to_us))
            asked = span.target.of(self._quantity).limit(self._direction)
            limits[first:end] = np.nan if asked is None else asked
        too_warm = (self._quantity, self._direction) == (Quantity.TEMPERATURE, Direction.ABOVE)
        if self._look.kitchen_fridge and too_warm:
            # Food is kept there too, so this holds with no wheel inside as well.
            limits = np.fmin(limits, KITCHEN_FRIDGE_LIMIT_C)
        return limits

    def _fold(
        self,
        times: npt.NDArray[np.int64],
        values: npt.NDArray[np.float64],
        limits: npt.NDArray[np.float64],
        ends: Sequence[int],
    ) -> None:
        """Fold piece by piece: one rule a piece, and a fresh start where no sensor stood."""
        intervals_s = usual_intervals_s(self._state.recent_us, times)
        # Of two ends with no reading between them the first one counts.
        end_before = {int(np.searchsorted(times, end)): end for end in reversed(ends)}
        rule_changes = (np.flatnonzero(np.diff(intervals_s)) + 1).tolist()
        cuts = sorted({0, times.size, *rule_changes, *end_before})
        for start, stop in pairwise(cuts):
            if start in end_before:
                self._end(end_before[start])
            condition, changes = fold(
                self._state.fold,
                times[start:stop],
                values[start:stop],
                limits[start:stop],
                direction=self._direction,
                rule=alarm_rule(self._quantity, float(intervals_s[start])),
            )
            for change in changes:
                self._take(change, limits[start:stop][times[start:stop] == change.time_us])
            self._state = replace(self._state, fold=condition)
        if times.size in end_before:
            self._end(end_before[times.size])
        recent = (*self._state.recent_us, *times[-INTERVALS - 1 :].tolist())
        self._state = replace(self._state, recent_us=recent[-INTERVALS - 1 :])

    def _end(self, end_us: int) -> None:
        """No sensor stands in the space from that time on, so nothing is out of range there."""
        known = self._state.fold
        if known.active:
            assert known.smoothed is not None
            assert known.extreme is not None
            self._return(Returned(end_us, known.smoothed, known.extreme))
        self._state = replace(self._state, fold=Condition())

    def _take(self, change: Change, limit: npt.NDArray[np.float64]) -> None:
        if isinstance(change, Raised):
            self._raise(change, float(limit[0]))
        else:
            self._return(change)

    def _raise(self, change: Raised, limit: float) -> None:
        self._since_us = change.since_us
        self._state = replace(self._state, limit=limit, wheels=self._wheels(change))
        self._turns.append(
            Raise(
                time_us=change.time_us,
                priority=priority(
                    self._quantity,
                    past_limit(change.value, limit, self._direction),
                    (change.time_us - change.since_us) / US_PER_S,
                ),
                limit=limit,
                extreme=change.value,
                wheels=self._state.wheels,
                notice=out_of_range(self._facts(change.value)),
            )
        )

    def _return(self, change: Returned) -> None:
        facts = self._facts(change.value)
        returned = self._look.reader.moment(change.time_us)
        self._turns.append(
            Return(
                time_us=change.time_us,
                priority=priority(
                    self._quantity,
                    past_limit(change.extreme, facts.limit, self._direction),
                    (change.time_us - self._began_us()) / US_PER_S,
                ),
                extreme=change.extreme,
                notice=returned_to_normal(facts, change.extreme, returned),
            )
        )
        self._since_us = None
        self._state = replace(self._state, limit=None, wheels=())

    def _active(self) -> Active | None:
        known = self._state.fold
        if not known.active:
            return None
        assert known.extreme is not None
        assert known.last_us is not None
        assert self._state.limit is not None
        amount = past_limit(known.extreme, self._state.limit, self._direction)
        lasted_s = (known.last_us - self._began_us()) / US_PER_S
        return Active(priority(self._quantity, amount, lasted_s), known.extreme, known.last_us)

    def _began_us(self) -> int:
        assert self._since_us is not None
        return self._since_us

    def _facts(self, value: float) -> AirFacts:
        assert self._state.limit is not None
        return AirFacts(
            space=self._look.space,
            quantity=self._quantity,
            direction=self._direction,
            value=value,
            limit=self._state.limit,
            since=self._look.reader.moment(self._began_us()),
            wheels=self._state.wheels,
            kitchen_fridge=self._look.kitchen_fridge,
            fahrenheit=self._look.reader.fahrenheit,
        )

    def _wheels(self, change: Raised) -> tuple[str, ...]:
        """The wheels that such air leaves out of range; all that are there when none asks."""
        look = self._look
        span = next(
            (span for span in look.spans if span.from_us <= change.time_us < span.to_us), None
        )
        there = span.wheel_ids if span else ()
        targets = [
            (wheel_id, lived.stage.target)
            for wheel_id in there
            for lived in stage_spans(look.session, look.plans, wheel_id)
            if lived.from_us <= change.time_us
            and (lived.to_us is None or change.time_us < lived.to_us)
        ]
        outside = wheels_outside(targets, self._quantity, change.value, self._direction)
        return tuple(wheel_name(look.session, wheel_id) for wheel_id in outside or there)


def wheel_name(session: Session, wheel_id: int) -> str:
    """What to call a wheel in a notice: its batch and its label."""
    return f"{wheels.batch_of(session, wheel_id).name} {wheels.wheel(session, wheel_id).label}"
