"""A lidded ripening box inside a cave: little air, wheels in it, a lid that can sweat."""

from dataclasses import dataclass

from sensors.simulation.air import (
    AIR_HEAT_J_PER_M3_K,
    LATENT_HEAT_J_PER_KG,
    saturation_pressure_pa,
    vapour_capacity_kg_per_pa,
)
from sensors.simulation.wheels import Wheels

_S_PER_H = 3_600.0


@dataclass(frozen=True, slots=True)
class BoxConfig:
    """A polypropylene food box; sizes are our choice, heat flows follow from them.

    Attributes:
        air_m3: Air beside the wheels. [m³]
        lid_m2: Area of the lid. [m²]
        lid_outside: Heat coefficient from cave air to lid, fan above it. [W/(m² K)]
        lid_inside: Heat coefficient from box air to lid. [W/(m² K)]
        lid_moisture: Water from box air to a wet lid. [kg/(m² s Pa)] Lewis's relation,
            6.6e-9 for each W/(m² K), at 3 W/(m² K).
        lid_j_per_k: Heat capacity of the lid: 47 g at 1,700 J/(kg K). [J/K]
        walls_w_per_k: From cave air through sides and base to box air. [W/K]
        closed_m3_per_h: Exchange with the cave through the closed lid. [m³/h]
        open_m3_per_h: Exchange with the lid off. [m³/h]
        wet_film_kg_per_m2: Film from which on the whole lid counts as wet. [kg/m²]
        dripping_kg_per_m2: Film that the lid holds; more drips and is gone. [kg/m²]
    """

    air_m3: float = 0.0055
    lid_m2: float = 0.045
    lid_outside: float = 18.0
    lid_inside: float = 3.0
    lid_moisture: float = 2.0e-8
    lid_j_per_k: float = 80.0
    walls_w_per_k: float = 0.4
    closed_m3_per_h: float = 0.004
    open_m3_per_h: float = 1.2
    wet_film_kg_per_m2: float = 0.5e-3
    dripping_kg_per_m2: float = 40.0e-3


class Box:
    """The state of a box.

    Attributes:
        air_c: Temperature of its air. [°C]
        vapour_kg: Water vapour in its air. [kg]
        lid_c: Temperature of its lid. [°C]
        lid_film_kg: Liquid water under its lid. [kg]
        gap_m3_per_h: Exchange through the lid as it is set now. [m³/h]
        open_s: Time for which the lid still stays off. [s]
        dripped_kg: Water that dripped or was wiped away since the start. [kg]
        wheels: The groups of wheels in it.
    """

    STATE = (
        "air_c",
        "vapour_kg",
        "lid_c",
        "lid_film_kg",
        "gap_m3_per_h",
        "open_s",
        "dripped_kg",
    )

    def __init__(self, config: BoxConfig, temperature_c: float, humidity_pct: float) -> None:
        self.config = config
        self.air_c = temperature_c
        self.capacity_kg_per_pa = vapour_capacity_kg_per_pa(config.air_m3, 10.0)
        self.vapour_kg = (
            0.01 * humidity_pct * saturation_pressure_pa(temperature_c) * self.capacity_kg_per_pa
        )
        self.lid_c = temperature_c
        self.lid_film_kg = 0.0
        self.gap_m3_per_h = config.closed_m3_per_h
        self.open_s = 0.0
        self.dripped_kg = 0.0
        self.wheels: list[Wheels] = []
        self._air_j_per_k = AIR_HEAT_J_PER_M3_K * config.air_m3
        self._lid_inside_w_per_k = config.lid_inside * config.lid_m2
        self._lid_outside_w_per_k = config.lid_outside * config.lid_m2
        self._lid_kg_per_s_pa = config.lid_moisture * config.lid_m2
        self._wet_kg = config.wet_film_kg_per_m2 * config.lid_m2
        self._dripping_kg = config.dripping_kg_per_m2 * config.lid_m2

    def step(self, step_s: float, cave_c: float, cave_pa: float) -> tuple[float, float]:
        """Live through a step; return heat and water given to the cave. [J, kg]

        The air's temperature is solved implicitly, for its heat capacity is tiny; each flow
        is then booked on both sides, so that the balances close.
        """
        config = self.config
        exchange_m3_per_h = self.gap_m3_per_h
        if self.open_s > 0.0:
            exchange_m3_per_h = config.open_m3_per_h
            self.open_s = max(0.0, self.open_s - step_s)
        air_j_per_k, capacity = self._air_j_per_k, self.capacity_kg_per_pa
        exchanged = exchange_m3_per_h * step_s / (_S_PER_H * config.air_m3)
        outside_j_per_k = step_s * config.walls_w_per_k + exchanged * air_j_per_k
        lid_j_per_k = step_s * self._lid_inside_w_per_k
        total = air_j_per_k + outside_j_per_k + lid_j_per_k
        heat = air_j_per_k * self.air_c + outside_j_per_k * cave_c + lid_j_per_k * self.lid_c
        for wheels in self.wheels:
            total += step_s * wheels.to_air_w_per_k
            heat += step_s * wheels.to_air_w_per_k * wheels.surface_c
        self.air_c = air_c = heat / total

        # Vapour: lid and gap implicitly, the wheels then see what comes of it.
        lid_pa = saturation_pressure_pa(self.lid_c)
        lid_flow = step_s * self._lid_kg_per_s_pa
        if self.vapour_kg <= lid_pa * capacity and self.lid_film_kg < self._wet_kg:
            lid_flow *= self.lid_film_kg / self._wet_kg
        gap_flow = exchanged * capacity
        air_pa = (self.vapour_kg + lid_flow * lid_pa + gap_flow * cave_pa) / (
            capacity + lid_flow + gap_flow
        )
        from_lid_kg = min(self.lid_film_kg, lid_flow * (lid_pa - air_pa))
        to_cave_kg = gap_flow * (air_pa - cave_pa)
        given_kg = 0.0
        for wheels in self.wheels:
            given_kg += wheels.step(step_s, air_c, air_pa)
        self.vapour_kg += from_lid_kg - to_cave_kg + given_kg

        self.lid_film_kg -= from_lid_kg
        if self.lid_film_kg > self._dripping_kg:
            self.dripped_kg += self.lid_film_kg - self._dripping_kg
            self.lid_film_kg = self._dripping_kg
        lid_out_j = step_s * self._lid_outside_w_per_k * (self.lid_c - cave_c)
        to_cave_j = outside_j_per_k * (air_c - cave_c) + lid_out_j
        self.lid_c += (
            lid_j_per_k * (air_c - self.lid_c) - lid_out_j - LATENT_HEAT_J_PER_KG * from_lid_kg
        ) / config.lid_j_per_k
        return to_cave_j, to_cave_kg

    def wipe(self) -> None:
        """Wipe the lid and pat the wheels dry."""
        self.dripped_kg += self.lid_film_kg
        self.lid_film_kg = 0.0
        for wheels in self.wheels:
            self.dripped_kg += wheels.film_kg
            wheels.film_kg = 0.0

    @property
    def vapour_pa(self) -> float:
        """Vapour pressure of the air. [Pa]"""
        return self.vapour_kg / self.capacity_kg_per_pa

    @property
    def humidity_pct(self) -> float:
        """Relative humidity of the air. [%]"""
        return 100.0 * self.vapour_pa / saturation_pressure_pa(self.air_c)

    @property
    def lid_film_g_per_m2(self) -> float:
        """Liquid water under the lid. [g/m²]"""
        return 1_000.0 * self.lid_film_kg / self.config.lid_m2

    @property
    def stored_j(self) -> float:
        """Heat stored above 0 °C and liquid water, wheels included. [J]"""
        return (
            self._air_j_per_k * self.air_c
            + self.config.lid_j_per_k * self.lid_c
            + LATENT_HEAT_J_PER_KG * self.vapour_kg
            + sum(wheels.stored_j for wheels in self.wheels)
        )

    @property
    def stored_kg(self) -> float:
        """Water as vapour and film, less what the wheels have given. [kg]"""
        wheels_kg = sum(wheels.film_kg - wheels.water_kg for wheels in self.wheels)
        return self.vapour_kg + self.lid_film_kg + wheels_kg
