"""A worker that is killed again and again, each time at a place chosen beforehand.

Run as a program by the kill test. One process loads everything and forks once for each life,
so that a life costs milliseconds; each is a real worker on the real broker and ends by SIGKILL.
"""

import json
import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from paho.mqtt.client import Client
from sqlmodel import Session

from service.clock import WorldClock
from service.ingest.inbox import Received
from service.ingest.link import READINGS_FILTER, acknowledge_batch
from service.ingest.worker import IngestWorker
from service.settings import BrokerSettings
from service.store.database import open_engine, session_maker

LIFE_ENDS_WITHIN_S = 30
PLACES = ("before the commit", "after the commit", "halfway through the acknowledgements")

BATCHES = (1, 1, 2)
"""In which of its batches a life ends. Thirty-six lives acknowledge at most 9,000 messages
so, and the last of them still finds some."""


class Life:
    """One worker process, from fork to its death at `place` in batch number `batch`."""

    def __init__(self, broker: BrokerSettings, url: str, place: str, batch: int, pipe: int) -> None:
        self._sessions = session_maker(open_engine(url))
        self._place = place
        self._left = batch
        self._pipe = pipe
        self._worker = IngestWorker(
            broker, (), self._kill_around_commit, WorldClock(), acknowledge=self._kill_in_between
        )

        # While the kill waits for the broker's answer the network must not be held back.
        self._worker._inbox._room_messages = sys.maxsize

    def live(self) -> None:
        self._worker.run(threading.Event())

    @contextmanager
    def _kill_around_commit(self) -> Iterator[Session]:
        with self._sessions() as session:
            yield session
            # The rows are written in the transaction, which is still open.
            session.flush()
            if self._place == PLACES[0]:
                self._die_in_the_last_batch()
        if self._place == PLACES[1]:
            self._die_in_the_last_batch()

    def _kill_in_between(self, client: Client, batch: Sequence[Received]) -> None:
        os.write(self._pipe, f"{self._worker.tally.repeats}\n".encode())
        if self._place == PLACES[2] and len(batch) > 1:
            if self._left == 1:
                acknowledge_batch(client, batch[: len(batch) // 2])
                _wait_until_they_are_taken(client)
            self._die_in_the_last_batch()
        acknowledge_batch(client, batch)

    def _die_in_the_last_batch(self) -> None:
        self._left -= 1
        if self._left == 0:
            os.kill(os.getpid(), signal.SIGKILL)


def _wait_until_they_are_taken(client: Client) -> None:
    """The broker answers in order: with this answer it has read what was sent before."""
    answered = threading.Event()
    client.on_subscribe = lambda *_: answered.set()
    client.subscribe(READINGS_FILTER, qos=1)
    assert answered.wait(LIFE_ENDS_WITHIN_S)


def main(settings: str, url: str, lives: int) -> None:
    """Live and die `lives` times, then print what was done as JSON."""
    broker = BrokerSettings.model_validate_json(settings)
    kills: Counter[str] = Counter()
    repeats = 0
    for life in range(lives):
        place = PLACES[life % len(PLACES)]
        batch = BATCHES[life // len(PLACES) % len(BATCHES)]
        reading_end, writing_end = os.pipe()
        child = os.fork()
        if child == 0:
            signal.alarm(LIFE_ENDS_WITHIN_S)
            Life(broker, url, place, batch, writing_end).live()
        os.close(writing_end)
        with os.fdopen(reading_end) as pipe:
            counts = [int(line) for line in pipe]
        repeats += counts[-1] if counts else 0
        _child, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status) or os.WTERMSIG(status) != signal.SIGKILL:
            sys.exit(f"life {life} did not die {place}: status {status}")
        kills[place] += 1
    print(json.dumps({"kills": kills, "repeats": repeats}))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
