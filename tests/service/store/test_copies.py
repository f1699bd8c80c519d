"""Backup and restore bring back what was there, and refuse what is no backup."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from service.errors import SettingsError, StoreError
from service.store import air, places
from service.store.copies import back_up, restore
from service.store.database import migrate, open_engine, session_maker


def store_with(folder: Path, readings: int) -> str:
    url = f"sqlite:///{folder / 'store.db'}"
    migrate(url)
    engine = open_engine(url)
    with session_maker(engine)() as session:
        sensor = places.sensor_for(session, "larch-lane/cave", 0)
        assert sensor.id is not None
        air.add_readings(
            session, [air.NewReading(sensor.id, minute, 10.0, 90.0) for minute in range(readings)]
        )
    engine.dispose()
    return url


def test_a_restored_store_holds_what_the_backup_held(tmp_path: Path) -> None:
    url = store_with(tmp_path, 5)
    copied = back_up(url, tmp_path / "copy.db")
    store_with(tmp_path, 9)

    restored = restore(url, tmp_path / "copy.db", tmp_path / "kept.db")

    assert (copied, restored) == (5, 5)
    assert back_up(url, tmp_path / "again.db") == 5


def test_restore_keeps_a_copy_of_what_it_replaces(tmp_path: Path) -> None:
    url = store_with(tmp_path, 3)
    back_up(url, tmp_path / "copy.db")
    store_with(tmp_path, 7)
    restore(url, tmp_path / "copy.db", tmp_path / "kept.db")

    assert restore(url, tmp_path / "kept.db", tmp_path / "second.db") == 7


def test_backup_does_not_overwrite_a_file(tmp_path: Path) -> None:
    url = store_with(tmp_path, 1)
    (tmp_path / "mine.txt").write_text("recipes")

    with pytest.raises(SettingsError, match="exists"):
        back_up(url, tmp_path / "mine.txt")


@pytest.mark.parametrize("content", [b"", b"not a database at all, but long enough" * 200])
def test_what_is_no_backup_is_refused_and_the_store_stays(tmp_path: Path, content: bytes) -> None:
    url = store_with(tmp_path, 4)
    (tmp_path / "bad.db").write_bytes(content)

    with pytest.raises(SettingsError, match="no backup"):
        restore(url, tmp_path / "bad.db", tmp_path / "kept.db")

    assert back_up(url, tmp_path / "copy.db") == 4


def test_a_damaged_backup_is_refused(tmp_path: Path) -> None:
    url = store_with(tmp_path, 3000)
    back_up(url, tmp_path / "copy.db")
    content = bytearray((tmp_path / "copy.db").read_bytes())
    middle = len(content) // 2
    content[middle : middle + 4096 * 4] = b"\xff" * (4096 * 4)
    (tmp_path / "copy.db").write_bytes(content)

    with pytest.raises(SettingsError, match=r"damaged|no backup"):
        restore(url, tmp_path / "copy.db", tmp_path / "kept.db")


def test_a_backup_whose_last_byte_is_missing_is_refused_and_the_store_stays(
    tmp_path: Path,
) -> None:
    url = store_with(tmp_path, 4)
    back_up(url, tmp_path / "copy.db")
    (tmp_path / "cut.db").write_bytes((tmp_path / "copy.db").read_bytes()[:-1])

    with pytest.raises(SettingsError, match="its end is missing"):
        restore(url, tmp_path / "cut.db", tmp_path / "kept.db")
    assert back_up(url, tmp_path / "again.db") == 4


def test_a_backup_of_a_newer_wheelward_is_refused_and_the_store_stays(tmp_path: Path) -> None:
    url = store_with(tmp_path, 4)
    back_up(url, tmp_path / "newer.db")
    with closing(sqlite3.connect(tmp_path / "newer.db")) as newer:
        newer.execute("UPDATE alembic_version SET version_num = 'tomorrow'")
        newer.commit()

    with pytest.raises(SettingsError, match="newer"):
        restore(url, tmp_path / "newer.db", tmp_path / "kept.db")
    assert not (tmp_path / "kept.db").exists()
    assert back_up(url, tmp_path / "again.db") == 4


def test_a_backup_that_cannot_be_written_leaves_no_half_of_it(tmp_path: Path) -> None:
    url = store_with(tmp_path, 4)
    (tmp_path / "store.db").write_bytes((tmp_path / "store.db").read_bytes()[:5_000])

    with pytest.raises(StoreError, match="cannot be copied"):
        back_up(url, tmp_path / "copy.db")
    assert not (tmp_path / "copy.db").exists()
