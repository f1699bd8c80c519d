"""The files in sample_readings/ are what the command makes, and hold what they say they hold."""

import csv
import itertools
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sensors.simulated import main
from sensors.simulation import larch_lane as lane
from sensors.simulation.history import HOUSEHOLD_FILE, write_history
from sensors.simulation.household import Happening, Kind, Trace, restore, state_of
from sensors.simulation.live import household_at
from sensors.simulation.room import US_PER_DAY

KEPT = Path(__file__).parents[2] / "sample_readings"
HOUR_US = 3_600_000_000

Rows = dict[datetime, tuple[float, float]]


@pytest.fixture(scope="module")
def household() -> dict[str, Any]:
    told: dict[str, Any] = json.loads((KEPT / HOUSEHOLD_FILE).read_text(encoding="utf-8"))
    return told


@pytest.fixture(scope="module")
def readings() -> Callable[[str], Rows]:
    kept: dict[str, Rows] = {}

    def of(sensor: str) -> Rows:
        if sensor not in kept:
            with (KEPT / f"{sensor}.csv").open(encoding="utf-8", newline="") as file:
                kept[sensor] = {
                    datetime.fromisoformat(row["time"]): (
                        float(row["temperature_c"]),
                        float(row["humidity_pct"]),
                    )
                    for row in csv.DictReader(file)
                }
        return kept[sensor]

    return of


def mean(rows: Rows, column: int, start: datetime, end: datetime) -> float:
    values = [row[column] for time, row in rows.items() if start <= time < end]
    return sum(values) / len(values)


def span(household: dict[str, Any], event: str) -> tuple[datetime, datetime]:
    (told,) = [row for row in household["events"] if row["event"] == event]
    return datetime.fromisoformat(told["from"]), datetime.fromisoformat(told["to"])


def test_command_makes_the_kept_files_byte_for_byte(tmp_path: Path) -> None:
    assert main(["history", str(tmp_path)]) == 0

    made = sorted(path.name for path in tmp_path.iterdir())
    assert made == sorted(path.name for path in KEPT.iterdir() if path.suffix != ".md")
    for name in made:
        assert (tmp_path / name).read_bytes() == (KEPT / name).read_bytes(), name


def test_part_of_the_history_is_the_beginning_of_the_whole(tmp_path: Path) -> None:
    for path in write_history(tmp_path, days=2):
        assert (KEPT / path.name).read_bytes().startswith(path.read_bytes())


def test_history_covers_57_days_minute_by_minute(readings: Callable[[str], Rows]) -> None:
    times = list(readings(lane.BLUE_BOX))

    assert len(times) == 57 * 1_440
    assert times[0] == datetime.fromisoformat("2026-08-03T00:00:00Z")
    assert all(b - a == timedelta(minutes=1) for a, b in itertools.pairwise(times))


def test_household_says_that_it_is_invented(household: dict[str, Any]) -> None:
    assert "invented" in household["invented"]


def test_every_place_in_the_household_is_one_of_its_spaces(household: dict[str, Any]) -> None:
    spaces = {space["slug"] for space in household["spaces"]}
    wheels = [wheel for batch in household["batches"] for wheel in batch["wheels"]]
    placed = {
        stay["space"] for thing in (*wheels, *household["sensors"]) for stay in thing["placements"]
    }

    assert len(wheels) == 9
    assert placed <= spaces


def test_wheels_stay_and_live_without_gap_or_overlap(household: dict[str, Any]) -> None:
    for batch in household["batches"]:
        for spans in (batch["wheels"][0]["placements"], batch["wheels"][0]["stages"]):
            assert spans[0]["from"] == batch["made"]
            assert all(a["to"] == b["from"] for a, b in itertools.pairwise(spans))
            assert spans[-1]["to"] is None


def test_wheels_lose_weight_from_weighing_to_weighing(household: dict[str, Any]) -> None:
    for batch in household["batches"]:
        grams = [weighing["grams"] for weighing in batch["wheels"][0]["weighings"]]
        assert grams
        assert all(a >= b for a, b in itertools.pairwise([batch["wheels"][0]["mass_g"], *grams]))


def test_dry_tray_is_in_the_cave_readings(
    household: dict[str, Any], readings: Callable[[str], Rows]
) -> None:
    start, end = span(household, "tray_dry")
    cave = readings(lane.CAVE)
    day = timedelta(days=1)

    assert end - start > 3 * day
    assert mean(cave, 1, start - day, start) > 86.5
    assert mean(cave, 1, end - day, end) < 80.0
    assert mean(cave, 1, end + 0.2 * day, end + day) > 86.5


def test_door_ajar_is_in_the_cave_readings(
    household: dict[str, Any], readings: Callable[[str], Rows]
) -> None:
    start, end = span(household, "door_ajar")
    cave = readings(lane.CAVE)

    assert mean(cave, 0, start + timedelta(hours=1), end) > 11.5
    assert mean(cave, 0, end + timedelta(hours=3), end + timedelta(hours=9)) < 10.3


def test_silence_is_in_the_cave_readings(
    household: dict[str, Any], readings: Callable[[str], Rows]
) -> None:
    start, end = span(household, "sensor_silent")
    times = list(readings(lane.CAVE))
    gaps = [(a, b) for a, b in itertools.pairwise(times) if b - a > timedelta(minutes=1)]

    assert len(gaps) == 1
    assert abs(gaps[0][0] - start) <= timedelta(minutes=1)
    assert abs(gaps[0][1] - end) <= timedelta(minutes=1)


def test_sweating_box_and_creeping_sensor_are_in_the_box_readings(
    household: dict[str, Any], readings: Callable[[str], Rows]
) -> None:
    start, end = span(household, "box_sweated")
    box = readings(lane.BLUE_BOX)
    day = timedelta(days=1)

    early = mean(box, 1, start + 0.5 * day, start + day)
    late = mean(box, 1, end - day, end)
    assert early > 96.0
    assert 1.0 < late - early < 2.6
    assert mean(box, 1, end + day, end + 2 * day) < 95.0


def test_last_two_days_are_calm_in_the_cave(readings: Callable[[str], Rows]) -> None:
    cave = readings(lane.CAVE)
    last = max(cave)
    for hours in range(36):
        end = last - timedelta(hours=hours)
        assert 87.0 < mean(cave, 1, end - timedelta(hours=1), end) < 91.5
        assert 9.5 < mean(cave, 0, end - timedelta(hours=1), end) < 10.5


def test_lid_film_truly_came_and_went() -> None:
    trace = Trace()
    household = lane.larch_lane(trace)
    household.live_until(lane.local_us("2026-08-29 12:00"))
    film = dict(zip(trace.time_us, trace.series["blue-box.lid_film_g_per_m2"], strict=True))
    cracked = lane.local_us(lane.LID_CRACKED)

    before = [value for time, value in film.items() if cracked - 48 * HOUR_US < time < cracked]
    after = [value for time, value in film.items() if time > cracked + 12 * HOUR_US]
    assert max(before) > 2.0
    assert max(after) < 0.01
    assert ("cave", cracked, 70.0) in trace.openings


def test_household_goes_on_from_its_state_as_if_never_stopped() -> None:
    whole, stopped = lane.larch_lane(), lane.larch_lane()
    middle, end = whole.time_us + 30 * HOUR_US, whole.time_us + 50 * HOUR_US
    whole.live_until(end)
    stopped.live_until(middle)
    again = lane.larch_lane()
    restore(again, json.loads(json.dumps(state_of(stopped))))
    again.live_until(end)

    assert state_of(again) == state_of(whole)


def test_kept_state_leads_to_the_last_readings_of_the_files(
    readings: Callable[[str], Rows],
) -> None:
    """The demo must show no jump where history ends and live readings begin."""
    household = household_at(KEPT, lane.LAST_DAY_US + 15 * HOUR_US)
    rows = list(readings(lane.CAVE).values())[-9 * 60 : -8 * 60]
    live = [
        reading
        for reading in household.readings_until(household.time_us + HOUR_US)
        if reading.sensor == lane.CAVE
    ]

    assert len(live) == 60
    # The first live reading belongs to the minute after; the noise alone is drawn anew.
    for reading, row in zip(live, rows[1:], strict=False):
        assert reading.temperature_c == pytest.approx(row[0], abs=0.08)
        assert reading.humidity_pct == pytest.approx(row[1], abs=0.7)


@pytest.mark.parametrize("hour", [0.2, 9.0, 14.5, 22.0])
def test_tray_emptied_in_the_demo_shows_within_75_minutes(hour: float) -> None:
    household = household_at(KEPT, lane.LAST_DAY_US + round(hour * HOUR_US))
    household.apply(Happening(0, Kind.EMPTY_TRAY, lane.CAVE))
    said = [
        reading.humidity_pct
        for reading in household.readings_until(household.time_us + 75 * 60_000_000)
        if reading.sensor == lane.CAVE
    ]

    assert min(said) < 82.0


@pytest.mark.parametrize("offset_us", [0, 1, 43_200_000_000, US_PER_DAY - 60_000_000])
def test_history_is_moved_by_whole_days_until_it_reaches_now(offset_us: int) -> None:
    now_us = lane.LAST_DAY_US + 100 * US_PER_DAY + offset_us
    shift_us = lane.shift_us(now_us)

    assert shift_us % US_PER_DAY == 0
    assert 0 <= lane.LAST_READING_US + shift_us - now_us < US_PER_DAY
