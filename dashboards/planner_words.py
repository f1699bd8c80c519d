"""What is ahead of wheels in sentences; every day and age in them is an estimate and says so."""

# ruff: noqa: RUF001, RUF002 - the reader gets real dashes

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from dashboards.words import UNIT_SPACE, Words, counted, listed, plain, short
from service.ageing.coming import Window
from service.ageing.kitchen import KitchenDay
from service.ageing.mending import Mend, Move, Spell
from service.ageing.moments import day_words
from service.ageing.moving import Moving, Reach, Stand, Warmer
from service.ageing.plans import Kind
from service.ageing.values import Quantity
from service.planning.fitting import Together
from service.planning.values import PlanAhead


def on_day(day: date, today: date) -> str:
    """A day: "Fri 4 Dec", with its year where it is another than this one."""
    told = day_words(datetime.combine(day, time()))
    return told if day.year == today.year else f"{told} {day.year}"


def between(window: Window, today: date) -> str:
    """What is expected, with its earliest and latest: "about Fri 4 Dec (1–9 Dec)".

    Examples:
        >>> between(Window(date(2026, 12, 1), date(2026, 12, 4), date(2026, 12, 9)),
        ...         date(2026, 11, 25))
        'about Fri 4 Dec (1–9 Dec)'
    """
    about, spread = _about(window, today), _spread(window, today)
    return f"{about} ({spread})" if spread else about


@dataclass(frozen=True, slots=True)
class DayRow:
    """One thing to do with its day: the day expected, and the earliest to the latest."""

    name: str
    day: str
    spread: str


def day_rows(plan: PlanAhead, today: date) -> tuple[DayRow, ...]:
    """When to wrap, to move and to eat a wheel: one row each, every day an estimate."""
    moving = plan.moving
    if moving is None:
        return ()
    rows = []
    if moving.wrap is not None:
        rows.append(DayRow("Wrap", _about(moving.wrap, today), _spread(moving.wrap, today)))
    if moving.move is not None:
        told = _about(moving.move, today), _spread(moving.move, today)
        rows.append(DayRow(f"To {_fridge_name(plan)}", *told))
    begin, end = moving.eat_from, moving.eat_until
    rows += [
        DayRow(
            f"{str(moving.firmness).capitalize()}, eat from",
            _about(begin, today),
            _spread(begin, today),
        ),
        DayRow("Eat until", _about(end, today), _spread(end, today)),
    ]
    return tuple(rows)


def fridge_words(plan: PlanAhead, words: Words) -> str:
    """For which of several kitchen fridges a wheel is planned; nothing where there is one."""
    if plan.plan is None or plan.in_kitchen or plan.fridge is None or plan.kitchens < _SEVERAL:
        return ""
    stage = plan.plan.kitchen_stage
    asked = stage.target.temperature_c if stage else None
    asks = f"; its plan asks for {words.range(Quantity.TEMPERATURE, asked)}" if asked else ""
    there = (
        f"about {words.temperature(plan.fridge.air.mean_c)} of late"
        if plan.fridge.days
        else "not measured"
    )
    return (
        f"Of the {plan.kitchens} kitchen fridges it is planned for {_fridge_name(plan)}"
        f" ({there}{asks})."
    )


_SEVERAL = 2


def _fridge_name(plan: PlanAhead) -> str:
    """Its kitchen fridge by name where there are several to tell apart."""
    if plan.kitchen is None or plan.kitchens < _SEVERAL:
        return "the kitchen fridge"
    return short(plan.kitchen)


def _about(window: Window, today: date) -> str:
    if window.expected == today:
        return "today"
    about = "" if window.earliest == window.latest else "about "
    return f"{about}{on_day(window.expected, today)}"


def _spread(window: Window, today: date) -> str:
    """From the earliest to the latest day; nothing where they are one."""
    first, last = window.earliest, window.latest
    if first == last:
        return ""
    low, high = (on_day(day, today).split(" ", 1)[1] for day in (first, last))
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}–{high}"
    return f"{low} – {high}"


def reach_words(moving: Moving, today: date) -> str:
    """Whether it can be as wanted on the day for which it is wanted; nothing without one."""
    stand, day = moving.on_day, moving.day
    if stand is None or day is None:
        return ""
    when = on_day(day, today)
    ages = f"like {_days(stand.days)} of the {_days(moving.wanted_days)} days that"
    if moving.reach is Reach.TOO_LATE:
        stays = "" if moving.move is None else "even if it stays in the cave "
        return (
            f"Too late for {when}: {stays}it is then only {ages} {moving.firmness} asks for"
            f"{_feel(stand)}, an estimate."
        )
    if moving.reach is Reach.TOO_EARLY:
        moved = "" if moving.move is None else "even if it is moved today "
        past = stand.days - moving.wanted_days
        return (
            f"{when} is too far off: {moved}it is then past {moving.firmness} by"
            f" {_days(past)} days of ripening{_feel(stand)}, an estimate."
        )
    return f"For {when} it can be {moving.firmness}{_feel(stand)}, an estimate."


def stand_words(plan: PlanAhead, words: Words) -> str:
    """How far it is today, counted as its plan counts: from one of its stages on."""
    if plan.moving is None or plan.plan is None:
        return ""
    now = plan.moving.now
    at = words.temperature(plan.plan.reference_temperature_c).replace(".0", "")
    band = f"{_days(now.low_days)}–{_days(now.high_days)}"
    felt = now.firmness or "not yet at what its plan tells of"
    begun = plan.ripened is not None and plan.ripened.begun_us is not None
    if not begun:
        return "Its ripening is not counted yet."
    first = plain(plan.plan.stage(plan.plan.readiness.from_stage).name)
    days = f"{_days(now.days)} days at {at} ({band})"
    return f"Since {first.lower()} it has ripened like {days}: {felt}, an estimate."


def warmer_words(warmer: Warmer | None, words: Words) -> str:
    """What changes if the cave is so much warmer."""
    if warmer is None:
        return ""
    step = words.amount(Quantity.TEMPERATURE, abs(warmer.kelvin))
    way = "warmer" if warmer.kelvin >= 0 else "colder"
    parts = [
        f"{what} {_shift(days)} ({_reach_of(between, days)})"
        for what, days, between in (
            ("wrap", warmer.wrap_later_days, warmer.wrap_later_between),
            ("move", warmer.move_later_days, warmer.move_later_between),
            ("eat from", warmer.eat_later_days, warmer.eat_later_between),
            ("eat until", warmer.until_later_days, warmer.until_later_between),
        )
        if days and between is not None
    ]
    told = ", ".join(parts) if parts else "no expected day changes"
    return f"If the cave is {step} {way} from today on: {told}, an estimate."


def _reach_of(between: tuple[int, int], days: int) -> str:
    """How far a shift may be less or more, in days of its own direction: "1 to 4"."""
    least, most = between if days > 0 else (-between[1], -between[0])
    return f"{least} to {most}".replace("-", "−")


def sixty_words(aged: date, today: date, kind: Kind, *, raw_milk: bool | None) -> str:
    """That it is eaten before it is 60 days old, and for whom rules ask for those days."""
    if raw_milk:
        what = "cheese of raw milk"
    elif kind is Kind.BLUE:
        what = "what is sold as blue"
    else:
        what = "cheese of raw milk, if its milk was raw"
    return (
        f"It is 60 days old on {on_day(aged, today)} and not before; rules of the United States"
        f" ask for 60 days of {what}. Local rules come first."
    )


def kitchen_words(found: KitchenDay, today: date) -> str:
    """Room in the kitchen fridge on a day."""
    when = "Today" if found.day == today else f"On {on_day(found.day, today)}"
    if not found.wheels:
        return f"{when} no wheel is to be in it."
    holds = f"{counted(len(found.wheels), 'wheel')} {'takes' if len(found.wheels) == 1 else 'take'}"
    taken = f"{found.taken_cm2:.0f}{UNIT_SPACE}cm²"
    if found.room_cm2 is None:
        return f"{when} {holds} {taken}; how much room there is has not been said."
    room = f"{found.room_cm2:.0f}{UNIT_SPACE}cm²"
    fits = "there is room" if found.fits else "there is not room for all"
    return f"{when} {holds} {taken} of {room}: {fits}, by the square around each."


def smell_words(found: KitchenDay, names: dict[int, str]) -> str:
    """Who smells in the kitchen fridge; nothing when nobody does."""
    if not found.strong:
        return ""
    who = listed([names[each] for each in found.strong if each in names])
    verb = "smells" if len(found.strong) == 1 else "smell"
    return f"{who} {verb} strongly: wrap closely and box apart from other food and mild wheels."


def spell_words(spell: Spell, found: Together, words: Words) -> list[str]:
    """Whether the wheels fit together in a spell, and what mends it."""
    fit = spell.fit
    ranges = [
        f"{quantity} {words.range(quantity, wanted)}"
        for quantity, wanted in (
            (Quantity.TEMPERATURE, fit.temperature_c),
            (Quantity.HUMIDITY, fit.humidity_pct),
        )
        if wanted is not None
    ]
    if not spell.wheels:
        return ["No wheel is expected to be here then."]
    if not fit.clash:
        told = listed(ranges) if ranges else "nothing is asked of the air"
        return [
            f"All {len(spell.wheels)} fit together: {told}."
            if len(spell.wheels) > 1
            else f"One wheel: {told}."
        ]
    who = _named(fit.outside, found)
    clash = " and ".join(str(each) for each in fit.clash)
    rest = listed(
        [
            f"{quantity} {words.range(quantity, wanted)}"
            for quantity, wanted in (
                (Quantity.TEMPERATURE, fit.rest_temperature_c),
                (Quantity.HUMIDITY, fit.rest_humidity_pct),
            )
            if wanted is not None
        ]
        or ["nothing in particular"]
    )
    lines = [f"No {clash} suits all. Outside: {who}. Without them the rest share {rest}."]
    if spell.mends:
        lines += [_mend_words(mend, found) for mend in spell.mends]
    else:
        lines.append("Neither one move nor two together mend it here.")
    return lines


def _mend_words(mend: Mend, found: Together) -> str:
    """What to move where: "It mends it: A into the cellar, and B into a box of their own."."""
    begin = "It helps" if mend.left else "It mends it"
    told = ", and ".join(_move_words(move, found) for move in mend.moves)
    unknown = "".join(_unknown_words(move, found) for move in mend.moves)
    left = f" Still outside then: {_named(mend.left, found)}." if mend.left else ""
    return f"{begin}: {told}{unknown}.{left}"


def _move_words(move: Move, found: Together) -> str:
    box = f"into a box of {'its' if len(move.wheels) == 1 else 'their'} own"
    there = "" if move.to is None else found.spaces[move.to]
    where = f"{box} in {there}" if move.boxed and there else box if move.boxed else f"into {there}"
    return f"{_named(move.wheels, found)} {where}"


def _unknown_words(move: Move, found: Together) -> str:
    """What nobody knows of the air in a place: "; how damp it is in the cellar is not known"."""
    if not move.unknown or move.to is None:
        return ""
    how = " and ".join(_HOW[quantity] for quantity in move.unknown)
    return f"; {how} it is in {found.spaces[move.to]} is not known"


_HOW = {Quantity.TEMPERATURE: "how warm", Quantity.HUMIDITY: "how damp"}


def _named(wheels: Sequence[int], found: Together) -> str:
    batches: dict[str, list[str]] = {}
    for wheel in wheels:
        batch, label = found.names[wheel]
        batches.setdefault(batch, []).append(label)
    return listed([f"{batch} {', '.join(labels)}" for batch, labels in batches.items()])


def _feel(stand: Stand) -> str:
    ends = [each for each in (stand.at_least, stand.at_most) if each is not None]
    if not ends:
        return ""
    if stand.at_least is None:
        return f" (not yet {ends[-1]}, or {ends[-1]})"
    return f" ({ends[0]})" if ends[0] == ends[-1] else f" ({ends[0]} to {ends[-1]})"


def _days(days: float) -> str:
    return f"{days:.0f}" if days >= 10 else f"{days:.1f}"  # noqa: PLR2004 - young wheels change by the hour


def _shift(days: int) -> str:
    return f"{counted(abs(days), 'day')} {'later' if days > 0 else 'sooner'}"
