"""The command line answers what cannot be with one line, and with the right exit code."""

import os
import signal
import socket
import threading
from pathlib import Path

import pytest

from service.cli import main
from service.errors import SettingsError
from service.settings import Settings, load

ENDINGS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
HEADER = "time,temperature_c,humidity_pct\n"
ROW = "2026-11-25T12:00:00Z,11.5,92.0\n"


def readings_file(folder: Path, name: str, text: str) -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def settings_file(folder: Path, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    path = folder / "wheelward.toml"
    path.write_text(text, encoding="utf-8")
    monkeypatch.setenv("WHEELWARD_SETTINGS", str(path))


@pytest.mark.parametrize("text", ["", "when,what\n", HEADER])
def test_a_file_that_cannot_be_replayed_is_told_in_one_line(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["replay", readings_file(tmp_path, "cave.csv", text), "--to", "mqtt://127.0.0.1:1"])

    assert code == 1
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_broker_that_is_not_there_is_told_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = readings_file(tmp_path, "cave.csv", HEADER + ROW)

    assert main(["replay", file, "--to", "mqtt://127.0.0.1:1"]) == 1
    assert "cannot be reached" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["larch", "mqtt://", "http://127.0.0.1", "mqtt://h:99999"])
def test_an_address_that_is_none_is_bad_usage(
    address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = readings_file(tmp_path, "cave.csv", HEADER + ROW)

    assert main(["replay", file, "--to", address]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize(
    "option", [("--site", "a/b"), ("--sensor", "a#"), ("--pack", "251"), ("--pack", "0")]
)
def test_what_cannot_be_in_a_topic_or_a_message_is_bad_usage(
    option: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = readings_file(tmp_path, "cave.csv", HEADER + ROW)
    with pytest.raises(SystemExit) as ended:
        main(["replay", file, "--to", "mqtt://127.0.0.1:1", *option])

    assert ended.value.code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_file_whose_name_cannot_be_in_a_topic_asks_for_the_sensor(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = readings_file(tmp_path, "cave+box.csv", HEADER + ROW)

    assert main(["replay", file, "--to", "mqtt://127.0.0.1:1"]) == 1
    assert "--sensor" in capsys.readouterr().err


@pytest.mark.parametrize(
    "mapping",
    [
        'topic = "shed/#/air"\ntemperature = "/t"',
        'topic = "shed/air"\ntemperature = "t"',
        'topic = "shed/air"',
    ],
)
def test_a_mapping_that_cannot_be_is_told_when_the_settings_are_read(
    mapping: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings_file(tmp_path, f"[[mappings]]\n{mapping}\n", monkeypatch)

    with pytest.raises(SettingsError, match=r"mappings\.0"):
        load()


@pytest.mark.parametrize(
    "url", ["nonsense", "nonsense://host/store", "sqlite:////dev/null/store.db"]
)
@pytest.mark.parametrize("command", [["migrate"], ["person", "list"], ["serve"], ["ingest"]])
def test_a_store_that_cannot_be_opened_is_told_in_one_line(
    command: list[str],
    url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    settings_file(tmp_path, f'database_url = "{url}"\n', monkeypatch)

    assert main(command) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_store_that_is_no_database_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "store.db").write_bytes(b"recipes of a winter" * 100)
    settings_file(tmp_path, f'database_url = "sqlite:///{tmp_path / "store.db"}"\n', monkeypatch)

    assert main(["migrate"]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_terminal_that_is_closed_asks_to_end_as_ctrl_c_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = {number: signal.getsignal(number) for number in ENDINGS}
    seen = []

    def wait_for_it(_settings: Settings, stop: threading.Event) -> None:
        os.kill(os.getpid(), signal.SIGHUP)
        seen.append(stop.wait(10))

    monkeypatch.setattr("service.ingest.process.run", wait_for_it)
    try:
        signal.signal(signal.SIGHUP, signal.SIG_DFL)

        assert main(["ingest"]) == 0
        assert seen == [True]
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def test_a_hangup_that_nohup_ignores_stays_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    before = {number: signal.getsignal(number) for number in ENDINGS}
    monkeypatch.setattr("service.ingest.process.run", lambda *_: None)
    try:
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
        main(["ingest"])

        assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_a_port_that_is_taken_is_told_in_one_line(
    host: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    settings_file(tmp_path, f'data_folder = "{tmp_path}"\n', monkeypatch)
    # The command writes them; set here so that they are put back after the test.
    monkeypatch.setenv("WHEELWARD_WEB__HOST", host)
    monkeypatch.setenv("WHEELWARD_WEB__PORT", "1")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.create_server((host, 0), family=family) as taken:
        code = main(["serve", "--host", host, "--port", str(taken.getsockname()[1])])

    assert code == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
