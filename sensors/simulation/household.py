"""A household of caves, boxes and sensors that lives through time, and what happens in it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from sensors.simulation.box import Box
from sensors.simulation.cave import Cave
from sensors.simulation.room import Room
from sensors.simulation.sensor import Sensor
from sensors.simulation.wheels import Wheels

STEP_S = 10.0
"""Step of the model. [s] Our choice: the fastest part it must follow lags by 20 s."""

STEP_US = 10_000_000
READ_EVERY_US = 60_000_000
_STEPS_PER_READING = READ_EVERY_US // STEP_US


class Kind(StrEnum):
    """What can happen in a household; `amount` has the meaning and unit named here."""

    OPEN_DOOR = "open_door"  # amount: how long [s]
    DOOR_AJAR = "door_ajar"  # amount: how long [s]; rate: air changes an hour
    FILL_TRAY = "fill_tray"
    EMPTY_TRAY = "empty_tray"
    LEAK_TRAY = "leak_tray"  # amount: water left in it [kg]; rate: what it loses [kg/h]
    SET_LID = "set_lid"  # amount: exchange through the lid [m³/h]
    OPEN_BOX = "open_box"  # amount: how long [s]
    WIPE_BOX = "wipe_box"
    PUT_WHEELS = "put_wheels"  # space: where to, or "" for out of the household's caves
    WRAP_WHEELS = "wrap_wheels"  # amount: part of the moisture that the wrapping lets through
    SENSOR_SILENT = "sensor_silent"  # amount: how long [s]


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happens at an instant.

    Attributes:
        time_us: When. [µs UTC]
        kind: What.
        space: The cave or box it happens to, or where wheels are put.
        amount: How long or how much, by kind.
        rate: Air changes of a door ajar [1/h], or water that a tray loses [kg/h].
        thing: The wheels or the sensor it happens to.
    """

    time_us: int
    kind: Kind
    space: str = ""
    amount: float = 0.0
    rate: float = 0.0
    thing: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a sensor said at an instant. [µs UTC, °C, %RH]"""

    sensor: str
    time_us: int
    temperature_c: float
    humidity_pct: float


@dataclass(slots=True)
class Trace:
    """The truth behind the readings, one row of each series every minute.

    Attributes:
        time_us: The minutes. [µs UTC]
        series: By name: `{space}.air_c`, `{space}.humidity_pct`, `{cave}.cooling` (0 or 1),
            `{cave}.tray_kg`, `{box}.lid_c`, `{box}.lid_film_g_per_m2`, and for each group
            of wheels `{wheels}.surface_c`, `.mean_c`, `.film_g_per_m2`, `.wheel_g`.
        openings: Cave, start [µs UTC] and length [s] of each opening of its door.
    """

    time_us: list[int] = field(default_factory=list)
    series: dict[str, list[float]] = field(default_factory=dict)
    openings: list[tuple[str, int, float]] = field(default_factory=list)


@dataclass(slots=True)
class Household:
    """Everything that has a state, by name.

    Attributes:
        time_us: The instant reached. [µs UTC] A multiple of the step.
        rooms: The room around each cave, by the cave's name.
        caves: Caves by name; any refrigerator is one.
        boxes: Boxes by name; each also stands in its cave's list.
        wheels: Groups of wheels by name, wherever they are.
        sensors: Sensors by name.
        places: The space in which each sensor hangs.
        happenings: What will happen, in order of time.
        trace: Where to write the truth down, or None.
    """

    time_us: int
    rooms: dict[str, Room]
    caves: dict[str, Cave]
    boxes: dict[str, Box] = field(default_factory=dict)
    wheels: dict[str, Wheels] = field(default_factory=dict)
    sensors: dict[str, Sensor] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    happenings: list[Happening] = field(default_factory=list)
    trace: Trace | None = None

    @property
    def spaces(self) -> dict[str, Cave | Box]:
        """Caves and boxes by name."""
        return {**self.caves, **self.boxes}

    def readings_until(self, until_us: int) -> Iterable[Reading]:
        """Live on until an instant and give every reading on the way, minute by minute.

        A happening takes effect with the first step that starts at or after its time.
        """
        pairs = [(cave, self.rooms[name]) for name, cave in self.caves.items()]
        watched = [
            (name, sensor, self.spaces[self.places[name]]) for name, sensor in self.sensors.items()
        ]
        while self.time_us + READ_EVERY_US <= until_us:
            states = [(cave, *room.at(self.time_us)) for cave, room in pairs]
            for _ in range(_STEPS_PER_READING):
                while self.happenings and self.happenings[0].time_us <= self.time_us:
                    self.apply(self.happenings.pop(0))
                for cave, room_c, room_pa in states:
                    cave.step(STEP_S, room_c, room_pa)
                for _, sensor, space in watched:
                    sensor.step(STEP_S, space.air_c, space.humidity_pct)
                self.time_us += STEP_US
            if self.trace is not None:
                self._write_down(self.trace)
            for name, sensor, _ in watched:
                said = sensor.read(READ_EVERY_US / 1e6)
                if said is not None:
                    yield Reading(name, self.time_us, *said)

    def live_until(self, until_us: int) -> None:
        """Live on until an instant; the readings are not kept."""
        for _ in self.readings_until(until_us):
            pass

    def apply(self, event: Happening) -> None:
        """Let something happen now."""
        act: dict[Kind, Callable[[Happening], None]] = {
            Kind.OPEN_DOOR: self._open_door,
            Kind.DOOR_AJAR: self._leave_ajar,
            Kind.FILL_TRAY: lambda e: self.caves[e.space].fill_tray(),
            Kind.EMPTY_TRAY: lambda e: self.caves[e.space].empty_tray(),
            Kind.LEAK_TRAY: lambda e: self.caves[e.space].leak_tray(e.amount, e.rate),
            Kind.SET_LID: lambda e: setattr(self.boxes[e.space], "gap_m3_per_h", e.amount),
            Kind.OPEN_BOX: lambda e: setattr(self.boxes[e.space], "open_s", e.amount),
            Kind.WIPE_BOX: lambda e: self.boxes[e.space].wipe(),
            Kind.PUT_WHEELS: lambda e: self.put(e.thing, e.space),
            Kind.WRAP_WHEELS: lambda e: setattr(self.wheels[e.thing], "water_share", e.amount),
            Kind.SENSOR_SILENT: lambda e: setattr(self.sensors[e.thing], "silent_s", e.amount),
        }
        act[event.kind](event)

    def put(self, wheels_name: str, space_name: str) -> None:
        """Take wheels from where they are and put them into a space, or out with ""."""
        wheels = self.wheels[wheels_name]
        for space in self.spaces.values():
            if wheels in space.wheels:
                space.wheels.remove(wheels)
        if space_name:
            self.spaces[space_name].wheels.append(wheels)

    def _open_door(self, event: Happening) -> None:
        self.caves[event.space].open_s = event.amount
        if self.trace is not None:
            self.trace.openings.append((event.space, self.time_us, event.amount))

    def _leave_ajar(self, event: Happening) -> None:
        cave = self.caves[event.space]
        cave.ajar_s, cave.ajar_per_h = event.amount, event.rate

    def _write_down(self, trace: Trace) -> None:
        trace.time_us.append(self.time_us)
        row: dict[str, float] = {}
        for name, space in self.spaces.items():
            row[f"{name}.air_c"] = space.air_c
            row[f"{name}.humidity_pct"] = space.humidity_pct
        for name, cave in self.caves.items():
            row[f"{name}.cooling"] = float(cave.cooling)
            row[f"{name}.tray_kg"] = cave.tray_kg
        for name, box in self.boxes.items():
            row[f"{name}.lid_c"] = box.lid_c
            row[f"{name}.lid_film_g_per_m2"] = box.lid_film_g_per_m2
        for name, wheels in self.wheels.items():
            row[f"{name}.surface_c"] = wheels.surface_c
            row[f"{name}.mean_c"] = wheels.mean_c
            row[f"{name}.film_g_per_m2"] = wheels.film_g_per_m2
            row[f"{name}.wheel_g"] = wheels.wheel_g
        for name, value in row.items():
            trace.series.setdefault(name, []).append(value)


def _parts(household: Household) -> Sequence[tuple[str, Any]]:
    groups = ("caves", "boxes", "wheels", "sensors")
    return [
        (f"{group}.{name}", part)
        for group in groups
        for name, part in getattr(household, group).items()
    ]


def state_of(household: Household) -> dict[str, Any]:
    """Everything that is needed to go on from here, as plain JSON values."""
    wheels_in = {
        name: space
        for name, wheels in household.wheels.items()
        for space, place in household.spaces.items()
        if wheels in place.wheels
    }
    parts = {
        name: {key: getattr(part, key) for key in part.STATE} for name, part in _parts(household)
    }
    return {"time_us": household.time_us, "wheels_in": wheels_in, "parts": parts}


def restore(household: Household, state: dict[str, Any]) -> None:
    """Put a household of the same parts into a state; what lay before it will not happen.

    Raises:
        KeyError: The state is of another household.
    """
    household.time_us = state["time_us"]
    for name in household.wheels:
        household.put(name, state["wheels_in"].get(name, ""))
    for name, part in _parts(household):
        for key in part.STATE:
            setattr(part, key, state["parts"][name][key])
    household.happenings = [
        event for event in household.happenings if event.time_us >= household.time_us
    ]
