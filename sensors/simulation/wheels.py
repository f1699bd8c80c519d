"""Wheels as the air sees them: a surface that lags, gives off moisture, and can sweat.

A group of equal wheels is one object: the same air made them equal.
"""

import math
from dataclasses import dataclass

from sensors.simulation.air import LATENT_HEAT_J_PER_KG, saturation_pressure_pa


@dataclass(frozen=True, slots=True)
class WheelsConfig:
    """Equal wheels, and how they trade heat and water with the air.

    Attributes:
        count: Number of wheels.
        diameter_m: Diameter of one. [m]
        height_m: Height of one. [m]
        mass_kg: Mass of one at the start. [kg]
        water_activity: Of the rind. [1] Fox et al., Fundamentals of Cheese Science, from
            memory: blue 0.91 to 0.95, Camembert 0.97 to 0.98; young wheels lie higher (our choice).
        moisture_coefficient: Water given off for each square metre and pascal.
            [kg/(m² s Pa)] Picque et al. 2011 (doi 10.3168/jds.2010-3373), about 3e-9 for
            Camembert at 6 °C; Lewis's relation gives 1.3e-8 at 2 W/(m² K). Ours lies between.
        heat_coefficient: From air and walls to the surface, convection and radiation.
            [W/(m² K)] Churchill and Chu give 2 to 3, radiation 5.
        conductivity: Of the paste. [W/(m K)] Choi & Okos 1986 for blue and tomme: 0.38.
        heat_j_per_kg_k: Specific heat. [J/(kg K)] Choi & Okos 1986: 2,800 to 3,100.
        shell_share: Share of the mass that is surface. [1] Our choice.
        wet_film_kg_per_m2: Film from which on the whole surface counts as wet. Our choice.
        water_share: Part of the moisture that a wrapping lets through, 1 for bare. [1]
        respiration_w_per_m2: Heat of the living rind. [W/m²] Our choice; the balance of
            Hélias et al. 2007 (J. Dairy Sci. 90, 5324) has the term. The carbon that is
            lost with it is left out.
    """

    count: int
    diameter_m: float
    height_m: float
    mass_kg: float
    water_activity: float
    moisture_coefficient: float = 6.0e-9
    heat_coefficient: float = 7.0
    conductivity: float = 0.38
    heat_j_per_kg_k: float = 2_900.0
    shell_share: float = 0.15
    wet_film_kg_per_m2: float = 0.5e-3
    water_share: float = 1.0
    respiration_w_per_m2: float = 0.0

    @property
    def area_m2(self) -> float:
        """Surface of all wheels, both faces and the rim. [m²]"""
        radius = 0.5 * self.diameter_m
        return self.count * 2.0 * math.pi * radius * (radius + self.height_m)

    @property
    def volume_m3(self) -> float:
        """Volume of all wheels. [m³]"""
        return self.count * 0.25 * math.pi * self.diameter_m**2 * self.height_m


class Wheels:
    """The state of a group of equal wheels.

    Attributes:
        surface_c: Temperature of the surface. [°C]
        core_c: Temperature of the rest. [°C]
        water_kg: Water given off by all wheels since the start, wiped dry. [kg]
        film_kg: Liquid water on all their surfaces. [kg]
        respired_j: Heat of respiration since the start. [J]
        water_share: Part of the moisture that a wrapping lets through, 1 for bare. [1]
    """

    STATE = ("surface_c", "core_c", "water_kg", "film_kg", "respired_j", "water_share")

    def __init__(self, config: WheelsConfig, temperature_c: float) -> None:
        self.config = config
        self.surface_c = temperature_c
        self.core_c = temperature_c
        self.water_kg = 0.0
        self.film_kg = 0.0
        self.respired_j = 0.0
        self.area_m2 = config.area_m2
        heat = config.count * config.mass_kg * config.heat_j_per_kg_k
        self.shell_j_per_k = config.shell_share * heat
        self.core_j_per_k = heat - self.shell_j_per_k
        self.to_air_w_per_k = config.heat_coefficient * self.area_m2
        # Mean to surface of a slab of half thickness L is L/(3k); here L is volume over area.
        self._inside_w_per_k = 3.0 * config.conductivity * self.area_m2**2 / config.volume_m3
        self.water_share = config.water_share
        self._moisture_kg_per_s_pa = config.moisture_coefficient * self.area_m2
        self._respiration_w = config.respiration_w_per_m2 * self.area_m2
        self._wet_kg = config.wet_film_kg_per_m2 * self.area_m2

    def step(self, step_s: float, air_c: float, air_pa: float) -> float:
        """Live through a step in air of that state; return the water given to the air. [kg]"""
        surface_c = self.surface_c
        saturated_pa = saturation_pressure_pa(surface_c)
        flow = self._moisture_kg_per_s_pa * self.water_share * step_s
        film_kg = self.film_kg
        if air_pa > saturated_pa:
            given_kg = film_out_kg = flow * (saturated_pa - air_pa)
        else:
            wet = film_kg / self._wet_kg if film_kg < self._wet_kg else 1.0
            film_out_kg = min(film_kg, flow * wet * (saturated_pa - air_pa))
            rind_kg = flow * (1.0 - wet) * (self.config.water_activity * saturated_pa - air_pa)
            self.water_kg += rind_kg
            given_kg = film_out_kg + rind_kg
        self.film_kg = film_kg - film_out_kg
        inside_j = step_s * self._inside_w_per_k * (self.core_c - surface_c)
        self.core_c -= inside_j / self.core_j_per_k
        living_j = step_s * self._respiration_w
        self.respired_j += living_j
        air_j = step_s * self.to_air_w_per_k * (air_c - surface_c)
        gain_j = air_j + inside_j + living_j - LATENT_HEAT_J_PER_KG * given_kg
        self.surface_c = surface_c + gain_j / self.shell_j_per_k
        return given_kg

    @property
    def mean_c(self) -> float:
        """Mean temperature. [°C]"""
        share = self.config.shell_share
        return share * self.surface_c + (1.0 - share) * self.core_c

    @property
    def film_g_per_m2(self) -> float:
        """Liquid water on the surface. [g/m²]"""
        return 1_000.0 * self.film_kg / self.area_m2

    @property
    def wheel_g(self) -> float:
        """Mass of one wheel, wiped dry. [g]"""
        return 1_000.0 * (self.config.mass_kg - self.water_kg / self.config.count)

    @property
    def stored_j(self) -> float:
        """Heat stored above 0 °C. [J]"""
        return self.shell_j_per_k * self.surface_c + self.core_j_per_k * self.core_c
