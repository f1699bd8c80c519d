"""Enters a household from its JSON file: spaces, sensors, wheels and where each has been."""

from datetime import datetime
from pathlib import Path
from typing import Annotated

from pydantic import AwareDatetime, Field, ValidationError

from service.clock import from_datetime
from service.demo.by_hand import ByHand, Care, Look, Part
from service.errors import BadReadingsError
from service.judging import Plans
from service.store import corrections, places, weighings, wheels
from service.store.database import Session
from service.store.tables import Batch, SensorCorrection, Site, Space, SpaceKind

Slug = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]*$")]


class _Site(Part):
    slug: Slug
    name: str
    time_zone: str


class _Space(Part):
    slug: Slug
    name: str
    kind: SpaceKind
    parent: Slug | None = None
    board: int = 0


class _Stay(Part):
    space: Slug
    start: AwareDatetime = Field(alias="from")


class _Correction(Part):
    start: AwareDatetime = Field(alias="from")
    made: AwareDatetime
    offset_pct: float
    gain: float = Field(gt=0)
    standard_uncertainty_pct: float = Field(ge=0)
    salts: str


class _Sensor(Part):
    slug: Slug
    name: str
    placements: tuple[_Stay, ...]
    corrections: tuple[_Correction, ...] = ()


class _Stage(Part):
    stage: Slug
    start: AwareDatetime = Field(alias="from")


class _Weighing(Part):
    time: AwareDatetime
    grams: float = Field(gt=0)


class _Wheel(Part):
    label: str
    diameter_mm: float = Field(gt=0)
    height_mm: float = Field(gt=0)
    mass_g: float = Field(gt=0)
    placements: tuple[_Stay, ...]
    stages: tuple[_Stage, ...]
    weighings: tuple[_Weighing, ...] = ()


class _Batch(Part):
    name: str
    plan: Slug
    made: AwareDatetime
    wheels: tuple[_Wheel, ...]


class Household(Part):
    """A household as its file tells it."""

    site: _Site
    spaces: tuple[_Space, ...]
    sensors: tuple[_Sensor, ...]
    batches: tuple[_Batch, ...]
    care: tuple[Care, ...] = ()
    looks: tuple[Look, ...] = ()


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
    site = Site(
        slug=household.site.slug, name=household.site.name, time_zone=household.site.time_zone
    )
    session.add(site)
    session.flush()
    entry = _Entry(session, site, shift_us)
    for space in household.spaces:
        entry.space(space)
    for device in household.sensors:
        entry.sensor(device)
    for batch in household.batches:
        entry.batch(batch, plans[batch.plan].version)
    by_hand = ByHand(session, shift_us)
    for care in household.care:
        by_hand.care(care)
    for look in household.looks:
        by_hand.look(look)


class _Entry:
    """The entering of one household: spaces first, for the rest refers to them."""

    def __init__(self, session: Session, site: Site, shift_us: int) -> None:
        assert site.id is not None
        self._session = session
        self._site_id = site.id
        self._site_slug = site.slug
        self._shift_us = shift_us
        self._space_ids: dict[str, int] = {}

    def space(self, told: _Space) -> None:
        """Enter a space; a box after its cave."""
        space = Space(
            site_id=self._site_id,
            slug=told.slug,
            name=told.name,
            kind=told.kind,
            parent_id=self._space_ids[told.parent] if told.parent else None,
            board=told.board,
        )
        self._session.add(space)
        self._session.flush()
        assert space.id is not None
        self._space_ids[told.slug] = space.id

    def sensor(self, told: _Sensor) -> None:
        """Enter a sensor, where it stood and how it is corrected."""
        first_us = self._moved(min(stay.start for stay in told.placements))
        sensor = places.sensor_for(self._session, f"{self._site_slug}/{told.slug}", first_us)
        sensor.name = told.name
        assert sensor.id is not None
        for stay in told.placements:
            places.place_sensor(
                self._session, sensor.id, self._space_ids[stay.space], self._moved(stay.start)
            )
        for made in told.corrections:
            corrections.add(
                self._session,
                SensorCorrection(
                    sensor_id=sensor.id,
                    from_us=self._moved(made.start),
                    offset_pct=made.offset_pct,
                    gain=made.gain,
                    standard_uncertainty_pct=made.standard_uncertainty_pct,
                    salts=made.salts,
                    made_us=self._moved(made.made),
                ),
            )

    def batch(self, told: _Batch, plan_version: int) -> None:
        """Enter a batch with its wheels and what each has lived."""
        wheel_ids = wheels.add_batch(
            self._session,
            Batch(
                site_id=self._site_id,
                name=told.name,
                plan=told.plan,
                plan_version=plan_version,
                made_us=self._moved(told.made),
            ),
            (
                wheels.NewWheel(wheel.label, wheel.diameter_mm, wheel.height_mm, wheel.mass_g)
                for wheel in told.wheels
            ),
        )
        for wheel_id, wheel in zip(wheel_ids, told.wheels, strict=True):
            for stay in wheel.placements:
                wheels.place_wheel(
                    self._session, wheel_id, self._space_ids[stay.space], self._moved(stay.start)
                )
            for lived in wheel.stages:
                wheels.begin_stage(self._session, wheel_id, lived.stage, self._moved(lived.start))
            for weighing in wheel.weighings:
                weighings.enter(self._session, wheel_id, self._moved(weighing.time), weighing.grams)

    def _moved(self, moment: datetime) -> int:
        return from_datetime(moment) + self._shift_us
