"""Delivers what waits in the outbox: at least once, with patience, every attempt recorded.

A message is handed to its channel outside any transaction, and the outcome is recorded after
it. Whoever dies between the two leaves a message that was taken but not recorded: it goes out
again when the claim on it ends. A notice twice is better than none.
"""

import logging
import threading
from typing import Final, Protocol

from service.clock import US_PER_S, Clock, WorldClock
from service.notify.channels import Sent
from service.store import outbox
from service.store.database import SessionMaker
from service.store.outbox import Attempt, Outgoing

_log = logging.getLogger(__name__)

# Our choice: a mail server that restarts is back within minutes, a house without internet
# within hours, and an alarm a day old is for the page of alarms and no longer for the phone.
_FIRST_WAIT_US: Final = 60 * US_PER_S
_LONGEST_WAIT_US: Final = 3600 * US_PER_S
_GIVEN_UP_AFTER_US: Final = 24 * 3600 * US_PER_S

_CLAIM_US: Final = 300 * US_PER_S
"""Longer than any channel takes to answer or to time out."""

_LOOK_EVERY_S: Final = 1.0
_LONGEST_BACKOFF_S: Final = 60.0


class Courier(Protocol):
    """Whatever can try to deliver a message on a channel."""

    def send(self, label: str, title: str, body: str) -> Sent:
        """Try once."""


def next_try_us(created_us: int, failed_tries: int, now_us: int) -> int | None:
    """When to try again after a failure: after 1 min, then twice as long each time, up to 1 h.

    Args:
        created_us: When the notice was put into the outbox. [µs UTC]
        failed_tries: How often it has failed, this time included.
        now_us: The time of this failure. [µs UTC]

    Returns:
        The next time to try; None when the notice is a day old and is given up. [µs UTC]
    """
    if now_us - created_us >= _GIVEN_UP_AFTER_US:
        return None
    doublings = min(failed_tries - 1, 6)  # Six make an hour; more would only make large numbers.
    return now_us + min(_FIRST_WAIT_US << doublings, _LONGEST_WAIT_US)


class Sender:
    """Takes notices from the outbox to their channels."""

    def __init__(
        self, sessions: SessionMaker, channels: Courier, clock: Clock | None = None
    ) -> None:
        """Take the store, the channels, and a clock other than the world's only in tests."""
        self._sessions = sessions
        self._channels = channels
        self._clock = clock or WorldClock()

    def send_due(self) -> int:
        """Try every notice that is due once; how many were delivered."""
        with self._sessions() as session:
            notices = outbox.due(session, self._clock.now_us())
        return sum(self._try(notice) for notice in notices)

    def _try(self, notice: Outgoing) -> bool:
        with self._sessions() as session:
            if not outbox.claim(session, notice, self._clock.now_us() + _CLAIM_US):
                return False
        sent = self._channels.send(notice.channel, notice.title, notice.body)
        now_us = self._clock.now_us()
        again_us = next_try_us(notice.created_us, notice.tries + 1, now_us)
        with self._sessions() as session:
            outbox.record(session, notice.id, Attempt(now_us, sent.delivered, sent.words), again_us)
        if not sent.delivered:
            _log.warning(
                "notice %d was not taken by channel %s (%s)", notice.id, notice.channel, sent.words
            )
        return sent.delivered

    def run(self, stop: threading.Event) -> None:
        """Send what is due, about every second, until told to stop."""
        wait_s = _LOOK_EVERY_S
        while not stop.wait(wait_s):
            try:
                self.send_due()
            except Exception:  # noqa: BLE001 - a process edge: one bad round must not end all notices
                wait_s = min(wait_s * 2, _LONGEST_BACKOFF_S)
                _log.exception("notices could not be sent; next try in %.0f s", wait_s)
            else:
                wait_s = _LOOK_EVERY_S
