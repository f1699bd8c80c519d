"""Which failures of the store may pass by themselves, and which will not."""

import errno
import sqlite3
from typing import Final

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

__all__ = [
    "DBAPIError",
    "cannot_write",
    "in_words",
    "is_full",
    "is_locked",
    "is_read_only",
    "may_pass",
]

_NO_ROOM: Final = frozenset({errno.ENOSPC, errno.EDQUOT})
_NO_ROOM_BESIDE: Final = sqlite3.SQLITE_IOERR_SHMSIZE
"""SQLite could not enlarge the file that it keeps beside its log. SQLite documentation, "Result
and Error Codes": it may say that the volume is out of space, and on a full disk it does."""
_PRIMARY: Final = 0xFF
"""The part of an SQLite result code that an extended one has in common with its kind."""
_POSTGRESQL_DISK_FULL: Final = "53100"
_POSTGRESQL_LOCKED: Final = "55P03"
_POSTGRESQL_READ_ONLY: Final = "25006"
"""PostgreSQL documentation, appendix A: PostgreSQL error codes, classes 53, 55 and 25."""


def may_pass(error: Exception) -> bool:
    """Whether the same work may well succeed later: disk full, store locked or unreachable.

    What a row itself is at fault for (a value that does not fit, a broken rule of the
    tables) fails again however often it is tried.
    """
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return True
    return isinstance(error, OperationalError | InterfaceError | PoolTimeoutError)


def is_full(error: BaseException | None) -> bool:
    """Whether a disk without room is what failed, or what led to the failure.

    SQLite says so itself; whatever writes a file beside it, such as a photo on its way in, has
    it from the system.
    """
    while error is not None:
        cause = error.orig if isinstance(error, DBAPIError) else error
        code = getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_OK)
        if (
            (isinstance(cause, OSError) and cause.errno in _NO_ROOM)
            or code & _PRIMARY == sqlite3.SQLITE_FULL
            or code == _NO_ROOM_BESIDE
            or getattr(cause, "sqlstate", None) == _POSTGRESQL_DISK_FULL
        ):
            return True
        error = error.__cause__
    return False


def is_locked(error: BaseException | None) -> bool:
    """Whether another process has kept the store to itself for longer than is waited."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_OK) & _PRIMARY
    return (
        code in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
        or getattr(cause, "sqlstate", None) == _POSTGRESQL_LOCKED
    )


def is_read_only(error: BaseException | None) -> bool:
    """Whether the store may be read, but not be written."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_OK) & _PRIMARY
    return (
        code == sqlite3.SQLITE_READONLY or getattr(cause, "sqlstate", None) == _POSTGRESQL_READ_ONLY
    )


def cannot_write(error: BaseException | None) -> bool:
    """Whether the store may be read all the same: it has no room, is locked, or is read-only."""
    return is_full(error) or is_locked(error) or is_read_only(error)


def in_words(error: Exception) -> str:
    """The driver's own sentence, without the statement and its values."""
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    text = str(cause).strip()
    if isinstance(error, SQLAlchemyError) and cause is error:
        text = text.partition("\n")[0]
    if is_full(cause) and "full" not in text:
        text = f"the disk is full ({text})"
    return text or type(cause).__name__
