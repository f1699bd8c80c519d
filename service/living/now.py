"""All surfaces as they are now: wheels by their air and size, and lids of boxes.

For the shelf and for the watch. Only the last days count, and wheels that are alike in one
space are worked out once.
"""

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from service.clock import DAY_US, US_PER_S
from service.judging import Plans
from service.living.air import LivedAir
from service.living.bands import EVERY_US as BANDS_EVERY_US
from service.living.bands import UNKNOWN_FACE, FaceBand, bands_of
from service.living.climate import banded, dries, fits_of
from service.living.lid_bands import UNKNOWN_LID, LidBand, lid_band
from service.living.life import Life, life_of, spaces_by_id
from service.living.memory import Memory
from service.living.sensing import humidity_away_pct
from service.living.stays import runs
from service.living.surfaces import face_now, live
from service.living.values import Face
from service.living.weights import EVERY_US
from service.science.air import saturation_temperature_c, vapour_pressure_pa
from service.science.film import LID_WET, wet_spells
from service.science.lid import lid_run
from service.science.transfer import Coefficient
from service.store import facts, places, tables, wheels
from service.store.database import Session

LOOK_BACK_US: Final = 3 * DAY_US
"""How much of the past the surfaces are carried through. [µs] Our choice: a wheel of 2 kg
forgets its temperature within a day."""
_STALE_US: Final = 1_800 * US_PER_S
_FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class SurfaceNow:
    """The surface of wheels that are alike, an estimate.

    Attributes:
        wheel_ids: The wheels.
        space_id: Where they are.
        time_us: Of the newest reading that it rests on. [µs UTC]
        surface_c: Mean of the surface. [°C]
        dew_point_c: Of the air. [°C]
        margin_k: The colder of faces and side less the dew point; below zero it sweats. [K]
        film_g_m2: Water where it is thickest. [g/m²]
        wet_since_us: Since when a face or the side is wet; None when it is not. [µs UTC]
        sweats_in_h: Hours until sweat is expected; None when it is not, or wet already. [h]
        band: The ends of all that.
        sweats_between_h: Early and late end of `sweats_in_h`; late is None where it may stay
            dry. [h]
    """

    wheel_ids: tuple[int, ...]
    space_id: int
    time_us: int
    surface_c: float
    dew_point_c: float
    margin_k: float
    film_g_m2: float
    wet_since_us: int | None
    sweats_in_h: float | None
    band: FaceBand = UNKNOWN_FACE
    sweats_between_h: tuple[float, float | None] | None = None


@dataclass(frozen=True, slots=True)
class LidNow:
    """The lid of a box, an estimate.

    Attributes:
        space_id: The box.
        time_us: Of the newest reading that it rests on. [µs UTC]
        lid_c: Temperature of the lid. [°C]
        dew_point_c: Of the air beneath it. [°C]
        film_g_m2: Water beneath it. [g/m²]
        wet_since_us: Since when it is wet; None when it is not. [µs UTC]
        band: The ends of all that.
    """

    space_id: int
    time_us: int
    lid_c: float
    dew_point_c: float
    film_g_m2: float
    wet_since_us: int | None
    band: LidBand = UNKNOWN_LID


def surfaces_now(
    session: Session, plans: Plans, now_us: int, memory: Memory | None = None
) -> tuple[SurfaceNow, ...]:
    """The surfaces of all wheels whose air is known and fresh; wrapped ones are left out.

    Args:
        session: The store.
        plans: The plans by slug.
        now_us: When. [µs UTC]
        memory: Keeps what holds; without one the same is worked out, later.
    """
    memory = memory if memory is not None else Memory()
    lived_air = LivedAir(session, memory, now_us)
    spaces = spaces_by_id(session)
    newest = facts.newest_reading_us(session, spaces)
    key = ("surfaces", facts.stamp(session), newest, now_us // (60 * US_PER_S))
    return memory.recall(
        "now", key, lambda: _surfaces(session, plans, now_us, memory, lived_air, spaces)
    )


def _surfaces(
    session: Session,
    plans: Plans,
    now_us: int,
    memory: Memory,
    lived_air: LivedAir,
    spaces: dict[int, tables.Space],
) -> tuple[SurfaceNow, ...]:
    groups: dict[tuple[object, ...], list[Life]] = {}
    for wheel, batch in wheels.wheels(session):
        assert wheel.id is not None
        life = life_of(session, plans, wheel.id, spaces)
        recent = life.spans(now_us - LOOK_BACK_US, now_us + 1) if life is not None else []
        if life is None or not recent or recent[-1].to_us <= now_us or recent[-1].wrapped:
            continue
        alike = (
            (
                batch.plan,
                batch.plan_version,
                batch.made_us,
                wheel.diameter_mm,
                wheel.height_mm,
                wheel.mass_g,
            ),
            # Weighings tell wheels apart by what they lose.
            tuple((each.time_us, each.grams) for each in life.weighed),
            tuple((each.space_id, each.from_us, each.to_us) for each in life.placements),
            tuple(life.spans(0, now_us + 1)),
        )
        groups.setdefault(alike, []).append(life)
    found = []
    for lives in groups.values():
        face = _face(session, lives[0], now_us, memory, lived_air)
        if face is None or face.dew_point_c is None or face.margin_k is None:
            continue
        assert face.film_g_m2 is not None  # where there is a margin there is a film
        found.append(
            SurfaceNow(
                wheel_ids=tuple(life.wheel.id for life in lives if life.wheel.id is not None),
                space_id=lives[0].placements[-1].space_id,
                time_us=face.time_us,
                surface_c=face.surface_c,
                dew_point_c=face.dew_point_c,
                margin_k=face.margin_k,
                film_g_m2=face.film_g_m2,
                wet_since_us=face.wet_since_us,
                sweats_in_h=face.sweats_in_h,
                band=face.band,
                sweats_between_h=face.sweats_between_h,
            )
        )
    return tuple(found)


def _face(
    session: Session, life: Life, now_us: int, memory: Memory, lived_air: LivedAir
) -> Face | None:
    """The surface of one wheel, from its last days."""
    recent = life.spans(now_us - LOOK_BACK_US, now_us + 1)
    phases = [each for span in recent if (each := lived_air.phase(span)) is not None]
    if not phases or phases[-1].span != recent[-1] or not phases[-1].open:
        return None
    part = runs(phases)[-1]
    # The mass when new alone says nothing of how fast a wheel dries.
    found: dict[str, Coefficient] = {}
    if life.weighed:
        key = (lived_air.stamp, life.key, now_us // EVERY_US)
        found = memory.recall("dries", key, partial(_dries, life, now_us, memory, lived_air))
    start_c = life.start_c(part)
    face = face_now(live(part, found, life, start_c), life, part, now_us)
    if face is None:
        return None
    # As above: the distances to the ends hardly move within ten minutes.
    slot = part.to_us // BANDS_EVERY_US
    recent_key = (lived_air.stamp, life.key, "recent", slot)
    bands = memory.recall(
        "bands", recent_key, lambda: bands_of(session, life, [part], [found], [start_c])
    )
    return banded(face, bands)


def _dries(life: Life, now_us: int, memory: Memory, lived_air: LivedAir) -> dict[str, Coefficient]:
    """How fast a wheel dries, from all its life."""
    lifetime = life.spans(0, now_us + 1)
    whole = runs([each for span in lifetime if (each := lived_air.phase(span)) is not None])
    return dries(fits_of(memory, lived_air, life, whole).get(len(whole) - 1))


def lids_now(session: Session, now_us: int, memory: Memory | None = None) -> tuple[LidNow, ...]:
    """The lids of boxes with a sensor, in places with a sensor, both fresh.

    Args:
        session: The store.
        now_us: When. [µs UTC]
        memory: Keeps what holds; without one the same is worked out, later.
    """
    memory = memory if memory is not None else Memory()
    spaces = spaces_by_id(session)
    newest = facts.newest_reading_us(session, spaces)
    lived_air = LivedAir(session, memory, now_us)
    key = ("lids", lived_air.stamp, newest, now_us // (60 * US_PER_S))
    boxes = [space for space in spaces.values() if space.kind == tables.SpaceKind.BOX]
    return memory.recall(
        "now",
        key,
        lambda: tuple(
            lid for box in boxes if (lid := _lid(session, box, lived_air, now_us)) is not None
        ),
    )


def _lid(session: Session, box: tables.Space, lived_air: LivedAir, now_us: int) -> LidNow | None:
    if box.id is None or box.parent_id is None:
        return None
    if not places.sensors_in(session, box.id, now_us):
        return None
    since_us = now_us - LOOK_BACK_US
    inside = lived_air.own(box.id, since_us, now_us + 1)
    outside = lived_air.own(box.parent_id, since_us, now_us + 1)
    known = np.isfinite(inside.temperature_c) & np.isfinite(inside.humidity_pct)
    cave = np.isfinite(outside.temperature_c)
    if np.count_nonzero(known) < _FEWEST or np.count_nonzero(cave) < _FEWEST:
        return None
    times_us = inside.times_us[known]
    if now_us - min(int(times_us[-1]), int(outside.times_us[cave][-1])) > _STALE_US:
        return None
    box_c = inside.temperature_c[known]
    vapour_pa = vapour_pressure_pa(box_c, np.clip(inside.humidity_pct[known], 0.0, 100.0))
    cave_c = np.interp(times_us, outside.times_us[cave], outside.temperature_c[cave])
    run = lid_run(times_us, box_c, vapour_pa, cave_c)
    humidity_pct = humidity_away_pct(session, box.id, times_us, now_us)
    spells = wet_spells(times_us, run.film_g_m2, LID_WET)
    film = float(run.film_g_m2[-1])
    wet = bool(spells) and spells[-1].to_us >= times_us[-1] and film >= LID_WET.film_g_m2
    return LidNow(
        space_id=box.id,
        time_us=int(times_us[-1]),
        lid_c=float(run.lid_c[-1]),
        dew_point_c=float(saturation_temperature_c(vapour_pa[-1:])[0]),
        film_g_m2=film,
        wet_since_us=spells[-1].from_us if wet else None,
        band=lid_band(times_us, (box_c, vapour_pa, cave_c), run, humidity_pct),
    )
