"""The tables in the code and the tables that migrations make are the same."""

import sqlite3
import subprocess
import sys
from pathlib import Path

from service.store.database import check_drift, migrate


def url_in(folder: Path) -> str:
    return f"sqlite:///{folder / 'store.db'}"


def test_migrations_from_nothing_lead_to_the_tables_of_the_code(tmp_path: Path) -> None:
    migrate(url_in(tmp_path))

    check_drift(url_in(tmp_path))  # raises when they differ

    with sqlite3.connect(tmp_path / "store.db") as store:
        ((made,),) = store.execute(
            "SELECT sql FROM sqlite_master WHERE name = 'reading'"
        ).fetchall()
    assert "WITHOUT ROWID" in made


def test_migrating_twice_changes_nothing(tmp_path: Path) -> None:
    migrate(url_in(tmp_path))
    before = (tmp_path / "store.db").read_bytes()
    migrate(url_in(tmp_path))

    assert (tmp_path / "store.db").read_bytes() == before


def test_processes_that_migrate_at_once_all_end_well(tmp_path: Path) -> None:
    words = f"from service.store.database import migrate; migrate({url_in(tmp_path)!r})"
    started = [
        subprocess.Popen([sys.executable, "-c", words], stderr=subprocess.PIPE) for _ in range(3)
    ]
    ended = [(process.communicate()[1], process.returncode) for process in started]

    assert [code for _, code in ended] == [0, 0, 0], ended
    check_drift(url_in(tmp_path))
