"""What a keeper does on a make day: its record and its steps; marks and timers stand apart.

As all actions, each may be sent twice, as a phone with a poor link does, without harm.
"""

from collections.abc import Mapping
from typing import Final

from service.ageing.making import SATURATED_BRINE_PCT, dry_salt_g
from service.api.naming import checked_name, checked_words
from service.api.plan_actions import newest_plans
from service.api.refusals import RefusedError
from service.clock import US_PER_S
from service.judging import Plans
from service.store import make_days, places
from service.store.ageing_tables import MakeDay, MakeStep
from service.store.database import Session
from service.store.make_days import Conflict, Value
from service.store.turns import take_turn

DRY: Final = "dry"
BRINE: Final = "brine"

_AHEAD_US: Final = 600 * US_PER_S
"""Our choice, as for readings: a browser's clock may be so far ahead."""
AGAIN_US: Final = 10 * US_PER_S
"""Our choice: the same within ten seconds is one touch, sent twice."""
LONGEST_DAY_US: Final = 14 * 86_400 * US_PER_S
"""Our choice: a make day with its draining and salting is over within two weeks."""
_LONGEST_WORDS: Final = 2_000
_BOUNDS: Final = {
    "milk_l": (0.1, 5_000.0, "milk", "l"),
    "curd_g": (5.0, 1_000_000.0, "curd", "g"),
    "multiplier": (1.0, 10.0, "the multiplier", ""),
    "salt_pct": (0.0, SATURATED_BRINE_PCT, "salt", "%"),
    "temperature_c": (-5.0, 120.0, "a temperature", "°C"),
    "ph": (3.0, 9.0, "pH", ""),
}
"""Our choice, wide enough for any make day; they catch a wrong unit."""


class StaleError(RefusedError):
    """Another browser has changed the same fields meanwhile; nothing was written.

    Attributes:
        conflicts: Each such field with what is stored and what was given.
        version: The version that is stored.
    """

    status = 409

    def __init__(self, conflicts: tuple[Conflict, ...], version: int) -> None:
        told = "; ".join(
            f"{each.field}: stored is {_shown(each.stored)}, yours is {_shown(each.given)}"
            for each in conflicts
        )
        super().__init__(
            f"this record has been changed meanwhile, and nothing of yours is saved yet ({told});"
            f" send it again with version {version} to keep yours"
        )
        self.conflicts = conflicts
        self.version = version


def start_make(
    session: Session,
    plans: Plans,
    name: str,
    plan_slug: str,
    raw_milk: bool | None,  # noqa: FBT001 - a fact of the milk, not a switch of the function
    at_us: int | None,
    now_us: int,
) -> MakeDay:
    """Begin the record of a make day; without a time, now.

    Raises:
        RefusedError: The name or the time cannot be, there is no such plan, or no site yet.
    """
    name = checked_name(name, "a make day")
    started_us = now_us if at_us is None else at_us
    check_time(started_us, now_us - LONGEST_DAY_US, now_us)
    take_turn(session)
    plan = _plan_version(session, plans, plan_slug)
    site = places.the_site(session)
    if site is None or site.id is None:
        raise RefusedError("enter the site first, with its name and time zone")
    for known in make_days.make_days(session):
        if (known.name, known.plan) == (name, plan_slug) and (
            abs(known.started_us - started_us) <= AGAIN_US
        ):
            return known
    return make_days.start(
        session,
        MakeDay(
            site_id=site.id,
            name=name,
            plan=plan_slug,
            plan_version=plan,
            started_us=started_us,
            raw_milk=raw_milk,
        ),
    )


def edit_make(
    session: Session,
    plans: Plans,
    make_day_id: int,
    version: int,
    given: Mapping[str, Value],
    was: Mapping[str, Value] | None = None,
) -> MakeDay:
    """Change fields of the record; see `service.store.make_days.edit`.

    Salt by weight follows from curd and percentage where the salting is dry.

    Raises:
        UnknownError: There is no such make day.
        StaleError: Another browser has changed the same fields meanwhile.
        RefusedError: A value cannot be.
    """
    changes = {field: _checked(field, value) for field, value in given.items()}
    take_turn(session)
    day = make_days.make_day(session, make_day_id)
    before = dict(was or {})
    if "plan" in changes and changes["plan"] != day.plan:
        changes["plan_version"] = _plan_version(session, plans, str(changes["plan"]))
    if day.batch_id is not None and any(
        field in changes and changes[field] != getattr(day, field) for field in ("name", "plan")
    ):
        raise RefusedError("its wheels are made, so name and plan stay as they are")
    conflicts = make_days.edit(session, make_day_id, version, changes, before)
    if conflicts:
        raise StaleError(conflicts, day.version)
    day.salt_g = _salt_g(day)
    make_days.save(session, day)
    make_days.pass_on_raw_milk(session, day)
    return day


def add_step(
    session: Session,
    make_day_id: int,
    words: str,
    temperature_c: float | None,
    ph: float | None,
    at_us: int | None,
    now_us: int,
) -> MakeStep:
    """Enter a step; without a time, now.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: A value or the time cannot be, or the make day is over.
    """
    words = checked_words(words, _LONGEST_WORDS)
    if not words:
        raise RefusedError("say in a word or two what was done")
    _check_bounds("temperature_c", temperature_c)
    _check_bounds("ph", ph)
    day = open_day(session, make_day_id)
    time_us = now_us if at_us is None else at_us
    check_time(time_us, day.started_us - LONGEST_DAY_US, now_us)
    for known in make_days.steps(session, make_day_id):
        same = (known.words, known.temperature_c, known.ph) == (words, temperature_c, ph)
        if same and abs(known.time_us - time_us) <= AGAIN_US:
            return known
    step = MakeStep(
        make_day_id=make_day_id, time_us=time_us, words=words, temperature_c=temperature_c, ph=ph
    )
    return make_days.add_step(session, step)


def withdraw_step(session: Session, make_day_id: int, step_id: int) -> None:
    """Take a step back; taking it back again changes nothing.

    Raises:
        UnknownError: There is no such make day or step.
    """
    take_turn(session)
    make_days.make_day(session, make_day_id)
    make_days.withdraw_step(session, make_day_id, step_id)


def open_day(session: Session, make_day_id: int) -> MakeDay:
    """A make day that is not over, after taking a turn in the store.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: It is over.
    """
    take_turn(session)
    day = make_days.make_day(session, make_day_id)
    if day.batch_id is not None:
        raise RefusedError("this make day is over: its wheels are made")
    return day


def check_time(time_us: int, earliest_us: int, now_us: int) -> None:
    """Let a time pass that is over, and not before what it belongs to.

    Raises:
        RefusedError: It is ahead, or too early.
    """
    if time_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; enter what has happened")
    if time_us < earliest_us:
        raise RefusedError("that time lies before what it belongs to; look at day and hour")


def _plan_version(session: Session, plans: Plans, slug: str) -> int:
    known = newest_plans(session, plans)
    if slug not in known:
        raise RefusedError(f"there is no plan {slug}; there are {', '.join(sorted(known))}")
    return known[slug].version


def _salt_g(day: MakeDay) -> float | None:
    if day.salting != DRY or day.curd_g is None or day.salt_pct is None:
        return None
    return dry_salt_g(day.curd_g, day.salt_pct)


def _checked(field: str, value: Value) -> Value:
    if field == "name":
        return checked_name(str(value), "a make day")
    if field == "salting" and value not in {None, DRY, BRINE}:
        raise RefusedError(f"salting is {DRY} or {BRINE}")
    if field in _BOUNDS:
        assert value is None or isinstance(value, (int, float))  # its type was checked outside
        _check_bounds(field, value)
    elif isinstance(value, str) and field != "plan":
        return checked_words(value, _LONGEST_WORDS)
    return value


def _check_bounds(field: str, value: float | None) -> None:
    least, most, name, unit = _BOUNDS[field]
    if value is not None and not least <= value <= most:
        raise RefusedError(
            f"{name} of {value:g} {unit}".rstrip()
            + f" cannot be; it lies between {least:g} and {most:g} {unit}".rstrip()
        )


def _shown(value: Value) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
