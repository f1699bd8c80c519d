"""How the record of a make day reads: its facts, its steps in their order, its timers."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dashboards.words import Words
from service.ageing.making import Timer, TimerState, yield_pct
from service.ageing.spans import span_words
from service.api.make_actions import BRINE, DRY
from service.api.make_marks import setting_of
from service.clock import US_PER_S
from service.store.ageing_tables import MakeDay, MakeStep
from service.store.make_days import Value

FIELD_NAMES = {
    "name": "name",
    "plan": "plan",
    "raw_milk": "raw or pasteurised",
    "milk": "milk",
    "milk_l": "amount of milk",
    "cultures": "cultures",
    "rennet": "rennet",
    "moulds": "moulds",
    "multiplier": "multiplier",
    "curd_g": "curd",
    "salting": "salting",
    "salt_pct": "salt",
    "words": "notes",
}
RAW_WORDS = {True: "raw milk", False: "pasteurised milk", None: "raw or pasteurised: not said"}
_SALTING_WORDS = {DRY: "dry", BRINE: "in brine", None: "not said"}
_UNITS = {"milk_l": "l", "curd_g": "g", "salt_pct": "%"}
_G_PER_KG = 1_000
_SPACE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a make day; `undo` is the address that undoes it, if any may."""

    time: str
    words: str
    facts: str
    undo: str | None


@dataclass(frozen=True, slots=True)
class TimerLine:
    """One timer on the page.

    Attributes:
        id: Its number.
        name: What it is for.
        told: When it ends, or ended, in words.
        ends_us: When it ends, for the countdown. [µs UTC]
        running: Whether it still runs.
        open: Whether the maker still has to touch it.
    """

    id: int
    name: str
    told: str
    ends_us: int
    running: bool
    open: bool


def exact(time_us: int, words: Words) -> str:
    """A time with its day, to the second: "Wed 25 Nov 14:02:10"."""
    clock = words.clock(time_us)
    second = time_us // US_PER_S % 60
    return f"{words.day(time_us)} {clock[:5]}:{second:02}{clock[5:]}"


def value_words(field: str, value: Value) -> str:
    """A field's value in words."""
    if field == "raw_milk":
        return RAW_WORDS[None if value is None else bool(value)]
    if field == "salting":
        return _SALTING_WORDS.get(str(value) if value is not None else None, "not said")
    if value is None or value == "":
        return "nothing"
    if isinstance(value, float):
        unit = _UNITS.get(field)
        return f"{value:.6g}{_SPACE}{unit}" if unit else f"{value:.6g}"
    return str(value)


def milk_lines(day: MakeDay) -> list[tuple[str, str]]:
    """What went into the vat, name and words; what is not entered is left out."""
    milk = _joined(RAW_WORDS[day.raw_milk], day.milk, _amount(day.milk_l, "l"))
    return _told(
        ("Milk", milk),
        ("Cultures", day.cultures),
        ("Rennet", day.rennet),
        ("Moulds", day.moulds),
        ("Notes", day.words),
    )


def record_lines(day: MakeDay) -> list[tuple[str, str]]:
    """What the whole record tells, name and words; what is not entered is left out."""
    return milk_lines(day) + _told(
        ("Setting", setting_words(day)),
        ("Curd", _amount(day.curd_g, "g")),
        ("Salt", _salt_words(day)),
    )


def setting_words(day: MakeDay) -> str:
    """The setting time in words; empty while a mark is missing."""
    setting = setting_of(day)
    if setting is None:
        return ""
    return (
        f"flocculated after {span_words(setting.flocculation_s)}; times {setting.multiplier:g}"
        f" makes {span_words(setting.total_s)} in all, {span_words(setting.left_s)} after it"
    )


def yield_words(day: MakeDay | None, cheese_g: float) -> str:
    """How much cheese came from the milk; empty where it is not known."""
    if day is None or not day.milk_l:
        return ""
    pct = yield_pct(cheese_g, day.milk_l)
    return (
        f"{cheese_g / _G_PER_KG:.3g}{_SPACE}kg of cheese from {day.milk_l:.4g}{_SPACE}l of milk:"
        f" {pct / 10:.2f}{_SPACE}kg from 10{_SPACE}l ({pct:.1f}{_SPACE}%, kilograms from"
        f" 100{_SPACE}l)"
    )


def lines(day: MakeDay, steps: Iterable[MakeStep], words: Words) -> list[Line]:
    """The steps and marks of a make day in their order; marks to the second."""
    base = f"/makes/{day.id}"
    may = day.batch_id is None
    rows = [(day.started_us, 0, Line(words.moment(day.started_us), "Make day begun", "", None))]
    for time_us, said, path in (
        (day.rennet_us, "Rennet added", "rennet"),
        (day.flocculated_us, "Flocculated", "flocculation"),
    ):
        if time_us is not None:
            back = f"{base}/{path}/withdraw" if may else None
            rows.append((time_us, 0, Line(exact(time_us, words), said, "", back)))
    for step in steps:
        facts = _joined(
            "" if step.temperature_c is None else words.temperature(step.temperature_c),
            "" if step.ph is None else f"pH{_SPACE}{step.ph:g}",
        )
        back = f"{base}/steps/{step.id}/withdraw" if may else None
        line = Line(words.moment(step.time_us), step.words, facts, back)
        rows.append((step.time_us, step.id or 0, line))
    return [line for _, _, line in sorted(rows, key=lambda row: row[:2])]


def timer_lines(timers: Sequence[Timer], words: Words, now_us: int) -> list[TimerLine]:
    """The timers of a make day: those that still need the maker first."""
    found = []
    for timer in timers:
        state = timer.state(now_us)
        lasts = f"{span_words(timer.duration_s)} from {exact(timer.started_us, words)}"
        if state is TimerState.STOPPED:
            ended = "ran out" if timer.left_s(now_us) == 0 else "stopped"
            told = f"{lasts}; {ended}"
        elif state is TimerState.RAN_OUT:
            told = f"The time is up: it ran out at {exact(timer.ends_us, words)} ({lasts})"
        else:
            told = f"ends at {exact(timer.ends_us, words)} ({lasts})"
        running = state is TimerState.RUNNING
        is_open = state is not TimerState.STOPPED
        found.append(TimerLine(timer.id, timer.name, told, timer.ends_us, running, is_open))
    return sorted(found, key=lambda each: (not each.open, each.ends_us))


def _salt_words(day: MakeDay) -> str:
    if day.salt_pct is None:
        return ""
    if day.salting == BRINE:
        return f"in brine of {day.salt_pct:g}{_SPACE}% by mass"
    weight = _amount(day.salt_g, "g")
    share = f"{day.salt_pct:g}{_SPACE}% of the curd"
    return f"{weight}, {share}" if weight else share


def _amount(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.5g}{_SPACE}{unit}"


def _told(*lines: tuple[str, str]) -> list[tuple[str, str]]:
    return [(name, words) for name, words in lines if words]


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
