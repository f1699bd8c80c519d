"""The command line: one command a job, exit codes 0, 1 and 2, errors of one line.

Each command imports what it needs when it runs, so that `--help` and the sensors' commands
do not wait for the server's libraries. Pages are started by name: this folder knows
nothing of them.
"""

import argparse
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Never

from sensors.errors import BadAddressError, SensorsError
from service.cli import people
from service.cli.arguments import pack, port, salt, speed, topic_level
from service.cli.speaking import say
from service.errors import SettingsError, WheelwardError

SITE = "dashboards.site:create"
"""Where uvicorn finds the pages."""

LOG_VARIABLE = "WHEELWARD_LOG"
"""The environment variable that says how much is logged: DEBUG, INFO, WARNING, ERROR."""

# Imports inside the commands are deliberate, see above.
# ruff: noqa: PLC0415


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> Never:
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 when it worked, 1 when it did not, 2 for bad usage."""
    given = _parser().parse_args(arguments)
    _set_up_log()
    work: Callable[[argparse.Namespace], None] = given.work
    try:
        work(given)
    except KeyboardInterrupt:
        return 0
    except BrokenPipeError:
        # Whoever read our output has gone; nothing is left to tell them.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except (WheelwardError, SensorsError, OSError) as error:
        print(f"wheelward: {error}", file=sys.stderr)  # noqa: T201  # the command's own voice
        return 2 if isinstance(error, BadAddressError) else 1
    return 0


def _set_up_log() -> None:
    """Log to standard error, as much as `WHEELWARD_LOG` asks for (INFO unless set)."""
    level = logging.getLevelNamesMapping().get(os.environ.get(LOG_VARIABLE, ""), logging.INFO)
    logging.basicConfig(level=level, format="%(levelname)s %(name)s: %(message)s")
    # It tells of its own parts at each start, which says nothing to a keeper.
    logging.getLogger("alembic").setLevel(logging.WARNING)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="wheelward",
        description="Watches over ageing cheese: readings, verdicts, alarms, pages.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    demo = commands.add_parser(
        "demo",
        help="serve an invented household with its own broker and simulated sensors",
        description="Serve the invented household of Larch Lane on loopback: broker, worker, "
        "pages and simulated sensors, all ended by Ctrl-C. Nothing of it is kept.",
    )
    demo.add_argument("--port", type=port, default=8000, help="port of the pages (8000)")
    demo.add_argument("--speed", type=speed, default=60.0, help="demo seconds in a second (60)")
    demo.add_argument(
        "--readings",
        type=Path,
        default=Path("sample_readings"),
        help="folder with the household and its readings (sample_readings)",
    )
    demo.set_defaults(work=_demo)

    serve = commands.add_parser(
        "serve",
        help="serve pages and API, watch over the readings and send notices",
        description="Serve pages and API, watch over the readings and send notices. Beyond "
        "loopback a keeper is needed first: wheelward person add NAME.",
    )
    serve.add_argument("--host", help="address to listen on (from the settings: 127.0.0.1)")
    serve.add_argument("--port", type=port, help="port to listen on (from the settings: 8000)")
    serve.set_defaults(work=_serve)

    ingest = commands.add_parser(
        "ingest",
        help="take readings from the broker into the store",
        description="Take readings from the MQTT broker of the settings into the store, each "
        "acknowledged only once it is stored. Runs until it is ended.",
    )
    ingest.set_defaults(work=_ingest)

    migrate = commands.add_parser(
        "migrate",
        help="bring the store's tables up to date",
        description="Make the store or bring its tables up to date; changes nothing twice.",
    )
    migrate.set_defaults(work=_migrate)

    backup = commands.add_parser(
        "backup",
        help="copy the store into one file while the service runs",
        description="Copy the store into one new file while the service runs, and check the copy.",
    )
    backup.add_argument("file", type=Path, help="the file to make")
    backup.set_defaults(work=_backup)

    restore = commands.add_parser(
        "restore",
        help="put a backup in the place of the store",
        description="Check a backup and put it in the place of the store. What was there is "
        "kept in a file beside it.",
    )
    restore.add_argument("file", type=Path, help="a file made by wheelward backup")
    restore.set_defaults(work=_restore)

    analyse = commands.add_parser(
        "analyse",
        help="say what a wheel lived through, from a file of readings",
        description="Say what a wheel lived through, from a file of readings: excursions, sweat "
        "on wheel and lid, temperature and mass of the wheel, equivalent age, openings of the "
        "door, cooling cycles, gaps, the correction of the sensor, and notes on how sure each "
        "is. Needs no store, no broker and no network.",
    )
    analyse.add_argument(
        "readings", type=Path, help="CSV: time,temperature_c,humidity_pct (ISO 8601 with Z)"
    )
    analyse.add_argument(
        "--wheel", type=Path, required=True, help="JSON: the wheel, its weighings and its stages"
    )
    analyse.add_argument(
        "--outer",
        type=Path,
        help="CSV: the cave's air when the readings are of a lidded box; tells of the lid",
    )
    analyse.add_argument(
        "--salt",
        type=salt,
        action="append",
        default=[],
        metavar="NAME=FILE",
        help="CSV: a saturated-salt test of the sensor of the readings, for example NaCl=salt.csv; "
        "again for a second salt; the correction found is applied",
    )
    analyse.add_argument("--json", type=Path, required=True, help="the file to write")
    analyse.set_defaults(work=_analyse)

    replay = commands.add_parser(
        "replay",
        help="send a file of readings to a broker as a sensor would",
        description="Send a file of readings to an MQTT broker as a sensor would: SenML, QoS 1.",
    )
    replay.add_argument("file", type=Path, help="CSV: time,temperature_c,humidity_pct")
    replay.add_argument(
        "--to", required=True, metavar="mqtt://[USER:PASSWORD@]HOST[:PORT]", help="the broker"
    )
    replay.add_argument(
        "--site", type=topic_level, default="replay", help="site in the topic (replay)"
    )
    replay.add_argument("--sensor", type=topic_level, help="sensor in the topic (the file's name)")
    replay.add_argument(
        "--speed", type=speed, help="seconds of the file in a second (as fast as it goes)"
    )
    replay.add_argument("--pack", type=pack, default=1, help="readings in one message (1)")
    replay.set_defaults(work=_replay)

    person = commands.add_parser(
        "person",
        help="the keepers who may sign in",
        description="The keepers who may sign in. Passwords are asked for, or read from "
        "standard input when it is no terminal.",
    )
    keepers = person.add_subparsers(required=True, metavar="COMMAND")
    for name, words, work in (
        ("add", "add a keeper", people.add),
        ("password", "give a keeper a new password", people.password),
        ("remove", "remove a keeper and sign all their browsers out", people.remove),
    ):
        one = keepers.add_parser(name, help=words, description=words.capitalize() + ".")
        one.add_argument("name", help="the keeper's name")
        one.set_defaults(work=work)
    listing = keepers.add_parser("list", help="list the keepers", description="List the keepers.")
    listing.set_defaults(work=people.listing)
    return parser


def _until_told_to_stop() -> threading.Event:
    """An event that is set when the process is asked to end."""
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        # A hangup that is ignored already stays so: that is what nohup asks for.
        if signal.getsignal(number) is not signal.SIG_IGN or number is not signal.SIGHUP:
            signal.signal(number, lambda *_: stop.set())
    return stop


def _demo(given: argparse.Namespace) -> None:
    from service.demo.run import run

    if LOG_VARIABLE not in os.environ:
        # A newcomer wants the address, not the talk with the broker.
        logging.getLogger().setLevel(logging.WARNING)
    run(given.readings, given.port, given.speed, say, _until_told_to_stop())


def _serve(given: argparse.Namespace) -> None:
    import uvicorn

    from service.api.access import check_may_serve
    from service.app import build
    from service.settings import load

    # The pages are started by name and read the settings again, so what the command line
    # says goes into the environment.
    if given.host is not None:
        os.environ["WHEELWARD_WEB__HOST"] = given.host
    if given.port is not None:
        os.environ["WHEELWARD_WEB__PORT"] = str(given.port)
    settings = load()
    context = build(settings)
    try:
        with context.sessions() as session:
            check_may_serve(settings, session)
    finally:
        context.engine.dispose()
    config = uvicorn.Config(
        SITE,
        factory=True,
        host=settings.web.host,
        port=settings.web.port,
        log_level="warning",
        access_log=False,
        server_header=False,
    )
    with _listening(settings.web.host, settings.web.port) as door:
        logging.getLogger(__name__).info(
            "pages and API answer on http://%s:%d", settings.web.host, settings.web.port
        )
        server = uvicorn.Server(config)
        server.run(sockets=[door])
    if not server.started:
        raise SettingsError("pages and API did not start; the lines above say why")


def _listening(host: str, port: int) -> socket.socket:
    """Opened here and not by the server, which would tell of a taken port in its own way."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=2048)
    except OSError as error:
        # A name that is not found has a negative number and only its own words.
        number = error.errno or 0
        reason = os.strerror(number) if number > 0 else error.strerror
        raise SettingsError(
            f"cannot listen on {host} port {port} ({reason}); choose with --host and --port"
        ) from None


def _ingest(_given: argparse.Namespace) -> None:
    from service.ingest.process import run
    from service.settings import load

    run(load(), _until_told_to_stop())


def _migrate(_given: argparse.Namespace) -> None:
    from service.settings import load
    from service.store.database import migrate

    settings = load()
    migrate(settings.database)
    say("The store is up to date.")


def _backup(given: argparse.Namespace) -> None:
    from service.settings import load
    from service.store.copies import back_up

    readings = back_up(load().database, given.file)
    say(f"{given.file}: a sound copy with {readings:,} readings.")


def _restore(given: argparse.Namespace) -> None:
    from service.clock import WorldClock, to_datetime
    from service.settings import load
    from service.store.copies import restore

    settings = load()
    moment = to_datetime(WorldClock().now_us()).strftime("%Y%m%dT%H%M%SZ")
    kept = settings.data_folder / f"before-restore-{moment}.db"
    readings = restore(settings.database, given.file, kept)
    say(
        f"Restored {readings:,} readings."
        + (f" What was there is in {kept}." if kept.exists() else "")
    )


def _analyse(given: argparse.Namespace) -> None:
    from service.analyse import analyse

    analyse(given.readings, given.wheel, given.outer, given.salt, given.json)


def _replay(given: argparse.Namespace) -> None:
    from sensors.replay import replay

    sensor = given.sensor
    if sensor is None:
        try:
            sensor = topic_level(given.file.stem)
        except argparse.ArgumentTypeError as error:
            raise SettingsError(
                f"the file's name names no sensor ({error}); give --sensor"
            ) from None
    done = replay(
        given.file,
        given.to,
        site=given.site,
        sensor=sensor,
        speed=given.speed,
        pack=given.pack,
        progress=sys.stderr,
    )
    say(
        f"The broker has {done.readings:,} of {done.of:,} readings."
        + (f" {len(done.rejected):,} rows could not be read." if done.rejected else "")
    )
