"""What the wheel lived through in its air: temperature, sweat on it and on the lid, mass.

Everything here is an estimate. In a gap of the readings the air is drawn straight across, for
the wheel goes on living; but no sweat is told there, for nobody saw the dew point.
"""

from dataclasses import dataclass, replace

import numpy as np

from service.analyse.best_air import at_instants, drawn_across
from service.analyse.series import BoolArray, FloatArray, IntArray, Series
from service.analyse.subject import Subject
from service.science.air import vapour_pressure_pa
from service.science.conduction import Exposure, Temperatures, respond
from service.science.convection import Space, estimated_transfer
from service.science.film import LID_WET, WHEEL_WET, WetSpell, wet_spells
from service.science.lid import lid_run
from service.science.moisture import moisture
from service.science.signals import US_PER_DAY, US_PER_MINUTE, US_PER_S, gaps
from service.science.solid import Transfer
from service.science.surface import Stay, Wheelclimate, live_through
from service.science.transfer import (
    Coefficient,
    lewis_kg_m2_s_pa,
    prior_coefficient,
    radiation_w_m2_k,
)
from service.science.weighing import Weighing
from service.science.weight import MassBand, WeightFit

EVERY_US = 10 * US_PER_MINUTE
"""Temperatures are told so far apart. [µs]"""
FORGOTTEN_US = 12 * 3_600 * US_PER_S
"""After so long a wheel has the temperature of its air, wherever it began. [µs] Our choice."""
SHORTEST_US = 30 * US_PER_MINUTE
"""A shorter life shows no loss of mass. [µs] Our choice: two steps of the table of losses."""
LOST_A_DAY = 0.01
"""A wheel may have lost this share of its mass for each day that nobody watched. [1] Our
choice: from the brine a wheel loses up to 1 % a day."""
MOST_UNSEEN = 0.3
"""However long nobody watched, a wheel's mass is no less sure than this share of it. [1] Our
choice: few wheels lose more than half, which is the end of the 90 % band."""
LEAST_APART_K = 0.1
"""Wheel and air are taken to be at least so far apart. [K] Our choice: no air is quite still."""
_HERE = "here"
"""The name of the one space."""


@dataclass(frozen=True, slots=True)
class Life:
    """What a wheel lived through, one value an instant.

    Attributes:
        climate: Temperatures, film and loss.
        unknown: Where the air was not known.
        coefficient: The moisture coefficient that it was worked out with.
        heat_w_m2_k: The heat coefficient that was taken.
        fit: What the weighings say, None without any, or in less than half an hour.
    """

    climate: Wheelclimate
    unknown: BoolArray
    coefficient: Coefficient
    heat_w_m2_k: float
    fit: WeightFit | None

    @property
    def times_us(self) -> IntArray:
        """The instants. [µs UTC]"""
        return self.climate.times_us

    def sweat(self) -> list[WetSpell]:
        """When the wheel was wet; nothing in gaps."""
        film = np.where(self.unknown, np.nan, self.climate.film_g_m2)
        return wet_spells(self.times_us, film, WHEEL_WET)

    def daily_mass(self) -> MassBand | None:
        """The mass at the start, each day after it, and at the end."""
        if self.fit is None:
            return None
        first_us, last_us = int(self.times_us[0]), int(self.times_us[-1])
        days = np.arange(first_us, last_us, US_PER_DAY)
        return self.fit.masses(np.append(days, last_us))


def begins_us(air: Series, subject: Subject) -> int | None:
    """Where the life that can be told begins; None if it began after the last reading."""
    first_us, last_us = int(air.times_us[0]), int(air.times_us[-1])
    if subject.started_us is None or subject.started_us <= first_us:
        return first_us
    return subject.started_us if subject.started_us < last_us else None


def live(air: Series, subject: Subject, from_us: int, *, in_box: bool) -> Life | None:
    """Let the wheel live through its air.

    Args:
        air: The air about it, as best it can be told.
        subject: The wheel.
        from_us: Where its life begins. [µs UTC] Within the readings.
        in_box: It lies in a lidded box.

    Returns:
        Its life, or None where temperature and humidity are never known together.
    """
    times_us = _instants(air, from_us)
    air_c = at_instants(times_us, air.times_us, air.temperature_c, air.longest_s)
    humidity_pct = at_instants(times_us, air.times_us, air.humidity_pct, air.longest_s)
    unknown = np.isnan(air_c) | np.isnan(humidity_pct)
    if unknown.all():
        return None
    cylinder = subject.cylinder
    usual_c, first_c = float(np.nanmedian(air_c)), float(air_c[~unknown][0])
    air_c = drawn_across(air_c, times_us, air.times_us, air.temperature_c, air.longest_s)
    humidity_pct = drawn_across(
        humidity_pct, times_us, air.times_us, air.humidity_pct, air.longest_s
    )
    vapour_pa = vapour_pressure_pa(air_c, humidity_pct)
    start_c = _start_c(subject, from_us, first_c)
    place = Space.BOX if in_box else Space.SHELF
    heat = estimated_transfer(cylinder, place, usual_c).transfer
    stay = Stay(_HERE, from_us, times_us, air_c, vapour_pa, heat, prior_coefficient().median)
    # Free convection is the weaker the nearer wheel and air are, and that hangs on their course.
    first = live_through(cylinder, subject.rind, [stay], start_c)
    apart_k = float(np.sqrt(np.mean((first.temperatures.surface_c - air_c)[~unknown] ** 2)))
    heat = estimated_transfer(cylinder, place, usual_c, max(apart_k, LEAST_APART_K)).transfer
    heat_w_m2_k = heat.mean_w_m2_k(cylinder)
    prior = prior_coefficient(heat_w_m2_k - radiation_w_m2_k(usual_c))
    stay = replace(stay, heat=heat, moisture_kg_m2_s_pa=prior.median)
    late_us = 0 if subject.started_us is None else max(0, from_us - subject.started_us)
    weighings = weighings_within(subject, from_us, int(times_us[-1]), int(air.longest_s * US_PER_S))
    if subject.start_g is not None:
        unseen_g = min(LOST_A_DAY * late_us / US_PER_DAY, MOST_UNSEEN) * subject.start_g
        sd_g = float(np.hypot(subject.start_sd_g, unseen_g))
        weighings.append(Weighing(from_us, subject.start_g, sd_g))
    if not weighings or int(times_us[-1]) - from_us < SHORTEST_US:
        climate = live_through(cylinder, subject.rind, [stay], start_c)
        return Life(climate, unknown, prior, heat_w_m2_k, None)
    lived = moisture(cylinder, subject.rind, [stay], start_c, weighings, prior)
    found = lived.fit.coefficients[_HERE]
    brisk = _brisker(heat, found.low, usual_c)
    if brisk != heat:
        heat_w_m2_k = brisk.mean_w_m2_k(cylinder)
        stay = replace(stay, heat=brisk)
        lived = moisture(cylinder, subject.rind, [stay], start_c, weighings, prior)
        found = lived.fit.coefficients[_HERE]
    return Life(lived.climate, unknown, found, heat_w_m2_k, lived.fit)


def _brisker(heat: Transfer, moisture_kg_m2_s_pa: float, usual_c: float) -> Transfer:
    """Heat coefficients with which the air could take up so much water.

    No surface gives off more than bare water does in the same stream of air (Lewis's relation),
    so a wheel that dries faster than that tells of a stream brisker than was taken.
    """
    radiation = radiation_w_m2_k(usual_c)
    least = moisture_kg_m2_s_pa / lewis_kg_m2_s_pa(1.0)
    parts = (heat.top_w_m2_k, heat.side_w_m2_k, heat.bottom_w_m2_k)
    return Transfer(*(max(part, radiation + least) for part in parts))


def warmed(air: Series, subject: Subject, from_us: int, *, in_box: bool) -> Temperatures | None:
    """The wheel's temperatures where the humidity is not known: it neither dries nor sweats.

    Args:
        air: The air about it, as best it can be told.
        subject: The wheel.
        from_us: Where its life begins. [µs UTC] Within the readings.
        in_box: It lies in a lidded box.

    Returns:
        Its temperatures, or None where the air's are never known.
    """
    times_us = _instants(air, from_us)
    air_c = at_instants(times_us, air.times_us, air.temperature_c, air.longest_s)
    known = ~np.isnan(air_c)
    if not known.any():
        return None
    place = Space.BOX if in_box else Space.SHELF
    heat = estimated_transfer(subject.cylinder, place, float(np.nanmedian(air_c))).transfer
    start_c = _start_c(subject, from_us, float(air_c[known][0]))
    air_c = drawn_across(air_c, times_us, air.times_us, air.temperature_c, air.longest_s)
    return respond(subject.cylinder, [Exposure(times_us, air_c, heat, from_us)], start_c)


def _start_c(subject: Subject, from_us: int, air_c: float) -> float:
    """What the wheel begins at: as told, unless that is forgotten by then. [°C]"""
    late_us = 0 if subject.started_us is None else max(0, from_us - subject.started_us)
    told = subject.start_c is not None and late_us < FORGOTTEN_US
    return subject.start_c if told and subject.start_c is not None else air_c


def lid_sweat(box: Series, cave: Series) -> tuple[list[WetSpell], FloatArray]:
    """When the lid between the box and the cave was wet; nothing where either air is a gap.

    Args:
        box: Air in the box.
        cave: Air of the cave.

    Returns:
        The spells, and the lid's temperature at the instants of the box.
    """
    times_us = _instants(box, int(box.times_us[0]))
    box_c = at_instants(times_us, box.times_us, box.temperature_c, box.longest_s)
    box_pct = at_instants(times_us, box.times_us, box.humidity_pct, box.longest_s)
    cave_c = at_instants(times_us, cave.times_us, cave.temperature_c, cave.longest_s)
    known = ~(np.isnan(box_c) | np.isnan(box_pct) | np.isnan(cave_c))
    if not known.any():
        return [], np.empty(0)
    straight = [
        np.interp(times_us, times_us[known], values[known]) for values in (box_c, box_pct, cave_c)
    ]
    lid = lid_run(times_us, straight[0], vapour_pressure_pa(straight[0], straight[1]), straight[2])
    film = np.where(known, lid.film_g_m2, np.nan)
    return wet_spells(times_us, film, LID_WET), lid.lid_c


def weighings_within(subject: Subject, from_us: int, last_us: int, near_us: int) -> list[Weighing]:
    """The weighings within the readings; those just before or after are moved to their ends."""
    return [
        replace(one, time_us=min(max(one.time_us, from_us), last_us))
        for one in subject.weighings
        if from_us - near_us <= one.time_us <= last_us + near_us
    ]


def _instants(air: Series, from_us: int) -> IntArray:
    """The readings' times from there on, whole ten minutes, and the edges of gaps."""
    last_us = int(air.times_us[-1])
    edges = [
        gap + np.array([US_PER_S, -US_PER_S])
        for values in (air.temperature_c, air.humidity_pct)
        for gap in gaps(air.times_us[~np.isnan(values)], air.longest_s)
    ]
    marks = np.arange(-(-from_us // EVERY_US) * EVERY_US, last_us + 1, EVERY_US)
    every = np.unique(np.concatenate([air.times_us, marks, [from_us], *edges]))
    return every[(every >= from_us) & (every <= last_us)].astype(np.int64)
