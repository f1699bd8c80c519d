"""Small households for tests, made by plain numbers through the store's own functions."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from sqlmodel import Session

from service.ageing.lifecycle import Priority
from service.ageing.work import Place
from service.api.context import Context
from service.app import build
from service.clock import US_PER_S, from_datetime
from service.settings import BrokerSettings, DemoSettings, Settings
from service.store import air, alarm_records, care, conditions, places, set_up, wheels
from service.store.ageing_tables import CareRecord
from service.store.air import NewReading
from service.store.alarm_records import NewAlarm
from service.store.tables import Batch, Site, Space
from service.store.wheels import NewWheel
from service.tending.care import care_now

HOUR_US = 3_600 * US_PER_S
DAY_US = 24 * HOUR_US
MINUTE_US = 60 * US_PER_S
NOW_US = 1_795_617_120 * US_PER_S
"""Wed 25 Nov 2026, 14:32 UTC."""


class FixedClock:
    """A clock that stands, until somebody moves it."""

    def __init__(self, now_us: int = NOW_US, speed: float = 1.0) -> None:
        self.time_us = now_us
        self._speed = speed

    @property
    def speed(self) -> float:
        return self._speed

    def now_us(self) -> int:
        return self.time_us


def utc_us(*parts: int) -> int:
    """The instant of a date and time in UTC, from year to minute."""
    return from_datetime(datetime(*parts, tzinfo=UTC))  # type: ignore[arg-type, misc]  # as above


def empty_home(
    folder: Path,
    clock: FixedClock | None = None,
    *,
    demo: bool = False,
    broker_port: int = 1883,
) -> Context:
    """A store with tables and nothing in it."""
    settings = Settings(
        data_folder=folder,
        broker=BrokerSettings(port=broker_port),
        demo=DemoSettings(started_us=NOW_US, speed=60.0) if demo else None,
    )
    built = build(settings)
    return Context(
        settings=settings,
        clock=clock or FixedClock(speed=60.0 if demo else 1.0),
        engine=built.engine,
        sessions=built.sessions,
        plans=built.plans,
    )


def larch_lane(
    folder: Path,
    *,
    zone: str = "Europe/Vienna",
    fahrenheit: bool = False,
    demo: bool = False,
    broker_port: int = 1883,
) -> Context:
    """Larch Lane with three days of air: the cave dries, the blue box is damp, the fridge fine."""
    context = empty_home(folder, demo=demo, broker_port=broker_port)
    with context.sessions() as session:
        site = set_up.add_site(
            session,
            Site(slug="larch-lane", name="Larch Lane", time_zone=zone, fahrenheit=fahrenheit),
        )
        assert site.id is not None
        cave = add_space(session, site.id, "cave", "Cave", "cave")
        blue_box = add_space(session, site.id, "blue-box", "Blue box", "box", cave)
        white_box = add_space(session, site.id, "white-box", "White box", "box", cave)
        fridge = add_space(session, site.id, "fridge", "Kitchen fridge", "kitchen_fridge")
        add_batch(session, site.id, "Tomme", "tomme", 41, [(190, 75, 1950)], cave, "ripening")
        add_batch(session, site.id, "Blue", "blue", 12, [(90, 70, 430)] * 3, blue_box, "ripening")
        add_batch(
            session,
            site.id,
            "White mould",
            "white_mould",
            6,
            [(80, 32, 175)] * 4,
            white_box,
            "coat",
        )
        add_batch(session, site.id, "October blue", "blue", 58, [(90, 68, 400)], fridge, "cold")
        add_sensor(
            session,
            "cave-air",
            cave,
            steady(10.4),
            lambda ago: 88.0 if ago > 3 else 84.0 - 2 * (3 - ago),
        )
        add_sensor(session, "blue-box-air", blue_box, steady(10.1), steady(93.5))
        add_sensor(session, "fridge-air", fridge, steady(3.9), steady(60.0))
    return context


def steady(value: float) -> Callable[[float], float]:
    """Air that stays as it is."""
    return lambda _ago: value


def add_space(
    session: Session, site_id: int, slug: str, name: str, kind: str, parent_id: int | None = None
) -> int:
    """A space; its number."""
    space = set_up.add_space(
        session, Space(site_id=site_id, slug=slug, name=name, kind=kind, parent_id=parent_id)
    )
    assert space.id is not None
    return space.id


def add_batch(
    session: Session,
    site_id: int,
    name: str,
    plan: str,
    days: int,
    sizes: list[tuple[float, float, float]],
    space_id: int,
    stage: str,
) -> list[int]:
    """A batch made so many days ago, in one space and one stage ever since."""
    made_us = NOW_US - days * DAY_US
    wheel_ids = wheels.add_batch(
        session,
        Batch(site_id=site_id, name=name, plan=plan, plan_version=1, made_us=made_us),
        [
            NewWheel(str(number), diameter_mm, height_mm, mass_g)
            for number, (diameter_mm, height_mm, mass_g) in enumerate(sizes, start=1)
        ],
    )
    for wheel_id in wheel_ids:
        wheels.place_wheel(session, wheel_id, space_id, made_us)
        wheels.begin_stage(session, wheel_id, stage, made_us)
    return wheel_ids


def add_sensor(
    session: Session,
    slug: str,
    space_id: int | None,
    temperature: Callable[[float], float],
    humidity: Callable[[float], float],
    hours: float = 72.0,
    until_us: int = NOW_US - 40 * US_PER_S,
) -> int:
    """A sensor that has reported every five minutes; values by hours before now."""
    first_us = until_us - round(hours * HOUR_US)
    sensor = places.sensor_for(session, f"larch-lane/{slug}", first_us)
    assert sensor.id is not None
    if space_id is not None:
        places.place_sensor(session, sensor.id, space_id, first_us)
    _report(session, sensor.id, temperature, humidity, first_us, until_us)
    return sensor.id


def report(session: Session, sensor_id: int, hours: float) -> None:
    """Steady air of 10.4 °C and 88 %RH from a sensor for the hours up to now."""
    first_us = NOW_US - round(hours * HOUR_US)
    _report(session, sensor_id, steady(10.4), steady(88.0), first_us, NOW_US)


def _report(
    session: Session,
    sensor_id: int,
    temperature: Callable[[float], float],
    humidity: Callable[[float], float],
    first_us: int,
    until_us: int,
) -> None:
    air.add_readings(
        session,
        [
            NewReading(sensor_id, int(time_us), temperature(ago), humidity(ago))
            for time_us in np.arange(first_us, until_us + 1, 5 * MINUTE_US)
            for ago in ((NOW_US - int(time_us)) / HOUR_US,)
        ],
    )


def add_one_wheel(
    session: Session,
    humidity: Callable[[float], float],
    *,
    name: str = "Tomme",
    hours: float = 72.0,
    until_us: int = NOW_US - 40 * US_PER_S,
) -> None:
    """A household of one cave, one sensor and one wheel, all of the same name."""
    site = set_up.add_site(session, Site(slug="home", name=name))
    assert site.id is not None
    cave = add_space(session, site.id, "cave", name, "cave")
    add_batch(session, site.id, name, "tomme", 41, [(190, 75, 1950)], cave, "ripening")
    add_sensor(session, "air", cave, steady(10.4), humidity, hours, until_us)


def add_alarm(
    session: Session,
    space_id: int,
    title: str = "Cave: too dry, 80.4 %RH",
    *,
    over: bool = False,
    kind: str = "humidity_below",
) -> int:
    """An alarm of a space that nobody has acknowledged, on its humidity unless said; its number."""
    watched = conditions.watch_space(session, space_id, [kind])[kind]
    number = alarm_records.raise_alarm(
        session,
        watched.id,
        NewAlarm(
            raised_us=NOW_US - HOUR_US,
            priority=Priority.MEDIUM,
            limit=82.0,
            extreme=80.4,
            wheels="Tomme 1",
            title=title,
            body="Cave is too dry: 80.4 %RH, 1.6 %RH below 82 %RH. Try: look at the tray.",
        ),
    )
    if over:
        alarm_records.return_alarm(session, watched.id, NOW_US, Priority.MEDIUM, 80.4)
    return number


def tend_all(session: Session, context: Context, now_us: int = NOW_US) -> None:
    """Do all care that comes up, whatever it is, in a touch of its own each."""
    for number, each in enumerate(care_now(session, context.plans, now_us).due):
        of_box = each.subject.place is Place.BOX
        row = CareRecord(
            touch=f"tended-{number:04}",
            work=each.work,
            wheel_id=None if of_box else each.subject.number,
            space_id=each.subject.number if of_box else None,
            outcome="done",
            time_us=now_us,
            entered_us=now_us,
        )
        care.enter(session, [row])
