"""The inbox is bounded, gives batches, and lets nobody hang."""

import threading
import time

from service.ingest.inbox import BATCH_BYTES, BATCH_MESSAGES, Inbox, Received
from service.ingest.messages import Message


def received(number: int = 0, size: int = 1) -> Received:
    return Received(Message("caves/a/b/senml", b"x" * size, 0), number, 1, 0)


def test_messages_come_out_in_the_order_in_which_they_came() -> None:
    inbox = Inbox()
    for number in range(3):
        inbox.put(received(number))

    assert [one.packet_id for one in inbox.take(0, 0)] == [0, 1, 2]
    assert inbox.take(0, 0) == []


def test_a_batch_is_bounded_by_count() -> None:
    inbox = Inbox()
    for number in range(BATCH_MESSAGES + 1):
        inbox.put(received(number))

    # A full batch waits for nothing: a patience of an hour would show.
    assert len(inbox.take(3600, 3600)) == BATCH_MESSAGES
    assert len(inbox.take(0, 0)) == 1


def test_a_batch_is_bounded_by_bytes() -> None:
    inbox = Inbox()
    for number in range(4):
        inbox.put(received(number, BATCH_BYTES // 2))

    assert len(inbox.take(3600, 3600)) == 2


def put_beside(inbox: Inbox, one: Received) -> tuple[threading.Thread, list[bool]]:
    """Put in another thread; what `put` said comes into the list."""
    said: list[bool] = []
    thread = threading.Thread(target=lambda: said.append(inbox.put(one)))
    thread.start()
    return thread, said


def test_a_full_inbox_holds_the_writer_back_until_there_is_room() -> None:
    for inbox in (Inbox(room_messages=1), Inbox(room_bytes=10)):
        inbox.put(received(0, 10))
        thread, said = put_beside(inbox, received(1))
        thread.join(0.05)
        assert thread.is_alive()
        inbox.take(0, 0)
        thread.join(10)

        assert said == [True]


def test_a_message_larger_than_the_whole_room_still_gets_in() -> None:
    inbox = Inbox(room_bytes=10)

    assert inbox.put(received(0, 1000))


def test_closing_lets_writer_and_reader_go_and_takes_nothing_more() -> None:
    inbox = Inbox(room_messages=1)
    inbox.put(received(0))
    thread, said = put_beside(inbox, received(1))
    inbox.close()
    thread.join(10)

    assert said == [False]
    started_s = time.monotonic()
    assert len(inbox.take(3600, 3600)) == 1
    assert inbox.take(3600, 3600) == []
    assert time.monotonic() - started_s < 10
