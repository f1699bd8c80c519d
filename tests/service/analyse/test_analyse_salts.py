"""Saturated-salt tests given to the analysis: the correction, and the words about it.

The salts hold 75.67 %RH (NaCl) and 98.19 % (K2SO4) at 10 °C: Greenspan, J. Res. NBS 81A (1977)
89-96, his table and his polynomial, as transcribed in `salts`.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sensors.files import write_readings
from service.analyse import analyse
from service.errors import SettingsError
from tests.service.analyse.conftest import MINUTE_US, START_US

NACL, K2SO4 = 75.67, 98.19


class Bench:
    """Files of one analysis of a wheel in air at a reading of 88 %."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.air(88.0)
        (folder / "wheel.json").write_text(json.dumps({}), encoding="utf-8")

    def air(self, said_pct: float, name: str = "air.csv") -> Path:
        count = 120
        times = START_US + np.arange(count) * MINUTE_US
        path = self.folder / name
        write_readings(path, times, np.full(count, 10.0), np.full(count, said_pct))
        return path

    def bag(self, name: str, level_pct: float, hours: float = 6.0) -> tuple[str, Path]:
        """A sensor that settles at a level in a bag at 10 °C, and its salt."""
        minutes = np.arange(int(60 * hours))
        noise = np.random.default_rng(3).normal(0, 0.08, minutes.size)
        said = level_pct + (60.0 - level_pct) * np.exp(-minutes / 30.0) + noise
        path = self.folder / f"{name}.csv"
        write_readings(
            path, START_US + minutes * MINUTE_US, np.full(minutes.size, 10.0), np.round(said, 2)
        )
        return name, path

    def found(self, *salts: tuple[str, Path], outer: Path | None = None) -> dict[str, Any]:
        out = self.folder / "out.json"
        analyse(self.folder / "air.csv", self.folder / "wheel.json", outer, list(salts), out)
        found: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
        return found


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_without_a_salt_the_sensor_is_believed_and_that_is_said(bench: Bench) -> None:
    found = bench.found()

    assert found["humidity_correction"] == {"offset_pct": 0.0, "gain": 1.0}
    assert any("as the sensor says it" in note for note in found["notes"])


def test_one_salt_gives_an_offset(bench: Bench) -> None:
    found = bench.found(bench.bag("NaCl", NACL - 2.0))["humidity_correction"]

    assert found["gain"] == 1.0
    assert found["offset_pct"] == pytest.approx(2.0, abs=0.1)  # what is left of the approach


def test_two_salts_give_gain_and_offset(bench: Bench) -> None:
    """The sensor says (truth - 3) / 0.98."""
    salts = (bench.bag("NaCl", (NACL - 3) / 0.98), bench.bag("K2SO4", (K2SO4 - 3) / 0.98))

    found = bench.found(*salts)["humidity_correction"]

    at_90 = found["offset_pct"] + found["gain"] * (90 - 3) / 0.98
    assert found["gain"] == pytest.approx(0.98, abs=0.01)  # a tenth of a percent at each salt
    assert at_90 == pytest.approx(90.0, abs=0.2)


def test_the_correction_decides_what_is_an_excursion(bench: Bench) -> None:
    """88 % is said, 90 % is true, and the range begins at 89 %."""
    begins = "2026-10-01T00:00:00Z"
    stage = {"name": "all", "from": begins, "temperature_c": None, "humidity_pct": [89, 95]}
    (bench.folder / "wheel.json").write_text(json.dumps({"stages": [stage]}), encoding="utf-8")

    believed = bench.found()["excursions"]
    corrected = bench.found(bench.bag("NaCl", NACL - 2.0))["excursions"]

    assert len(believed) == 1
    assert corrected == []


def test_a_test_that_was_broken_off_early_is_not_used_and_said_so(bench: Bench) -> None:
    found = bench.found(bench.bag("NaCl", NACL - 2.0, hours=0.3))

    assert found["humidity_correction"] == {"offset_pct": 0.0, "gain": 1.0}
    assert any("is not used: it was broken off" in note for note in found["notes"])


def test_a_sensor_that_was_not_in_the_bag_is_not_corrected(bench: Bench) -> None:
    found = bench.found(bench.bag("NaCl", 52.0))

    assert found["humidity_correction"]["offset_pct"] == 0.0
    assert any(note.endswith("was it in the bag?") for note in found["notes"])


def test_an_unknown_salt_is_an_error_that_names_the_known_ones(bench: Bench) -> None:
    _, path = bench.bag("NaCl", NACL)

    with pytest.raises(SettingsError, match=r"pepper=NaCl\.csv.*NaCl"):
        bench.found(("pepper", path))
