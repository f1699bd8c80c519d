"""Enters a household from its JSON file: spaces, sensors, wheels and where each has been."""

from datetime import datetime
from pathlib import Path
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from service.clock import from_datetime
from service.errors import BadReadingsError
from service.judging import Plans
from service.store import places, weighings, wheels
from service.store.database import Session
from service.store.tables import Batch, Site, Space, SpaceKind

Slug = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]*$")]


class _Part(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True)


class _Site(_Part):
    slug: Slug
    name: str
    time_zone: str


class _Space(_Part):
    slug: Slug
    name: str
    kind: SpaceKind
    parent: Slug | None = None
    board: int = 0


class _Stay(_Part):
    space: Slug
    start: AwareDatetime = Field(alias="from")


class _Sensor(_Part):
    slug: Slug
    name: str
    placements: tuple[_Stay, ...]


class _Stage(_Part):
    stage: Slug
    start: AwareDatetime = Field(alias="from")


class _Weighing(_Part):
    time: AwareDatetime
    grams: float = Field(gt=0)


class _Wheel(_Part):
    label: str
    diameter_mm: float = Field(gt=0)
    height_mm: float = Field(gt=0)
    mass_g: float = Field(gt=0)
    placements: tuple[_Stay, ...]
    stages: tuple[_Stage, ...]
    weighings: tuple[_Weighing, ...] = ()


class _Batch(_Part):
    name: str
    plan: Slug
    made: AwareDatetime
    wheels: tuple[_Wheel, ...]


class Household(_Part):
    """A household as its file tells it."""

    site: _Site
    spaces: tuple[_Space, ...]
    sensors: tuple[_Sensor, ...]
    batches: tuple[_Batch, ...]


def read_household(file: Path) -> Household:
    """The household in a file.

    Raises:
        BadReadingsError: The file is not one; the message says what is wrong where.
    """
    try:
        return Household.model_validate_json(file.read_bytes())
    except (OSError, ValidationError) as error:
        raise BadReadingsError(f"{file} holds no household: {error}") from None


def enter_household(session: Session, household: Household, plans: Plans, shift_us: int) -> None:
    """Enter a household into an empty store, all its times moved by `shift_us`."""

    def moved(moment: datetime) -> int:
        return from_datetime(moment) + shift_us

    site = Site(
        slug=household.site.slug, name=household.site.name, time_zone=household.site.time_zone
    )
    session.add(site)
    session.flush()
    assert site.id is not None
    space_ids: dict[str, int] = {}
    for told in household.spaces:
        space = Space(
            site_id=site.id,
            slug=told.slug,
            name=told.name,
            kind=told.kind,
            parent_id=space_ids[told.parent] if told.parent else None,
            board=told.board,
        )
        session.add(space)
        session.flush()
        assert space.id is not None
        space_ids[told.slug] = space.id
    for device in household.sensors:
        first_us = moved(min(stay.start for stay in device.placements))
        sensor = places.sensor_for(session, f"{site.slug}/{device.slug}", first_us)
        sensor.name = device.name
        assert sensor.id is not None
        for stay in device.placements:
            places.place_sensor(session, sensor.id, space_ids[stay.space], moved(stay.start))
    for batch in household.batches:
        wheel_ids = wheels.add_batch(
            session,
            Batch(
                site_id=site.id,
                name=batch.name,
                plan=batch.plan,
                plan_version=plans[batch.plan].version,
                made_us=moved(batch.made),
            ),
            (
                wheels.NewWheel(wheel.label, wheel.diameter_mm, wheel.height_mm, wheel.mass_g)
                for wheel in batch.wheels
            ),
        )
        for wheel_id, wheel in zip(wheel_ids, batch.wheels, strict=True):
            for stay in wheel.placements:
                wheels.place_wheel(session, wheel_id, space_ids[stay.space], moved(stay.start))
            for lived in wheel.stages:
                wheels.begin_stage(session, wheel_id, lived.stage, moved(lived.start))
            for weighing in wheel.weighings:
                weighings.enter(session, wheel_id, moved(weighing.time), weighing.grams)
