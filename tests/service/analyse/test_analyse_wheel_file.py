"""WHEEL.json: what it may say, and what its errors say."""

import json
import re
from pathlib import Path

import pytest

from service.ageing.values import Range
from service.analyse.wheel_file import read_wheel
from service.errors import SettingsError

STAGE = {
    "name": "drying",
    "from": "2026-09-01T08:00:00Z",
    "temperature_c": [10, 14],
    "humidity_pct": [85, 95],
}
WHOLE = {
    "plan": None,
    "started": "2026-09-01T08:00:00Z",
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
    "water_activity": 0.97,
    "initial_temperature_c": 18.5,
    "weighings": [{"time": "2026-09-08T08:00:00Z", "grams": 1910}],
    "ripening": {"reference_temperature_c": 12, "activation_energy_kj_per_mol": 80},
    "stages": [STAGE],
}


def written(folder: Path, content: object) -> Path:
    path = folder / "wheel.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def message(folder: Path, content: object) -> str:
    with pytest.raises(SettingsError) as caught:
        read_wheel(written(folder, content))
    return str(caught.value)


def test_the_whole_contract_is_read(tmp_path: Path) -> None:
    wheel = read_wheel(written(tmp_path, WHOLE))

    assert wheel.mass_g == 1950
    assert wheel.weighings[0].grams == 1910
    assert wheel.stages[0].target.humidity_pct == Range(85, 95)
    assert wheel.unknown_keys == []


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "wheel.json"
    path.write_text(json.dumps(WHOLE), encoding="utf-8-sig")

    assert len(read_wheel(path).stages) == 1


def test_a_stage_may_leave_a_range_open(tmp_path: Path) -> None:
    stage = STAGE | {"humidity_pct": None}

    wheel = read_wheel(written(tmp_path, {"stages": [stage]}))

    assert wheel.stages[0].target.humidity_pct is None


@pytest.mark.parametrize("key", ["weighings", "stages"])
def test_a_list_that_is_null_is_one_that_is_missing(tmp_path: Path, key: str) -> None:
    wheel = read_wheel(written(tmp_path, {key: None}))

    assert getattr(wheel, key) == ()


def test_keys_that_mean_nothing_are_told_by_their_path(tmp_path: Path) -> None:
    content = {"stages": [STAGE | {"humidty": 1}], "colour": "blue"}

    assert read_wheel(written(tmp_path, content)).unknown_keys == ["colour", "stages[0].humidty"]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ({"mass_g": -3}, r"mass_g: .* write a number from 1 to 1000000 g"),
        ({"mass_g": 1e300}, r"mass_g: .* write a number from 1 to 1000000 g"),
        ({"diameter_mm": 1e-300}, r"diameter_mm: .* write a number from 5 to 2000 mm"),
        ({"height_mm": 1e300}, r"height_mm: .* write a number from 5 to 2000 mm"),
        (
            {"ripening": {"reference_temperature_c": 12, "activation_energy_kj_per_mol": 1e6}},
            r"activation_energy_kj_per_mol: .* above 0 and up to 500 kJ/mol",
        ),
        ({"stages": [STAGE | {"temperature_c": [14, 10]}]}, r"stages\[0\]\.temperature_c: .*low"),
        ({"stages": [STAGE | {"humidity_pct": [85]}]}, r"stages\[0\]\.humidity_pct.*\[low, high\]"),
        ({"stages": [STAGE | {"from": 1_788_249_600}]}, r"stages\[0\]\.from: .* write a time"),
        ({"stages": [STAGE | {"from": "2026-09-01T08:00:00"}]}, r"from: .* time with its offset"),
        ({"stages": [{"name": "drying"}]}, r"stages\[0\]\.from: is missing.*2 more to mend"),
        ({"stages": [STAGE, STAGE]}, r"stages: two stages begin at the same time"),
        ({"composition": {"water": 0.4, "fat": 29}}, r"composition\.fat: .* 0 to 1 \(and 3 more"),
        (
            {"initial_temperature_c": "warm"},
            r"initial_temperature_c: .* a number from -40 to 60 °C",
        ),
        ([], r"wheel\.json: is no JSON object; write \{"),
        ({"stages": "none"}, r"stages: .* write a list"),
    ],
)
def test_an_error_is_one_line_with_file_key_and_mend(
    tmp_path: Path, content: object, expected: str
) -> None:
    told = message(tmp_path, content)

    assert "\n" not in told
    assert told.startswith(str(tmp_path / "wheel.json"))
    assert re.search(expected, told), told


def test_broken_json_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "wheel.json"
    path.write_text('{"plan": null,\n "stages": [}', encoding="utf-8")

    with pytest.raises(SettingsError, match=r"line 2 .*mend the JSON"):
        read_wheel(path)


def test_a_file_in_another_encoding_is_told(tmp_path: Path) -> None:
    path = tmp_path / "wheel.json"
    path.write_bytes('{"plan": "Käse"}'.encode("latin-1"))

    with pytest.raises(SettingsError, match="save it as UTF-8"):
        read_wheel(path)


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"cannot be read .*check the name"):
        read_wheel(tmp_path / "none.json")
