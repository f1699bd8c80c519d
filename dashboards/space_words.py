"""How a space behaves, in sentences: rhythm, openings, water, drift, sweat, and what is ahead.

Each estimate says that it is one and how wide it is.
"""

# ruff: noqa: RUF001 - the reader gets real dashes

import re
from collections.abc import Sequence

from dashboards.band_words import between, film_words, margin_band, soon_words, temperature_band
from dashboards.words import UNIT_SPACE, Words, counted, short, span
from service.ageing.ahead_notices import ahead_sentence, going_words, what_to_try
from service.ageing.values import Quantity
from service.behaving.behaviour import (
    Behaviour,
    Rhythm,
    per_day,
    rate_band,
    recent_openings,
)
from service.behaving.drifting import Drift
from service.behaving.outlook import Outlook
from service.clock import DAY_US, US_PER_S
from service.living.now import LidNow, SurfaceNow
from service.science.band import Band
from service.science.openings import Opening
from service.science.water import Estimate, Recovery, WaterDay
from service.store.tables import SpaceKind

_CLOSE_K = 0.5
"""A margin below this is close: our choice, what surface and dew point are together unsure by."""
_RECENT_DAYS = 2


def outlook_lines(name: str, seen: Outlook, words: Words) -> list[str]:
    """Where the air goes and when it will be there; then one thing to try."""
    ahead = seen.ahead(fahrenheit=words.fahrenheit)
    return [
        f"{going_words(short(name), ahead)} {_unbroken(ahead_sentence(ahead))}",
        what_to_try(seen.quantity, seen.direction),
    ]


def behaviour_lines(found: Behaviour, kind: SpaceKind, words: Words) -> list[str]:
    """What the space does, one sentence each."""
    lines = []
    if found.rhythm is not None:
        lines += _rhythm(found.rhythm)
    if kind in {SpaceKind.CAVE, SpaceKind.KITCHEN_FRIDGE} and found.days >= 1:
        lines.append(_openings(found, words))
    if kind is SpaceKind.CAVE:
        if found.recovery is not None:
            lines.append(_recovery(found.recovery))
        if found.water is not None:
            lines.append(_water(found.water))
    lines += [_drift(each, words) for each in found.drifts if each.is_drifting]
    return lines


def surface_lines(
    surfaces: Sequence[SurfaceNow], lids: Sequence[LidNow], words: Words
) -> list[tuple[str, str]]:
    """The surface nearest to sweating, and the lid: tone and sentence."""
    lines = []
    if surfaces:
        lines.append(_surface(min(surfaces, key=lambda each: each.margin_k), words))
    lines += [_lid(each, words) for each in lids]
    return lines


def opening_rows(openings: Sequence[Opening], words: Words) -> list[tuple[str, str, str]]:
    """Each opening with its time, how far the air rose, and what the humidity did; newest first."""
    return [
        (
            words.moment(opening.time_us),
            _difference(opening.rise_k, words),
            _signed(opening.humidity_change_pct),
        )
        for opening in reversed(openings)
    ]


def _unbroken(sentence: str) -> str:
    """A sentence in which no line breaks between a number and its unit, nor in a range."""
    joined = re.sub(r"(\d) (h|%|°)", rf"\1{UNIT_SPACE}\2", sentence)
    return joined.replace("–", "–\N{WORD JOINER}")


def _surface(seen: SurfaceNow, words: Words) -> tuple[str, str]:
    coldest_c = seen.dew_point_c + seen.margin_k
    surface = seen.band.surface_c
    # The coldest place is as unsure as the mean of the surface.
    ends = surface and Band(
        *(coldest_c + end - seen.surface_c for end in (surface.low, surface.high))
    )
    coldest = f"{words.temperature(coldest_c)}{temperature_band(ends, words)}"
    side = "above" if seen.margin_k >= 0 else "below"
    band = seen.band
    apart = margin_band(band.margin_k, words)
    told = (
        f"Wheels, where nearest to sweating: {coldest}, {_difference(seen.margin_k, words)}{apart} "
        f"{side} the dew point of {words.temperature(seen.dew_point_c)}"
    )
    if seen.wet_since_us is not None:
        film = film_words(seen.film_g_m2, band.film_g_m2)
        since = words.moment(seen.wet_since_us)
        return "damp", f"{told}; wet, about {film} of water since {since}, estimate"
    if seen.sweats_in_h is not None:
        soon = soon_words(seen.sweats_in_h, seen.sweats_between_h)
        return "damp", f"{told}; sweat in about {soon}, estimate"
    state = "dry, but close" if seen.margin_k < _CLOSE_K else "dry"
    return "in-range", f"{told}; {state}, estimate"


def _lid(seen: LidNow, words: Words) -> tuple[str, str]:
    margin_k = seen.lid_c - seen.dew_point_c
    side = "above" if margin_k >= 0 else "below"
    band = seen.band
    told = (
        f"Lid: {words.temperature(seen.lid_c)}{temperature_band(band.lid_c, words)}, "
        f"{_difference(margin_k, words)}{margin_band(band.margin_k, words)} {side} "
        "the dew point beneath it"
    )
    if seen.wet_since_us is not None:
        film = film_words(seen.film_g_m2, band.film_g_m2)
        since = words.moment(seen.wet_since_us)
        return "damp", f"{told}; wet, about {film} of water since {since}, estimate"
    return "in-range", f"{told}; dry, estimate"


def _rhythm(rhythm: Rhythm) -> list[str]:
    now, before = rhythm.now, rhythm.before
    scatter, apart = max(now.duty_scatter, 0.01), max(1, round(now.period_scatter_s / 60))
    told = (
        f"It cools {_pct(now.duty)} of the time (± {_pct(scatter)}), in cycles of "
        f"{round(now.period_s / 60)} min (± {apart} min), estimate."
    )
    lines = [told]
    if before is not None and rhythm.changed:
        more = now.duty > before.duty
        try_this = (
            "see that the door closes, and that coil and vents are free of frost and dust"
            if more
            else "see that the fridge still reaches its temperature"
        )
        lines.append(
            f"The fridge runs {_pct(now.duty)} of the time (± {_pct(scatter)}), "
            f"{_pct(before.duty)} (± {_pct(max(before.duty_scatter, 0.01))}) in the two weeks "
            f"before, estimate. Try: {try_this}."
        )
    return lines


def _openings(found: Behaviour, words: Words) -> str:
    band = rate_band(found)
    if not found.openings:
        return (
            f"No opening of the door is seen in the last {_days(found.days)}; short ones may be "
            f"missed, so up to {band.high:.1f} a day, estimate."
        )
    recent = len(recent_openings(found, _RECENT_DAYS))
    rate = per_day(found.openings, found.at_us - round(found.days * DAY_US), found.at_us)
    last = words.moment(found.openings[-1].time_us)
    return (
        f"Door opened {_times(recent)} in the last two days, about {rate:.1f} times a day "
        f"{between(band.low, band.high)} over {_days(found.days)}, estimate: short ones may be "
        f"missed; last {last}."
    )


def _times(count: int) -> str:
    return "once" if count == 1 else counted(count, "time")


def _recovery(found: Recovery) -> str:
    back, changes = found.time_constant_s, found.air_changes_per_h
    return (
        f"After an opening most of the moisture is back in {_span(back.expected)} "
        f"({_span(back.low)} to {_span(back.high)}); so the shut door leaks at most "
        f"{_two_digits(changes.expected)} changes of air an hour ({_range(changes)}), estimate."
    )


def _water(day: WaterDay) -> str:
    tray = day.tray
    return (
        f"For each 100 l of cave a tray must give about {_two_digits(tray.expected)} g of water "
        f"a day ({_range(tray)} g), a very rough estimate: weigh what you pour to know better."
    )


def _drift(found: Drift, words: Words) -> str:
    week = [words.step(found.quantity, 7 * each) for each in (found.slope, found.low, found.high)]
    unit = words.unit(found.quantity)
    way = "up" if found.slope > 0 else "down"
    low, high = sorted(abs(each) for each in week[1:])
    return (
        f"Daily mean {found.quantity} drifts {way} by {abs(week[0]):.1f} {unit} a week "
        f"({low:.1f}–{high:.1f}) over {found.days} days, estimate."
    )


def _difference(kelvin: float, words: Words) -> str:
    shown = words.step(Quantity.TEMPERATURE, abs(kelvin))
    return f"{shown:.1f}{UNIT_SPACE}{words.temperature_unit}"


def _signed(change_pct: float) -> str:
    return f"{'+' if change_pct >= 0 else '−'}{abs(change_pct):.1f} %RH"


def _pct(part: float) -> str:
    return f"{100 * part:.0f} %"


def _range(found: Estimate) -> str:
    return f"{_two_digits(found.low)}–{_two_digits(found.high)}"


def _two_digits(value: float) -> str:
    """A rough value with no more digits than it deserves.

    Examples:
        >>> _two_digits(306.0), _two_digits(30.4), _two_digits(0.88), _two_digits(0.0)
        ('310', '30', '0.9', '0')
    """
    if value >= 100:  # noqa: PLR2004 - two digits are tens from here on
        return f"{round(value, -1):.0f}"
    return f"{value:.0f}" if value >= 10 or value == 0 else f"{value:.1f}"  # noqa: PLR2004 - two digits


def _span(seconds: float) -> str:
    return span(round(seconds) * US_PER_S)


def _days(days: float) -> str:
    return counted(max(1, round(days)), "day")
