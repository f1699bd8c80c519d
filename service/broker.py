"""Debian's mosquitto as a private child process, with a configuration and data of its own.

The demo and the tests get the same broker that a real home uses. It listens on a loopback
port only, asks for a password, and never touches the machine's own broker or its files.
Knows nothing of readings.
"""

import os
import pwd
import secrets
import shutil
import socket
import subprocess
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from pydantic import SecretStr

from service.errors import SettingsError
from service.settings import BrokerSettings

HOST: Final = "127.0.0.1"
"""The broker answers on this address only."""

START_WITHIN_S: Final = 10.0
"""Longest wait until the broker accepts connections. Our choice; it takes 0.05 s."""

_STEP_S: Final = 0.05

STOP_WITHIN_S: Final = 10.0
"""Longest wait for the broker to save and end before it is killed. Our choice."""

_SEARCH_PATH: Final = os.pathsep.join((os.defpath, "/usr/local/sbin", "/usr/sbin", "/sbin"))
"""Debian keeps mosquitto in a folder that is not on an ordinary user's PATH."""

_CONFIGURATION: Final = """\
# Written by Wheelward at each start; changes made here are lost.
listener {port} {host}
allow_anonymous false
password_file {folder}/passwords
acl_file {folder}/access
# As root the broker would change to a user who cannot write this folder.
user {user}
log_dest stderr
log_type error
log_type warning
connection_messages false
# Sessions and what waits for them outlive the broker. What waits for an absent worker is
# saved within 0.1 s of the answer to the sensor; what is under way to a present one is
# saved at its next acknowledgement (measured with 2.0.11). So a sensor that comes back after
# a broken connection sends its last few readings again: the store knows those it has.
# A save rewrites the whole file. It is cheap while the worker keeps up; each waiting message
# adds 245 bytes to every save (measured), which an SD card does not bear for days.
persistence true
persistence_location {folder}/
autosave_on_changes true
autosave_interval 1
# The default of 1000 drops what exceeds it and still tells the sensor that all is well.
max_queued_messages 0
max_inflight_messages 1000
# Above what the decoder takes, so that too long a payload is quarantined, not unseen.
message_size_limit 1048576
"""


class Role(StrEnum):
    """Who may sign in to the private broker; each role has a password of its own."""

    WORKER = "worker"
    SENSOR = "sensor"


_ACCESS: Final = """\
user worker
topic read #

user sensor
topic write #
topic read demo/#
"""


class PrivateBroker:
    """A broker that lives as long as the `with` block and keeps its data in `folder`.

    The child has a session of its own, so Ctrl-C at the terminal does not end it before the
    worker has finished its batch. If this process is killed, the kernel ends the child
    (`setpriv --pdeathsig`, which sets it between fork and exec; a `preexec_fn` is not safe
    beside threads). The kernel watches the thread that started the child: start the broker
    from a thread that lives as long as the process, best the main one.

    Attributes:
        port: Where it listens; stays the same when it is started again.
    """

    def __init__(self, folder: Path, port: int | None = None) -> None:
        self.folder = folder.resolve()
        self.port = port if port is not None else _free_port()
        self._passwords = {role: secrets.token_urlsafe(24) for role in Role}
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def settings(self, role: Role = Role.WORKER) -> BrokerSettings:
        """How to reach the broker in that role."""
        return BrokerSettings(
            host=HOST,
            port=self.port,
            username=role.value,
            password=SecretStr(self._passwords[role]),
        )

    @property
    def pid(self) -> int | None:
        """The process id of the broker while it runs, else None."""
        if self._process is None or self._process.poll() is not None:
            return None
        return self._process.pid

    def start(self) -> None:
        """Start the broker and wait until it accepts connections; it may have run before.

        Raises:
            SettingsError: mosquitto is missing or does not start; the message says why.
        """
        if self.pid is not None:
            return
        broker, hasher, setpriv = (
            _program("mosquitto", "mosquitto"),
            _program("mosquitto_passwd", "mosquitto"),
            _program("setpriv", "util-linux"),
        )
        self.folder.mkdir(parents=True, exist_ok=True)
        self._write_files(hasher)
        with self._log.open("wb") as log:
            # The programs come from fixed folders, the arguments from us.
            self._process = subprocess.Popen(  # noqa: S603
                [setpriv, "--pdeathsig", "TERM", broker, "-c", str(self.folder / "broker.conf")],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._wait_until_it_answers(self._process)

    def stop(self) -> None:
        """End the broker cleanly, so that it saves its sessions; kill it if it hangs."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._process = None

    @property
    def _log(self) -> Path:
        return self.folder / "broker.log"

    def _write_files(self, hasher: str) -> None:
        """Configuration, access list and passwords, readable by nobody else."""
        contents = {
            "broker.conf": _CONFIGURATION.format(
                host=HOST,
                port=self.port,
                folder=self.folder,
                user=pwd.getpwuid(os.geteuid()).pw_name,
            ),
            "access": _ACCESS,
            "passwords": "".join(f"{role}:{word}\n" for role, word in self._passwords.items()),
        }
        for name, text in contents.items():
            path = self.folder / name
            path.unlink(missing_ok=True)
            path.touch(mode=0o600)
            path.write_text(text, encoding="utf-8")
        # Hashed in place: passwords given as arguments would show in the list of processes.
        subprocess.run(  # noqa: S603 (a program from a fixed folder, on a file of ours)
            [hasher, "-U", str(self.folder / "passwords")], check=True, capture_output=True
        )

    def _wait_until_it_answers(self, process: subprocess.Popen[bytes]) -> None:
        """Look for it in short steps; a failed start ends with its own last words.

        It counts only if it still runs a step after someone answered: on a port that was
        taken already, it is the other program that answers.
        """
        has_answered = False
        for _ in range(int(START_WITHIN_S / _STEP_S)):
            try:
                process.wait(_STEP_S)
                break
            except subprocess.TimeoutExpired:
                if has_answered:
                    return
            with socket.socket() as probe:
                probe.settimeout(1.0)
                has_answered = probe.connect_ex((HOST, self.port)) == 0
        self.stop()
        log = self._log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
        last_words = " / ".join(log[-3:]) or "it left no word"
        raise SettingsError(f"mosquitto does not start on {HOST}:{self.port}: {last_words}")


def _program(name: str, package: str) -> str:
    """Where a program is.

    Raises:
        SettingsError: It is not installed.
    """
    path = os.pathsep.join((os.environ.get("PATH", os.defpath), _SEARCH_PATH))
    found = shutil.which(name, path=path)
    if found is None:
        raise SettingsError(f"{name} is not installed; run: sudo apt-get install {package}")
    return found


def _free_port() -> int:
    """A loopback port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
        return port
