"""Backup while the service runs, and restore that checks first and keeps what was there."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import make_url

from service.errors import SettingsError, StoreError
from service.store.database import knows_revision, migrate
from service.store.failures import in_words


def back_up(url: str, target: Path) -> int:
    """Copy the store into one file while others read and write it, and check the copy.

    Args:
        url: The store.
        target: The file to make; an existing one is not overwritten.

    Returns:
        The number of readings in the copy.

    Raises:
        SettingsError: The store is no SQLite file, is missing, or the target exists.
        StoreError: The copy cannot be written; nothing is left of it.
    """
    source = _file_of(url)
    if not source.is_file():
        raise SettingsError(f"there is no store at {source}; nothing to back up")
    if target.exists():
        raise SettingsError(f"{target} exists; name a file that does not")
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        with _opened(source) as store, _opened(target) as copy:
            store.backup(copy)
    except sqlite3.Error as error:
        # Half a copy would pass for a backup.
        target.unlink(missing_ok=True)
        raise StoreError(f"{source} cannot be copied to {target}: {in_words(error)}") from None
    return _checked(target)


def restore(url: str, source: Path, kept: Path) -> int:
    """Put a backup in the place of the store, and bring its tables up to date.

    Args:
        url: The store.
        source: A file made by `back_up`.
        kept: Where the present store is copied first, if there is one.

    Returns:
        The number of readings in the restored store.

    Raises:
        SettingsError: The file is no sound backup, or of a newer Wheelward; the present store
            is then untouched.
        StoreError: The store cannot be written.
    """
    target = _file_of(url)
    readings = _checked(source)
    if target.is_file():
        back_up(url, kept)
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        with _opened(source) as backup, _opened(target) as store:
            backup.backup(store)
    except sqlite3.Error as error:
        # SQLite takes back what it had written of it.
        raise StoreError(
            f"{target} cannot be written: {in_words(error)}; it is as it was"
        ) from None
    migrate(url)
    return readings


def _file_of(url: str) -> Path:
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database:
        raise SettingsError("backup and restore serve SQLite; use the database's own tools here")
    return Path(parsed.database)


@contextmanager
def _opened(file: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(file, timeout=10)) as connection:
        yield connection


def _checked(file: Path) -> int:
    """The number of readings in a store that is whole."""
    if not file.is_file():
        raise SettingsError(f"there is no file {file}")
    try:
        with _opened(file) as store:
            (words,) = store.execute("PRAGMA integrity_check").fetchone()
            (page_bytes,) = store.execute("PRAGMA page_size").fetchone()
            revision = store.execute("SELECT version_num FROM alembic_version").fetchone()
            (readings,) = store.execute("SELECT count(*) FROM reading").fetchone()
    except sqlite3.DatabaseError as error:
        raise SettingsError(f"{file} is no backup of a Wheelward store: {error}") from None
    if words != "ok":
        raise SettingsError(f"{file} is damaged: {words}")
    # SQLite takes the rest of a last page that is cut to be zeros, and finds nothing wrong.
    if file.stat().st_size % page_bytes:
        raise SettingsError(f"{file} is damaged: its end is missing")
    if revision is None or not knows_revision(str(revision[0])):
        raise SettingsError(f"{file} is of another Wheelward, perhaps a newer one; update this one")
    return int(readings)
