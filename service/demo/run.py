"""Starts the demo: broker, history, worker, simulated sensors and pages, and ends them all."""

import socket
import sys
import tempfile
import threading
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from service.ageing.plans import shipped_plans
from service.broker import PrivateBroker, Role
from service.clock import DemoClock, WorldClock
from service.demo.history import days_to_now_us, end_of_history_us, load_history
from service.demo.household import enter_household, read_household
from service.demo.processes import Children
from service.errors import SettingsError, WheelwardError
from service.ingest.inbox import Inbox
from service.ingest.link import READINGS_FILTER, BrokerLink
from service.settings import BrokerSettings
from service.store import alarm_records
from service.store.database import SessionMaker, migrate, open_engine, session_maker
from service.watch.rounds import Watch

HOST = "127.0.0.1"
ANSWERS_WITHIN_S = 60.0


def run(
    readings: Path, port: int, speed: float, say: Callable[[str], None], stop: threading.Event
) -> None:
    """Serve an invented household on loopback until `stop` is set; keep nothing of it.

    Args:
        readings: Folder with the household and its sensors' past.
        port: Where the pages are served.
        speed: Demo seconds in a second of the world.
        say: Tells whoever started it what is going on, a line at a time.
        stop: Set from outside to end it.

    Raises:
        SettingsError: Something needed is missing or taken; the message says what to do.
        WheelwardError: A part of it ended by itself.
    """
    if not (readings / "larch_lane.json").is_file():
        raise SettingsError(f"{readings} holds no larch_lane.json; start in the project's folder")
    _must_be_free(port)
    with (
        tempfile.TemporaryDirectory(prefix="wheelward-demo-") as folder,
        PrivateBroker(Path(folder) / "broker") as broker,
        Children() as children,
    ):
        started_us = WorldClock().now_us()
        data = Path(folder) / "data"
        database = f"sqlite:///{data / 'wheelward.db'}"
        fill(readings, database, DemoClock(started_us, speed), say)
        shared = {
            "WHEELWARD_LOG": "WARNING",
            "WHEELWARD_DATA_FOLDER": str(data),
            "WHEELWARD_DEMO__STARTED_US": str(started_us),
            "WHEELWARD_DEMO__SPEED": str(speed),
            "WHEELWARD_WEB__HOST": HOST,
            "WHEELWARD_WEB__PORT": str(port),
        }
        as_worker = broker.settings(Role.WORKER)
        as_sensor = broker.settings(Role.SENSOR)
        _reserve_session(as_worker, stop)
        children.start("worker", "service.cli", ["ingest"], shared | _to_reach(as_worker))
        children.start(
            "sensors",
            "sensors.simulated",
            [
                "live",
                "--clock-started-us",
                str(started_us),
                "--clock-speed",
                str(speed),
                "--history",
                str(readings),
            ],
            {"WHEELWARD_SENSORS_TO": _address(as_sensor)},
        )
        children.start("pages", "service.cli", ["serve"], shared | _to_reach(as_sensor))
        _wait_for_answer(port, children, stop)
        if not stop.is_set():
            say(f"Larch Lane is at http://{HOST}:{port}  (Ctrl-C ends it)")
            if speed != 1:
                say(f"Invented data. Demo time runs {speed:g} times as fast as yours.")
        while not stop.wait(0.5):
            _must_all_run(children)
            if broker.pid is None:
                raise WheelwardError("the demo's broker ended by itself")
        say("Ending the demo")


def fill(readings: Path, database: str, clock: DemoClock, say: Callable[[str], None]) -> None:
    """A store with the household and its past, moved so that it ends when the clock began."""
    household = read_household(readings / "larch_lane.json")
    shift_us = days_to_now_us(end_of_history_us(readings, household), clock.started_us)
    plans = shipped_plans()
    migrate(database)
    engine = open_engine(database)
    try:
        sessions = session_maker(engine)
        with sessions() as session:
            enter_household(session, household, plans, shift_us)
        with _progress("Loading eight weeks of Larch Lane") as progress:
            tally = load_history(
                sessions, readings, household, shift_us, clock.started_us, progress
            )
        say(f"{tally.rows:,} readings loaded, {tally.quarantined} messages put in quarantine")
        watch = Watch(sessions, clock, plans, ())
        watch.round()
        watch.look_ahead()
        _acknowledge_past(sessions, household.site.name, clock.started_us)
    finally:
        engine.dispose()


def _acknowledge_past(sessions: SessionMaker, by: str, now_us: int) -> None:
    """What went wrong in the past weeks was seen at the time; the demo begins with a calm shelf."""
    with sessions() as session:
        for alarm in alarm_records.listed(session, only_open=True, limit=1_000):
            if alarm.returned_us is not None:
                alarm_records.acknowledge(session, alarm.id, by, now_us)


@contextmanager
def _progress(words: str) -> Iterator[Callable[[float], None]]:
    """A line that shows how far something is: rewritten on a terminal, else said in quarters."""
    terminal = sys.stderr.isatty()
    shown = -1

    def show(part: float) -> None:
        nonlocal shown
        step = int(part * 100) if terminal else int(part * 4) * 25
        if step > shown:
            shown = step
            sys.stderr.write(f"\r{words}: {step} %" if terminal else f"{words}: {step} %\n")
            sys.stderr.flush()

    show(0.0)
    yield show
    if terminal:
        sys.stderr.write("\n")


def _reserve_session(broker: BrokerSettings, stop: threading.Event) -> None:
    """Subscribe in the worker's name before any sensor publishes.

    The broker keeps nothing for a session that it has never seen.
    """
    link = BrokerLink(broker, (READINGS_FILTER,), Inbox(), WorldClock())
    link.open()
    try:
        for _ in range(int(ANSWERS_WITHIN_S / 0.05)):
            if link.is_listening or stop.wait(0.05):
                return
    finally:
        link.close()
    raise WheelwardError("the demo's broker does not take subscriptions")


def _must_be_free(port: int) -> None:
    with socket.socket() as probe:
        # As the server itself does: a port that only waits out old connections is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as error:
            raise SettingsError(
                f"port {port} cannot be used ({error.strerror}); "
                f"try another: PORT={port % 65535 + 1} make run"
            ) from None


def _to_reach(broker: BrokerSettings) -> dict[str, str]:
    """The environment that tells a child how to reach the broker."""
    assert broker.password is not None  # the private broker sets one
    return {
        "WHEELWARD_BROKER__HOST": broker.host,
        "WHEELWARD_BROKER__PORT": str(broker.port),
        "WHEELWARD_BROKER__USERNAME": broker.username or "",
        "WHEELWARD_BROKER__PASSWORD": broker.password.get_secret_value(),
    }


def _address(broker: BrokerSettings) -> str:
    assert broker.password is not None  # the private broker sets one
    secret = broker.password.get_secret_value()
    return f"mqtt://{broker.username}:{secret}@{broker.host}:{broker.port}"


def _wait_for_answer(port: int, children: Children, stop: threading.Event) -> None:
    """Wait until the pages answer."""
    for _ in range(int(ANSWERS_WITHIN_S / 0.1)):
        _must_all_run(children)
        try:
            with urllib.request.urlopen(f"http://{HOST}:{port}/healthz", timeout=5):
                return
        except (urllib.error.URLError, OSError):
            if stop.wait(0.1):
                return
    raise WheelwardError(f"the pages did not answer within {ANSWERS_WITHIN_S:g} s")


def _must_all_run(children: Children) -> None:
    for name, code in children.ended().items():
        raise WheelwardError(f"the demo's {name} ended by itself with code {code}; see above")
