"""Liquid water on a surface: a film that condenses, runs off, dries, and the spells it makes.

A surface colder than the dew point gathers water. While a film is there the surface is water
and evaporates as water does; when it is gone the rind is a rind again. Everything here works
on grams for each square metre, whatever the surface.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from service.science.air import FloatArray
from service.science.signals import US_PER_MINUTE, IntArray, runs

WHEEL_HOLDS_G_M2 = 100.0
"""Film that a face or side holds before more runs off. [g/m²] Our choice: a tenth of a
millimetre, about what water leaves behind on an upright wet wall."""
LID_HOLDS_G_M2 = 100.0
"""Water that hangs under a lid before more drips. [g/m²] Our choice: hanging drops of a
millimetre, half a sphere each, over a third of the lid."""
BRIDGED_US = 10 * US_PER_MINUTE
"""Breaks shorter than this do not end a spell. [µs] Design of the analysis."""


@dataclass(frozen=True, slots=True)
class WetRule:
    """When a surface counts as wet.

    Attributes:
        film_g_m2: Film from which on it is wet. [g/m²]
        peak_g_m2: Film that a spell must reach to count at all. [g/m²]
    """

    film_g_m2: float
    peak_g_m2: float


WHEEL_WET = WetRule(film_g_m2=0.5, peak_g_m2=1.0)
"""Sweat on a wheel. [g/m²] Design of the analysis."""
LID_WET = WetRule(film_g_m2=0.2, peak_g_m2=0.5)
"""Sweat on a lid. [g/m²] Design of the analysis."""


@dataclass(frozen=True, slots=True)
class WetSpell:
    """A time in which a surface was wet.

    Attributes:
        from_us: First instant with film enough. [µs UTC]
        to_us: First instant without, or the last instant known. [µs UTC]
        peak_g_m2: The thickest film in it. [g/m²]
    """

    from_us: int
    to_us: int
    peak_g_m2: float


def film_g_m2(
    offered_g_m2: FloatArray, start_g_m2: float = 0.0, holds_g_m2: float = WHEEL_HOLDS_G_M2
) -> FloatArray:
    """The film that follows from what condenses and what could evaporate.

    Without a limit the film is what was offered so far less the deepest debt it ever ran into
    (the reflection map of Skorokhod), which needs no loop; where the limit is reached it is
    stepped through.

    Args:
        offered_g_m2: Water offered in each step: condensed above zero, or what a wet surface
            would lose below zero. [g/m²]
        start_g_m2: Film before the first step. [g/m²]
        holds_g_m2: What the surface holds; the rest runs off and is gone. [g/m²]

    Returns:
        Film before the first step and after each, one longer than the steps; never below zero,
        never above `holds_g_m2`. [g/m²]

    References:
        Skorokhod, A. V., Stochastic equations for diffusion processes in a bounded region,
        Theory of Probability and Its Applications 6 (1961) 264-274: the reflected path.

    Examples:
        >>> film_g_m2(np.array([2.0, -1.5, -1.5, 1.0])).tolist()
        [0.0, 2.0, 0.5, 0.0, 1.0]
    """
    start = min(start_g_m2, holds_g_m2)
    path = np.concatenate(([start], start + np.cumsum(offered_g_m2)))
    film = path - np.minimum(np.minimum.accumulate(path), 0.0)
    if film.size and film.max() <= holds_g_m2:
        return film
    return np.fromiter(_stepped(offered_g_m2, start, holds_g_m2), np.float64, path.size)


def _stepped(offered: FloatArray, start: float, holds: float) -> Iterator[float]:
    """The film held between zero and what the surface holds, step by step."""
    return accumulate(
        offered.tolist(), lambda film, more: min(holds, max(0.0, film + more)), initial=start
    )


def wet_spells(times_us: IntArray, film: FloatArray, rule: WetRule) -> list[WetSpell]:
    """When a surface was wet.

    Args:
        times_us: Instants, rising. [µs UTC]
        film: Film at each. [g/m²] NaN, the mark of the unknown, counts as not wet.
        rule: What counts as wet.

    Returns:
        The spells in order of time: film at least as thick as the rule says, breaks under ten
        minutes bridged, and of those the ones whose peak the rule asks for.

    Examples:
        >>> minutes = np.arange(5) * US_PER_MINUTE
        >>> wet_spells(minutes, np.array([0.0, 0.6, 1.2, 0.3, 0.0]), WHEEL_WET)
        [WetSpell(from_us=60000000, to_us=180000000, peak_g_m2=1.2)]
    """
    spells: list[WetSpell] = []
    for start, stop in runs(film >= rule.film_g_m2).tolist():
        spell = WetSpell(
            int(times_us[start]),
            int(times_us[min(stop, times_us.size - 1)]),
            float(film[start:stop].max()),
        )
        if spells and spell.from_us - spells[-1].to_us < BRIDGED_US:
            before = spells.pop()
            peak = max(before.peak_g_m2, spell.peak_g_m2)
            spell = WetSpell(before.from_us, spell.to_us, peak)
        spells.append(spell)
    return [spell for spell in spells if spell.peak_g_m2 >= rule.peak_g_m2]


def wet_hours(spells: list[WetSpell]) -> float:
    """How long the surface was wet in all. [h]

    Examples:
        >>> wet_hours([WetSpell(0, 90 * US_PER_MINUTE, 2.0)])
        1.5
    """
    return sum(spell.to_us - spell.from_us for spell in spells) / (60 * US_PER_MINUTE)
