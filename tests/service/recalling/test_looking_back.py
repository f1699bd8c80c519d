"""Looking back from end to end: from readings, looks and care in a store to what differs."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from service.ageing.lookback import Comparison, Feature
from service.ageing.noted import Condition
from service.ageing.seen import Look
from service.ageing.work import Rind
from service.api.context import Context
from service.errors import UnknownError
from service.living.memory import Memory
from service.recalling.looking_back import LookBack, look_back
from service.store import air, care, observations, set_up
from service.store.ageing_tables import CareRecord
from service.store.air import NewReading
from service.store.tables import Site
from tests import builders, planted_caves, planted_weeks
from tests.planted_looks import enter_looks, forget, household, look, told_first

Air = Callable[[float], float]
DAY_US, HOUR_US = builders.DAY_US, builders.HOUR_US


@dataclass
class House:
    """A cave with a tomme that was made 41 days ago, seven or more days of air, and its looks."""

    context: Context
    sensor: int
    memory: Memory

    def look(self, rind: Rind, days_ago: float = 0.0, wheel: int = 1, words: str = "") -> int:
        with self.context.sessions() as session:
            time_us = builders.NOW_US - round(days_ago * DAY_US)
            row = observations.enter(
                session,
                observations.NewObservation(
                    f"{wheel}-{days_ago}", wheel, time_us, Look(rind=rind), time_us, words
                ),
            )
            assert row.id is not None
            return row.id

    def turn(self, days_ago: float, outcome: str = "done") -> None:
        with self.context.sessions() as session:
            time_us = builders.NOW_US - round(days_ago * DAY_US)
            record = CareRecord(
                touch=f"{days_ago}",
                work="turn",
                wheel_id=1,
                outcome=outcome,
                time_us=time_us,
                entered_us=time_us,
            )
            care.enter(session, [record])

    def back(self, number: int, days: int = 7, condition: Condition | None = None) -> LookBack:
        with self.context.sessions() as session:
            return look_back(
                session,
                self.context.plans,
                number,
                builders.NOW_US,
                self.memory,
                days,
                condition,
            )


def house(
    folder: Path,
    temperature: Air,
    humidity: Air,
    hours: float = 200.0,
    until_us: int = builders.NOW_US,
) -> House:
    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_batch(session, 1, "Tomme", "tomme", 41, [(190, 75, 1950)], cave, "ripening")
        sensor = builders.add_sensor(session, "air", cave, temperature, humidity, hours, until_us)
    return House(context, sensor, Memory())


def amount(found: LookBack, feature: Feature) -> float:
    told = found.values[feature].amount
    assert told is not None
    return told


def test_hours_outside_the_stage_s_target_are_counted(tmp_path: Path) -> None:
    """The tomme's target is 8 to 13 °C and 85 to 92 %RH."""
    home = house(
        tmp_path,
        lambda ago: 15.0 if 100 < ago <= 112 else 10.5,
        lambda ago: 80.0 if 40 < ago <= 60 else 95.0 if 140 < ago <= 150 else 88.5,
    )
    found = home.back(home.look(Rind.WET))

    # The verdict's mean follows with a quarter of an hour and leaves as late.
    assert amount(found, Feature.TOO_DRY) == pytest.approx(20.0, abs=0.5)
    assert amount(found, Feature.TOO_DAMP) == pytest.approx(10.0, abs=0.5)
    assert amount(found, Feature.TOO_WARM) == pytest.approx(12.0, abs=0.5)
    assert amount(found, Feature.TOO_COLD) == 0.0
    # 12 of 168 hours lay 4.5 K higher; sums on a grid of half an hour.
    assert amount(found, Feature.TEMPERATURE) == pytest.approx(10.5 + 4.5 * 12 / 168, abs=0.02)


def test_only_the_window_counts(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), lambda ago: 80.0 if 90 < ago <= 110 else 88.5)
    number = home.look(Rind.WET)

    assert amount(home.back(number, days=3), Feature.TOO_DRY) == 0.0
    assert amount(home.back(number, days=7), Feature.TOO_DRY) > 19.0


def test_a_window_that_is_known_in_part_says_so_and_one_that_is_hardly_known_says_nothing(
    tmp_path: Path,
) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(80.0), hours=6 * 24.0)
    number = home.look(Rind.WET)
    week, fortnight = home.back(number), home.back(number, days=14)

    # Six of seven days.
    assert week.values[Feature.TOO_DRY].covered == pytest.approx(6 / 7, abs=0.005)
    # All that is known was too dry, so the whole week is taken to have been.
    assert amount(week, Feature.TOO_DRY) == pytest.approx(168.0, abs=0.5)
    assert fortnight.values[Feature.TOO_DRY].amount is None


def test_wet_hours_come_with_their_band(tmp_path: Path) -> None:
    home = house(tmp_path, lambda ago: 4.0 if ago > 60 else 14.0, builders.steady(92.0))
    found = home.back(home.look(Rind.WET))
    wet = amount(found, Feature.WET)

    assert 1.0 < wet < 40.0
    assert found.wet_band_h is not None
    assert found.wet_band_h.low <= wet <= found.wet_band_h.high


def test_days_since_turned_count_from_the_last_turning_done_before(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5))
    for days_ago, outcome in ((5.0, "done"), (3.0, "skipped"), (1.0, "done")):
        home.turn(days_ago, outcome)
    found = home.back(home.look(Rind.WET, days_ago=2.0))

    # Whole days were entered.
    assert amount(found, Feature.SINCE_TURNED) == pytest.approx(3.0, abs=1e-6)


def test_without_a_record_of_turning_the_days_since_are_not_known(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5))

    assert home.back(home.look(Rind.WET)).values[Feature.SINCE_TURNED].amount is None


def test_readings_that_come_late_change_what_is_told(tmp_path: Path) -> None:
    silent_from_us = builders.NOW_US - 2 * DAY_US
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5), until_us=silent_from_us)
    number = home.look(Rind.WET)
    before = home.back(number)
    with home.context.sessions() as session:
        late = range(silent_from_us, builders.NOW_US + 1, 5 * builders.MINUTE_US)
        air.add_readings(session, [NewReading(home.sensor, at, 10.5, 80.0) for at in late])
    after = home.back(number)

    # Five days of seven, then all.
    assert before.values[Feature.TOO_DRY].covered == pytest.approx(5 / 7, abs=0.005)
    assert after.values[Feature.TOO_DRY].covered == pytest.approx(1.0, abs=0.005)
    assert amount(before, Feature.TOO_DRY) == 0.0
    assert amount(after, Feature.TOO_DRY) == pytest.approx(48.0, abs=0.5)  # the mean's delay


def test_where_nothing_notable_was_seen_nothing_is_compared(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5))
    found = home.back(home.look(Rind.TACKY))

    assert (found.seen, found.comparison) == ((), None)
    assert amount(found, Feature.HUMIDITY) == pytest.approx(88.5, abs=0.01)


def test_few_looks_are_too_few_and_regular_times_stand_beside_them(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5), hours=40 * 24.0)
    compared = home.back(home.look(Rind.WET)).comparison

    assert compared is not None
    assert (compared.cases, compared.others, compared.enough) == (1, compared.regular, False)
    assert compared.regular >= 4


def test_a_look_that_was_taken_back_counts_no_more(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5), hours=40 * 24.0)
    number = home.look(Rind.WET)
    other = home.look(Rind.WET, days_ago=10.0)
    before = home.back(number).comparison
    with home.context.sessions() as session:
        observations.withdraw(session, observations.observation(session, other))
    after = home.back(number).comparison

    assert before is not None
    assert after is not None
    assert (before.cases, after.cases) == (2, 1)
    with pytest.raises(UnknownError):
        home.back(other)


def test_a_condition_that_was_not_seen_cannot_be_compared(tmp_path: Path) -> None:
    home = house(tmp_path, builders.steady(10.5), builders.steady(88.5))
    number = home.look(Rind.WET, words="and a crack")

    assert home.back(number, condition=Condition.CRACKS).seen == (
        Condition.WET_RIND,
        Condition.CRACKS,
    )
    with pytest.raises(UnknownError):
        home.back(number, condition=Condition.SLIME)


def test_the_same_question_gets_the_same_answer_with_and_without_memory(tmp_path: Path) -> None:
    lived = planted_weeks.weeks(31, 4, 3)
    context = household(tmp_path, lived, every_min=15)
    numbers = [
        look(context, lived, {Condition.WET_RIND: place < 2}, week, place, "a")
        for week in range(3)
        for place in range(4)
    ]
    memory = Memory()
    with context.sessions() as session:
        answers = [
            look_back(session, context.plans, numbers[-4], builders.NOW_US, each)
            for each in (memory, memory, Memory())
        ]

    assert answers[0].comparison == answers[1].comparison == answers[2].comparison


Planted = tuple[Context, planted_weeks.Weeks, Memory]


@pytest.fixture(scope="module")
def lived_weeks(tmp_path_factory: pytest.TempPathFactory) -> Planted:
    """Seven weeks of four caves; the bench has ten other seeds."""
    lived = planted_weeks.weeks(500)
    return household(tmp_path_factory.mktemp("weeks"), lived), lived, Memory()


def planted(where: Planted, condition: Condition, looks: int, exceptions: float) -> Comparison:
    """Enter looks at wheels on which the planted cause shows, and look back from the newest."""
    context, lived, memory = where
    draw = np.random.default_rng(500)
    seen = planted_weeks.seen_of(lived.drivers[condition], draw, exceptions)
    number = enter_looks(context, lived, condition, seen, looks)
    with context.sessions() as session:
        found = look_back(
            session, context.plans, number, builders.NOW_US, memory, condition=condition
        )
    forget(context)
    assert found.comparison is not None
    return found.comparison


@pytest.mark.parametrize("condition", planted_weeks.CAUSES)
def test_a_planted_cause_is_ranked_first(lived_weeks: Planted, condition: Condition) -> None:
    """With one look in twenty an exception."""
    found = planted(lived_weeks, condition, looks=28, exceptions=0.05)

    assert found.rows[0].feature is planted_weeks.CAUSES[condition]
    assert found.rows[0].stands_out


def test_twelve_looks_at_whole_caves_tell_the_planted_cause_first_nine_times_in_ten(
    tmp_path: Path,
) -> None:
    """Six causes in each of two households of four caves; the bench has ten other seeds.

    First, or not told from the first because it measures the same quantity. Too damp is left to
    the bench: the few such hours on a shelf hang on the offset of a sensor that nobody checked.
    """
    told: list[bool] = []
    for seed in (501, 502):
        lived = planted_caves.caves(seed, count=3)
        folder = tmp_path / f"{seed}"
        folder.mkdir()
        where = household(folder, lived, every_min=1), lived, Memory()
        for condition, cause in planted_weeks.CAUSES.items():
            if cause is Feature.TOO_DAMP:
                continue
            found = planted(where, condition, looks=12, exceptions=0.0)
            told.append(cause in told_first(found))
        where[0].engine.dispose()

    assert sum(told) >= 0.9 * len(told)
