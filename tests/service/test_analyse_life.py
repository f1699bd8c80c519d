"""What the analysis tells of the wheel itself: temperature, sweat, mass, age; and of the cave."""

import json
import math
import time
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from sensors.files import write_readings
from sensors.moments import from_iso, iso
from service.analyse import analyse
from service.errors import SettingsError

FloatArray = npt.NDArray[np.float64]

START_US = 1_790_841_600_000_000  # 2026-10-01T08:00:00Z
MINUTE_US = 60_000_000
DAY_MIN = 1_440
WHEEL: dict[str, Any] = {
    "plan": "tomme",
    "started": iso(START_US),
    "diameter_mm": 190,
    "height_mm": 75,
    "mass_g": 1950,
    "composition": {
        "water": 0.42,
        "fat": 0.29,
        "protein": 0.24,
        "ash": 0.04,
        "carbohydrate": 0.01,
    },
    "water_activity": 0.95,
    "initial_temperature_c": 12.0,
    "ripening": {"reference_temperature_c": 12, "activation_energy_kj_per_mol": 60},
}


def at(minutes: float) -> str:
    return iso(START_US + int(minutes * MINUTE_US))


def minute(time_iso: str) -> float:
    return (from_iso(time_iso) - START_US) / MINUTE_US


class Shelf:
    """A folder with the files of an analysis."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def air(
        self,
        temperature_c: float | FloatArray,
        humidity_pct: float | FloatArray,
        size: int = 3 * DAY_MIN,
        name: str = "air.csv",
        lost: slice = slice(0, 0),
    ) -> Path:
        """Readings each minute, but for those that are lost."""
        minutes = np.delete(np.arange(size), lost)
        columns = [
            np.delete(np.broadcast_to(values, size), lost)
            for values in (temperature_c, humidity_pct)
        ]
        write_readings(self.folder / name, START_US + minutes * MINUTE_US, *columns)
        return self.folder / name

    def found(self, outer: Path | None = None, **changed: Any) -> dict[str, Any]:
        wheel = {key: value for key, value in (WHEEL | changed).items() if value is not None}
        (self.folder / "wheel.json").write_text(json.dumps(wheel), encoding="utf-8")
        out = self.folder / "out.json"
        analyse(self.folder / "air.csv", self.folder / "wheel.json", outer, [], out)
        found: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
        return found


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path)


def test_temperatures_come_on_whole_ten_minutes(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0, size=61)

    rows = shelf.found()["wheel_temperature"]

    assert [row["time"] for row in rows] == [at(10 * n) for n in range(7)]
    assert set(rows[0]) == {"time", "surface_c", "mean_c"}


def test_in_steady_air_as_damp_as_its_rind_a_wheel_takes_the_airs_temperature(shelf: Shelf) -> None:
    shelf.air(9.0, 95.0)

    last = shelf.found()["wheel_temperature"][-1]

    assert last["surface_c"] == pytest.approx(9.0, abs=0.01)  # three days are many time constants
    assert last["mean_c"] == pytest.approx(9.0, abs=0.01)


def test_a_drying_wheel_is_colder_than_its_air(shelf: Shelf) -> None:
    shelf.air(12.0, 75.0)

    assert shelf.found()["wheel_temperature"][-1]["surface_c"] < 11.9


def test_without_a_start_temperature_the_wheel_begins_as_warm_as_its_air(shelf: Shelf) -> None:
    shelf.air(9.0, 95.0, size=60)

    found = shelf.found(initial_temperature_c=None)

    assert found["wheel_temperature"][0]["mean_c"] == pytest.approx(9.0, abs=1e-3)  # as written
    assert any("No initial_temperature_c" in note for note in found["notes"])


def test_a_cold_wheel_in_warm_damp_air_sweats_until_it_has_warmed(shelf: Shelf) -> None:
    """At 16 °C and 95 % the dew point is 15.2 °C: psychrometric tables, any."""
    shelf.air(16.0, 95.0, size=2 * DAY_MIN)

    found = shelf.found(initial_temperature_c=8.0)

    (spell,) = found["condensation"]
    warm = [row["time"] for row in found["wheel_temperature"] if row["surface_c"] > 15.2]
    assert set(spell) == {"surface", "from", "to", "peak_g_per_m2"}
    assert spell["surface"] == "wheel"
    assert minute(spell["from"]) < 60
    assert spell["to"] > warm[0]
    assert spell["peak_g_per_m2"] > 1.0


def test_a_wheel_as_warm_as_its_air_does_not_sweat(shelf: Shelf) -> None:
    shelf.air(12.0, 98.0)

    assert shelf.found()["condensation"] == []


def test_no_sweat_is_told_within_a_gap(shelf: Shelf) -> None:
    shelf.air(16.0, 97.0, size=DAY_MIN, lost=slice(200, 400))

    found = shelf.found(initial_temperature_c=6.0)

    (gap,) = found["gaps"]
    assert len(found["condensation"]) == 2
    for spell in found["condensation"]:
        assert spell["to"] <= at(200) or spell["from"] >= at(399)
    assert gap == {"from": at(199), "to": at(400)}


def test_the_lid_sweats_while_the_cave_is_colder_than_the_dew_point_of_the_box(
    shelf: Shelf,
) -> None:
    """Box at 12 °C and 96 %: dew point 11.4 °C. The cave falls to 6 °C for ten hours."""
    minutes = np.arange(DAY_MIN)
    cold = np.where((minutes >= 300) & (minutes < 900), 6.0, 12.0)
    cave = shelf.air(cold, 80.0, size=DAY_MIN, name="cave.csv")
    shelf.air(12.0, 96.0, size=DAY_MIN)

    (spell,) = shelf.found(outer=cave)["condensation"]

    assert spell["surface"] == "lid"
    assert 300 < minute(spell["from"]) < 320
    assert minute(spell["to"]) > 900


def test_a_cave_read_at_other_times_tells_nothing_of_the_lid_and_that_is_said(
    shelf: Shelf,
) -> None:
    write_readings(
        shelf.folder / "cave.csv", START_US - (np.arange(60) + 600) * MINUTE_US, *np.ones((2, 60))
    )
    shelf.air(12.0, 96.0, size=DAY_MIN)

    found = shelf.found(outer=shelf.folder / "cave.csv")

    assert found["condensation"] == []
    assert any(note.startswith("Nothing is told of sweat on the lid") for note in found["notes"])


def test_the_caves_readings_need_not_fall_on_those_of_the_box(shelf: Shelf) -> None:
    """Seven and a half minutes apart, they are drawn straight between."""
    shelf.air(12.0, 96.0, size=DAY_MIN)
    times = START_US + np.arange(190) * 7 * MINUTE_US + MINUTE_US // 2
    write_readings(shelf.folder / "cave.csv", times, np.full(190, 6.0), np.full(190, 80.0))

    spells = shelf.found(outer=shelf.folder / "cave.csv")["condensation"]

    assert [spell["surface"] for spell in spells] == ["lid"]


def test_mass_comes_daily_from_the_start_and_at_the_end(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=2 * DAY_MIN + 100)

    rows = shelf.found()["mass"]

    assert [row["time"] for row in rows] == [at(n) for n in (0, 1_440, 2_880, 2_979)]
    assert rows[0]["grams"] == pytest.approx(1_950, abs=0.5)  # an unsure scale, nothing else
    assert all(row["low"] < row["grams"] < row["high"] for row in rows)


def test_two_weighings_decide_how_fast_the_wheel_dries(shelf: Shelf) -> None:
    """In steady air loss is even: 40 g in four days are 10 g a day, whatever the coefficient."""
    shelf.air(12.0, 85.0, size=8 * DAY_MIN)
    weighed = [
        {"time": at(2 * DAY_MIN), "grams": 1_930},
        {"time": at(4 * DAY_MIN), "grams": 1_910},
    ]

    told, untold = shelf.found(weighings=weighed)["mass"], shelf.found()["mass"]

    assert told[-1]["grams"] == pytest.approx(1_870, abs=3)  # a tenth of the loss is 8 g
    assert told[-1]["high"] - told[-1]["low"] < 0.3 * (untold[-1]["high"] - untold[-1]["low"])


def test_however_fast_a_wheel_dries_it_is_no_colder_than_a_wet_surface_can_be(
    shelf: Shelf,
) -> None:
    """By Lewis's relation brisk drying is brisk air, which also warms.

    In air of 12 °C and 85 %RH a surface of water activity 0.97 that only the air warms comes to
    10.83 °C, however strong the stream: computed from Lewis's relation with CoolProp 8.0.0.
    """
    shelf.air(12.0, 85.0)
    fast = [{"time": at(0), "grams": 1_950.0}, {"time": at(4_300), "grams": 1_800.0}]
    said = [
        row["surface_c"]
        for row in shelf.found(water_activity=0.97, weighings=fast)["wheel_temperature"]
    ]

    # The bound is set at the low end of the coefficient's band, hence the tenth.
    assert min(said) > 10.83 - 0.1


def test_a_weighing_just_after_the_last_reading_counts(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=4 * DAY_MIN)

    rows = shelf.found(weighings=[{"time": at(4 * DAY_MIN), "grams": 1_900}])["mass"]

    assert rows[-1]["grams"] == pytest.approx(1_900, abs=2)  # the scale's error is 1.5 g


def test_a_weighing_long_after_the_last_reading_is_said_not_to_count(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    notes = shelf.found(weighings=[{"time": at(9 * DAY_MIN), "grams": 1_900}])["notes"]

    assert "Weighings outside the readings, which are not used: 1." in notes


def test_weighings_with_decimals_are_taken_for_a_finer_scale(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=4 * DAY_MIN)
    whole = [{"time": at(2 * DAY_MIN), "grams": 1_930}, {"time": at(3 * DAY_MIN), "grams": 1_920}]
    finer = [{**whole[0], "grams": 1_930.2}, {**whole[1], "grams": 1_920.4}]

    def width(weighings: list[dict[str, Any]]) -> float:
        last = shelf.found(weighings=weighings)["mass"][-1]
        return float(last["high"] - last["low"])

    assert width(finer) < 0.7 * width(whole)


def test_a_start_long_before_the_readings_leaves_the_first_mass_unsure(shelf: Shelf) -> None:
    """Five days that nobody saw may have cost a twentieth of 1950 g."""
    shelf.air(12.0, 85.0)

    first = shelf.found(started=at(-5 * DAY_MIN))["mass"][0]

    assert first["high"] - first["low"] > 100


def test_a_start_ages_before_the_readings_does_not_make_the_first_mass_absurd(
    shelf: Shelf,
) -> None:
    shelf.air(12.0, 88.0)

    first = shelf.found(started="1900-01-01T00:00:00Z")["mass"][0]

    # Half of the mass either way, for few wheels lose more; the band is of samples.
    assert 0.0 < first["low"] < first["grams"] < first["high"]
    assert first["low"] == pytest.approx(0.5 * 1950, abs=0.1 * 1950)


def test_no_wheel_is_told_to_weigh_less_than_nothing(shelf: Shelf) -> None:
    """A gram of cheese as large as a wheel would lose more than it is."""
    shelf.air(12.0, 60.0)

    rows = shelf.found(mass_g=1)["mass"]

    assert rows[-1]["grams"] < 1
    assert min(row["low"] for row in rows) == 0


@pytest.mark.parametrize(
    "size",
    [
        {"diameter_mm": 5, "height_mm": 5, "mass_g": 1_000_000},
        {"diameter_mm": 2_000, "height_mm": 2_000, "mass_g": 1},
        {"diameter_mm": 2_000, "height_mm": 5},
    ],
)
def test_a_wheel_of_any_allowed_size_is_analysed(shelf: Shelf, size: dict[str, Any]) -> None:
    shelf.air(12.0, 88.0, size=DAY_MIN)

    found = shelf.found(**size)

    assert all(math.isfinite(row["surface_c"]) for row in found["wheel_temperature"])
    assert any("which is no cheese" in note for note in found["notes"])


def test_a_few_minutes_tell_no_mass(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=20)

    found = shelf.found()

    assert found["mass"] == []
    assert len(found["wheel_temperature"]) == 2


def test_without_any_mass_none_is_told(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(mass_g=None)

    assert found["mass"] == []
    assert any(note.startswith("mass is left empty") for note in found["notes"])
    assert found["wheel_temperature"] != []


def test_days_at_the_reference_temperature_count_as_days(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0, size=3 * DAY_MIN + 1)

    assert shelf.found()["equivalent_age_days"] == pytest.approx(3.0, rel=1e-3)  # rind and film


def test_warmer_days_count_for_more_by_the_law_of_arrhenius(shelf: Shelf) -> None:
    """exp(60000/R (1/285.15 - 1/291.15)), R = 8.314462618 J/(mol K), CODATA 2018."""
    shelf.air(18.0, 95.0, size=3 * DAY_MIN + 1)

    found = shelf.found(initial_temperature_c=18.0)["equivalent_age_days"]

    rate = math.exp(60_000 / 8.314462618 * (1 / 285.15 - 1 / 291.15))
    assert found == pytest.approx(3 * rate, rel=1e-3)


def test_a_wheel_without_a_size_ages_as_the_air(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0, size=3 * DAY_MIN + 1)

    found = shelf.found(diameter_mm=None)

    assert (found["wheel_temperature"], found["mass"], found["condensation"]) == ([], [], [])
    assert found["equivalent_age_days"] == pytest.approx(3.0, abs=1e-4)  # as written


def test_a_wheel_that_starts_among_the_readings_lives_from_there(shelf: Shelf) -> None:
    shelf.air(12.0, 95.0)

    found = shelf.found(started=at(DAY_MIN + 5.5))

    assert found["wheel_temperature"][0]["time"] == at(DAY_MIN + 10)
    assert found["mass"][0]["time"] == at(DAY_MIN + 5.5)
    assert found["equivalent_age_days"] == pytest.approx(2.0, rel=0.005)  # 5.5 minutes


def test_a_wheel_that_started_before_the_readings_is_told_from_the_first_on(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(started=at(-2 * DAY_MIN))

    assert found["mass"][0]["time"] == at(0)
    assert any("48.0 h before the first reading" in note for note in found["notes"])


def test_a_wheel_that_starts_after_the_readings_has_no_life_in_them(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0)

    found = shelf.found(started=at(9 * DAY_MIN))

    assert (found["wheel_temperature"], found["mass"]) == ([], [])
    assert found["equivalent_age_days"] is None


def test_readings_without_humidity_tell_a_wheel_that_only_conducts(shelf: Shelf) -> None:
    shelf.air(12.0, np.nan)

    found = shelf.found(initial_temperature_c=4.0)
    rows = found["wheel_temperature"]

    assert (found["condensation"], found["mass"], found["door_openings"]) == ([], [], [])
    assert rows[0]["surface_c"] == rows[0]["mean_c"] == 4.0
    assert all(4.0 <= row["mean_c"] <= row["surface_c"] <= 12.0 for row in rows)
    # Nothing dries, so that after three days it is as warm as its air.
    assert rows[-1]["mean_c"] == pytest.approx(12.0, abs=0.01)
    assert any("neither dries nor sweats" in note for note in found["notes"])


def test_a_wheel_that_only_conducts_ages_by_its_own_mean(shelf: Shelf) -> None:
    shelf.air(12.0, np.nan)

    cold, warm = (shelf.found(initial_temperature_c=start_c) for start_c in (4.0, 12.0))

    assert warm["equivalent_age_days"] == pytest.approx(3.0, abs=0.01)
    assert cold["equivalent_age_days"] < warm["equivalent_age_days"] - 0.05


def test_without_any_temperature_there_is_no_age_and_that_is_said(shelf: Shelf) -> None:
    shelf.air(np.nan, 90.0)

    found = shelf.found()

    assert found["equivalent_age_days"] is None
    assert found["wheel_temperature"] == []
    assert any(note.startswith("equivalent_age_days is null") for note in found["notes"])


def test_what_the_file_leaves_out_is_taken_from_the_plan_and_said_so(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)

    notes = shelf.found(plan="blue", composition=None, water_activity=None, ripening=None)["notes"]

    for beginning in ("No composition", "No water activity", "No ripening"):
        (note,) = (one for one in notes if one.startswith(beginning))
        assert '"blue"' in note


def test_an_unknown_plan_is_said_so(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)

    notes = shelf.found(plan="moon")["notes"]

    assert any(note.startswith('The plan "moon" is not known here') for note in notes)


def test_a_composition_that_is_no_whole_is_an_error_that_names_the_file(shelf: Shelf) -> None:
    shelf.air(12.0, 85.0, size=60)
    half = {"water": 0.2, "fat": 0.1, "protein": 0.1, "ash": 0.02, "carbohydrate": 0.0}

    with pytest.raises(
        SettingsError, match=r"wheel\.json with .*air\.csv: the mass fractions sum to 0.42"
    ):
        shelf.found(composition=half)


def fridge(size: int) -> FloatArray:
    """Half an hour's cycle: cooling for a fourth of it."""
    phase = np.arange(size) / 30 % 1
    return 10 + np.where(phase < 0.25, 1 - 4 * phase, (phase - 0.25) / 0.75)


def test_the_cooling_cycle_of_the_air_is_told(shelf: Shelf) -> None:
    shelf.air(fridge(DAY_MIN), 88.0, size=DAY_MIN)

    cycles = shelf.found()["cooling_cycles"]

    assert cycles["period_s"] == pytest.approx(1_800, rel=0.02)  # the science's own bound
    assert cycles["duty"] == pytest.approx(0.25, abs=0.05)


def test_air_without_a_cycle_has_none_and_that_is_said(shelf: Shelf) -> None:
    shelf.air(10.0, 88.0, size=DAY_MIN)

    found = shelf.found()

    assert found["cooling_cycles"] == {"period_s": None, "duty": None}
    assert any("cooling_cycles holds no figures" in note for note in found["notes"])


def test_an_opening_of_the_door_is_told_once_at_its_time(shelf: Shelf) -> None:
    after = np.maximum(np.arange(DAY_MIN) - 700, 0) / 6
    jump = np.where(after > 0, np.exp(-after), 0.0)
    shelf.air(fridge(DAY_MIN) + 3 * jump, 88 - 15 * jump, size=DAY_MIN)

    (opening,) = shelf.found()["door_openings"]

    assert minute(opening) == pytest.approx(700, abs=1)  # one reading


def test_door_and_cooling_of_a_box_are_those_of_its_cave(shelf: Shelf) -> None:
    cave = shelf.air(fridge(DAY_MIN), 80.0, size=DAY_MIN, name="cave.csv")
    shelf.air(11.0, 96.0, size=DAY_MIN)

    assert shelf.found(outer=cave)["cooling_cycles"]["period_s"] == pytest.approx(1_800, rel=0.02)


def test_a_glitch_is_no_rejected_row_but_is_set_aside_and_told(shelf: Shelf) -> None:
    noise = np.random.default_rng(2).normal(0, 0.05, DAY_MIN)
    humidity = (88 + noise).round(2)
    humidity[500] = 55.0
    shelf.air(12.0, humidity, size=DAY_MIN)

    found = shelf.found()

    assert found["rejected_readings"] == 0
    assert any(
        note.startswith("Values that stood alone, set aside as glitches of the sensor: 1")
        for note in found["notes"]
    )


def test_a_wet_sensor_makes_no_excursion_and_no_sweat_and_that_is_said(shelf: Shelf) -> None:
    noise = np.random.default_rng(2).normal(0, 0.2, 3 * DAY_MIN)
    humidity = (88 + noise).round(2)
    humidity[2_000:2_600] = 100.0
    shelf.air(12.0, humidity)
    stage = {"name": "a", "from": at(0), "temperature_c": None, "humidity_pct": [80, 95]}
    found = shelf.found(stages=[stage])

    assert (found["excursions"], found["condensation"]) == ([], [])
    assert any(note.endswith("not counted in rejected_readings.") for note in found["notes"])


def test_a_bad_reading_just_before_a_gap_does_not_warm_the_wheel_through_it(shelf: Shelf) -> None:
    air_c = np.full(3 * DAY_MIN, 12.0)
    air_c[1_999] = 27.0
    shelf.air(air_c, 88.0, lost=slice(2_000, 2_400))
    said = [row["mean_c"] for row in shelf.found()["wheel_temperature"]]

    # One reading of 27 °C for a minute warms the wheel by a hundredth or two.
    assert max(said) < 12.05


def test_ten_weeks_at_one_minute_take_less_than_three_seconds(shelf: Shelf) -> None:
    size = 70 * DAY_MIN
    noise = np.random.default_rng(1).normal(0, 0.1, size).round(2)
    cave = shelf.air(fridge(size) + 0.1 * noise, 85.0 + noise, size=size, name="cave.csv")
    shelf.air(fridge(size) + 0.5 + 0.1 * noise, 94.0 + noise, size=size)
    weighed = [{"time": at(n * DAY_MIN), "grams": 1_950 - 4 * n} for n in (7, 30)]

    began = time.process_time()
    found = shelf.found(outer=cave, weighings=weighed)
    spent_s = time.process_time() - began

    assert len(found["mass"]) == 71
    assert spent_s < 3.0
