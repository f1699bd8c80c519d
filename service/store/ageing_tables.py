"""The tables of ageing: plans, care, gates, observations, make days and the calendar.

As in `service.store.tables`: rows are facts as stored, times are integers of microseconds since
1970, UTC; a day is a date of the household's calendar, written as in ISO 8601.
"""

from sqlalchemy import BigInteger, Index, LargeBinary, UniqueConstraint
from sqlmodel import Field, SQLModel


class PlanEdition(SQLModel, table=True):
    """One version of a plan as its file's text; never changed, so that history keeps it."""

    __tablename__ = "plan_edition"
    __table_args__ = (UniqueConstraint("slug", "version"),)

    id: int | None = Field(default=None, primary_key=True)
    slug: str
    version: int
    text: str
    made_us: int = Field(sa_type=BigInteger)
    made_by: str | None = None


class PlanChange(SQLModel, table=True):
    """From that time on a batch ages by another plan, or by another version of its plan.

    Stages that ended before it keep the version under which they were lived.
    """

    __tablename__ = "plan_change"

    id: int | None = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    from_plan: str
    from_version: int
    to_plan: str
    to_version: int
    made_by: str | None = None


class CareRecord(SQLModel, table=True):
    """Care of a wheel or of a space that was done, skipped, or put off to a later day.

    `touch` is shared by all that was entered in one touch, so that it can be undone in one.
    """

    __tablename__ = "care_record"
    __table_args__ = (
        Index("care_of_wheel", "wheel_id", "time_us"),
        Index("care_of_space", "space_id", "time_us"),
    )

    id: int | None = Field(default=None, primary_key=True)
    touch: str = Field(index=True)
    work: str
    wheel_id: int | None = Field(default=None, foreign_key="wheel.id")
    space_id: int | None = Field(default=None, foreign_key="space.id")
    outcome: str
    time_us: int = Field(sa_type=BigInteger)
    until_day: str | None = None
    words: str = ""
    made_by: str | None = None
    entered_us: int = Field(sa_type=BigInteger)
    withdrawn: bool = False


class Observation(SQLModel, table=True):
    """What the maker saw of a wheel.

    `coat_json` holds the part of the rind by colour [%], and `slimy` where slime was seen.
    """

    id: int | None = Field(default=None, primary_key=True)
    touch: str = Field(index=True)
    wheel_id: int = Field(foreign_key="wheel.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    rind: str | None = None
    firmness: str | None = None
    smell: str | None = None
    coat_json: str = "{}"
    words: str = ""
    weighing_id: int | None = Field(default=None, foreign_key="weighing.id")
    made_by: str | None = None
    entered_us: int = Field(sa_type=BigInteger)
    withdrawn: bool = False


class Photo(SQLModel, table=True):
    """A photo of an observation, drawn anew from its pixels, so that it says nothing else."""

    id: int | None = Field(default=None, primary_key=True)
    observation_id: int = Field(foreign_key="observation.id", index=True)
    width: int
    height: int
    image: bytes = Field(sa_type=LargeBinary)
    thumbnail: bytes = Field(sa_type=LargeBinary)


class GateAnswer(SQLModel, table=True):
    """What the maker said at the gate of a stage: opened, or not yet and when to ask again.

    An opened gate keeps which stage it led to and where the wheel went, so that it can be
    undone. `seen_json` lists what was seen, `missing_json` what was not.
    """

    __tablename__ = "gate_answer"

    id: int | None = Field(default=None, primary_key=True)
    touch: str = Field(index=True)
    wheel_id: int = Field(foreign_key="wheel.id", index=True)
    stage: str
    time_us: int = Field(sa_type=BigInteger)
    opened: bool
    next_stage: str | None = None
    ask_again_day: str | None = None
    reason: str = ""
    seen_json: str = "[]"
    missing_json: str = "[]"
    made_by: str | None = None
    entered_us: int = Field(sa_type=BigInteger)
    withdrawn: bool = False


class MakeDay(SQLModel, table=True):
    """The record of a make day; it becomes a batch with its wheels."""

    __tablename__ = "make_day"

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    batch_id: int | None = Field(default=None, foreign_key="batch.id", unique=True)
    name: str
    plan: str
    plan_version: int
    started_us: int = Field(sa_type=BigInteger)
    finished_us: int | None = Field(default=None, sa_type=BigInteger)
    raw_milk: bool | None = None
    milk: str = ""
    milk_l: float | None = None
    cultures: str = ""
    rennet: str = ""
    moulds: str = ""
    rennet_us: int | None = Field(default=None, sa_type=BigInteger)
    flocculated_us: int | None = Field(default=None, sa_type=BigInteger)
    multiplier: float | None = None
    curd_g: float | None = None
    salting: str | None = None
    salt_pct: float | None = None
    salt_g: float | None = None
    words: str = ""
    version: int = 1


class MakeStep(SQLModel, table=True):
    """One line of a make day: when, what, how warm, how sour."""

    __tablename__ = "make_step"

    id: int | None = Field(default=None, primary_key=True)
    make_day_id: int = Field(foreign_key="make_day.id", index=True)
    time_us: int = Field(sa_type=BigInteger)
    words: str
    temperature_c: float | None = None
    ph: float | None = None
    withdrawn: bool = False


class MakeTimer(SQLModel, table=True):
    """A timer of a make day; it runs in the store, so that a closed phone stops nothing."""

    __tablename__ = "make_timer"

    id: int | None = Field(default=None, primary_key=True)
    make_day_id: int = Field(foreign_key="make_day.id", index=True)
    name: str
    started_us: int = Field(sa_type=BigInteger)
    duration_s: float
    stopped_us: int | None = Field(default=None, sa_type=BigInteger)
    told_us: int | None = Field(default=None, sa_type=BigInteger)


class CalendarFeed(SQLModel, table=True):
    """A secret address of the calendar; one that was replaced answers no more."""

    __tablename__ = "calendar_feed"

    id: int | None = Field(default=None, primary_key=True)
    secret: str = Field(unique=True)
    made_us: int = Field(sa_type=BigInteger)
    replaced_us: int | None = Field(default=None, sa_type=BigInteger)


class CalendarEntry(SQLModel, table=True):
    """What the calendar last said under an identifier, to count its changes and its end."""

    __tablename__ = "calendar_entry"

    uid: str = Field(primary_key=True)
    digest: str
    sequence: int = 0
    entry_json: str = "{}"
    modified_us: int = Field(sa_type=BigInteger)
    removed_us: int | None = Field(default=None, sa_type=BigInteger)
