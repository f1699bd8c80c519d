"""Writes the history of Larch Lane: readings, household file, and the state it ends in."""

import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from sensors.moments import iso
from sensors.simulation import larch_lane as lane
from sensors.simulation.household import (
    READ_EVERY_US,
    Household,
    Reading,
    state_of,
)
from sensors.simulation.papers import INVENTED, household_file, tomme_file
from sensors.simulation.room import US_PER_DAY

HEADER = "time,temperature_c,humidity_pct\n"
HOUSEHOLD_FILE = "larch_lane.json"
STATE_FILE = "larch_lane_state.json"
WHEEL_FILE = "tomme-wheel.json"


def write_history(
    folder: Path, days: int = lane.DAYS, progress: Callable[[int, int], None] | None = None
) -> list[Path]:
    """Live through the history and write its files; the same bytes each time.

    Args:
        folder: Where to; made when missing.
        days: How many days of readings, from the first on. Only all of them give the
            household file and the state of the last day.
        progress: Told the days done and the days to do, once a day.

    Returns:
        The files written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    household = lane.larch_lane()
    rows: dict[str, list[str]] = {name: [HEADER] for name in household.sensors}
    weighings: dict[str, list[tuple[int, float]]] = {}
    state: dict[str, Any] = {}
    for day in range(days):
        day_us = lane.START_US + day * US_PER_DAY
        # The reading of midnight opens the day; the state of that instant is the day's start.
        _write_rows(rows, household.readings_until(day_us))
        if day_us == lane.LAST_DAY_US:
            state = state_of(household)
        for when in lane.REFILLS:
            if day_us <= lane.local_us(when) < day_us + US_PER_DAY:
                _write_rows(rows, household.readings_until(lane.local_us(when)))
                _weigh(household, weighings)
        _write_rows(rows, household.readings_until(day_us + US_PER_DAY - READ_EVERY_US))
        if progress is not None:
            progress(day + 1, days)
    paths = []
    for name, lines in rows.items():
        paths.append(_write(folder / f"{name}.csv", "".join(lines)))
    if days == lane.DAYS:
        paths.append(_write_json(folder / HOUSEHOLD_FILE, household_file(weighings)))
        paths.append(_write_json(folder / WHEEL_FILE, tomme_file(weighings)))
        kept = {"invented": INVENTED, **state}
        paths.append(_write_json(folder / STATE_FILE, kept))
    return paths


def _write_rows(rows: dict[str, list[str]], readings: Iterable[Reading]) -> None:
    for reading in readings:
        if reading.time_us >= lane.START_US:
            rows[reading.sensor].append(
                f"{iso(reading.time_us)},{reading.temperature_c:.2f},{reading.humidity_pct:.2f}\n"
            )


def _weigh(household: Household, weighings: dict[str, list[tuple[int, float]]]) -> None:
    """Put every wheel that is in the cave on the scale."""
    cave = household.caves[lane.CAVE]
    there = [*cave.wheels, *(wheels for box in cave.boxes for wheels in box.wheels)]
    for name, wheels in household.wheels.items():
        if wheels in there:
            weighings.setdefault(name, []).append((household.time_us, wheels.wheel_g))


def _write_json(path: Path, value: dict[str, Any]) -> Path:
    return _write(path, json.dumps(value, indent=1, ensure_ascii=False) + "\n")


def _write(path: Path, text: str) -> Path:
    path.write_bytes(text.encode())
    return path
