"""Larch Lane: the invented household of the demo, its fifty-seven days and their events.

Nothing here was measured. What happens is written down once, in local time; the simulator
lives it, and `papers` writes the same facts into the demo's household file.
"""

from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from sensors.simulation.box import Box, BoxConfig
from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.household import READ_EVERY_US, Happening, Household, Kind, Trace
from sensors.simulation.room import US_PER_DAY, Room, RoomConfig
from sensors.simulation.sensor import Sensor, SensorConfig
from sensors.simulation.wheels import Wheels, WheelsConfig

SITE = "larch-lane"
TIME_ZONE = "Europe/London"
SEED = "larch-lane-1"

FIRST_DAY = date(2026, 8, 3)
DAYS = 57
START_US = 1_785_715_200_000_000
"""2026-08-03T00:00:00Z."""
END_US = START_US + DAYS * US_PER_DAY
LAST_DAY_US = END_US - US_PER_DAY
"""The start of the last day; its state is kept, so that a live run can go on from there."""

LAST_READING_US = END_US - READ_EVERY_US

_SPIN_UP_US = 2 * US_PER_DAY
_FORESEEN_DAYS = 90
"""Days after the end for which the kitchen's openings are drawn: a day of demo at 60 times."""

CAVE, BLUE_BOX, WHITE_BOX, KITCHEN_FRIDGE = "cave", "blue-box", "white-box", "kitchen-fridge"
KITCHEN = "kitchen"
TOMME, BLUE, OLD_BLUE, WHITE = "tomme-may", "blue-august", "blue-june", "white-september"
FOOD = "food"

LID_CLOSED_M3_PER_H = 0.008
LID_CRACKED_M3_PER_H = 0.42
LID_LOOSE_M3_PER_H = 0.03
AJAR_S = 8.4 * 3_600.0
AJAR_PER_H = 200.0
SILENT_S = 6.0 * 3_600.0

OLD_BLUE_WRAPPED = "2026-08-11 19:20"
BLUE_IN = "2026-08-13 18:40"
LID_CRACKED = "2026-08-27 19:30"
DOOR_AJAR = "2026-09-11 22:10"
SILENT = "2026-09-15 10:20"
WHITE_IN = "2026-09-19 18:30"
TRAY_LOW = "2026-09-01 09:50"
"""The water no longer covers the whole tray; found by running the model."""
TRAY_FILLED_AGAIN = "2026-09-04 18:45"
REFILLS = (
    "2026-08-02 09:40",
    "2026-08-09 09:35",
    "2026-08-16 09:50",
    "2026-08-23 09:30",
    # The refill of 30 August was forgotten.
    TRAY_FILLED_AGAIN,
    "2026-09-06 09:40",
    "2026-09-13 09:40",
    "2026-09-20 09:35",
    "2026-09-27 09:40",
)
LAST_CARE_DAY = date(2026, 9, 26)

THURSDAY = 3
_BLUE_CARE_ON = frozenset({1, THURSDAY, 5})
"""Tuesday, Thursday and Saturday, counted as `date.weekday` does."""


def shift_us(now_us: int) -> int:
    """By how much the history is moved so that its last reading is the first not before now. [µs]

    Whole days, so that the hours of the day stay what they were.

    Examples:
        >>> shift_us(LAST_DAY_US + 5)
        0
    """
    return -((LAST_READING_US - now_us) // US_PER_DAY) * US_PER_DAY


def local_us(text: str) -> int:
    """The instant of a local date and time at Larch Lane. [µs UTC]

    Examples:
        >>> local_us("2026-08-03 01:00") == START_US
        True
    """
    moment = datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(TIME_ZONE))
    return int(moment.timestamp()) * 1_000_000


def larch_lane(trace: Trace | None = None) -> Household:
    """The household two days before its history begins, with all that will happen in it."""
    garage = Room(
        RoomConfig(
            START_US, END_US, 16.6, 15.4, 1.2, 0.8, 62.0, 4.0, warmest_hour_utc=15.0, seed=SEED
        )
    )
    kitchen = Room(
        RoomConfig(START_US, END_US, 21.0, 19.8, 1.0, 0.6, 52.0, 5.0, 17.0, f"{SEED}:kitchen")
    )
    household = Household(
        time_us=START_US - _SPIN_UP_US,
        rooms={CAVE: garage, KITCHEN_FRIDGE: kitchen},
        caves={
            CAVE: Cave(CaveConfig(), 10.0, 89.0),
            KITCHEN_FRIDGE: Cave(KITCHEN_FRIDGE_CONFIG, 4.0, 70.0),
        },
        trace=trace,
    )
    for name in (BLUE_BOX, WHITE_BOX):
        household.boxes[name] = Box(BoxConfig(), 10.0, 92.0)
        household.caves[CAVE].boxes.append(household.boxes[name])
    household.boxes[BLUE_BOX].gap_m3_per_h = LID_LOOSE_M3_PER_H
    household.boxes[WHITE_BOX].gap_m3_per_h = LID_CRACKED_M3_PER_H
    household.wheels = {name: Wheels(config, 10.0) for name, config in WHEELS.items()}
    for name in (BLUE, WHITE):
        household.wheels[name] = Wheels(WHEELS[name], 12.0)
    household.put(TOMME, CAVE)
    household.put(OLD_BLUE, BLUE_BOX)
    household.put(FOOD, KITCHEN_FRIDGE)
    for name, config in SENSORS.items():
        household.places[name] = name
        household.sensors[name] = Sensor(config, household.spaces[name].air_c, 90.0)
    household.happenings = happenings()
    return household


KITCHEN_FRIDGE_CONFIG = CaveConfig(
    air_m3=0.150,
    insulation_w_per_k=0.9,
    fan_w=1.0,
    walls_j_per_k=8_000.0,
    walls_w_per_k=10.0,
    buffer_kg=0.004,
    buffer_kg_per_s_pa=0.6e-8,
    plate_j_per_k=2_500.0,
    plate_w_per_k=3.2,
    plate_kg_per_s_pa=1.2e-8,
    plate_drain_s=900.0,
    cooling_w=60.0,
    set_c=3.8,
    half_band_k=0.5,
    leak_per_h=0.4,
    open_per_h=180.0,
    tray_m2=0.0,
    tray_full_kg=0.0,
)

WHEELS = {
    TOMME: WheelsConfig(1, 0.190, 0.075, 1.950, 0.945, 5.0e-9, respiration_w_per_m2=0.3),
    BLUE: WheelsConfig(3, 0.090, 0.070, 0.430, 0.975, 9.0e-9, respiration_w_per_m2=1.6),
    OLD_BLUE: WheelsConfig(1, 0.090, 0.070, 0.405, 0.965),
    WHITE: WheelsConfig(
        4,
        0.080,
        0.032,
        0.175,
        0.975,
        conductivity=0.416,
        heat_j_per_kg_k=3_100.0,
        respiration_w_per_m2=0.5,
    ),
    # What else lies in a kitchen fridge: two kilograms of vegetables and bottles.
    FOOD: WheelsConfig(2, 0.120, 0.150, 1.700, 0.985, heat_j_per_kg_k=3_800.0, water_share=0.35),
}
"""Sizes and masses are our choice; the sources of the rest are with `WheelsConfig`."""

SENSORS = {
    CAVE: SensorConfig(temperature_offset_k=0.05, humidity_offset_pct=-0.4, seed=f"{SEED}:{CAVE}"),
    BLUE_BOX: SensorConfig(
        temperature_offset_k=-0.08, humidity_offset_pct=-1.8, seed=f"{SEED}:{BLUE_BOX}"
    ),
    KITCHEN_FRIDGE: SensorConfig(
        temperature_offset_k=0.1, humidity_offset_pct=1.1, seed=f"{SEED}:{KITCHEN_FRIDGE}"
    ),
}


def happenings() -> list[Happening]:
    """All that happens, in order of time."""
    events = [*_story(), *_care()]
    for day in range(-2, DAYS + _FORESEEN_DAYS):
        events += _kitchen_openings(FIRST_DAY + timedelta(days=day))
    return sorted(events, key=lambda event: event.time_us)


def care_days() -> list[tuple[date, str]]:
    """The days on which the cave is opened in the evening, and what for."""
    days = [FIRST_DAY + timedelta(days=day) for day in range(-1, DAYS)]
    white_in = datetime.fromisoformat(WHITE_IN).date()
    found: list[tuple[date, str]] = []
    for day in days:
        if day > LAST_CARE_DAY:
            break
        if day > white_in:
            found.append((day, "white"))
        if day.weekday() in _BLUE_CARE_ON:
            found.append((day, "blue"))
    return found


def care_us(day: date) -> int:
    """When the evening's care is done, a little later or earlier each day. [µs UTC]"""
    draw = Random(f"{SEED}:care:{day}")  # noqa: S311 - the hour of a chore is no secret
    return local_us(f"{day} 19:{int(draw.random() * 40.0):02d}")


def _story() -> list[Happening]:
    """The events that the history was made for."""
    cracked, silent = local_us(LID_CRACKED), local_us(SILENT)
    events = [Happening(local_us(when), Kind.FILL_TRAY, CAVE) for when in REFILLS]
    events += [Happening(local_us(when), Kind.OPEN_DOOR, CAVE, 50.0) for when in REFILLS]
    events += [
        *_visit(local_us(OLD_BLUE_WRAPPED), 60.0, BLUE_BOX),
        Happening(local_us(OLD_BLUE_WRAPPED), Kind.PUT_WHEELS, KITCHEN_FRIDGE, thing=OLD_BLUE),
        Happening(local_us(OLD_BLUE_WRAPPED), Kind.WRAP_WHEELS, thing=OLD_BLUE, amount=0.05),
        *_visit(local_us(BLUE_IN), 80.0, BLUE_BOX),
        Happening(local_us(BLUE_IN), Kind.SET_LID, BLUE_BOX, LID_CLOSED_M3_PER_H),
        Happening(local_us(BLUE_IN), Kind.PUT_WHEELS, BLUE_BOX, thing=BLUE),
        *_visit(cracked, 70.0, BLUE_BOX),
        Happening(cracked, Kind.WIPE_BOX, BLUE_BOX),
        Happening(cracked, Kind.SET_LID, BLUE_BOX, LID_CRACKED_M3_PER_H),
        Happening(local_us(DOOR_AJAR), Kind.DOOR_AJAR, CAVE, AJAR_S, AJAR_PER_H),
        Happening(silent, Kind.SENSOR_SILENT, thing=CAVE, amount=SILENT_S),
        *_visit(local_us(WHITE_IN), 80.0, WHITE_BOX),
        Happening(local_us(WHITE_IN), Kind.PUT_WHEELS, WHITE_BOX, thing=WHITE),
    ]
    return events


def _care() -> list[Happening]:
    boxes = {"blue": BLUE_BOX, "white": WHITE_BOX}
    events: list[Happening] = []
    for day, what in care_days():
        events += _visit(care_us(day), 40.0, boxes[what])
        events.append(Happening(care_us(day), Kind.WIPE_BOX, boxes[what]))
    return events


def _visit(time_us: int, open_s: float, box: str) -> list[Happening]:
    """The cave is opened, and the lid of a box lifted for twice as long."""
    return [
        Happening(time_us, Kind.OPEN_DOOR, CAVE, open_s),
        Happening(time_us, Kind.OPEN_BOX, box, 2.0 * open_s),
    ]


def _kitchen_openings(day: date) -> list[Happening]:
    """Eight to sixteen openings of a kitchen fridge between 7:00 and 22:00."""
    draw = Random(f"{SEED}:kitchen:{day}")  # noqa: S311 - who is hungry when is no secret
    morning_us = local_us(f"{day} 07:00")
    return [
        Happening(
            morning_us + int(draw.random() * 54_000.0) * 1_000_000,
            Kind.OPEN_DOOR,
            KITCHEN_FRIDGE,
            10.0 + 20.0 * draw.random(),
        )
        for _ in range(8 + int(draw.random() * 9.0))
    ]
