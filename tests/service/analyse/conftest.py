"""Files of an analysis: air that each test writes itself, and a tomme that lives in it."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from sensors.files import write_readings
from sensors.moments import from_iso, iso
from service.analyse import analyse

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
