"""The private broker starts, guards its door, keeps what waits, and ends with its parent."""

import os
import shutil
import signal
import socket
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from service.broker import HOST, PrivateBroker, Role
from service.errors import SettingsError
from service.settings import BrokerSettings

pytestmark = pytest.mark.broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[PrivateBroker]:
    with PrivateBroker(tmp_path / "broker") as running:
        yield running


def sign_in(settings: BrokerSettings, password: str | None) -> ReasonCode:
    """What the broker answers to an attempt to connect."""
    answers: list[ReasonCode] = []
    answered = threading.Event()
    client = Client(
        CallbackAPIVersion.VERSION2,
        protocol=MQTTProtocolVersion.MQTTv5,
        reconnect_on_failure=False,
    )
    if password is not None:
        client.username_pw_set(settings.username, password)

    def note(
        _client: Client, _userdata: object, _flags: object, reason: ReasonCode, *_: object
    ) -> None:
        answers.append(reason)
        answered.set()

    client.on_connect = note
    client.connect(settings.host, settings.port)
    client.loop_start()
    assert answered.wait(10)
    client.disconnect()
    client.loop_stop()
    return answers[0]


def comes_true(condition: Callable[[], bool], within_s: float = 10.0) -> bool:
    until_s = time.monotonic() + within_s
    while not (met := condition()) and time.monotonic() < until_s:
        time.sleep(0.02)
    return met


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex((HOST, port)) == 0


def test_either_role_signs_in_with_its_password(broker: PrivateBroker) -> None:
    for role in Role:
        settings = broker.settings(role)
        assert settings.password is not None

        assert not sign_in(settings, settings.password.get_secret_value()).is_failure


@pytest.mark.parametrize("password", [None, "", "guessed"])
def test_nobody_comes_in_without_the_password(broker: PrivateBroker, password: str | None) -> None:
    assert sign_in(broker.settings(), password).is_failure


def test_its_files_are_for_its_owner_only_and_hold_no_plain_password(broker: PrivateBroker) -> None:
    for name in ("passwords", "access", "broker.conf"):
        assert stat.S_IMODE((broker.folder / name).stat().st_mode) == 0o600
    text = (broker.folder / "passwords").read_text()
    secret = broker.settings().password

    assert secret is not None
    assert secret.get_secret_value() not in text
    assert text.count("$7$") == len(Role)


def test_it_ends_with_the_block_and_saves_its_sessions(tmp_path: Path) -> None:
    with PrivateBroker(tmp_path) as broker:
        assert answers(broker.port)

    assert broker.pid is None
    assert not answers(broker.port)
    assert (tmp_path / "mosquitto.db").exists()


def test_after_a_crash_it_comes_back_on_its_port_with_its_passwords(broker: PrivateBroker) -> None:
    settings, pid = broker.settings(), broker.pid
    assert pid is not None
    assert settings.password is not None
    os.kill(pid, signal.SIGKILL)
    assert comes_true(lambda: broker.pid is None)
    broker.start()

    assert broker.settings() == settings
    assert not sign_in(settings, settings.password.get_secret_value()).is_failure


def test_ctrl_c_at_the_terminal_does_not_reach_it(broker: PrivateBroker) -> None:
    """The terminal signals its foreground process group; the broker is not in ours."""
    assert broker.pid is not None
    assert os.getpgid(broker.pid) != os.getpgid(0)


def test_a_taken_port_is_told_with_the_brokers_own_words(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind((HOST, 0))
        other.listen()
        broker = PrivateBroker(tmp_path, other.getsockname()[1])

        with pytest.raises(SettingsError, match=r"does not start on .*Address already in use"):
            broker.start()
    assert broker.pid is None


def test_a_missing_mosquitto_is_told_with_the_command_that_installs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("service.broker._SEARCH_PATH", str(tmp_path))

    with pytest.raises(
        SettingsError, match=r"^mosquitto is not installed; run: sudo apt-get install mosquitto$"
    ):
        PrivateBroker(tmp_path).start()


def test_it_dies_with_a_parent_that_is_killed(tmp_path: Path) -> None:
    program = (
        "import pathlib, sys, time\n"
        "from service.broker import PrivateBroker\n"
        "with PrivateBroker(pathlib.Path(sys.argv[1])) as broker:\n"
        "    print(broker.port, flush=True)\n"
        "    time.sleep(60)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)], stdout=subprocess.PIPE
    ) as parent:
        assert parent.stdout is not None
        port = int(parent.stdout.readline())
        assert answers(port)
        parent.kill()

    assert comes_true(lambda: not answers(port))


DEPLOY = Path(__file__).parents[2] / "deploy"


@pytest.fixture
def home_broker(tmp_path: Path) -> Iterator[int]:
    """The port of a broker that runs the example for a real home, with paths of this test."""
    configuration = (DEPLOY / "mosquitto.conf").read_text()
    passwords = tmp_path / "wheelward.passwords"
    passwords.write_text("wheelward:for-the-worker\ncave-air:for-the-sensor\n")
    subprocess.run(["mosquitto_passwd", "-U", str(passwords)], check=True)
    shutil.copy(DEPLOY / "mosquitto.acl", tmp_path / "wheelward.acl")
    port = PrivateBroker(tmp_path).port
    for was, is_here in (
        ("listener 1883", f"listener {port} {HOST}"),
        ("/etc/mosquitto/", f"{tmp_path}/"),
        ("\nautosave_on_changes", "\nuser root\npersistence true\nautosave_on_changes"),
    ):
        assert was in configuration
        configuration = configuration.replace(was, is_here)
    (tmp_path / "home.conf").write_text(configuration)
    program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with subprocess.Popen([program, "-c", str(tmp_path / "home.conf")], cwd=tmp_path) as process:
        assert comes_true(lambda: process.poll() is None and answers(port))
        yield port
        process.terminate()


def test_the_example_for_a_home_lets_a_sensor_write_its_own_topic_only(home_broker: int) -> None:
    heard: list[str] = []
    with heard_by_the_worker(home_broker, heard) as everything_heard:
        sensor = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        sensor.username_pw_set("cave-air", "for-the-sensor")
        sensor.connect(HOST, home_broker)
        sensor.loop_start()
        for topic in (
            "caves/home/blue-box/senml",
            "caves/home/cave-air/other",
            "elsewhere",
            "caves/home/cave-air/status",
            "caves/home/cave-air/senml",
        ):
            sensor.publish(topic, b"x", qos=1).wait_for_publish(10)
        assert everything_heard()
        sensor.disconnect()
        sensor.loop_stop()

    assert heard == ["caves/home/cave-air/status", "caves/home/cave-air/senml"]


@contextmanager
def heard_by_the_worker(port: int, heard: list[str]) -> Iterator[Callable[[], bool]]:
    """Notes the topics that reach the worker's user; gives a wait for the sensor's last one."""
    subscribed = threading.Event()
    worker = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    worker.username_pw_set("wheelward", "for-the-worker")
    worker.on_message = lambda _client, _userdata, message: heard.append(message.topic)
    worker.on_subscribe = lambda *_: subscribed.set()
    worker.connect(HOST, port)
    worker.loop_start()
    worker.subscribe("#", qos=1)
    assert subscribed.wait(10)
    yield lambda: comes_true(lambda: bool(heard) and heard[-1].endswith("/senml"))
    worker.disconnect()
    worker.loop_stop()
