"""Child processes that end with their parent, however it ends."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import Self

STOP_WITHIN_S = 10.0
"""How long a child may take to finish what it holds before it is killed. Our choice."""


class Children:
    """Named child processes, ended in the reverse of the order in which they were started.

    Each has a session of its own, so that Ctrl-C reaches only the parent, which then ends
    them in good order; if the parent is killed, the kernel ends them.
    """

    def __init__(self) -> None:
        self._running: dict[str, subprocess.Popen[bytes]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for process in reversed(self._running.values()):
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(STOP_WITHIN_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def start(
        self, name: str, module: str, arguments: Sequence[str], more: Mapping[str, str]
    ) -> None:
        """Start a Python module as a child, with `more` added to its environment."""
        setpriv = shutil.which("setpriv")
        guard = [setpriv, "--pdeathsig", "TERM"] if setpriv else []
        # The command is made of our own words only.
        self._running[name] = subprocess.Popen(  # noqa: S603
            [*guard, sys.executable, "-m", module, *arguments],
            stdin=subprocess.DEVNULL,
            env={**os.environ, **more},
            start_new_session=True,
        )

    def ended(self) -> dict[str, int]:
        """The children that have ended, with their exit codes."""
        codes = {name: process.poll() for name, process in self._running.items()}
        return {name: code for name, code in codes.items() if code is not None}
