"""What the maker enters once: the site and its spaces; and what set-up asks of the store."""

from sqlalchemy import func
from sqlmodel import Session, col, select

from service.store.tables import Batch, Reading, Site, Space


def add_site(session: Session, site: Site) -> Site:
    """Enter the household's site."""
    session.add(site)
    session.flush()
    return site


def add_space(session: Session, space: Space) -> Space:
    """Enter a space."""
    session.add(space)
    session.flush()
    return space


def first_reading_us(session: Session, sensor_id: int) -> int | None:
    """The time of a sensor's oldest reading; None when there is none. [µs UTC]"""
    return session.exec(
        select(func.min(col(Reading.time_us))).where(col(Reading.sensor_id) == sensor_id)
    ).one()


def has_batch(session: Session, name: str, made_us: int) -> bool:
    """Whether a batch of that name was made at that time."""
    found = session.exec(
        select(Batch.id).where(col(Batch.name) == name, col(Batch.made_us) == made_us).limit(1)
    ).first()
    return found is not None
