"""The tables. Rows are facts as stored, not domain values; rules live in `service.ageing`.

Times are integers of microseconds since 1970, UTC. A table row does not check its values
(SQLModel leaves `table=True` classes unchecked), so whoever writes one has checked before.
"""

from enum import StrEnum

from sqlalchemy import BigInteger, Index, LargeBinary, UniqueConstraint
from sqlmodel import Field, SQLModel


class SpaceKind(StrEnum):
    """What kind of place a space is; kept as plain text."""

    CAVE = "cave"
    BOX = "box"
    KITCHEN_FRIDGE = "kitchen_fridge"
    ROOM = "room"


class Site(SQLModel, table=True):
    """A household with its caves; its slug is the second level of an MQTT topic."""

    id: int | None = Field(default=None, primary_key=True)
    slug: str = Field(unique=True)
    name: str
    time_zone: str = "UTC"
    fahrenheit: bool = False


class ZoneHeld(SQLModel, table=True):
    """A time zone that the household has had, and until when; its days keep that zone."""

    __tablename__ = "zone_held"

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    time_zone: str
    until_us: int = Field(sa_type=BigInteger)


class Space(SQLModel, table=True):
    """A place with its own air. A box stands in the cave that is its parent."""

    __table_args__ = (UniqueConstraint("site_id", "slug"),)

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    slug: str
    name: str
    kind: str
    parent_id: int | None = Field(default=None, foreign_key="space.id")
    board: int = 0
    room_cm2: float | None = None


class Sensor(SQLModel, table=True):
    """A sensor as the broker knows it. Seen for the first time, it has no placement yet."""

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    name: str
    first_seen_us: int = Field(sa_type=BigInteger)
    link: str | None = None
    battery_pct: float | None = None
    battery_v: float | None = None
    temperature_lag_s: float | None = None
    humidity_lag_s: float | None = None


class SensorPlacement(SQLModel, table=True):
    """A sensor is in a space from one time to another; open while `to_us` is missing."""

    __tablename__ = "sensor_placement"

    id: int | None = Field(default=None, primary_key=True)
    sensor_id: int = Field(foreign_key="sensor.id", index=True)
    space_id: int = Field(foreign_key="space.id", index=True)
    from_us: int = Field(sa_type=BigInteger)
    to_us: int | None = Field(default=None, sa_type=BigInteger)


class Reading(SQLModel, table=True):
    """One time of one sensor, as received. Never changed once stored."""

    # SQLite keeps the row in the key's own tree: a third smaller, and faster to read a span.
    __table_args__ = ({"sqlite_with_rowid": False},)

    sensor_id: int = Field(foreign_key="sensor.id", primary_key=True)
    time_us: int = Field(primary_key=True, sa_type=BigInteger)
    temperature_c: float | None = None
    humidity_pct: float | None = None


class Batch(SQLModel, table=True):
    """The wheels of one make day and the plan that they follow."""

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    name: str
    plan: str
    plan_version: int
    made_us: int = Field(sa_type=BigInteger)
    raw_milk: bool | None = None


class Wheel(SQLModel, table=True):
    """One cheese. It has ended once it is eaten, given away or thrown away.

    What the maker wants of it, a firmness and a day of the household's calendar, is for the
    planner.
    """

    __table_args__ = (UniqueConstraint("batch_id", "label"),)

    id: int | None = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    label: str
    diameter_mm: float
    height_mm: float
    mass_g: float
    wanted_firmness: str | None = None
    wanted_day: str | None = None
    ended_us: int | None = Field(default=None, sa_type=BigInteger)
    ended_how: str | None = None


class WheelPlacement(SQLModel, table=True):
    """A wheel is in a space from one time to another; open while `to_us` is missing."""

    __tablename__ = "wheel_placement"

    id: int | None = Field(default=None, primary_key=True)
    wheel_id: int = Field(foreign_key="wheel.id", index=True)
    space_id: int = Field(foreign_key="space.id", index=True)
    from_us: int = Field(sa_type=BigInteger)
    to_us: int | None = Field(default=None, sa_type=BigInteger)


class StageLived(SQLModel, table=True):
    """A wheel lives a stage of its plan from one time to another."""

    __tablename__ = "stage_lived"

    id: int | None = Field(default=None, primary_key=True)
    wheel_id: int = Field(foreign_key="wheel.id", index=True)
    stage: str
    from_us: int = Field(sa_type=BigInteger)
    to_us: int | None = Field(default=None, sa_type=BigInteger)


class Weighing(SQLModel, table=True):
    """A wheel on the scale, wiped dry."""

    id: int | None = Field(default=None, primary_key=True)
    wheel_id: int = Field(foreign_key="wheel.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    mass_g: float
    withdrawn: bool = False


class SaltTest(SQLModel, table=True):
    """A sensor sealed up with a saturated salt; its readings then speak for no space."""

    __tablename__ = "salt_test"

    id: int | None = Field(default=None, primary_key=True)
    sensor_id: int = Field(foreign_key="sensor.id", index=True)
    salt: str
    started_us: int = Field(sa_type=BigInteger)
    ended_us: int | None = Field(default=None, sa_type=BigInteger)
    withdrawn: bool = False


class SensorCorrection(SQLModel, table=True):
    """Corrected humidity = offset + gain times reading, from that time on, until the next."""

    __tablename__ = "sensor_correction"

    id: int | None = Field(default=None, primary_key=True)
    sensor_id: int = Field(foreign_key="sensor.id", index=True)
    from_us: int = Field(sa_type=BigInteger)
    offset_pct: float
    gain: float
    standard_uncertainty_pct: float
    salts: str
    made_us: int = Field(sa_type=BigInteger)
    withdrawn: bool = False


class Alarm(SQLModel, table=True):
    """One occurrence of an alarm, from raised to normal."""

    id: int | None = Field(default=None, primary_key=True)
    condition_id: int = Field(foreign_key="condition.id", index=True)
    state: str
    priority: str
    raised_us: int = Field(sa_type=BigInteger, index=True)
    returned_us: int | None = Field(default=None, sa_type=BigInteger)
    acknowledged_us: int | None = Field(default=None, sa_type=BigInteger)
    acknowledged_by: str | None = None
    limit_value: float | None = None
    extreme: float | None = None
    wheels: str = ""
    title: str = ""
    body: str = ""


class AlarmTransition(SQLModel, table=True):
    """One change of an alarm's state; every one is kept."""

    __tablename__ = "alarm_transition"

    id: int | None = Field(default=None, primary_key=True)
    alarm_id: int = Field(foreign_key="alarm.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    state: str
    by: str | None = None


class Condition(SQLModel, table=True):
    """What is watched: one space or sensor, one kind; with the state of its evaluation."""

    __table_args__ = (UniqueConstraint("kind", "space_id"), UniqueConstraint("kind", "sensor_id"))

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    space_id: int | None = Field(default=None, foreign_key="space.id")
    sensor_id: int | None = Field(default=None, foreign_key="sensor.id")
    evaluated_us: int = Field(default=0, sa_type=BigInteger)
    state_json: str = "{}"


class Quarantine(SQLModel, table=True):
    """What could not be stored, with its bytes and the reason; `more` like it only counted."""

    __table_args__ = (Index("quarantine_of_a_kind", "kind", "topic"),)

    id: int | None = Field(default=None, primary_key=True)
    received_us: int = Field(sa_type=BigInteger, index=True)
    topic: str
    payload: bytes = Field(sa_type=LargeBinary)
    reason: str
    kind: str
    more: int = 0
    last_us: int | None = Field(default=None, sa_type=BigInteger)


class Arrival(SQLModel, table=True):
    """When a message without a time of its own came, until its delivery's number is used again."""

    delivery: str = Field(primary_key=True)
    digest: str
    arrival_us: int = Field(sa_type=BigInteger)


class Person(SQLModel, table=True):
    """A keeper who may sign in."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    password_hash: str
    created_us: int = Field(sa_type=BigInteger)


class SignIn(SQLModel, table=True):
    """A browser that is signed in; only a digest of its secret is kept."""

    __tablename__ = "sign_in"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    secret_digest: str = Field(unique=True)
    device: str
    created_us: int = Field(sa_type=BigInteger)
    expires_us: int = Field(sa_type=BigInteger)


class PhoneCode(SQLModel, table=True):
    """A code that signs one phone in, once, before it expires."""

    __tablename__ = "phone_code"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id")
    code_digest: str = Field(unique=True)
    expires_us: int = Field(sa_type=BigInteger)
    used_us: int | None = Field(default=None, sa_type=BigInteger)


class Notice(SQLModel, table=True):
    """A message to the maker that waits in the outbox for one channel."""

    __table_args__ = (Index("notice_due", "delivered_us", "next_try_us"),)

    id: int | None = Field(default=None, primary_key=True)
    alarm_id: int | None = Field(default=None, foreign_key="alarm.id", index=True)
    channel: str
    title: str
    body: str
    created_us: int = Field(sa_type=BigInteger)
    next_try_us: int = Field(sa_type=BigInteger)
    tries: int = 0
    delivered_us: int | None = Field(default=None, sa_type=BigInteger)
    given_up_us: int | None = Field(default=None, sa_type=BigInteger)


class Delivery(SQLModel, table=True):
    """One attempt to deliver a notice, and how it ended."""

    id: int | None = Field(default=None, primary_key=True)
    notice_id: int = Field(foreign_key="notice.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    delivered: bool
    words: str
