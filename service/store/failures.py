"""Which failures of the store may pass by themselves, and which will not."""

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError


def may_pass(error: Exception) -> bool:
    """Whether the same work may well succeed later: disk full, store locked or unreachable.

    What a row itself is at fault for (a value that does not fit, a broken rule of the
    tables) fails again however often it is tried.
    """
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return True
    return isinstance(error, OperationalError | InterfaceError | PoolTimeoutError)


def in_words(error: Exception) -> str:
    """The driver's own sentence, without the statement and its values."""
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    text = str(cause).strip()
    if isinstance(error, SQLAlchemyError) and cause is error:
        text = text.partition("\n")[0]
    return text or type(cause).__name__
