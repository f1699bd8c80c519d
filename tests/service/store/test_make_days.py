"""Make days as kept: edits of two browsers, steps, timers that outlive the process."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.app import build
from service.errors import UnknownError
from service.settings import Settings
from service.store import make_days, set_up
from service.store.ageing_tables import MakeDay, MakeStep
from service.store.database import Session, SessionMaker
from service.store.make_days import Conflict
from service.store.tables import Site

START_US = 1_795_608_000_000_000
SECOND_US = 1_000_000


@pytest.fixture
def sessions(tmp_path: Path) -> Iterator[SessionMaker]:
    """A store with the record of one make day."""
    built = build(Settings(data_folder=tmp_path))
    with built.sessions() as session:
        set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        make_days.start(
            session,
            MakeDay(site_id=1, name="Blue", plan="blue", plan_version=1, started_us=START_US),
        )
    yield built.sessions
    built.engine.dispose()


@pytest.fixture
def session(sessions: SessionMaker) -> Iterator[Session]:
    with sessions() as opened:
        yield opened


def test_an_edit_changes_the_record_and_counts_its_version(session: Session) -> None:
    conflicts = make_days.edit(session, 1, 1, {"milk": "Cow", "milk_l": 12.0})
    day = make_days.make_day(session, 1)

    assert conflicts == ()
    assert (day.milk, day.milk_l, day.version) == ("Cow", 12.0, 2)


def test_a_stale_edit_writes_nothing_and_tells_both_values(session: Session) -> None:
    make_days.edit(session, 1, 1, {"milk_l": 12.0, "milk": "Cow"})
    conflicts = make_days.edit(session, 1, 1, {"milk_l": 10.0, "milk": "Cow", "rennet": "calf"})
    day = make_days.make_day(session, 1)

    assert Conflict("milk_l", 12.0, 10.0) in conflicts
    assert "milk" not in {each.field for each in conflicts}
    assert (day.milk_l, day.rennet, day.version) == (12.0, "", 2)


def test_two_browsers_that_edit_different_fields_both_keep_theirs(session: Session) -> None:
    shown = {"milk": "", "cultures": ""}
    make_days.edit(session, 1, 1, {"milk": "Cow", "cultures": ""}, shown)
    conflicts = make_days.edit(session, 1, 1, {"milk": "", "cultures": "mesophilic"}, shown)
    day = make_days.make_day(session, 1)

    assert conflicts == ()
    assert (day.milk, day.cultures) == ("Cow", "mesophilic")


def test_the_same_field_edited_by_two_browsers_is_told(session: Session) -> None:
    shown = {"milk": ""}
    make_days.edit(session, 1, 1, {"milk": "Cow"}, shown)
    conflicts = make_days.edit(session, 1, 1, {"milk": "Ewe"}, shown)

    assert conflicts == (Conflict("milk", "Cow", "Ewe"),)


def test_an_edit_that_is_sent_twice_is_no_conflict(session: Session) -> None:
    make_days.edit(session, 1, 1, {"milk": "Cow"})

    assert make_days.edit(session, 1, 1, {"milk": "Cow"}) == ()
    assert make_days.make_day(session, 1).version == 2


def test_an_edit_cannot_reach_what_is_no_field_of_the_record(session: Session) -> None:
    with pytest.raises(ValueError, match="batch_id"):
        make_days.edit(session, 1, 1, {"batch_id": 7.0})


def test_a_step_that_is_taken_back_is_kept_but_shown_no_more(session: Session) -> None:
    step = make_days.add_step(session, MakeStep(make_day_id=1, time_us=START_US, words="Stir"))
    assert step.id is not None
    make_days.withdraw_step(session, 1, step.id)

    assert make_days.steps(session, 1) == []
    assert session.get(MakeStep, step.id) is not None


def test_a_step_or_timer_of_another_make_day_is_not_found(session: Session) -> None:
    other = make_days.start(
        session, MakeDay(site_id=1, name="Tomme", plan="tomme", plan_version=1, started_us=1)
    )
    step = make_days.add_step(session, MakeStep(make_day_id=1, time_us=START_US, words="Stir"))
    timer = make_days.start_timer(session, 1, "Cut", START_US, 60)
    assert step.id is not None
    assert other.id is not None

    with pytest.raises(UnknownError):
        make_days.withdraw_step(session, other.id, step.id)
    with pytest.raises(UnknownError):
        make_days.stop_timer(session, other.id, timer.id, START_US)


def test_a_timer_goes_on_while_the_service_is_off(sessions: SessionMaker, tmp_path: Path) -> None:
    with sessions() as session:
        make_days.start_timer(session, 1, "Cut", START_US, 2_397)
    again = build(Settings(data_folder=tmp_path))
    with again.sessions() as session:
        (timer,) = make_days.timers(session, 1)
    again.engine.dispose()

    assert timer.left_s(START_US + 1_000 * SECOND_US) == 1_397


def test_a_timer_once_stopped_stays_stopped(session: Session) -> None:
    timer = make_days.start_timer(session, 1, "Cut", START_US, 60)
    make_days.stop_timer(session, 1, timer.id, START_US + 10 * SECOND_US)
    again = make_days.stop_timer(session, 1, timer.id, START_US + 50 * SECOND_US)

    assert again.stopped_us == START_US + 10 * SECOND_US
    assert make_days.untold_timers(session, START_US + 100 * SECOND_US) == ()


def test_the_newest_make_day_comes_first(session: Session) -> None:
    make_days.start(
        session,
        MakeDay(site_id=1, name="New", plan="blue", plan_version=1, started_us=START_US + 1),
    )

    assert [day.name for day in make_days.make_days(session)] == ["New", "Blue"]
