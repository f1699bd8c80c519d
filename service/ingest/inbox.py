"""Messages that wait between the network and the store: bounded, and taken in batches."""

import threading
from collections import deque
from dataclasses import dataclass

from service.ingest.messages import Message

ROOM_MESSAGES = 4_000
ROOM_BYTES = 16 * 1024 * 1024
"""How much may wait. Our choice: eight full batches, and little beside a small board's memory.
The receive maximum does not bound it: mosquitto 2.0.11 sends more when it has a backlog."""

BATCH_MESSAGES = 500
BATCH_BYTES = 4 * 1024 * 1024
"""A batch ends at the one or the other. Our choice: at 500 a commit costs little a reading,
and a batch of packs of 60 is still decoded within a second or two."""


@dataclass(frozen=True, slots=True)
class Received:
    """A message with what it takes to acknowledge it.

    Attributes:
        message: What came.
        packet_id: MQTT's number of the delivery; means something on its connection only.
        qos: The quality of service with which it came.
        connection: Count of the connection on which it came.
    """

    message: Message
    packet_id: int
    qos: int
    connection: int


class Inbox:
    """A queue between two threads that holds back the writer when it is full."""

    def __init__(self, room_messages: int = ROOM_MESSAGES, room_bytes: int = ROOM_BYTES) -> None:
        self._room_messages = room_messages
        self._room_bytes = room_bytes
        self._waiting: deque[Received] = deque()
        self._bytes = 0
        self._is_closed = False
        self._changed = threading.Condition()

    def put(self, received: Received) -> bool:
        """Queue a message, waiting for room; False when the inbox closed and it was not taken."""
        with self._changed:
            self._changed.wait_for(self._has_room)
            if self._is_closed:
                return False
            self._waiting.append(received)
            self._bytes += len(received.message.payload)
            # The reader sleeps only until there is a first message or a full batch.
            if len(self._waiting) == 1 or self._is_batch():
                self._changed.notify_all()
            return True

    def take(self, patience_s: float, gather_s: float) -> list[Received]:
        """The next batch, in order of arrival; empty when none came.

        Args:
            patience_s: Longest wait for a first message. [s]
            gather_s: Longest wait for more to share its commit. [s]
        """
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._is_closed, patience_s)
            self._changed.wait_for(self._is_batch, gather_s if self._waiting else 0.0)
            batch: list[Received] = []
            size = 0
            while self._waiting and len(batch) < BATCH_MESSAGES and size < BATCH_BYTES:
                batch.append(self._waiting.popleft())
                size += len(batch[-1].message.payload)
            self._bytes -= size
            self._changed.notify_all()
            return batch

    def close(self) -> None:
        """Take nothing more and wake whoever waits."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()

    def _has_room(self) -> bool:
        return self._is_closed or (
            len(self._waiting) < self._room_messages and self._bytes < self._room_bytes
        )

    def _is_batch(self) -> bool:
        return self._is_closed or len(self._waiting) >= BATCH_MESSAGES or self._bytes >= BATCH_BYTES
