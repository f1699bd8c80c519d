"""A larder of one cave with two wheels, whose readings a test writes itself."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from sqlmodel import SQLModel

from service.ageing.plans import (
    ActivationEnergy,
    Kind,
    LengthDays,
    Paste,
    Plan,
    Stage,
    WaterActivity,
)
from service.ageing.values import Range, Target
from service.ageing.work import Days, Firmness, Gate, Readiness, Smell
from service.clock import US_PER_S
from service.science.composition import Composition
from service.store import alarm_records, outbox, places, wheels
from service.store.air import NewReading, add_readings
from service.store.alarm_records import AlarmEntry
from service.store.database import SessionMaker, open_engine, session_maker
from service.store.outbox import Outgoing
from service.store.tables import Batch, Sensor, Site, Space
from service.watch.rounds import Watch

START_US = 1_795_608_000 * US_PER_S  # Wed 25 Nov 2026 13:00 in Vienna
MINUTE_US = 60 * US_PER_S


@dataclass
class HandClock:
    """A clock that a test sets."""

    time_us: int = START_US
    speed: float = 1.0

    def now_us(self) -> int:
        return self.time_us


def stage(slug: str, temperature: Range | None, humidity: Range | None) -> Stage:
    return Stage(
        slug=slug,
        name=slug,
        target=Target(temperature, humidity),
        temperature_source=None,
        humidity_source=None,
        humidity_where=None,
        length_days=LengthDays(1, 2, 3, "invented"),
        gate=Gate("invented", Days(1, 2, 3, "invented")),
        care=(),
        advice="invented",
    )


PLAN = Plan(
    slug="invented",
    name="Invented",
    version=1,
    family="invented",
    kind=Kind.NATURAL_RIND,
    smell=Smell.MILD,
    reference_temperature_c=12.0,
    activation_energy_kj_per_mol=ActivationEnergy(20, 40, 60, "invented"),
    paste=Paste(Composition(0.40, 0.31, 0.21, 0.05, 0.03), "invented"),
    water_activity=WaterActivity(0.91, 0.95, 0.97, "invented"),
    stages=(
        stage("damp", Range(8, 12), Range(85, 95)),
        stage("dry", Range(8, 12), Range(75, 85)),
    ),
    readiness=Readiness("damp", ((Firmness.FIRM, Days(1, 2, 3, "invented")),)),
)


@dataclass
class Larder:
    """A cave, its sensor and two wheels since `START_US`, and a watch over them."""

    sessions: SessionMaker
    clock: HandClock = field(default_factory=HandClock)
    channels: tuple[str, ...] = ("1 mailto",)
    space_id: int = 0
    sensor_id: int = 0
    wheel_ids: tuple[int, ...] = ()
    watch: Watch = field(init=False)

    def __post_init__(self) -> None:
        self.watch = self.another_watch()

    def another_watch(self) -> Watch:
        """A watch that starts now."""
        return Watch(self.sessions, self.clock, {"invented": PLAN}, self.channels, self.clock)

    def furnish(self, kind: str = "cave") -> None:
        with self.sessions() as session:
            site = Site(slug="larch-lane", name="Larch Lane", time_zone="Europe/Vienna")
            session.add(site)
            session.flush()
            assert site.id is not None
            space = Space(site_id=site.id, slug="cave", name="Larder cave", kind=kind)
            session.add(space)
            session.flush()
            assert space.id is not None
            self.space_id = space.id
            batch = Batch(
                site_id=site.id, name="Tomme", plan="invented", plan_version=1, made_us=START_US
            )
            new = [wheels.NewWheel(label, 190, 75, 1950) for label in ("1", "2")]
            self.wheel_ids = tuple(wheels.add_batch(session, batch, new))
        self.sensor_id = self.add_sensor("cave-air")

    def add_sensor(self, key: str) -> int:
        with self.sessions() as session:
            sensor = Sensor(key=f"larch-lane/{key}", name=key, first_seen_us=START_US)
            session.add(sensor)
            session.flush()
            assert sensor.id is not None
            return sensor.id

    def stand(self, sensor_id: int | None = None, at_min: float = 0, *, out: bool = False) -> None:
        """Place a sensor in the cave, or take it out."""
        with self.sessions() as session:
            places.place_sensor(
                session, sensor_id or self.sensor_id, None if out else self.space_id, at(at_min)
            )

    def shelve(self, stage_slug: str = "damp", at_min: float = 0, which: int = 0) -> None:
        with self.sessions() as session:
            wheels.place_wheel(session, self.wheel_ids[which], self.space_id, at(at_min))
            wheels.begin_stage(session, self.wheel_ids[which], stage_slug, at(at_min))

    def take_out(self, at_min: float, which: int = 0) -> None:
        with self.sessions() as session:
            wheels.place_wheel(session, self.wheel_ids[which], None, at(at_min))

    def read(
        self,
        values: Iterable[tuple[float, float | None, float | None]],
        sensor_id: int | None = None,
    ) -> None:
        """Store (minutes from the start, temperature, humidity)."""
        with self.sessions() as session:
            add_readings(
                session,
                [
                    NewReading(sensor_id or self.sensor_id, at(minute), temperature, humidity)
                    for minute, temperature, humidity in values
                ],
            )

    def steady(
        self, from_min: int, to_min: int, *, humidity: float = 90, temperature: float = 10
    ) -> None:
        """A reading every minute, from one minute up to but without another."""
        self.read((minute, temperature, humidity) for minute in range(from_min, to_min))

    def round_at(self, minute: float) -> int:
        self.clock.time_us = at(minute)
        return self.watch.round()

    def alarms(self) -> list[AlarmEntry]:
        """All alarms, in the order in which they were entered."""
        with self.sessions() as session:
            return list(alarm_records.listed(session, only_open=False, limit=1000))[::-1]

    def notices(self) -> tuple[Outgoing, ...]:
        with self.sessions() as session:
            return outbox.due(session, 2**62)


def at(minute: float) -> int:
    return START_US + round(minute * MINUTE_US)


LarderMaker = Callable[..., Larder]


@pytest.fixture
def make_larder() -> LarderMaker:
    """Makes a furnished larder; in memory, or in a file where threads are to share it."""

    def make(folder: Path | None = None, kind: str = "cave", **with_: object) -> Larder:
        engine = open_engine(f"sqlite:///{folder / 'store.db'}" if folder else "sqlite://")
        SQLModel.metadata.create_all(engine)
        larder = Larder(session_maker(engine), **with_)  # type: ignore[arg-type]  # a test's own words
        larder.furnish(kind)
        return larder

    return make


@pytest.fixture
def larder(make_larder: LarderMaker) -> Larder:
    """A cave with its sensor and one wheel on the board."""
    made = make_larder()
    made.stand()
    made.shelve()
    return made
