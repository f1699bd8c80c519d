"""Care in the store: a touch enters once, is withdrawn whole, and changes the edition."""

from pathlib import Path

import pytest

from service.api.context import Context
from service.store import care, gates, wheels
from service.store.ageing_tables import CareRecord, GateAnswer
from service.store.database import Session
from tests import builders

AT_US = builders.NOW_US


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    return builders.larch_lane(tmp_path)


def row(touch: str, wheel_id: int | None = 2, space_id: int | None = None) -> CareRecord:
    return CareRecord(
        touch=touch,
        work="turn",
        wheel_id=wheel_id,
        space_id=space_id,
        outcome="done",
        time_us=AT_US,
        entered_us=AT_US,
    )


def lived(session: Session, wheel_id: int) -> list[tuple[str, int, int | None]]:
    return [(one.stage, one.from_us, one.to_us) for one in wheels.stages(session, wheel_id)]


def stayed(session: Session, wheel_id: int) -> list[tuple[int, int, int | None]]:
    return [(one.space_id, one.from_us, one.to_us) for one in wheels.placements(session, wheel_id)]


def test_a_touch_enters_each_subject_once(lane: Context) -> None:
    with lane.sessions() as session:
        care.enter(session, [row("one-touch"), row("one-touch", 3)])
        care.enter(session, [row("one-touch"), row("one-touch", 4)])

        assert [each.wheel_id for each in care.records(session)] == [2, 3, 4]


def test_a_touch_that_was_withdrawn_enters_nothing_any_more(lane: Context) -> None:
    with lane.sessions() as session:
        care.enter(session, [row("one-touch")])
        withdrawn = care.withdraw_touch(session, "one-touch")
        again = care.withdraw_touch(session, "one-touch")
        care.enter(session, [row("one-touch"), row("one-touch", 3)])

        assert (withdrawn, again) == (1, 0)
        assert care.records(session) == []
        assert care.was_entered(session, "one-touch")
        assert not care.was_entered(session, "no-touch")


def test_the_edition_changes_with_every_entry_and_with_every_undo(lane: Context) -> None:
    with lane.sessions() as session:
        editions = [care.edition(session)]
        for number in range(2):
            care.enter(session, [row(f"touch-{number}")])
            editions.append(care.edition(session))
            care.withdraw_touch(session, f"touch-{number}")
            editions.append(care.edition(session))

        assert len(set(editions)) == len(editions)
        assert care.edition(session) == editions[-1]


def test_the_care_of_a_wheel_has_that_of_its_boxes_in_it_the_newest_first(lane: Context) -> None:
    with lane.sessions() as session:
        late = row("of-the-box", None, 2)
        late.time_us += 1
        care.enter(session, [row("of-it"), late, row("of-another", 3), row("another-box", None, 3)])

        found = [each.touch for each in care.of_subjects(session, 2, {2}, 10)]

        assert found == ["of-the-box", "of-it"]


def test_a_stage_and_a_move_are_taken_out_without_a_trace(lane: Context) -> None:
    with lane.sessions() as session:
        before = lived(session, 2), stayed(session, 2)
        wheels.begin_stage(session, 2, "wrapped", AT_US)
        wheels.place_wheel(session, 2, 4, AT_US)
        gates.unbegin_stage(session, 2, AT_US)
        gates.unplace_wheel(session, 2, AT_US)

        assert (lived(session, 2), stayed(session, 2)) == before


def test_an_end_closes_stage_and_stay_and_is_taken_back_whole(lane: Context) -> None:
    with lane.sessions() as session:
        before = lived(session, 2), stayed(session, 2)
        gates.end_wheel(session, 2, "eaten", AT_US)
        closed = lived(session, 2)[-1][2], stayed(session, 2)[-1][2]
        how = wheels.wheel(session, 2).ended_how
        gates.unend_wheel(session, 2, AT_US)

        assert (closed, how) == ((AT_US, AT_US), "eaten")
        assert (lived(session, 2), stayed(session, 2)) == before
        assert wheels.wheel(session, 2).ended_us is None


def test_only_answers_that_hold_are_told(lane: Context) -> None:
    with lane.sessions() as session:
        for touch in ("said-first", "said-then"):
            gates.enter(
                session,
                GateAnswer(
                    touch=touch,
                    wheel_id=2,
                    stage="ripening",
                    time_us=AT_US,
                    opened=False,
                    entered_us=AT_US,
                ),
            )
        gates.withdraw(session, gates.of_touch(session, "said-first")[0])

        assert [each.touch for each in gates.of_wheel(session, 2)] == ["said-then"]
        assert [each.touch for each in gates.answers(session)] == ["said-then"]
