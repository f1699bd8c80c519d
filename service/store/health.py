"""Whether the store answers."""

from sqlalchemy import Engine, select
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import col

from service.store.tables import Site


def is_reachable(engine: Engine) -> bool:
    """Whether the store answers a question about one of its tables."""
    try:
        with engine.connect() as connection:
            connection.execute(select(col(Site.id)).limit(1))
    except SQLAlchemyError:
        return False
    return True
