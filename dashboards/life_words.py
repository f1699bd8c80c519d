"""A wheel's climate in sentences: surface, sweat, weight and age, each labelled an estimate."""

# ruff: noqa: RUF001 - the reader gets real dashes

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dashboards.wheel_charts import grams
from dashboards.words import UNIT_SPACE, Words, counted, plain, span
from service.ageing.values import Quantity
from service.clock import DAY_US, HOUR_US
from service.living.now import LidNow, SurfaceNow
from service.living.values import Face, WheelClimate

_HALF_DAY_H = 12.0
_SOME_DAYS = 2.0
_FAR_US = 400 * DAY_US


@dataclass(frozen=True, slots=True)
class Sweat:
    """What is wet by calculation, or soon will be: words by wheel and by box."""

    wheels: dict[int, str]
    lids: dict[int, str]


def sweat_of(surfaces: Iterable[SurfaceNow], lids: Iterable[LidNow], now_us: int) -> Sweat:
    """The words for the shelf; what is dry has none."""
    on_wheels: dict[int, str] = {}
    for each in surfaces:
        told = ""
        if each.wet_since_us is not None:
            told = f"face wet {span(now_us - each.wet_since_us)}, estimate"
        elif each.sweats_in_h is not None:
            told = f"sweat likely in about {_hours(each.sweats_in_h)}, estimate"
        if told:
            on_wheels |= dict.fromkeys(each.wheel_ids, told)
    beneath = {
        lid.space_id: f"lid wet {span(now_us - lid.wet_since_us)}, estimate"
        for lid in lids
        if lid.wet_since_us is not None
    }
    return Sweat(on_wheels, beneath)


def now_words(face: Face | None, words: Words, now_us: int) -> list[tuple[str, str]]:
    """The surface as it is now: sentences with the tone of each, empty for none."""
    if face is None:
        return []
    surface = f"Surface {words.temperature(face.surface_c)}"
    if face.margin_k is None or face.dew_point_c is None:
        return [(f"{surface}, estimate.", "")]
    side = "above" if face.margin_k >= 0 else "below"
    apart = words.amount(Quantity.TEMPERATURE, abs(face.margin_k))
    told = [(f"{surface}, {apart} {side} the dew point where it is coldest, estimate.", "")]
    if face.wet_since_us is not None:
        lasted = span(now_us - face.wet_since_us)
        film = f"{face.film_g_m2:.1f}{UNIT_SPACE}g/m²"
        told.append((f"Face wet for {lasted}, {film} of water, estimate.", "damp"))
    elif face.sweats_in_h is not None:
        told.append((f"Sweat likely in about {_hours(face.sweats_in_h)}, estimate.", "damp"))
    return told


def wet_words(climate: WheelClimate) -> str:
    """How long it was wet, in all and in the last week."""
    if climate.lived is not None and np.isnan(climate.lived.film_g_m2).all():
        return "Whether it was ever wet is not known."
    if not climate.wet:
        return "Never wet by calculation, as far as its air is known."
    whole = span(round(climate.wet_hours() * HOUR_US))
    week = climate.wet_hours_last_week
    lately = span(round(week * HOUR_US)) if week > 0 else "none"
    peak = f"{climate.peak_film_g_m2:.1f}{UNIT_SPACE}g/m²"
    return f"Wet for {whole} since make day, {lately} in the last week; thickest {peak}, estimate."


def age_words(climate: WheelClimate, words: Words) -> list[str]:
    """How far it has ripened, beside the calendar."""
    age, reference_c = climate.age, climate.reference_temperature_c
    if age is None or reference_c is None:
        return []
    at = words.temperature(reference_c).replace(".0", "")
    calendar = (climate.now_us - climate.made_us) / DAY_US
    # Near the reference temperature the band is narrow, and whole days would hide it.
    fine = age.high_days - age.low_days < _SOME_DAYS
    band = f"{_days(age.low_days, fine=fine)}–{_days(age.high_days, fine=fine)}"
    told = f"Ripened like {_days(age.days, fine=fine)} days at {at} ({band}), estimate"
    if calendar - age.elapsed_days > _SOME_DAYS:
        told += f", in the {_days(age.elapsed_days)} days of which its air is known"
    lines = [f"{told}; {_days(calendar)} days by the calendar."]
    if climate.kinetic_c is not None:
        lines.append(f"Mean kinetic temperature {words.temperature(climate.kinetic_c)}, estimate.")
    return lines


def weight_words(climate: WheelClimate, words: Words) -> list[str]:
    """What it weighs, and when a wanted loss is reached."""
    weight = climate.weight
    if weight is None:
        return []
    past = weight.past
    now = f"About {grams(float(past.grams[-1]))} now"
    band = f"{past.low[-1]:,.0f}–{past.high[-1]:,.0f}"
    rests = counted(weight.weighings, "weighing") if weight.weighings else "no weighing yet"
    lines = [f"{now} ({band}), estimate from {rests}."]
    for share, day in weight.losses:
        if not math.isfinite(day.expected_us) or day.expected_us > climate.now_us + _FAR_US:
            continue
        reached = day.expected_us <= climate.now_us
        verb = "lost since about" if reached else "lost by about"
        part = f"{100 * share:.0f}{UNIT_SPACE}%"
        told = f"{part} of the weight when new {verb} {words.day(round(day.expected_us))}"
        late = day.latest_us
        known = math.isfinite(late) and late < climate.now_us + _FAR_US
        last = words.day(round(late)) if known else "open"
        band = f"{words.day(round(day.earliest_us))} – {last}"
        tail = "" if reached else " if the air of the last week goes on"
        lines.append(f"{told} ({band}), estimate{tail}.")
    return lines


def note_lines(climate: WheelClimate) -> list[str]:
    """What the reader should know, as sentences."""
    shown = [plain(note) for note in dict.fromkeys(climate.notes)]
    return [f"{note[:1].upper()}{note[1:]}." for note in shown]


def _hours(hours: float) -> str:
    if hours < 1:
        return f"{round(hours * 60):.0f}{UNIT_SPACE}min"
    return f"{hours:.0f}{UNIT_SPACE}h"


def _days(days: float, *, fine: bool = False) -> str:
    return f"{days:.1f}" if fine or days < 10 else f"{days:.0f}"  # noqa: PLR2004 - young wheels change by the hour
