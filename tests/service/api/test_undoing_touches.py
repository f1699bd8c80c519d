"""Whatever is entered and then undone, backwards, leaves everything as it was."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import care_actions, gate_actions
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.api.gate_actions import Ended, Said
from service.api.refusals import RefusedError
from service.clock import HOUR_US
from service.store import care, gates, wheels
from service.store.database import Session
from service.store.turns import take_turn
from service.tending.care import care_now
from tests import builders

WHEELS = (2, 3, 4)
SPACES = (1, 2, 4)
A_TOUCH = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(["care", "box", "all", "gate", "not yet", "end", "move"]),
        "wheels": st.sets(st.sampled_from(WHEELS), min_size=1).map(sorted),
        "work": st.sampled_from([Work.TURN, Work.PAT_DRY, Work.LOOK]),
        "outcome": st.sampled_from(list(Outcome)),
        "space": st.sampled_from([None, *SPACES]),
        "hours": st.integers(0, 60),
        "how": st.sampled_from(list(Ended)),
    }
)


class Home:
    """A household with a short name, for a failing example is told with its arguments."""

    def __init__(self, context: Context) -> None:
        self.context = context

    def __repr__(self) -> str:
        return "Home()"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    return Home(builders.larch_lane(Path(tmp_path_factory.mktemp("lane"))))


def state(session: Session, context: Context, now_us: int) -> tuple[Any, ...]:
    """All that a touch may change, as it counts, at a time that does not move."""
    found = care_now(session, context.plans, now_us)
    return (
        found.due,
        found.visits,
        [(gate.wheel.id, gate.standing) for gate in found.gates],
        [row.touch for row in care.records(session)],
        [row.touch for row in gates.answers(session)],
        [
            (
                wheels.wheel(session, number).ended_us,
                wheels.wheel(session, number).ended_how,
                [
                    (stay.space_id, stay.from_us, stay.to_us)
                    for stay in wheels.placements(session, number)
                ],
                [(one.stage, one.from_us, one.to_us) for one in wheels.stages(session, number)],
            )
            for number in WHEELS
        ],
    )


def enter(session: Session, context: Context, told: dict[str, Any], touch: Touch) -> None:
    """One touch, whatever it is."""
    today = care_now(session, context.plans, touch.now_us).today
    later = today + timedelta(days=2)
    if told["kind"] in {"care", "box"}:
        put_off = told["outcome"] is Outcome.PUT_OFF
        of_box = told["kind"] == "box"
        what = Given(
            Work.AIR_BOX if of_box else told["work"],
            told["outcome"],
            () if of_box else tuple(told["wheels"]),
            2 if of_box else None,
            until=later if put_off else None,
        )
        care_actions.enter_care(session, what, touch)
    elif told["kind"] == "all":
        works = (
            Given(Work.TURN, Outcome.DONE, tuple(told["wheels"])),
            Given(Work.AIR_BOX, Outcome.SKIPPED, (), 2),
            Given(Work.PAT_DRY, Outcome.PUT_OFF, tuple(told["wheels"]), until=later),
            Given(Work.MOVE, Outcome.DONE, tuple(told["wheels"]), told["space"] or 4),
        )
        care_actions.enter_all(session, works, touch)
    elif told["kind"] == "move":
        what = Given(Work.MOVE, Outcome.DONE, tuple(told["wheels"]), told["space"] or 2)
        care_actions.enter_care(session, what, touch)
    elif told["kind"] == "end":
        gate_actions.end_wheel(session, told["wheels"][0], told["how"], "", None, touch)
    else:
        opens = told["kind"] == "gate"
        said = Said(
            opened=opens,
            reason="to see" if opens else "",
            ask_again=None if opens else later,
            space_id=told["space"] if opens else None,
        )
        gate_actions.answer_gate(session, context.plans, told["wheels"], said, touch)


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(touches=st.lists(A_TOUCH, min_size=1, max_size=6))
def test_undoing_backwards_restores_everything_step_by_step(
    home: Home, touches: list[dict[str, Any]]
) -> None:
    lane = home.context
    last_us = builders.NOW_US + 61 * len(touches) * HOUR_US
    now_us = builders.NOW_US
    with lane.sessions() as session:
        # Without a transaction under it, the end of a savepoint would be a commit in SQLite.
        take_turn(session)
        entered: list[tuple[str, tuple[Any, ...]]] = []
        for number, told in enumerate(touches):
            now_us += told["hours"] * HOUR_US
            before = state(session, lane, last_us)
            touch = Touch(f"touch-{number:03}", "Ann", now_us)
            try:
                with session.begin_nested():
                    enter(session, lane, told, touch)
            except RefusedError:
                session.expire_all()

                assert state(session, lane, last_us) == before
                continue
            once = state(session, lane, last_us)
            enter(session, lane, told, touch)

            assert state(session, lane, last_us) == once
            entered.append((touch.name, before))
        for name, before in reversed(entered):
            care_actions.undo(session, name)

            assert state(session, lane, last_us) == before
        session.rollback()


def test_touches_on_other_wheels_are_undone_in_any_order(home: Home) -> None:
    lane = home.context
    now_us = builders.NOW_US
    with lane.sessions() as session:
        take_turn(session)
        before = state(session, lane, now_us)
        for wheel_id in WHEELS:
            gate_actions.answer_gate(
                session,
                lane.plans,
                [wheel_id],
                Said(opened=True, reason="to see", space_id=4),
                Touch(f"gate-of-{wheel_id}", "Ann", now_us),
            )
        for wheel_id in (3, 2, 4):
            care_actions.undo(session, f"gate-of-{wheel_id}")

        assert state(session, lane, now_us) == before
        session.rollback()
