"""The analysis from files to JSON, as the command line calls it."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from service.analyse import analyse
from service.errors import BadReadingsError, SettingsError

START = datetime(2026, 9, 1, 8, tzinfo=UTC)
WHEEL = {
    "plan": None,
    "stages": [
        {
            "name": "drying",
            "from": "2026-09-01T08:00:00Z",
            "temperature_c": [10, 14],
            "humidity_pct": [85, 95],
        }
    ],
}
KEYS = {
    "excursions",
    "condensation",
    "wheel_temperature",
    "mass",
    "equivalent_age_days",
    "door_openings",
    "cooling_cycles",
    "gaps",
    "rejected_readings",
    "humidity_correction",
    "notes",
}


def stamp(minutes: int) -> str:
    return (START + timedelta(minutes=minutes)).isoformat().replace("+00:00", "Z")


def row(minutes: int, humidity_pct: float = 90.0) -> str:
    return f"{stamp(minutes)},12.0,{humidity_pct}"


class Desk:
    """A folder with the files of an analysis."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.wheel(WHEEL)

    def wheel(self, content: object) -> None:
        (self.folder / "wheel.json").write_text(json.dumps(content), encoding="utf-8")

    def readings(self, rows: list[str], name: str = "air.csv") -> Path:
        path = self.folder / name
        path.write_text("\n".join(["time,temperature_c,humidity_pct", *rows, ""]), encoding="utf-8")
        return path

    def analyse(self, rows: list[str], **asked: Any) -> dict[str, Any]:
        out = self.folder / "out.json"
        analyse(
            self.readings(rows),
            self.folder / "wheel.json",
            asked.get("outer"),
            asked.get("salts", []),
            out,
        )
        found: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
        return found


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def test_a_planted_excursion_is_written_as_the_contract_says(desk: Desk) -> None:
    rows = [row(n, 80.25 if 30 <= n < 45 else 90.0) for n in range(120)]

    assert desk.analyse(rows)["excursions"] == [
        {
            "quantity": "humidity",
            "direction": "below",
            "from": "2026-09-01T08:30:00Z",
            "to": "2026-09-01T08:45:00Z",
            "extreme": 80.25,
        }
    ]


def test_a_silence_is_written_from_reading_to_reading(desk: Desk) -> None:
    rows = [row(n) for n in range(60)] + [row(n) for n in range(420, 480)]

    assert desk.analyse(rows)["gaps"] == [
        {"from": "2026-09-01T08:59:00Z", "to": "2026-09-01T15:00:00Z"}
    ]


def test_a_slow_sensor_has_no_gap_until_three_intervals_are_over(desk: Desk) -> None:
    """Every ten minutes: 30 minutes of silence are none, 40 are one."""
    numbers = [0, 10, 20, 30, 60, 70, 80, 120, 130, 140, 150]

    assert desk.analyse([row(n) for n in numbers])["gaps"] == [
        {"from": stamp(80), "to": stamp(120)}
    ]


def test_rows_that_cannot_be_used_are_counted_and_told(desk: Desk) -> None:
    rows = [row(n) for n in range(30)]
    rows[3] = "yesterday,12.0,90.0"
    rows[7] = f"{stamp(7)},-127.0,90.0"
    rows[9] = f"{stamp(9)},12.0,850"

    found = desk.analyse(rows)

    assert found["rejected_readings"] == 3
    told = [note for note in found["notes"] if "was rejected" in note]
    assert [note.split(" was ")[0] for note in told] == ["Line 5", "Line 9", "Line 11"]


def test_many_rejected_rows_are_told_in_a_few_notes(desk: Desk) -> None:
    found = desk.analyse([row(n, 850 if n < 20 else 90) for n in range(60)])

    assert found["rejected_readings"] == 20
    assert "15 more lines were rejected." in found["notes"]


def test_a_contradiction_is_rejected_and_the_first_row_stands(desk: Desk) -> None:
    """The later rows alone would be an excursion."""
    rows = [row(n) for n in range(30)] + [row(n, 60.0) for n in range(30)]

    found = desk.analyse(rows)

    assert found["excursions"] == []
    assert found["rejected_readings"] == 30


def test_rows_out_of_order_are_put_in_order(desk: Desk) -> None:
    rows = [row(n, 80.0 if 30 <= n < 45 else 90.0) for n in range(120)]
    in_order = desk.analyse(rows)

    assert desk.analyse(rows[60:] + rows[:60]) == in_order


def test_an_offset_names_the_same_instant_as_a_z(desk: Desk) -> None:
    """Summer time ends in central Europe on 25 October 2026 at 01:00 UTC."""
    first = datetime(2026, 10, 25, 0, tzinfo=UTC)
    offsets = ["+02:00" if n < 60 else "+01:00" for n in range(120)]
    rows = []
    for n, offset in enumerate(offsets):
        local = first + timedelta(minutes=n, hours=int(offset[1:3]))
        rows.append(f"{local:%Y-%m-%dT%H:%M:%S}{offset},12.0,{80.0 if 50 <= n < 70 else 90.0}")

    found = desk.analyse(rows)

    assert found["gaps"] == []
    assert [(spell["from"], spell["to"]) for spell in found["excursions"]] == [
        ("2026-10-25T00:50:00Z", "2026-10-25T01:10:00Z")
    ]


def test_every_key_of_the_contract_is_there_whatever_is_known(desk: Desk) -> None:
    desk.wheel({})

    assert set(desk.analyse([row(0)])) == KEYS


def test_minutes_filled_in_between_slow_readings_are_said_so(desk: Desk) -> None:
    notes = desk.analyse([row(5 * n) for n in range(30)])["notes"]

    assert any(note.startswith("Readings come every 300 s") for note in notes)


def test_a_plan_without_stages_is_said_to_give_no_range(desk: Desk) -> None:
    desk.wheel({"plan": "blue"})

    found = desk.analyse([row(n, 20.0) for n in range(30)])

    assert found["excursions"] == []
    assert any("no stages" in note for note in found["notes"])
    assert any('plan "blue" begin when its gates open' in note for note in found["notes"])


def test_a_wheel_without_stages_or_plan_has_no_excursion(desk: Desk) -> None:
    desk.wheel({})

    found = desk.analyse([row(n, 20.0) for n in range(30)])

    assert found["excursions"] == []
    assert not any("ranges of the plan" in note for note in found["notes"])


def test_readings_before_the_first_stage_are_said_to_have_no_range(desk: Desk) -> None:
    notes = desk.analyse([row(n) for n in range(-30, 30)])["notes"]

    assert any("which begins 2026-09-01T08:00:00Z" in note for note in notes)


def test_a_misspelt_key_is_told(desk: Desk) -> None:
    desk.wheel(WHEEL | {"wieghings": []})

    notes = desk.analyse([row(n) for n in range(30)])["notes"]

    assert any(note.startswith("wieghings in wheel.json means nothing") for note in notes)


@pytest.mark.parametrize("stray", ["2003-01-01T00:00:00Z", "2087-06-01T00:00:00Z"])
def test_a_reading_from_another_time_is_put_aside_and_told(desk: Desk, stray: str) -> None:
    rows = [row(n) for n in range(60)]
    before = desk.analyse(rows)

    found = desk.analyse([*rows, f"{stray},12.0,90.0"])

    assert found["rejected_readings"] == 1
    assert found["gaps"] == []
    assert any(f"1, the first of {stray}" in note for note in found["notes"])
    assert {key: found[key] for key in KEYS - {"notes", "rejected_readings"}} == {
        key: before[key] for key in KEYS - {"notes", "rejected_readings"}
    }


def test_a_history_of_years_without_such_a_silence_is_kept_whole(desk: Desk) -> None:
    """A reading every ten days for four years: no silence of more than 400 days."""
    found = desk.analyse([row(n * 14_400) for n in range(146)])

    assert found["rejected_readings"] == 0


def test_one_reading_is_enough_for_an_answer(desk: Desk) -> None:
    found = desk.analyse([row(0, 20.0)])

    assert (found["excursions"], found["gaps"]) == ([], [])


@pytest.mark.parametrize("rows", [[], ["nonsense"]])
def test_a_file_without_a_usable_row_is_an_error(desk: Desk, rows: list[str]) -> None:
    with pytest.raises(BadReadingsError, match=r"air\.csv"):
        desk.analyse(rows)


def test_a_missing_cave_file_is_an_error(desk: Desk) -> None:
    with pytest.raises(BadReadingsError, match=r"none\.csv"):
        desk.analyse([row(0)], outer=desk.folder / "none.csv")


def test_an_out_file_that_cannot_be_written_is_an_error(desk: Desk) -> None:
    readings, wheel = desk.readings([row(0)]), desk.folder / "wheel.json"

    with pytest.raises(SettingsError, match="name a file in a folder that exists"):
        analyse(readings, wheel, None, [], desk.folder / "none" / "out.json")
