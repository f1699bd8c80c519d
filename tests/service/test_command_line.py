"""The command line: exit codes, one line for an error, and help that is whole."""

import io
import json
from pathlib import Path
from typing import Any

import pytest

from service.cli import main

COMMANDS = (
    *("demo", "serve", "ingest", "migrate", "backup", "restore", "analyse", "replay"),
    *("person", "person add", "person password", "person remove", "person list"),
)
READINGS = "time,temperature_c,humidity_pct\n" + "".join(
    f"2026-11-25T12:{minute:02}:00Z,10.0,{90.0 if minute < 30 else 80.0}\n" for minute in range(60)
)
WHEEL = {
    "started": "2026-11-25T00:00:00Z",
    "diameter_mm": 190,
    "height_mm": 75,
    "mass_g": 1950,
    "stages": [
        {
            "name": "ripening",
            "from": "2026-11-25T00:00:00Z",
            "temperature_c": [8, 13],
            "humidity_pct": [85, 92],
        }
    ],
}


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WHEELWARD_DATA_FOLDER", str(tmp_path / "data"))


def typed(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([*command.split(), "--help"])

    assert ended.value.code == 0
    assert "usage: wheelward" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["nonsense"],
        ["demo", "--port", "0"],
        ["demo", "--speed", "-1"],
        ["demo", "--speed", "nan"],
        ["analyse", "r.csv"],
        ["analyse", "r.csv", "--wheel", "w.json", "--json", "o.json", "--salt", "NaCl"],
        ["replay", "r.csv"],
        ["person"],
        ["restore"],
    ],
)
def test_bad_usage_is_one_line_and_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)

    assert ended.value.code == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["backup", "copy.db"],
        ["restore", "missing.db"],
        ["analyse", "missing.csv", "--wheel", "w.json", "--json", "o.json"],
        ["person", "remove", "nobody"],
        ["serve", "--host", "0.0.0.0"],
    ],
)
def test_work_that_fails_is_one_line_that_says_why(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 1

    said = capsys.readouterr().err
    assert said.startswith("wheelward: ")
    assert said.count("\n") == 1


def test_beyond_loopback_a_keeper_is_asked_for_first(capsys: pytest.CaptureFixture[str]) -> None:
    main(["serve", "--host", "0.0.0.0"])

    assert "wheelward person add" in capsys.readouterr().err


def test_a_keeper_is_added_listed_and_removed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "a long enough password\n")
    assert main(["person", "add", "Ann"]) == 0
    main(["person", "list"])
    listed = capsys.readouterr().out
    assert main(["person", "remove", "Ann"]) == 0
    capsys.readouterr()
    main(["person", "list"])

    assert listed.endswith("Ann\n")
    assert capsys.readouterr().out == ""


def test_a_short_password_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "short\n")

    assert main(["person", "add", "Ann"]) == 1
    assert "10" in capsys.readouterr().err


def test_backup_and_restore_go_round(capsys: pytest.CaptureFixture[str]) -> None:
    main(["migrate"])

    assert main(["backup", "copy.db"]) == 0
    assert main(["restore", "copy.db"]) == 0
    assert "What was there is in" in capsys.readouterr().out


def test_analyse_writes_the_excursion_that_the_readings_hold(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(READINGS)
    (tmp_path / "w.json").write_text(json.dumps(WHEEL))

    code = main(["analyse", "r.csv", "--wheel", "w.json", "--json", "o.json"])

    written: dict[str, Any] = json.loads((tmp_path / "o.json").read_text())
    (excursion,) = written["excursions"]
    assert code == 0
    assert (excursion["quantity"], excursion["direction"]) == ("humidity", "below")
    assert excursion["from"] == "2026-11-25T12:30:00Z"
    assert excursion["extreme"] == pytest.approx(80.0, abs=1e-9)  # the readings are exact


def test_settings_that_cannot_be_used_are_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "wheelward.toml").write_text("[broker]\nport = 99999\ncolour = 1\n")
    monkeypatch.setenv("WHEELWARD_SETTINGS", str(tmp_path / "wheelward.toml"))

    assert main(["migrate"]) == 1
    said = capsys.readouterr().err
    assert "broker.port" in said
    assert "broker.colour" in said
    assert said.count("\n") == 1
