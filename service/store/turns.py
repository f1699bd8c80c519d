"""One writer at a time, where what is written hangs on what was read just before."""

from sqlalchemy import text
from sqlmodel import Session

_SET_UP_LOCK = 4_711_001
"""The number of the advisory lock on PostgreSQL; any number of our own serves."""


def take_turn(session: Session) -> None:
    """From here to the end of the session nobody else writes by turns.

    Two browsers that place one sensor at the same moment must not both find it free. On
    SQLite the write lock is taken now instead of at the first write; on PostgreSQL an
    advisory lock is, which only those who ask for it wait for.
    """
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        driver = connection.connection.driver_connection
        assert driver is not None  # a connection that is checked out has its driver's
        if not driver.in_transaction:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _SET_UP_LOCK})
    # What was read before the turn may have changed since.
    session.expire_all()
