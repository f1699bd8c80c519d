"""The climate of one wheel: what its surface, its weight and its age went through.

All of it is estimated from the air that its sensors told; where the air is not known, nothing
is said. The science is in `service.science`; here it is only fed and its answers collected.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np

from service.clock import DAY_US, HOUR_US, US_PER_S
from service.judging import Plans
from service.living.air import LivedAir
from service.living.bands import EVERY_US as BANDS_EVERY_US
from service.living.bands import Bands, bands_of
from service.living.life import Life, Weighed, life_of, spaces_by_id, weighed_of
from service.living.memory import Memory
from service.living.stays import Run, Span, runs
from service.living.surfaces import face_now, live
from service.living.values import Face, Lived, WheelClimate
from service.living.weights import EVERY_US, Fit, carried_over, fitted, weighed_in, weight
from service.science.air import FloatArray
from service.science.band import Band, around
from service.science.film import WHEEL_WET, wet_spells
from service.science.kinetic import (
    HEAT_OF_ACTIVATION_KJ_PER_MOL,
    weighted_mean_kinetic_temperature_c,
)
from service.science.ripening import Activation, EquivalentAge, equivalent_age
from service.science.signals import IntArray
from service.science.transfer import Coefficient
from service.science.weighing import Weighing
from service.store import wheels
from service.store.database import Session

_THIN_US: Final = 900 * US_PER_S
"""A wheel's mean temperature hardly moves within it. [µs] Our choice."""
_SILENCE_S: Final = 3_600.0
_WEEK_US: Final = 7 * DAY_US
_FEWEST: Final = 2


def climate(
    session: Session, plans: Plans, wheel_id: int, now_us: int, memory: Memory
) -> WheelClimate:
    """The climate of a wheel from its making up to now.

    Args:
        session: The store.
        plans: The plans by slug.
        wheel_id: The wheel.
        now_us: Up to when. [µs UTC]
        memory: Keeps what holds; a new one gives the same, later.

    Raises:
        UnknownError: There is no such wheel.
    """
    air = LivedAir(session, memory, now_us)
    life = life_of(session, plans, wheel_id, spaces_by_id(session))
    if life is None:
        made_us = wheels.batch_of(session, wheel_id).made_us
        weighed = weighed_of(session, wheel_id)
        return _unknown(wheel_id, made_us, now_us, weighed, "its plan is not here")
    newest = max((air.newest_us(each.space_id) for each in life.placements), default=0)
    # The minute counts too: between two readings the last one grows stale.
    key = (air.stamp, life.key, newest, now_us // (60 * US_PER_S))
    found = memory.recall(
        "climate", key, lambda: _climate(session, life, wheel_id, air, memory, now_us)
    )
    # Wheels that lived alike share it.
    if (found.wheel_id, found.weighings) == (wheel_id, life.weighed):
        return found
    return replace(found, wheel_id=wheel_id, weighings=life.weighed)


def _unknown(
    wheel_id: int, made_us: int, now_us: int, weighed: tuple[Weighed, ...], why: str
) -> WheelClimate:
    return WheelClimate(
        wheel_id, made_us, now_us, None, (), None, weighed, None, None, None, None, (why,)
    )


def _climate(
    session: Session, life: Life, wheel_id: int, air: LivedAir, memory: Memory, now_us: int
) -> WheelClimate:
    lifetime = life.spans(0, now_us + 1)
    phases = [each for span in lifetime if (each := air.phase(span)) is not None]
    if not phases:
        why = "no air is known of its life"
        return _unknown(wheel_id, life.made_us, now_us, life.weighed, why)
    parts = runs(phases)
    fits = fits_of(memory, air, life, parts)
    lives = _lives(parts, fits, life)
    lived = _joined(lives)
    bands = _bands(session, memory, air.stamp, life, parts, fits, lives)
    here = lifetime[-1].to_us > now_us
    notes = _notes(lifetime, parts, life, lived)
    notes += tuple(note for fit in fits.values() for note in fit.notes)
    thin_us, thin_c = _thinned(lived)
    energy = life.plan.activation_energy_kj_per_mol
    activation = Activation(energy.value, energy.low, energy.high)
    reference_c = life.plan.reference_temperature_c
    enough = thin_us.size >= _FEWEST
    return WheelClimate(
        wheel_id=wheel_id,
        made_us=life.made_us,
        now_us=now_us,
        lived=lived,
        wet=tuple(wet_spells(lived.times_us, lived.film_g_m2, WHEEL_WET)),
        now=banded(face_now(lived, life, parts[-1], now_us), bands) if here else None,
        weighings=life.weighed,
        weight=weight(
            list(fits.values()),
            life.wheel.mass_g,
            int(lived.times_us[-1]),
            still_open=here and parts[-1].open and len(parts) - 1 in fits,
        ),
        age=_age(thin_us, thin_c, reference_c, activation, bands) if enough else None,
        reference_temperature_c=reference_c,
        kinetic_c=weighted_mean_kinetic_temperature_c(thin_us, thin_c) if enough else None,
        notes=notes,
        bands=bands,
        kinetic_band_c=_kinetic_band_c(thin_us, thin_c, activation, bands) if enough else None,
    )


def banded(face: Face | None, bands: Bands) -> Face | None:
    """A surface as it is now, with its band."""
    if face is None:
        return None
    told = bands.now(face.time_us, face.surface_c, face.margin_k, face.film_g_m2, face.wet_since_us)
    return replace(face, band=told)


def _bands(
    session: Session,
    memory: Memory,
    stamp: str,
    life: Life,
    parts: Sequence[Run],
    fits: Mapping[int, Fit],
    lives: Sequence[Lived],
) -> Bands:
    """The bands, worked out anew every ten minutes of readings; they hardly move within it."""
    until_us = parts[-1].to_us // BANDS_EVERY_US * BANDS_EVERY_US
    counts = tuple(_counts(part, until_us) for part in parts)
    key = (stamp, life.key, until_us, counts)
    return memory.recall(
        "bands",
        key,
        lambda: bands_of(
            session,
            life,
            parts,
            [dries(fits.get(place)) for place in range(len(parts))],
            [float(each.mean_c[0]) for each in lives],
        ),
    )


def _age(
    times_us: IntArray,
    mean_c: FloatArray,
    reference_c: float,
    activation: Activation,
    bands: Bands,
) -> EquivalentAge:
    """Its age; the wheel's temperature and the energy of activation both make the band."""
    told = equivalent_age(times_us, mean_c, reference_c, activation, _SILENCE_S)
    usual = Activation(*[activation.kj_per_mol] * 3)
    cold, warm = (
        equivalent_age(times_us, end_c, reference_c, usual, _SILENCE_S).days
        for end_c in bands.column("mean_c", times_us, mean_c)
    )
    band = around(told.days, [(told.low_days, told.high_days), (cold, warm)], told.days)
    return replace(told, low_days=band.low, high_days=band.high)


def _kinetic_band_c(
    times_us: IntArray, mean_c: FloatArray, activation: Activation, bands: Bands
) -> Band:
    """Mean kinetic temperature at both ends of the wheel's own, and of the energies. [°C]

    The heat of activation is the pharmacopoeia's; the plan's own may lie on either side of it,
    and all of them are tried.
    """
    energies = (
        activation.low_kj_per_mol,
        HEAT_OF_ACTIVATION_KJ_PER_MOL,
        activation.high_kj_per_mol,
    )
    ends = [
        weighted_mean_kinetic_temperature_c(times_us, end_c, energy)
        for end_c in bands.column("mean_c", times_us, mean_c)
        for energy in energies
        if energy > 0
    ]
    return Band(min(ends), max(ends))


def fits_of(memory: Memory, air: LivedAir, life: Life, parts: list[Run]) -> dict[int, Fit]:
    """The fits of the open runs of a wheel, by their place among its runs."""
    found: dict[int, Fit] = {}
    carried: Weighing | None = None
    wheel = life.wheel
    for place, part in enumerate(parts):
        if not part.open:
            continue
        start_c = life.start_c(part)
        until_us = part.to_us // EVERY_US * EVERY_US
        inside = weighed_in(parts, place, life)
        # Wheels alike that were weighed alike share their fit.
        key = (
            air.stamp,
            air.settled_us,
            (life.plan, wheel.diameter_mm, wheel.height_mm, wheel.mass_g, life.made_us),
            tuple((each.span.space_id, each.span.from_us) for each in part.phases),
            until_us,
            _counts(part, until_us),
            start_c,
            inside,
            carried,
        )
        fit = memory.recall(
            "fit", key, partial(fitted, part, life, inside, air.settled_us, start_c, carried)
        )
        if fit is not None:
            found[place] = fit
            carried = carried_over(fit, fit.to_us)
    return found


def _counts(part: Run, until_us: int) -> tuple[int, ...]:
    """How many readings its phases have up to a time: one that comes late is not missed."""
    return tuple(int(np.searchsorted(each.times_us, until_us)) for each in part.phases)


def dries(fit: Fit | None) -> dict[str, Coefficient]:
    """The coefficients of moisture that a fit found, by space; none without a fit."""
    return {} if fit is None else dict(fit.fit.coefficients)


def _lives(parts: list[Run], fits: Mapping[int, Fit], life: Life) -> list[Lived]:
    """Each run lived through, one after the other."""
    found: list[Lived] = []
    for place, part in enumerate(parts):
        start_c = life.start_c(part) if part.after_hole else float(found[-1].mean_c[-1])
        found.append(live(part, dries(fits.get(place)), life, start_c))
    return found


def _joined(lives: list[Lived]) -> Lived:
    if len(lives) == 1:
        return lives[0]
    names = Lived.__slots__
    return Lived(*(np.concatenate([getattr(each, name) for each in lives]) for name in names))


def _thinned(lived: Lived) -> tuple[IntArray, FloatArray]:
    """The mean temperature of the wheel every quarter of an hour, first and last kept."""
    _, first = np.unique(lived.times_us // _THIN_US, return_index=True)
    kept = np.union1d(first, [lived.times_us.size - 1])
    return lived.times_us[kept], lived.mean_c[kept]


def _notes(lifetime: list[Span], parts: list[Run], life: Life, lived: Lived) -> tuple[str, ...]:
    notes = []
    if any(span.wrapped for span in lifetime):
        notes.append("while it is wrapped, neither sweat nor loss of water is modelled")
    dry = {
        life.spaces[each.span.space_id].name
        for part in parts
        for each in part.phases
        if not each.span.wrapped and not part.open
    }
    notes += [
        f"the humidity in {name} is not known, so sweat and loss of water there are not either"
        for name in sorted(dry)
    ]
    if int(lived.times_us[0]) - life.made_us > HOUR_US:
        notes.append("nothing is known of its air before its first reading")
    return tuple(notes)
