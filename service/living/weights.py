"""What a wheel weighs: the fit of the science to the weighings that the maker entered.

The fit rests on hourly means of the air but for the last days, which says the same to a gram
and costs a fifth. It is made anew every six hours and after each weighing; in between, the
wheel goes on losing as it did.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.clock import DAY_US, HOUR_US, US_PER_S
from service.errors import OutOfRangeError
from service.living.life import Life
from service.living.stays import Run, means, stays
from service.science.loss_table import loss_table
from service.science.signals import IntArray
from service.science.surface import Rind, Stay
from service.science.transfer import Coefficient, prior_coefficient
from service.science.weighing import WEIGHING_SD_G, Weighing
from service.science.weight import LossDay, MassBand, WeightFit, fit_weighings

EVERY_US: Final = 6 * HOUR_US
AHEAD_US: Final = 14 * DAY_US
"""How far ahead the weight is told. [µs] Our choice: the air of a week says little of more."""
WANTED_LOSSES: Final = (0.10, 0.15)
"""Losses whose day is told. [1] Picque et al. 2011 (abstract seen): a soft wheel that has lost
more than 10 to 12 % is too dry, and an unwrapped one lost 15 % in 23 days."""

_AFTER_US: Final = 15 * 60 * US_PER_S
"""So long after the newest reading a weighing counts as of that reading. [µs] Our choice: sensors
are read every few minutes, and a wheel hardly dries in them."""
_NEW_US: Final = 7 * DAY_US
_NEW_SD: Final = 0.02
_OLD_SD: Final = 0.05
"""How far the mass when new may be from that when its air became known: 2 % within a week of
making (whey drains, salt goes in), 5 % later. [1] Our choice."""
_BAND_Z: Final = 1.6448536269514722
_LOOKS: Final = 120


@dataclass(frozen=True, slots=True, eq=False)
class Weight:
    """A wheel's mass, an estimate with the band that holds it 9 times in 10.

    Attributes:
        past: From where its air is known up to now.
        ahead: From now on, if the air of the last week goes on; None when it is wrapped.
        losses: Shares of the mass when new with the day when so much is lost; those that were
            lost before its air was known are left out.
        coefficients: Coefficient of moisture by the number of the space.
        weighings: How many weighings it rests on, the mass when new not counted.
    """

    past: MassBand
    ahead: MassBand | None
    losses: tuple[tuple[float, LossDay], ...]
    coefficients: dict[int, Coefficient]
    weighings: int


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The fit of one open run, up to `to_us`; with the weighings that it rests on."""

    fit: WeightFit
    from_us: int
    to_us: int
    weighings: int
    notes: tuple[str, ...]


def weighed_in(parts: Sequence[Run], place: int, life: Life) -> tuple[Weighing, ...]:
    """The weighings of one of a wheel's runs.

    One of a moment ago lies after the newest reading; it counts all the same.
    """
    run = parts[place]
    until_us = run.to_us + (_AFTER_US if place == len(parts) - 1 else 0)
    return tuple(
        Weighing(each.time_us, each.grams)
        for each in life.weighed
        if run.from_us <= each.time_us <= until_us
    )


def fitted(
    run: Run,
    life: Life,
    inside: Sequence[Weighing],
    settled_us: int,
    start_c: float,
    carried: Weighing | None,
) -> Fit | None:
    """Fit the weighings of an open run; None when the run is too short to tell anything.

    Args:
        run: An open run.
        life: The wheel's life.
        inside: The weighings of the run.
        settled_us: Air before this is taken by the hour. [µs UTC]
        start_c: How warm the wheel is at the start. [°C]
        carried: The mass at the start as an earlier run left it, if there was one.
    """
    latest = max((each.time_us for each in inside), default=0)
    end_us = max(run.to_us // EVERY_US * EVERY_US, latest)
    cylinder = life.cylinder(float(np.median(run.phases[0].air_c)))
    known = [_cut(stay, settled_us, end_us) for stay in stays(run, cylinder, life.spaces)]
    usable = [stay for stay in known if np.isfinite(stay.vapour_pa).any()]
    if not usable or usable[-1].times_us[-1] - usable[0].times_us[0] < 2 * HOUR_US:
        return None
    start_us, end_us = int(usable[0].times_us[0]), int(usable[-1].times_us[-1])
    # The last weighing may lie somewhat after the last mean of the air.
    inside = [replace(each, time_us=min(max(each.time_us, start_us), end_us)) for each in inside]
    first, notes = _first(life, start_us, inside, carried)
    rind = Rind(life.plan.water_activity.value)
    prior = prior_coefficient()
    table = loss_table(cylinder, rind, usable, start_c, prior)
    try:
        fit = fit_weighings(table, [*first, *inside], prior)
    except OutOfRangeError:
        return None
    return Fit(fit, start_us, end_us, len(inside), (*notes, *_notes(fit)))


def _notes(fit: WeightFit) -> list[str]:
    """What the maker should know of a fit."""
    notes = []
    if fit.suspects:
        one = len(fit.suspects) == 1
        which = "one weighing does" if one else f"{len(fit.suspects)} weighings do"
        notes.append(f"{which} not fit the others: a slip, or a sensor that was wrong then")
    medians = [each.median for each in fit.coefficients.values()]
    if len(set(medians)) < len(medians):
        notes.append("the weighings cannot tell its spaces apart; some count as drying alike")
    return notes


def weight(fits: Sequence[Fit], new_g: float, to_us: int, *, still_open: bool) -> Weight | None:
    """The mass through all runs up to a time, and ahead if the last one is still open.

    Args:
        fits: Of the open runs, in order of time.
        new_g: Mass when new. [g]
        to_us: Up to when. [µs UTC]
        still_open: Whether the last of the fits is that of the run that goes on.
    """
    if not fits:
        return None
    bands = []
    for each in fits:
        known_us = np.linspace(each.from_us, each.to_us, _LOOKS).astype(np.int64)
        bands.append(each.fit.masses(known_us))
    last = fits[-1]
    if to_us > last.to_us:
        since_us = np.array([to_us], dtype=np.int64)
        bands.append(last.fit.ahead(since_us) if still_open else _held(bands[-1], since_us))
    ahead = None
    if still_open:
        ahead_us = np.linspace(to_us, to_us + AHEAD_US, 29).astype(np.int64)
        ahead = last.fit.ahead(np.maximum(ahead_us, last.to_us))
    return Weight(
        past=_joined(bands),
        ahead=ahead,
        losses=_losses(last.fit, new_g) if still_open else (),
        coefficients={int(k): v for each in fits for k, v in each.fit.coefficients.items()},
        weighings=sum(each.weighings for each in fits),
    )


def _losses(fit: WeightFit, new_g: float) -> tuple[tuple[float, LossDay], ...]:
    """The days of the wanted losses, counted from the mass when new."""
    found = []
    for share in WANTED_LOSSES:
        since_start = 1 - (1 - share) * new_g / fit.start_g
        if 0 < since_start < 1:
            found.append((share, fit.day_of_loss(since_start)))
    return tuple(found)


def carried_over(fit: Fit, at_us: int) -> Weighing:
    """The mass at the end of a run as the start of the next one."""
    band = fit.fit.masses(np.array([fit.to_us]))
    spread = float(band.high[0] - band.low[0]) / (2 * _BAND_Z)
    return Weighing(at_us, float(band.grams[0]), max(WEIGHING_SD_G, spread))


def _first(
    life: Life,
    start_us: int,
    inside: Sequence[Weighing],
    carried: Weighing | None,
) -> tuple[list[Weighing], tuple[str, ...]]:
    """The mass at the start of a run, as far as it is known without a weighing."""
    new_g = life.wheel.mass_g
    if carried is not None:
        return [replace(carried, time_us=start_us)], ()
    if start_us - life.made_us <= _NEW_US:
        return [Weighing(start_us, new_g, max(WEIGHING_SD_G, _NEW_SD * new_g))], ()
    if inside:
        return [], ()
    spread = max(WEIGHING_SD_G, _OLD_SD * new_g)
    note = "its air is known only since later than a week after making, so its weight is a guess"
    return [Weighing(start_us, new_g, spread)], (note,)


def _cut(stay: Stay, settled_us: int, end_us: int) -> Stay:
    """A stay up to a time, by the hour where it is days old."""
    kept = int(np.searchsorted(stay.times_us, end_us, side="right"))
    times_us = stay.times_us[:kept]
    air_c, vapour_pa = stay.air_c[:kept], stay.vapour_pa[:kept]
    old = int(np.searchsorted(times_us, settled_us))
    if old:
        early_us, (early_c, early_pa) = means(
            times_us[:old], [air_c[:old], vapour_pa[:old]], HOUR_US
        )
        times_us = np.concatenate([early_us, times_us[old:]])
        air_c = np.concatenate([early_c, air_c[old:]])
        vapour_pa = np.concatenate([early_pa, vapour_pa[old:]])
    return replace(stay, times_us=times_us, air_c=air_c, vapour_pa=vapour_pa)


def _held(band: MassBand, times_us: IntArray) -> MassBand:
    """The last mass of a band, held: nothing is lost through a wrap, as far as is modelled."""
    return MassBand(times_us, band.grams[-1:], band.low[-1:], band.high[-1:])


def _joined(bands: Sequence[MassBand]) -> MassBand:
    return MassBand(
        np.concatenate([band.times_us for band in bands]),
        np.concatenate([band.grams for band in bands]),
        np.concatenate([band.low for band in bands]),
        np.concatenate([band.high for band in bands]),
    )
