"""The demo as a newcomer runs it: one command, a tray that runs dry, a clean end."""

import json
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from service.cli import main

pytestmark = pytest.mark.broker

ROOT = Path(__file__).parents[3]
READY_S = 60.0
ALARM_S = 60.0
"""At six hundred times the world's pace, ten hours of the cave."""
GONE_S = 45.0
"""A sensor takes leave of its broker, the watch ends its round; a busy machine is slow at both."""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_until(
    condition: Callable[[], Any], within_s: float, process: subprocess.Popen[str]
) -> Any:
    until_s = time.monotonic() + within_s
    while time.monotonic() < until_s:
        found = condition()
        if found:
            return found
        assert process.poll() is None, process.communicate()
        time.sleep(0.1)
    raise AssertionError(f"not within {within_s} s")


class Demo:
    def __init__(self, process: subprocess.Popen[str], port: int) -> None:
        self.process = process
        self.address = f"http://127.0.0.1:{port}"
        self.lines: list[str] = []

    def get(self, path: str) -> str:
        with urllib.request.urlopen(self.address + path, timeout=20) as answer:
            text: str = answer.read().decode()
            return text

    def post(self, path: str) -> None:
        urllib.request.urlopen(
            urllib.request.Request(self.address + path, data=b"", method="POST"), timeout=20
        ).close()

    def open_alarms(self) -> list[dict[str, Any]]:
        alarms: list[dict[str, Any]] = json.loads(self.get("/api/alarms?only_open=true"))
        return alarms

    def children(self) -> list[int]:
        """Processes with the demo's own folder or address in their command or environment."""
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                told = (folder / "cmdline").read_bytes() + (folder / "environ").read_bytes()
            except OSError:
                continue
            if f"WHEELWARD_TEST_MARK={self.address}".encode() in told:
                found.append(int(folder.name))
        return [pid for pid in found if pid != self.process.pid]


@contextmanager
def demo(speed: int) -> Iterator[Demo]:
    port = free_port()
    command = [sys.executable, "-m", "service.cli", "demo", "--port", str(port)]
    process = subprocess.Popen(
        [*command, "--speed", str(speed), "--readings", str(ROOT / "sample_readings")],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=ROOT,
        env={"PATH": "/usr/bin:/bin", "WHEELWARD_TEST_MARK": f"http://127.0.0.1:{port}"},
    )
    running = Demo(process, port)
    assert process.stdout is not None
    for line in process.stdout:
        running.lines.append(line)
        if running.address in line:
            break
    try:
        yield running
    finally:
        if process.poll() is None:
            process.terminate()
        process.communicate(timeout=GONE_S * 2)


def test_a_tray_that_runs_dry_ends_in_an_alarm_that_names_the_wheel() -> None:
    with demo(600) as larch_lane:
        before = larch_lane.open_alarms()
        larch_lane.post("/demo/tray/empty")
        alarm = wait_until(
            lambda: [a for a in larch_lane.open_alarms() if a["kind"] == "humidity_below"],
            ALARM_S,
            larch_lane.process,
        )[0]
        verdicts = [wheel["verdict"]["word"] for wheel in json.loads(larch_lane.get("/api/wheels"))]

    assert before == []
    assert "Tomme" in alarm["body"]
    assert "too dry" in verdicts


def test_ctrl_c_ends_all_of_it() -> None:
    with demo(60) as larch_lane:
        children = larch_lane.children()
        larch_lane.process.send_signal(signal.SIGINT)
        said, _ = larch_lane.process.communicate(timeout=GONE_S * 2)
        left = larch_lane.children()

    assert len(children) >= 4  # the broker, the worker, the sensors, the pages
    assert larch_lane.process.returncode == 0
    assert "Ending the demo" in said
    assert left == []


def test_killing_the_demo_ends_its_children_too() -> None:
    with demo(60) as larch_lane:
        larch_lane.process.kill()
        larch_lane.process.wait(GONE_S)
        until_s = time.monotonic() + GONE_S
        while larch_lane.children() and time.monotonic() < until_s:
            time.sleep(0.1)

        assert larch_lane.children() == []


def test_a_port_that_is_taken_is_named_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        code = main(["demo", "--port", str(port), "--readings", str(ROOT / "sample_readings")])

    said = capsys.readouterr().err
    assert code == 1
    assert f"port {port} cannot be used" in said
    assert said.count("\n") == 1


def test_a_folder_without_a_household_is_named_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["demo", "--readings", str(tmp_path)])

    assert code == 1
    assert "holds no larch_lane.json" in capsys.readouterr().err
