"""`wheelward person`: the keepers who may sign in."""

import argparse
import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from service.cli.speaking import say
from service.errors import SettingsError

if TYPE_CHECKING:
    from service.store.database import Session

# Imports wait until they are needed, as in all commands.
# ruff: noqa: PLC0415


def add(given: argparse.Namespace) -> None:
    """Add a keeper."""
    from service.api.people import add_keeper
    from service.clock import WorldClock

    password = _asked_password()
    with _store() as session:
        add_keeper(session, given.name, password, WorldClock().now_us())
    say(f"{given.name} is a keeper and may sign in.")


def password(given: argparse.Namespace) -> None:
    """Give a keeper a new password."""
    from service.api.people import change_password

    password = _asked_password()
    with _store() as session:
        change_password(session, given.name, password)
    say(f"{given.name} has a new password; every browser must sign in again.")


def remove(given: argparse.Namespace) -> None:
    """Remove a keeper."""
    from service.api.people import remove_keeper

    with _store() as session:
        remove_keeper(session, given.name)
    say(f"{given.name} is no keeper any more.")


def listing(_given: argparse.Namespace) -> None:
    """List the keepers, a line each."""
    from service.store.people import people

    with _store() as session:
        for keeper in people(session):
            say(keeper.name)


@contextmanager
def _store() -> "Iterator[Session]":
    """A session on the store of the settings, its tables up to date."""
    from service.settings import load
    from service.store.database import migrate, open_engine, session_maker

    url = load().database
    migrate(url)
    engine = open_engine(url)
    try:
        with session_maker(engine)() as session:
            yield session
    finally:
        engine.dispose()


def _asked_password() -> str:
    """The new password: typed twice at a terminal, otherwise the first line of the input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    password = getpass.getpass("Password: ")
    if getpass.getpass("Again: ") != password:
        raise SettingsError("the two passwords differ; nothing was changed")
    return password
