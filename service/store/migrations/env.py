"""Tells Alembic which tables there should be and where they are."""

from typing import Any, Literal

from alembic import context
from sqlalchemy import text
from sqlmodel import AutoString, SQLModel

from service.store import ageing_tables as _ageing  # noqa: F401  # importing them
from service.store import tables as _tables  # noqa: F401  # fills the metadata
from service.store.database import open_engine


def plain_text(kind: str, item: Any, _context: Any) -> str | Literal[False]:
    """Write SQLModel's text type into migrations as the plain one that it is."""
    return "sa.String()" if kind == "type" and isinstance(item, AutoString) else False


url = context.config.get_main_option("sqlalchemy.url")
if url is None:
    raise SystemExit("run migrations through `wheelward migrate`, which names the store")
engine = open_engine(url)
with engine.connect() as connection:
    if engine.dialect.name == "sqlite":
        # Two processes that start together must not both make the tables. Python's driver
        # opens no transaction before a CREATE, so the lock is taken by hand.
        connection.execute(text("BEGIN IMMEDIATE"))
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        render_item=plain_text,
    )
    with context.begin_transaction():
        context.run_migrations()
    connection.commit()
engine.dispose()
