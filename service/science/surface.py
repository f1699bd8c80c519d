"""The surface balance of a wheel: what evaporates, what settles as sweat, how cold that makes it.

The flux of water through a square metre is k (a p_sat(surface) - p_vapour), with a = 1 where
a film of water lies and a = the rind's water activity elsewhere.

- Vapour pressure above saturation at the surface: water condenses, and the film grows.
- A film lies, and the air is below saturation: the film evaporates as water does until it is
  gone. Meanwhile the rind neither gains nor loses.
- No film, vapour pressure between a p_sat and p_sat: the rind takes water up as salt does in
  damp air, without a film. That counts as negative loss of weight.
- No film, drier air: the rind dries.

Latent heat and linearised radiation enter as an effective air in which the wheel conducts heat
(`conduction`). Most of the flux is straight in the surface temperature and goes into the heat
coefficient; what bends or switches is found by repeating, from the driest guess on, until the
surface stands still. Faces and side sweat apart; latent heat is shared by the whole surface.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.errors import OutOfRangeError
from service.science.air import FloatArray, saturation_pressure_pa, saturation_temperature_c
from service.science.conduction import Exposure, Temperatures, respond
from service.science.film import (
    WHEEL_HOLDS_G_M2,
    WHEEL_WET,
    WetSpell,
    film_g_m2,
    wet_spells,
)
from service.science.signals import US_PER_S, BoolArray, IntArray
from service.science.solid import Cylinder, Transfer
from service.science.transfer import latent_heat_j_kg, linear_saturation

STANDS_STILL_K = 2e-3
"""The surface is found when no instant of it moves more. [K] Our choice: a tenth of what
sensors resolve."""
_ROUNDS = 25
_G_PER_KG = 1_000.0


@dataclass(frozen=True, slots=True, eq=False)
class Stay:
    """A wheel's time in one space.

    Attributes:
        space: Name of the space.
        from_us: When the wheel came. [µs UTC]
        times_us: Times of the air, not falling. [µs UTC]
        air_c: Air of the space; NaN where not known. [°C]
        vapour_pa: Vapour pressure of that air; NaN where not known. [Pa]
        heat: Coefficients of heat, radiation included.
        moisture_kg_m2_s_pa: Coefficient of moisture. [kg/(m² s Pa)]
    """

    space: str
    from_us: int
    times_us: IntArray
    air_c: FloatArray
    vapour_pa: FloatArray
    heat: Transfer
    moisture_kg_m2_s_pa: float


@dataclass(frozen=True, slots=True, eq=False)
class Rind:
    """A wheel's surface as the air meets it.

    Attributes:
        water_activity: Of the rind, taken as constant. [1] Above 0, up to 1.
        holds_g_m2: Film that stays; more runs off. [g/m²]
    """

    water_activity: float
    holds_g_m2: float = WHEEL_HOLDS_G_M2


@dataclass(frozen=True, slots=True, eq=False)
class Wheelclimate:
    """What the surface of a wheel lived through, an estimate; one value an instant.

    Attributes:
        times_us: Instants. [µs UTC]
        temperatures: Temperatures of surface, mean and core.
        margin_k: The colder of faces and side less the dew point: below zero it sweats. [K]
        face_film_g_m2: Film on the faces. [g/m²]
        side_film_g_m2: Film on the side. [g/m²]
        flux_g_m2_h: Vapour that leaves, averaged over the surface; below zero it settles. In
            the step that ends at the instant, 0 at the first. [g/(m² h)]
        lost_g: Water that the wheel itself has lost since the first instant, wiped dry. [g]
        vapour_g: Vapour that the air has gained from it since then. [g]
        ran_off_g: Water that has run off its surface since then. [g]
        rounds: How often the balance was repeated.
    """

    times_us: IntArray
    temperatures: Temperatures
    margin_k: FloatArray
    face_film_g_m2: FloatArray
    side_film_g_m2: FloatArray
    flux_g_m2_h: FloatArray
    lost_g: FloatArray
    vapour_g: FloatArray
    ran_off_g: FloatArray
    rounds: int

    @property
    def film_g_m2(self) -> FloatArray:
        """Film where it is thickest, faces or side. [g/m²]"""
        return np.maximum(self.face_film_g_m2, self.side_film_g_m2)

    def wet_spells(self) -> list[WetSpell]:
        """When a face or the side was wet."""
        return wet_spells(self.times_us, self.film_g_m2, WHEEL_WET)


def live_through(
    cylinder: Cylinder,
    rind: Rind,
    stays: Sequence[Stay],
    start_c: float,
    still_k: float = STANDS_STILL_K,
) -> Wheelclimate:
    """Surface temperature, sweat and loss of weight of a wheel through a history of air.

    Where the air is not known it is taken to run straight across, and `temperatures` marks it
    as estimated. The film is as good as the dew point: at 10 °C a humidity 1 % too high is a
    surface 0.15 K too cold.

    Args:
        cylinder: The wheel.
        rind: Its surface.
        stays: Where it was, in order of time.
        start_c: Its temperature at the start, throughout. [°C]
        still_k: The balance is repeated until no instant moves more. [K]

    Returns:
        What the wheel lived through at the instants of the stays. It starts without a film.

    Raises:
        OutOfRangeError: There is no stay, one has no known air, or the water activity is no
            number from 0 to 1.

    References:
        Hélias, Mirade and Corrieu, J. Dairy Sci. 90 (2007) 5324-5333 (from memory): the
        balance of convection, radiation and evaporation at constant water activity.
    """
    if not 0 < rind.water_activity <= 1:
        raise OutOfRangeError(
            f"water activity {rind.water_activity:g} is not above 0 and up to 1; blue is near 0.95"
        )
    if not stays:
        raise OutOfRangeError("no stay of the wheel; give at least one")
    air = _Air.of(cylinder, rind, stays)
    surface_c = faces_c = sides_c = air.first_guess_c(start_c)
    rounds, moved = 0, np.inf
    while moved > still_k and rounds < _ROUNDS:
        rounds += 1
        face, side = air.part(faces_c, rind), air.part(sides_c, rind)
        flux = side.flux + cylinder.face_share * (face.flux - side.flux)
        effective_c = air.effective_c(surface_c, flux)
        temperatures = respond(cylinder, air.exposures(stays, effective_c), start_c)
        moved = float(np.abs(temperatures.surface_c - surface_c).max())
        surface_c = temperatures.surface_c
        faces_c, sides_c = temperatures.face_c, temperatures.side_c
    face, side = air.part(faces_c, rind), air.part(sides_c, rind)
    share, area = cylinder.face_share, cylinder.area_m2
    rind_g = area * (side.rind_g_m2 + share * (face.rind_g_m2 - side.rind_g_m2))
    settled = area * (side.settled_g_m2 + share * (face.settled_g_m2 - side.settled_g_m2))
    kept = area * (side.film_g_m2 + share * (face.film_g_m2 - side.film_g_m2))
    vapour_g = rind_g - settled
    steps_h = air.steps_s / 3_600
    flux_g_m2_h = np.divide(vapour_g, area * steps_h, out=np.zeros_like(steps_h), where=steps_h > 0)
    coldest_c = np.minimum(faces_c, sides_c)
    return Wheelclimate(
        air.times_us,
        temperatures,
        coldest_c - saturation_temperature_c(air.vapour_pa),
        face.film_g_m2,
        side.film_g_m2,
        np.concatenate(([0.0], flux_g_m2_h)),
        _from_zero(rind_g),
        _from_zero(vapour_g),
        np.maximum(0.0, _from_zero(settled) - kept),
        rounds,
    )


def with_moisture(stays: Sequence[Stay], coefficients: dict[str, float]) -> list[Stay]:
    """The same stays with the moisture coefficient that each space was found to have."""
    return [replace(stay, moisture_kg_m2_s_pa=coefficients[stay.space]) for stay in stays]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Faces or side. By instant: flux [kg/(m² s)], film. By step: from rind, settled. [g/m²]"""

    flux: FloatArray
    film_g_m2: FloatArray
    rind_g_m2: FloatArray
    settled_g_m2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Air:
    """The air of all stays laid end to end, and what the balance needs of it."""

    times_us: IntArray
    steps_s: FloatArray
    air_c: FloatArray
    vapour_pa: FloatArray
    known: BoolArray
    heat: FloatArray
    moisture: FloatArray
    bound: FloatArray  # Latent heat as a coefficient at the reference temperature. [W/(m² K)]

    @staticmethod
    def of(cylinder: Cylinder, rind: Rind, stays: Sequence[Stay]) -> "_Air":
        """Lay the stays end to end, with gaps in the air run straight across."""
        air, vapour, known, heat, moisture, bound = [], [], [], [], [], []
        for stay in stays:
            seen = np.isfinite(stay.air_c) & np.isfinite(stay.vapour_pa)
            if not seen.any():
                raise OutOfRangeError(
                    f"no air is known of the stay in {stay.space!r}; leave that stay out"
                )
            when = stay.times_us[seen]
            air.append(np.interp(stay.times_us, when, stay.air_c[seen]))
            vapour.append(np.interp(stay.times_us, when, stay.vapour_pa[seen]))
            known.append(seen)
            size = stay.times_us.size
            heat.append(np.full(size, stay.heat.mean_w_m2_k(cylinder)))
            moisture.append(np.full(size, stay.moisture_kg_m2_s_pa))
            usual_c = np.array([np.median(air[-1])])
            slope, _ = linear_saturation(usual_c, saturation_pressure_pa(usual_c))
            each = stay.moisture_kg_m2_s_pa * rind.water_activity * float(slope[0])
            bound.append(np.full(size, each * latent_heat_j_kg(float(usual_c[0]))))
        times_us = np.concatenate([stay.times_us for stay in stays])
        return _Air(
            times_us,
            np.diff(times_us) / US_PER_S,
            np.concatenate(air),
            np.concatenate(vapour),
            np.concatenate(known),
            np.concatenate(heat),
            np.concatenate(moisture),
            np.concatenate(bound),
        )

    def first_guess_c(self, start_c: float) -> FloatArray:
        """The surface before anything is known of it: the warmest it can be. [°C] So the driest."""
        return np.maximum(self.air_c, start_c)

    def effective_c(self, surface_c: FloatArray, flux: FloatArray) -> FloatArray:
        """Air in which the wheel, bound to it by heat and moisture, takes up its heat. [°C]"""
        latent_w = latent_heat_j_kg(surface_c) * flux
        held = self.heat * self.air_c + self.bound * surface_c - latent_w
        return np.where(self.known, held / (self.heat + self.bound), np.nan)

    def exposures(self, stays: Sequence[Stay], effective_c: FloatArray) -> list[Exposure]:
        """The stays as conduction sees them."""
        found, first = [], 0
        for stay in stays:
            last = first + stay.times_us.size
            bound = float(self.bound[first])
            heat = stay.heat
            both = Transfer(
                heat.top_w_m2_k + bound, heat.side_w_m2_k + bound, heat.bottom_w_m2_k + bound
            )
            found.append(Exposure(stay.times_us, effective_c[first:last], both, stay.from_us))
            first = last
        return found

    def part(self, surface_c: FloatArray, rind: Rind) -> _Part:
        """Film and flux of a part of the surface whose temperature is known."""
        saturated = saturation_pressure_pa(surface_c)
        short = saturated - self.vapour_pa
        rind_short = rind.water_activity * saturated - self.vapour_pa
        # In the step into a new stay the coefficient is already the new one.
        offer = -0.5 * _G_PER_KG * self.moisture[1:] * self.steps_s
        offered = offer * (short[1:] + short[:-1])
        film = film_g_m2(offered, holds_g_m2=rind.holds_g_m2)
        settled = np.maximum(offered, -film[:-1])
        dry_share = np.divide(
            offered - settled, offered, out=np.zeros_like(offered), where=offered < 0
        )
        rind_g = -dry_share * offer * (rind_short[1:] + rind_short[:-1])
        wet = (film > 0) | (short < 0)
        flux = self.moisture * np.where(wet, short, rind_short)
        return _Part(flux, film, rind_g, settled)


def _from_zero(steps: FloatArray) -> FloatArray:
    """The running sum of steps, from zero on."""
    return np.concatenate(([0.0], np.cumsum(steps)))
