"""A disk without room is known as such, however the failure comes."""

import errno
import sqlite3

import pytest
from sqlalchemy.exc import OperationalError

from service.store.failures import in_words, is_full


def of_sqlite(code: int, words: str) -> OperationalError:
    """A failure as SQLite and SQLAlchemy hand it on."""
    raised = sqlite3.OperationalError(words)
    raised.sqlite_errorcode = code
    return OperationalError("INSERT", {}, raised)


NO_ROOM = [
    of_sqlite(sqlite3.SQLITE_FULL, "database or disk is full"),
    of_sqlite(sqlite3.SQLITE_IOERR_SHMSIZE, "disk I/O error"),
    OSError(errno.ENOSPC, "No space left on device"),
    OSError(errno.EDQUOT, "Disk quota exceeded"),
]
OTHERS = [
    of_sqlite(sqlite3.SQLITE_BUSY, "database is locked"),
    of_sqlite(sqlite3.SQLITE_IOERR_READ, "disk I/O error"),
    OSError(errno.EACCES, "Permission denied"),
    ValueError("the disk is full"),
]


@pytest.mark.parametrize("error", NO_ROOM)
def test_no_room_is_known(error: Exception) -> None:
    assert is_full(error)
    assert "full" in in_words(error)


@pytest.mark.parametrize("error", OTHERS)
def test_other_failures_are_not_taken_for_it(error: Exception) -> None:
    assert not is_full(error)


def test_what_it_led_to_is_known_by_its_cause() -> None:
    led_to = RuntimeError("the body cannot be read")
    led_to.__cause__ = NO_ROOM[2]

    assert is_full(led_to)
