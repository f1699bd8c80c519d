"""What the calendar says follows from care, keeps its names, and learns what was done."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.ageing.diary import DiaryEntry, DiaryKind
from service.api.context import Context
from service.store import calendar, care, gates
from service.store.ageing_tables import CareRecord
from service.store.database import Session
from service.tending.care import care_now
from service.tending.days import day_of
from service.tending.diary import diary
from tests.builders import DAY_US, NOW_US, larch_lane

TODAY = day_of(NOW_US, ZoneInfo("Europe/Vienna"))


@dataclass
class Home:
    context: Context
    session: Session

    def says(self, now_us: int = NOW_US) -> dict[str, DiaryEntry]:
        return {each.key: each for each in diary(self.session, self.context.plans, now_us)}

    def turn(self, wheel_id: int, time_us: int) -> CareRecord:
        (row,) = care.enter(
            self.session,
            [
                CareRecord(
                    touch=f"turned-{wheel_id}-{time_us}",
                    work="turn",
                    wheel_id=wheel_id,
                    outcome="done",
                    time_us=time_us,
                    entered_us=time_us,
                )
            ],
        )
        return row


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    context = larch_lane(tmp_path)
    with context.sessions() as session:
        yield Home(context, session)


def test_calendar_tells_of_visits_tasks_and_questions(home: Home) -> None:
    kinds = {entry.kind for entry in home.says().values()}

    assert kinds == set(DiaryKind)


def test_every_entry_has_a_name_of_its_own_and_lies_within_four_weeks(home: Home) -> None:
    entries = diary(home.session, home.context.plans, NOW_US)

    assert len({entry.key for entry in entries}) == len(entries)
    assert all(TODAY <= entry.day <= TODAY + timedelta(days=28) for entry in entries)


def test_wheels_of_a_batch_share_one_task_and_one_question(home: Home) -> None:
    says = home.says()

    assert says["turn-batch-2-first"].title == "Turn: Blue 1–3"  # noqa: RUF001 - as people read it
    assert sum(key.startswith("gate-batch-3-") for key in says) == 1


def test_a_question_is_asked_in_the_words_of_its_gate(home: Home) -> None:
    gates_now = care_now(home.session, home.context.plans, NOW_US).gates
    here = next(each for each in gates_now if each.wheel.batch_id == 3)
    (asked,) = (says for key, says in home.says().items() if key.startswith("gate-batch-3-"))

    assert asked.title.startswith("Look and say, ")
    assert asked.title.endswith(f": {here.gate.words}")


def test_task_that_is_done_keeps_its_name_and_the_next_gets_its_own(home: Home) -> None:
    home.turn(1, NOW_US - 6 * DAY_US)
    since = f"turn-batch-1-since-{TODAY - timedelta(days=6)}"
    before = home.says()
    home.turn(1, NOW_US)
    after = home.says()

    assert before[since].done_us is None
    assert after[since].done_us is not None
    assert after[f"turn-batch-1-since-{TODAY}"].done_us is None
    assert {key for key in before if not key.startswith("visit-")} <= set(after)


def test_task_of_a_batch_is_done_when_its_last_wheel_is(home: Home) -> None:
    waits = []
    for wheel_id in (2, 3, 4):
        home.turn(wheel_id, NOW_US)
        waits.append(home.says()["turn-batch-2-first"])

    assert [each.done_us is None for each in waits] == [True, True, False]
    assert [each.title for each in waits] == [
        "Turn: Blue 2 and 3",
        "Turn: Blue 3",
        "Turn: Blue 1–3",  # noqa: RUF001 - as people read it
    ]


def test_undone_turn_gives_back_the_calendar_of_before(home: Home) -> None:
    before = home.says()
    row = home.turn(1, NOW_US)
    care.withdraw_touch(home.session, row.touch)

    assert home.says() == before


def test_wheel_that_has_ended_leaves_the_calendar(home: Home) -> None:
    calendar.said(home.session, home.says().values(), NOW_US)
    gates.end_wheel(home.session, 1, "eaten", NOW_US)
    said = calendar.said(home.session, home.says(NOW_US + 1).values(), NOW_US + 1)

    assert not any("batch-1-" in each.entry.key for each in said if not each.is_removed)
    assert any("turn-batch-1-" in each.entry.key for each in said if each.is_removed)


def test_task_counts_its_days_in_the_zone_of_the_household(tmp_path: Path) -> None:
    # 14:32 UTC on 25 November is the 26th in Apia, 13 hours ahead.
    context = larch_lane(tmp_path, zone="Pacific/Apia")
    with context.sessions() as session:
        days = {entry.day for entry in diary(session, context.plans, NOW_US)}

    assert min(days) == date(2026, 11, 26)
