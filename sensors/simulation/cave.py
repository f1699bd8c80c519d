"""A fridge turned cave: air, walls, cold plate, thermostat, water tray, door.

Each step solves the air implicitly (it weighs little and answers within seconds) and books
every flow on both of its sides, so that heat and water balance to the last digits. The
vapour's own sensible heat is left out; water below 0 °C counts as liquid.
"""

from dataclasses import dataclass

from sensors.simulation.air import (
    AIR_HEAT_J_PER_M3_K,
    LATENT_HEAT_J_PER_KG,
    saturation_pressure_pa,
    vapour_capacity_kg_per_pa,
)
from sensors.simulation.box import Box
from sensors.simulation.wheels import Wheels

_S_PER_H = 3_600.0


@dataclass(frozen=True, slots=True)
class CaveConfig:
    """A fridge with its thermostat raised. Where no source is named the value is our choice.

    Attributes:
        air_m3: Volume of the air. [m³]
        insulation_w_per_k: Through walls and door. [W/K] 1.4 m² of 40 mm foam at 0.025 W/(m K).
        fan_w: A small fan that keeps the air mixed. [W]
        walls_j_per_k: Liner, shelves, boards. [J/K] About 6 kg at 1,200 J/(kg K).
        walls_w_per_k: From air to them. [W/K] 1.5 m² at 7 W/(m² K).
        buffer_kg: Water that boards and liner take up from dry to saturated, as far as a
            cooling cycle reaches. [kg]
        buffer_kg_per_s_pa: From air to boards. [kg/(s Pa)]
        plate_j_per_k: Heat capacity of the cold plate. [J/K]
        plate_w_per_k: From air to plate, convection and radiation. [W/K]
        plate_kg_per_s_pa: Water from air to plate. [kg/(s Pa)] Lewis's relation, 6.6e-9 for
            each W/(m² K) of the convection alone.
        plate_wet_kg: Film from which on the whole plate counts as wet. [kg]
        plate_drain_s: Time in which the plate's film runs off by a factor e. [s]
        cooling_w: Heat taken from the plate while the compressor runs. [W]
        set_c: Middle of the thermostat's band. [°C]
        half_band_k: Half its width. [K]
        probe_s: Lag of its probe. [s]
        leak_per_h: Air changes with the door closed. [1/h]
        open_per_h: Air changes with the door open. [1/h] Most of the air within 30 s.
        tray_m2: Wetted area of the tray with its cloth. [m²] 0 for none.
        tray_kg_per_m2_s_pa: Evaporation. [kg/(m² s Pa)] Lewis's relation at 5 W/(m² K).
        tray_w_per_k: Heat to the tray from air and shelf. [W/K]
        tray_j_per_k: Heat capacity of tray and water, held constant. [J/K]
        tray_shrink_kg: Water below which the wetted area shrinks in proportion. [kg]
        tray_full_kg: Water in the full tray. [kg]
    """

    air_m3: float = 0.140
    insulation_w_per_k: float = 0.85
    fan_w: float = 5.0
    walls_j_per_k: float = 7_000.0
    walls_w_per_k: float = 10.5
    buffer_kg: float = 0.010
    buffer_kg_per_s_pa: float = 2.0e-8
    plate_j_per_k: float = 2_500.0
    plate_w_per_k: float = 3.1
    plate_kg_per_s_pa: float = 1.15e-8
    plate_wet_kg: float = 0.2e-3
    plate_drain_s: float = 600.0
    cooling_w: float = 36.0
    set_c: float = 10.0
    half_band_k: float = 0.36
    probe_s: float = 120.0
    leak_per_h: float = 0.3
    open_per_h: float = 240.0
    tray_m2: float = 0.22
    tray_kg_per_m2_s_pa: float = 3.3e-8
    tray_w_per_k: float = 2.5
    tray_j_per_k: float = 1_500.0
    tray_shrink_kg: float = 0.050
    tray_full_kg: float = 0.550


class Cave:
    """The state of a cave, and its account of heat and water.

    Attributes:
        air_c: Temperature of the air. [°C]
        vapour_kg: Water vapour in the air. [kg]
        walls_c: Temperature of walls, shelves and boards. [°C]
        buffer_kg: Water held by the boards. [kg]
        plate_c: Temperature of the cold plate. [°C]
        plate_film_kg: Water on it. [kg]
        probe_c: What the thermostat feels. [°C]
        cooling: Whether the compressor runs.
        tray_c: Temperature of the water. [°C]
        tray_kg: Water in the tray. [kg]
        tray_leak_kg_per_h: Water that the tray loses by a leak. [kg/h] No part of `STATE`, for
            it happens only live, after the history that a state is kept of.
        open_s: Time for which the door still stays open. [s]
        ajar_s: Time for which the door still stands ajar. [s]
        ajar_per_h: Air changes while it does. [1/h]
        heat_in_j: Heat taken in since the start, latent heat included. [J]
        water_in_kg: Water taken in since the start (air, tray, less drain and cloth). [kg]
        wheels: Groups of wheels on the open shelf.
        boxes: Ripening boxes inside.
    """

    STATE = (
        "air_c",
        "vapour_kg",
        "walls_c",
        "buffer_kg",
        "plate_c",
        "plate_film_kg",
        "probe_c",
        "cooling",
        "tray_c",
        "tray_kg",
        "open_s",
        "ajar_s",
        "ajar_per_h",
        "heat_in_j",
        "water_in_kg",
    )

    def __init__(self, config: CaveConfig, temperature_c: float, humidity_pct: float) -> None:
        self.config = config
        self.capacity_kg_per_pa = vapour_capacity_kg_per_pa(config.air_m3, 10.0)
        self.air_c = self.walls_c = self.plate_c = temperature_c
        self.probe_c = self.tray_c = temperature_c
        self.vapour_kg = (
            0.01 * humidity_pct * saturation_pressure_pa(temperature_c) * self.capacity_kg_per_pa
        )
        self.buffer_kg = 0.01 * humidity_pct * config.buffer_kg
        self.plate_film_kg = 0.0
        self.cooling = False
        self.tray_kg = config.tray_full_kg if config.tray_m2 else 0.0
        self.tray_leak_kg_per_h = 0.0
        self.open_s = 0.0
        self.ajar_s = 0.0
        self.ajar_per_h = 0.0
        self.heat_in_j = 0.0
        self.water_in_kg = 0.0
        self.wheels: list[Wheels] = []
        self.boxes: list[Box] = []
        self._air_j_per_k = AIR_HEAT_J_PER_M3_K * config.air_m3
        self._tray_kg_per_s_pa = config.tray_m2 * config.tray_kg_per_m2_s_pa

    def step(self, step_s: float, room_c: float, room_pa: float) -> None:
        """Live through a step in a room of that state; steps of about 10 s hold."""
        config = self.config
        if self.tray_leak_kg_per_h > 0.0:
            self._lose_water(self.tray_leak_kg_per_h * step_s / _S_PER_H)
        exchanged = self._air_changes_per_h(step_s) * step_s / _S_PER_H
        cave_pa = self.vapour_kg / self.capacity_kg_per_pa
        heat_j = step_s * config.fan_w
        given_kg = 0.0
        for box in self.boxes:
            box_j, box_kg = box.step(step_s, self.air_c, cave_pa)
            heat_j += box_j
            given_kg += box_kg
        air_c = self._share_heat(step_s, exchanged, room_c, heat_j)
        air_pa = self._share_water(step_s, exchanged, room_pa, given_kg)
        for wheels in self.wheels:
            self.vapour_kg += wheels.step(step_s, air_c, air_pa)
        self.probe_c += (air_c - self.probe_c) * step_s / (config.probe_s + step_s)
        if self.probe_c > config.set_c + config.half_band_k:
            self.cooling = True
        elif self.probe_c < config.set_c - config.half_band_k:
            self.cooling = False

    def _air_changes_per_h(self, step_s: float) -> float:
        """Air changes in this step; doors that were opened for a time fall shut by themselves."""
        rate = self.config.leak_per_h
        if self.ajar_s > 0.0:
            self.ajar_s = max(0.0, self.ajar_s - step_s)
            rate = self.ajar_per_h
        if self.open_s > 0.0:
            self.open_s = max(0.0, self.open_s - step_s)
            rate = self.config.open_per_h
        return rate

    def _share_heat(self, step_s: float, exchanged: float, room_c: float, heat_j: float) -> float:
        """Bring air, walls, plate and tray through the step; return the air's temperature."""
        config = self.config
        air = self._air_j_per_k
        walls, plate = step_s * config.walls_w_per_k, step_s * config.plate_w_per_k
        tray = step_s * config.tray_w_per_k
        room = exchanged * air
        total = air + walls + plate + tray + room
        heat = (
            air * self.air_c
            + walls * self.walls_c
            + plate * self.plate_c
            + tray * self.tray_c
            + room * room_c
            + heat_j
        )
        for wheels in self.wheels:
            total += step_s * wheels.to_air_w_per_k
            heat += step_s * wheels.to_air_w_per_k * wheels.surface_c
        self.air_c = air_c = heat / total
        through_j = step_s * config.insulation_w_per_k * (room_c - self.walls_c)
        removed_j = step_s * config.cooling_w if self.cooling else 0.0
        self.walls_c += (walls * (air_c - self.walls_c) + through_j) / config.walls_j_per_k
        self.plate_c += (plate * (air_c - self.plate_c) - removed_j) / config.plate_j_per_k
        self.tray_c += tray * (air_c - self.tray_c) / config.tray_j_per_k
        self.heat_in_j += through_j + room * (room_c - air_c) + step_s * config.fan_w - removed_j
        return air_c

    def _share_water(
        self, step_s: float, exchanged: float, room_pa: float, given_kg: float
    ) -> float:
        """Bring vapour, boards, plate and tray through the step; return the vapour pressure."""
        config, capacity = self.config, self.capacity_kg_per_pa
        plate_pa = saturation_pressure_pa(self.plate_c)
        board_pa = self.buffer_kg / config.buffer_kg * saturation_pressure_pa(self.walls_c)
        plate = step_s * config.plate_kg_per_s_pa
        if self.vapour_kg <= plate_pa * capacity and self.plate_film_kg < config.plate_wet_kg:
            plate *= self.plate_film_kg / config.plate_wet_kg
        boards = step_s * config.buffer_kg_per_s_pa
        room = exchanged * capacity
        total = capacity + plate + boards + room
        water = self.vapour_kg + plate * plate_pa + boards * board_pa + room * room_pa + given_kg
        tray = tray_pa = 0.0
        if self.tray_kg > 0.0:
            tray_pa = saturation_pressure_pa(self.tray_c)
            tray = step_s * self._tray_kg_per_s_pa
            if self.tray_kg < config.tray_shrink_kg:
                tray *= self.tray_kg / config.tray_shrink_kg
            total += tray
            water += tray * tray_pa
        air_pa = water / total
        tray_kg = min(self.tray_kg, tray * (tray_pa - air_pa))
        plate_kg = min(self.plate_film_kg, plate * (plate_pa - air_pa))
        boards_kg = min(self.buffer_kg, boards * (board_pa - air_pa))
        room_kg = room * (room_pa - air_pa)
        self.vapour_kg += tray_kg + plate_kg + boards_kg + room_kg + given_kg
        self.tray_kg -= tray_kg
        self.tray_c -= LATENT_HEAT_J_PER_KG * tray_kg / config.tray_j_per_k
        self.buffer_kg -= boards_kg
        self.walls_c -= LATENT_HEAT_J_PER_KG * boards_kg / config.walls_j_per_k
        self.plate_c -= LATENT_HEAT_J_PER_KG * plate_kg / config.plate_j_per_k
        self.plate_film_kg -= plate_kg
        drained_kg = self.plate_film_kg * step_s / config.plate_drain_s
        self.plate_film_kg -= drained_kg
        self.water_in_kg += room_kg - drained_kg
        self.heat_in_j += LATENT_HEAT_J_PER_KG * room_kg
        return air_pa

    def fill_tray(self) -> None:
        """Fill a tray that is whole to the brim, with water as warm as the tray."""
        self.tray_leak_kg_per_h = 0.0
        self.water_in_kg += self.config.tray_full_kg - self.tray_kg
        self.tray_kg = self.config.tray_full_kg

    def empty_tray(self) -> None:
        """Take the water out of the tray."""
        self._lose_water(self.tray_kg)

    def leak_tray(self, left_kg: float, loss_kg_per_h: float) -> None:
        """Let the tray leak: so much water is left at most, and it loses so much an hour."""
        self.tray_leak_kg_per_h = loss_kg_per_h
        self._lose_water(self.tray_kg - left_kg)

    def _lose_water(self, lost_kg: float) -> None:
        """Water runs out of the tray, as far as there is any."""
        lost_kg = min(max(lost_kg, 0.0), self.tray_kg)
        self.water_in_kg -= lost_kg
        self.tray_kg -= lost_kg

    @property
    def vapour_pa(self) -> float:
        """Vapour pressure of the air. [Pa]"""
        return self.vapour_kg / self.capacity_kg_per_pa

    @property
    def humidity_pct(self) -> float:
        """Relative humidity of the air. [%]"""
        return 100.0 * self.vapour_pa / saturation_pressure_pa(self.air_c)

    @property
    def stored_j(self) -> float:
        """Heat stored above 0 °C and liquid water, boxes and wheels included. [J]"""
        config = self.config
        return (
            self._air_j_per_k * self.air_c
            + config.walls_j_per_k * self.walls_c
            + config.plate_j_per_k * self.plate_c
            + config.tray_j_per_k * self.tray_c
            + LATENT_HEAT_J_PER_KG * self.vapour_kg
            + sum(wheels.stored_j for wheels in self.wheels)
            + sum(box.stored_j for box in self.boxes)
        )

    @property
    def stored_kg(self) -> float:
        """Water inside, less what wheels have given and boxes have dripped. [kg]"""
        wheels_kg = sum(wheels.film_kg - wheels.water_kg for wheels in self.wheels)
        boxes_kg = sum(box.stored_kg + box.dripped_kg for box in self.boxes)
        own_kg = self.vapour_kg + self.buffer_kg + self.plate_film_kg + self.tray_kg
        return own_kg + wheels_kg + boxes_kg
