"""What many tests need: a broker of their own."""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple
from unittest import mock

import pytest
from hypothesis import settings

# A busy small board is slow by chance; a slow example is no broken rule. `make test` tries the
# same examples each time, so that it says the same of the same code; `make search` tries new ones.
settings.register_profile("house", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=2_000)
settings.load_profile("house")


class Listener(NamedTuple):
    """Where a broker listens."""

    host: str
    port: int


@pytest.fixture(autouse=True)
def own_environment() -> Iterator[None]:
    """Each test leaves the environment as it was: a command hands settings on through it."""
    with mock.patch.dict(os.environ):
        yield


@pytest.fixture
def start_mosquitto(tmp_path: Path) -> Iterator[Callable[..., Listener]]:
    """Starts Debian's broker with the lines of configuration given; ended after the test."""
    with ExitStack() as brokers:
        yield lambda *lines: brokers.enter_context(_running(tmp_path, lines))


@pytest.fixture
def mosquitto(start_mosquitto: Callable[..., Listener]) -> Listener:
    """A broker that lets everyone in, private to one test, on a free loopback port."""
    return start_mosquitto("allow_anonymous true")


@contextmanager
def _running(folder: Path, lines: tuple[str, ...]) -> Iterator[Listener]:
    program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    for _ in range(5):
        # Between the choice of a port and its use another process may take it: hence the tries.
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port: int = probe.getsockname()[1]
        config = folder / f"mosquitto-{port}.conf"
        config.write_text("\n".join([f"listener {port} 127.0.0.1", "log_type error", *lines, ""]))
        broker = subprocess.Popen([program, "-c", str(config)])
        try:
            if _is_listening(broker, port):
                yield Listener("127.0.0.1", port)
                return
        finally:
            broker.terminate()
            broker.wait(timeout=10)
    pytest.fail("mosquitto did not start on any of five ports")


def _is_listening(broker: subprocess.Popen[bytes], port: int) -> bool:
    until_s = time.monotonic() + 10.0
    while time.monotonic() < until_s and broker.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=0.2).close()
        except OSError:
            time.sleep(0.01)
        else:
            return True
    return False
