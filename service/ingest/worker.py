"""The ingest worker: receive, store in batches, then acknowledge.

At least once from the broker and a unique (sensor, time) in the store make exactly once.
The worker drops nothing: what it cannot store it keeps trying, or puts into quarantine.
"""

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace

from sensors.payloads import Mapping
from service.clock import US_PER_S, Clock
from service.ingest.inbox import Inbox, Received
from service.ingest.link import READINGS_FILTER, Acknowledge, BrokerLink, acknowledge_batch
from service.ingest.memory import SensorMemory
from service.ingest.messages import Message
from service.ingest.storing import Tally, set_aside, store
from service.settings import BrokerSettings
from service.store.database import Session, SessionMaker
from service.store.failures import in_words, may_pass

GATHER_S = 0.1
"""How long a reading waits for others to share its commit. Our choice: with decoding and the
commit on a slow card it is still stored within the 250 ms that a lone reading may take."""

LOOK_UP_S = 0.5
"""How often an idle worker looks whether it shall stop."""

REPORT_EVERY_S = 60

FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 10.0
"""Pauses between attempts to store double from the first up to the longest. Our choice."""

_log = logging.getLogger(__name__)


class IngestWorker:
    """Stores what the broker has, until it is told to stop.

    Attributes:
        tally: What became of the messages so far.
    """

    def __init__(
        self,
        broker: BrokerSettings,
        mappings: Sequence[Mapping],
        session_maker: SessionMaker,
        clock: Clock,
        *,
        acknowledge: Acknowledge = acknowledge_batch,
    ) -> None:
        self.tally = Tally()
        self._mappings = mappings
        self._session_maker = session_maker
        self._clock = clock
        self._memory = SensorMemory()
        self._failure: str | None = None
        self._reported = Tally()
        # On a demo's fast clock a minute of the world is many.
        self._report_every_us = round(REPORT_EVERY_S * US_PER_S * clock.speed)
        self._report_due_us = 0
        self._inbox = Inbox()
        filters = dict.fromkeys((READINGS_FILTER, *(mapping.topic_filter for mapping in mappings)))
        self._link = BrokerLink(broker, tuple(filters), self._inbox, clock, acknowledge)

    @property
    def is_listening(self) -> bool:
        """Whether the worker is connected and subscribed, so that nothing published is missed."""
        return self._link.is_listening

    def run(self, stop: threading.Event) -> None:
        """Work until `stop` is set; the batch in hand is finished and acknowledged first."""
        self._link.open()
        self._report_due_us = self._clock.now_us() + self._report_every_us
        try:
            while not stop.is_set():
                batch = self._inbox.take(LOOK_UP_S, GATHER_S)
                if batch and self._store_all(batch, stop):
                    self._link.acknowledge(batch)
                self._report()
        finally:
            # First the inbox, for the network thread may be waiting for room in it.
            self._inbox.close()
            self._link.close()

    def _store_all(self, batch: Sequence[Received], stop: threading.Event) -> bool:
        """Store a batch in one commit; where a message in it is at fault, one at a time."""
        messages = [received.message for received in batch]
        try:
            return self._commit(lambda session: self._store(session, messages), stop)
        except Exception as error:  # noqa: BLE001 (the process edge: one message must not end it)
            _log.warning("a batch cannot be stored together: %s", in_words(error))
            return all(self._store_one(message, stop) for message in messages)

    def _store_one(self, message: Message, stop: threading.Event) -> bool:
        """Store one message, or put it into quarantine when it is at fault."""
        try:
            return self._commit(lambda session: self._store(session, [message]), stop)
        except Exception as error:  # noqa: BLE001 (the process edge: one message must not end it)
            reason = f"could not be stored: {in_words(error)}"
            _log.warning("a message on %r %s", message.topic, reason)
            return self._commit(
                lambda session: Tally(1, quarantined=set_aside(session, message, reason)),
                stop,
                until_done=True,
            )

    def _store(self, session: Session, messages: Sequence[Message]) -> Tally:
        return store(session, messages, self._mappings, self._memory)

    def _commit(
        self, work: Callable[[Session], Tally], stop: threading.Event, *, until_done: bool = False
    ) -> bool:
        """Do work in a transaction, again and again while the store itself is at fault.

        Args:
            work: What to do; may be done several times, the last time counts.
            stop: Ends the trying; the messages stay with the broker.
            until_done: Try again whatever the failure, for there is nothing else to do.

        Returns:
            True when it is committed, False when told to stop before.
        """
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                with self._session_maker() as session:
                    done = work(session)
            except Exception as error:
                self._memory.forget()
                if not (until_done or may_pass(error)):
                    raise
                self._say_failure(in_words(error))
                if stop.wait(pause_s):
                    return False
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            else:
                self._say_failure(None)
                self.tally += done
                return True

    def _say_failure(self, failure: str | None) -> None:
        """Log once when the store fails and once when it works again."""
        if failure != self._failure:
            self._failure = failure
            if failure is None:
                _log.info("the store works again")
            else:
                _log.error("the store fails (%s); trying until it works", failure)

    def _report(self) -> None:
        """Log each minute what came in it."""
        now_us = self._clock.now_us()
        if now_us < self._report_due_us:
            return
        self._report_due_us = now_us + self._report_every_us
        new = self.tally - self._reported
        self._reported = replace(self.tally)
        _log.info(
            "in a minute: %d messages, %d readings, %d new, %d known before, %d into quarantine",
            new.messages,
            new.readings,
            new.rows,
            new.repeats,
            new.quarantined,
        )
