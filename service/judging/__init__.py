"""From what is stored to what it means for each wheel: air now, target, verdict.

Asks the store, hands plain values to `service.ageing`, and returns plain values; pages,
API and the watch all judge through here, so that they can never disagree.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from service.ageing.limits import SpaceTarget, tightest
from service.ageing.plans import Plan, Stage
from service.ageing.values import Quantity, Target, Unknown, Verdict
from service.ageing.verdict import AirHistory, JudgingRules, judge, judging_rules
from service.clock import DAY_US, US_PER_S
from service.errors import UnknownError
from service.judging import counted
from service.judging.spans import (
    Plans,
    StageSpan,
    TargetSpan,
    plan_for,
    plan_named,
    stage_spans,
    target_spans,
    until,
)
from service.science.air import dew_point_c
from service.science.sensor_truth import Finding as SensorFinding
from service.science.signals import median_interval_s
from service.store import air, corrections, places, salt_tests, wheels
from service.store.database import Session
from service.store.tables import Batch, Sensor, Space, SpaceKind, Wheel, WheelPlacement

_FIRST_LOOK_US = 2 * DAY_US
_LONGEST_LOOK_US = 128 * DAY_US

INTERVALS = 50
"""The usual interval of a sensor is the median of this many, in verdicts and when silent."""

__all__ = [
    "INTERVALS",
    "AirNow",
    "Plans",
    "SpaceNow",
    "StageSpan",
    "TargetSpan",
    "WheelNow",
    "air_now",
    "judge_spaces",
    "judge_wheel",
    "plan_for",
    "plan_named",
    "stage_spans",
    "target_spans",
    "wheel_history",
]

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class AirNow:
    """The newest reading that speaks for a space."""

    sensor_id: int
    sensor_name: str
    time_us: int
    temperature_c: float | None
    humidity_pct: float | None
    dew_point_c: float | None
    fresh: bool


@dataclass(frozen=True, slots=True)
class WheelNow:
    """One wheel as it stands: who it is, where, in which stage, and its verdict."""

    id: int
    label: str
    batch_id: int
    batch: str
    plan: str
    plan_version: int
    style: str
    made_us: int
    day: int
    diameter_mm: float
    height_mm: float
    mass_g: float
    space_id: int | None
    stage: Stage | None
    stage_from_us: int | None
    verdict: Verdict
    edition: Plan | None = None
    """Its plan in the version under which it runs; None when the plan is not here."""
    ended_us: int | None = None
    """When it ended, None while it has not. [µs UTC]"""
    ended_how: str | None = None


@dataclass(frozen=True, slots=True)
class SpaceNow:
    """One space as it stands: its air, what its wheels ask of it, and the wheels."""

    id: int
    slug: str
    name: str
    kind: SpaceKind
    parent_id: int | None
    board: int
    air: AirNow | None
    target: SpaceTarget
    wheels: tuple[WheelNow, ...]


def judge_spaces(
    session: Session, plans: Plans, now_us: int, memory: counted.Remembers | None = None
) -> tuple[SpaceNow, ...]:
    """Every space with its air and its wheels, in the order in which they were made."""
    rows = places.spaces(session)
    by_id = {row.id: row for row in rows}
    known = [
        (wheel, batch, placement)
        for wheel, batch in wheels.wheels(session)
        for placement in wheels.placements(session, _id(wheel))
        if _covers(placement.from_us, placement.to_us, now_us)
    ]
    histories = _Histories(session, by_id, now_us, memory)
    judged = []
    for row in rows:
        inside = tuple(
            _wheel_now(session, plans, wheel, batch, placement, histories)
            for wheel, batch, placement in known
            if placement.space_id == row.id
        )
        judged.append(
            SpaceNow(
                id=_id(row),
                slug=row.slug,
                name=row.name,
                kind=SpaceKind(row.kind),
                parent_id=row.parent_id,
                board=row.board,
                air=air_now(session, _id(row), now_us),
                target=tightest(
                    (wheel.id, wheel.stage.target) for wheel in inside if wheel.stage is not None
                ),
                wheels=inside,
            )
        )
    return tuple(judged)


def judge_wheel(session: Session, plans: Plans, wheel_id: int, now_us: int) -> WheelNow:
    """One wheel as it stands.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheel = wheels.wheel(session, wheel_id)
    batch = wheels.batch_of(session, wheel_id)
    by_id = {row.id: row for row in places.spaces(session)}
    here = [
        placement
        for placement in wheels.placements(session, wheel_id)
        if _covers(placement.from_us, placement.to_us, now_us)
    ]
    histories = _Histories(session, by_id, now_us)
    return _wheel_now(session, plans, wheel, batch, here[-1] if here else None, histories)


def air_now(session: Session, space_id: int, now_us: int) -> AirNow | None:
    """The newest reading of the sensor that speaks for a space; None when there is none."""
    for placement in places.sensors_in(session, space_id, now_us):
        newest = air.latest(session, placement.sensor_id)
        if newest is None or newest.time_us < placement.from_us:
            return None
        sensor = places.sensor(session, placement.sensor_id)
        rules = _rules_for(air.recent_times_us(session, placement.sensor_id, INTERVALS + 1))
        humidity_pct = corrections.corrected_value(
            session, placement.sensor_id, newest.time_us, newest.humidity_pct
        )
        return AirNow(
            sensor_id=placement.sensor_id,
            sensor_name=sensor.name,
            time_us=newest.time_us,
            temperature_c=newest.temperature_c,
            humidity_pct=humidity_pct,
            dew_point_c=_dew_point(newest.temperature_c, humidity_pct),
            fresh=now_us - newest.time_us <= rules.stale_after_s * US_PER_S,
        )
    return None


def wheel_history(session: Session, wheel_id: int, from_us: int, to_us: int) -> AirHistory:
    """The air in which a wheel has been, wherever it was, in time order."""
    by_id = {row.id: row for row in places.spaces(session)}
    histories = _Histories(session, by_id, to_us)
    parts = [
        histories.between(
            placement.space_id,
            max(placement.from_us, from_us),
            min(until(placement.to_us), to_us),
        )
        for placement in wheels.placements(session, wheel_id)
    ]
    if not parts:
        return air.space_history(session, -1, 0, 0)
    return AirHistory(
        times_us=np.concatenate([part.times_us for part in parts]),
        temperature_c=np.concatenate([part.temperature_c for part in parts]),
        humidity_pct=np.concatenate([part.humidity_pct for part in parts]),
    )


class _Histories:
    """Air histories of spaces, each fetched once a question."""

    def __init__(
        self,
        session: Session,
        spaces: Mapping[int | None, Space],
        now_us: int,
        memory: counted.Remembers | None = None,
    ) -> None:
        self._session = session
        self._memory = memory
        self._spaces = spaces
        self._fetched: dict[tuple[int, int, int], AirHistory] = {}
        self._uncounted: dict[int, tuple[SensorFinding, ...]] = {}
        self.now_us = now_us

    def has_sensor(self, space_id: int) -> bool:
        """Whether a sensor stands in the space now."""
        return bool(places.sensors_in(self._session, space_id, self.now_us))

    def sensor_in_test(self, space_id: int) -> bool:
        """Whether the space has no sensor because its own is in a saturated-salt test."""
        return not self.has_sensor(space_id) and salt_tests.takes_sensor_of(self._session, space_id)

    def not_counted(self, space_id: int) -> tuple[SensorFinding, ...]:
        """Why what the sensor of the space says now does not count; nothing where it does."""
        if space_id not in self._uncounted:
            self._uncounted[space_id] = counted.not_counted(
                self._session, space_id, self.now_us, self._memory
            )
        return self._uncounted[space_id]

    def between(self, space_id: int, from_us: int, to_us: int) -> AirHistory:
        """The air of a space; of a box without a sensor its cave's temperature, no humidity.

        A closed box follows its cave in temperature but keeps an air of its own.
        """
        key = (space_id, from_us, to_us)
        if key not in self._fetched:
            history = air.space_history(self._session, space_id, from_us, to_us)
            parent_id = self._spaces[space_id].parent_id if space_id in self._spaces else None
            if not len(history.times_us) and parent_id is not None:
                outer = self.between(parent_id, from_us, to_us)
                history = replace(outer, humidity_pct=np.full(len(outer.times_us), np.nan))
            self._fetched[key] = history
        return self._fetched[key]


def _wheel_now(
    session: Session,
    plans: Plans,
    wheel: Wheel,
    batch: Batch,
    placement: WheelPlacement | None,
    histories: _Histories,
) -> WheelNow:
    plan = plan_for(session, plans, batch)
    spans = stage_spans(session, plans, _id(wheel))
    span = next(
        (span for span in spans if _covers(span.from_us, span.to_us, histories.now_us)), None
    )
    return WheelNow(
        id=_id(wheel),
        label=wheel.label,
        batch_id=wheel.batch_id,
        batch=batch.name,
        plan=batch.plan,
        plan_version=batch.plan_version,
        style=plan.name if plan is not None else batch.plan,
        made_us=batch.made_us,
        day=max(0, (min(histories.now_us, until(wheel.ended_us)) - batch.made_us) // DAY_US),
        diameter_mm=wheel.diameter_mm,
        height_mm=wheel.height_mm,
        mass_g=wheel.mass_g,
        space_id=placement.space_id if placement else None,
        stage=span.stage if span else None,
        stage_from_us=span.from_us if span else None,
        verdict=_nothing_known(f"it was {wheel.ended_how}")
        if wheel.ended_us is not None
        else _verdict(span, placement, histories),
        edition=plan,
        ended_us=wheel.ended_us,
        ended_how=wheel.ended_how,
    )


def _verdict(
    span: StageSpan | None,
    placement: WheelPlacement | None,
    histories: _Histories,
) -> Verdict:
    """The verdict on the air since the wheel came into this space in this stage."""
    if placement is None:
        return _nothing_known("the wheel is in no space")
    if span is None:
        return _nothing_known("the wheel is in no stage of its plan")
    if histories.sensor_in_test(placement.space_id):
        return _nothing_known("its sensor is in a salt test", span.stage.target)
    began_us = max(placement.from_us, span.from_us)
    look_us = _FIRST_LOOK_US
    while True:
        from_us = max(began_us, histories.now_us - look_us)
        history = histories.between(placement.space_id, from_us, histories.now_us + 1)
        rules = _rules_for(history.times_us[-INTERVALS - 1 :])
        verdict = judge(span.stage.target, history, histories.now_us, rules)
        # A run that begins after a silence is not seen to begin, however far one looks back.
        settled = all(
            finding.since_is_start or finding.since_us > int(history.times_us[0])
            for finding in verdict.findings
        )
        if settled or from_us == began_us or look_us >= _LONGEST_LOOK_US:
            break
        look_us *= 4
    if not histories.has_sensor(placement.space_id):
        verdict = replace(
            verdict,
            unknown=tuple(
                replace(unknown, reason="no sensor in this space") for unknown in verdict.unknown
            ),
        )
    return _doubted(verdict, span.stage.target, histories.not_counted(placement.space_id))


def _doubted(verdict: Verdict, asked: Target, uncounted: Sequence[SensorFinding]) -> Verdict:
    """The verdict where a sensor is stuck or wet: what it says calms nobody, but still warns."""
    told = {each.quantity for each in verdict.findings}
    told |= {each.quantity for each in verdict.unknown}
    doubts = tuple(
        Unknown(quantity, counted.reason(found), found.from_us)
        for found in uncounted
        for quantity in (counted.quantity_of(found),)
        if asked.of(quantity) is not None and quantity not in told
    )
    return replace(verdict, unknown=verdict.unknown + doubts)


def _rules_for(times_us: IntArray) -> JudgingRules:
    """The rules for a sensor with these last readings: one that reports rarely is not stale."""
    return judging_rules(median_interval_s(times_us))


def _nothing_known(reason: str, asked: Target | None = None) -> Verdict:
    """Nothing is known of all that is asked; of everything when that is not known either."""
    return Verdict(
        unknown=tuple(
            Unknown(quantity, reason)
            for quantity in Quantity
            if asked is None or asked.of(quantity) is not None
        )
    )


def _dew_point(temperature_c: float | None, humidity_pct: float | None) -> float | None:
    if temperature_c is None or humidity_pct is None or humidity_pct <= 0:
        return None
    return dew_point_c(temperature_c, humidity_pct)


def _covers(from_us: int, to_us: int | None, at_us: int) -> bool:
    return from_us <= at_us < until(to_us)


def _id(row: Wheel | Space | Sensor | Batch) -> int:
    """The number of a stored row.

    Raises:
        UnknownError: The row was never stored.
    """
    if row.id is None:
        raise UnknownError("that row is not stored")
    return row.id
