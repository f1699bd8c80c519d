"""A wheel's climate in sentences: surface, sweat, weight and age, each labelled an estimate."""

# ruff: noqa: RUF001 - the reader gets real dashes

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dashboards.band_words import (
    film_words,
    lasting_words,
    margin_band,
    soon_words,
    temperature_band,
)
from dashboards.wheel_charts import grams
from dashboards.words import UNIT_SPACE, Words, counted, plain, span
from service.ageing.values import Quantity
from service.clock import DAY_US, HOUR_US
from service.living.now import LidNow, SurfaceNow
from service.living.values import Face, WheelClimate
from service.science.band import Band

_SOME_DAYS = 2.0
_YOUNG_DAYS = 10.0
"""Up to this age a wheel changes by the hour, and days are told with a decimal."""
_FAR_US = 400 * DAY_US
_SPOKEN_US = HOUR_US // 60


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
            lasted = lasting_words(now_us - each.wet_since_us, each.band.wet_for_us)
            told = f"face wet {lasted}, estimate"
        elif each.sweats_in_h is not None:
            soon = soon_words(each.sweats_in_h, each.sweats_between_h)
            told = f"sweat likely in about {soon}, estimate"
        if told:
            on_wheels |= dict.fromkeys(each.wheel_ids, told)
    beneath = {
        lid.space_id: f"lid wet {span(now_us - lid.wet_since_us)}, "
        f"{film_words(lid.film_g_m2, lid.band.film_g_m2)}, estimate"
        for lid in lids
        if lid.wet_since_us is not None
    }
    return Sweat(on_wheels, beneath)


def now_words(face: Face | None, words: Words, now_us: int) -> list[tuple[str, str]]:
    """The surface as it is now: sentences with the tone of each, empty for none."""
    if face is None:
        return []
    band = face.band
    surface = f"Surface {words.temperature(face.surface_c)}"
    surface += temperature_band(band.surface_c, words)
    if face.margin_k is None or face.dew_point_c is None:
        return [(f"{surface}, estimate.", "")]
    side = "above" if face.margin_k >= 0 else "below"
    apart = words.amount(Quantity.TEMPERATURE, abs(face.margin_k))
    ends = margin_band(band.margin_k, words)
    told = [(f"{surface}, {apart}{ends} {side} the dew point where it is coldest, estimate.", "")]
    if face.wet_since_us is not None:
        assert face.film_g_m2 is not None  # what is wet has a film
        lasted = lasting_words(now_us - face.wet_since_us, band.wet_for_us)
        film = film_words(face.film_g_m2, band.film_g_m2)
        told.append((f"Face wet for {lasted}, {film} of water, estimate.", "damp"))
    elif face.sweats_in_h is not None:
        soon = soon_words(face.sweats_in_h, face.sweats_between_h)
        told.append((f"Sweat likely in about {soon}, estimate.", "damp"))
    return told


def wet_words(climate: WheelClimate) -> str:
    """How long it was wet, in all and in the last week."""
    if climate.lived is not None and np.isnan(climate.lived.film_g_m2).all():
        return "Whether it was ever wet is not known."
    band, lately_band = climate.wet_hours_band(), climate.wet_hours_last_week_band
    if not climate.wet:
        never = "Never wet by calculation, as far as its air is known"
        if band is None or round(band.high * HOUR_US) < _SPOKEN_US:
            return f"{never}."
        return f"{never} (none to {span(round(band.high * HOUR_US))}), estimate."
    whole = lasting_words(climate.wet_hours() * HOUR_US, _in_us(band))
    week = climate.wet_hours_last_week
    lately = lasting_words(week * HOUR_US, _in_us(lately_band))
    if week <= 0:
        lately = "none" + lately.removeprefix(span(0))
    peak = film_words(climate.peak_film_g_m2, climate.peak_film_band_g_m2)
    return f"Wet for {whole} since make day, {lately} in the last week; thickest {peak}, estimate."


def age_words(climate: WheelClimate, words: Words) -> list[str]:
    """How far it has ripened, beside the calendar."""
    age, reference_c = climate.age, climate.reference_temperature_c
    if age is None or reference_c is None:
        return []
    at = words.temperature(reference_c).replace(".0", "")
    calendar = (climate.now_us - climate.made_us) / DAY_US
    # Whole days are those gone by, as everywhere on the page.
    lived = calendar if calendar < _YOUNG_DAYS else math.floor(calendar)
    # Near the reference temperature the band is narrow, and whole days would hide it.
    fine = age.high_days - age.low_days < _SOME_DAYS
    band = f"{_days(age.low_days, fine=fine)}–{_days(age.high_days, fine=fine)}"
    told = f"Ripened like {_days(age.days, fine=fine)} days at {at} ({band}), estimate"
    if calendar - age.elapsed_days > _SOME_DAYS:
        told += f", in the {_days(age.elapsed_days)} days of which its air is known"
    lines = [f"{told}; {_days(lived)} days by the calendar."]
    if climate.kinetic_c is not None:
        kinetic = words.temperature(climate.kinetic_c)
        kinetic += temperature_band(climate.kinetic_band_c, words)
        lines.append(f"Mean kinetic temperature {kinetic}, estimate.")
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


def _in_us(hours: Band | None) -> Band | None:
    """A band of hours as one of microseconds."""
    return None if hours is None else Band(hours.low * HOUR_US, hours.high * HOUR_US)


def _days(days: float, *, fine: bool = False) -> str:
    return f"{days:.1f}" if fine or days < _YOUNG_DAYS else f"{days:.0f}"
