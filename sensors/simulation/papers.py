"""The household file of Larch Lane: who was where and when, and what was planted.

Plain JSON values from the same constants that the simulator lives by.
"""

from typing import Any

from sensors.moments import iso
from sensors.simulation import larch_lane as lane
from sensors.simulation.looks import care_by_hand, looks

INVENTED = (
    "Larch Lane is invented. Nothing here was measured: the readings come from Wheelward's"
    " own simulator."
)

_TURNED_TOMME_ON = frozenset({lane.THURSDAY})


def household_file(weighings: dict[str, list[tuple[int, float]]]) -> dict[str, Any]:
    """Everything about the household, ready for `json.dumps`.

    Args:
        weighings: For each group of wheels the times and the mass of one wheel. [µs UTC, g]
    """
    return {
        "invented": INVENTED,
        "site": {"slug": lane.SITE, "name": "Larch Lane", "time_zone": lane.TIME_ZONE},
        "from": iso(lane.START_US),
        "to": iso(lane.END_US),
        "reading_every_s": 60,
        "spaces": _spaces(),
        "sensors": _sensors(),
        "batches": [_batch(slug, weighings.get(slug, [])) for slug in _BATCHES],
        "care": _care(),
        "looks": looks(),
        "events": _events(),
    }


def tomme_file(weighings: dict[str, list[tuple[int, float]]]) -> dict[str, Any]:
    """The tomme alone, as `wheelward analyse` takes a wheel.

    Its composition is that of a semi-hard cheese, our choice.

    Args:
        weighings: For each group of wheels the times and the mass of one wheel. [µs UTC, g]
    """
    (tomme,) = _batch("tomme-may", weighings["tomme-may"])["wheels"]
    return {
        "plan": "tomme",
        "started": iso(lane.START_US),
        "diameter_mm": tomme["diameter_mm"],
        "height_mm": tomme["height_mm"],
        "mass_g": tomme["mass_g"],
        "composition": {
            "water": 0.45,
            "fat": 0.27,
            "protein": 0.23,
            "ash": 0.04,
            "carbohydrate": 0.01,
        },
        "water_activity": 0.96,
        "initial_temperature_c": 10,
        "weighings": tomme["weighings"],
        "ripening": {"reference_temperature_c": 11, "activation_energy_kj_per_mol": 46.2},
        "stages": [
            {
                "name": "ripening",
                "from": iso(lane.START_US),
                "temperature_c": [8, 13],
                "humidity_pct": [85, 92],
            }
        ],
    }


def _at(local: str) -> str:
    return iso(lane.local_us(local))


def _spaces() -> list[dict[str, Any]]:
    rows = (
        (lane.KITCHEN, "Kitchen", "room", None, 0),
        (lane.CAVE, "Larder fridge in the garage", "cave", None, 0),
        (lane.BLUE_BOX, "Blue box", "box", lane.CAVE, 1),
        (lane.WHITE_BOX, "White box", "box", lane.CAVE, 2),
        (lane.KITCHEN_FRIDGE, "Kitchen fridge", "kitchen_fridge", None, 0),
    )
    keys = ("slug", "name", "kind", "parent", "board")
    return [dict(zip(keys, row, strict=True)) for row in rows]


def _sensors() -> list[dict[str, Any]]:
    names = {
        lane.CAVE: "Cave air",
        lane.BLUE_BOX: "Blue box",
        lane.KITCHEN_FRIDGE: "Kitchen fridge",
    }
    return [
        {
            "slug": slug,
            "name": name,
            "file": f"{slug}.csv",
            "placements": [{"space": slug, "from": iso(lane.START_US), "to": None}],
            "corrections": _CORRECTIONS.get(slug, []),
        }
        for slug, name in names.items()
    ]


_CORRECTIONS = {
    # What a test in a bag of table salt found: the planted offset (1.8 %RH too low) less what
    # was left of the creep. It says nothing of the weeks in which the sensor crept.
    lane.BLUE_BOX: [
        {
            "from": iso(lane.local_us("2026-09-10 12:00")),
            "made": iso(lane.END_US - 9 * 86_400_000_000),
            "offset_pct": 1.4,
            "gain": 1.0,
            "standard_uncertainty_pct": 0.4,
            "salts": "NaCl",
        }
    ]
}

_BATCHES: dict[str, dict[str, Any]] = {
    lane.TOMME: {
        "name": "Tomme 7",
        "plan": "tomme",
        "made": "2026-05-23 11:00",
        "labels": ["T1"],
        "mass_g": 1_950.0,
        "stages": [
            ("draining", "2026-05-23 11:00"),
            ("salting", "2026-05-24 18:00"),
            ("first_growth", "2026-05-26 18:00"),
            ("ripening", "2026-06-10 19:00"),
        ],
        "places": [
            (lane.KITCHEN, "2026-05-23 11:00"),
            (lane.CAVE, "2026-05-24 18:00"),
        ],
    },
    lane.OLD_BLUE: {
        "name": "Blue 14",
        "plan": "blue",
        "made": "2026-06-20 10:30",
        "labels": ["J3"],
        "mass_g": 430.0,
        "stages": [
            ("draining", "2026-06-20 10:30"),
            ("salting", "2026-06-21 18:00"),
            ("first_growth", "2026-06-25 18:00"),
            ("piercing", "2026-06-30 19:00"),
            ("ripening", "2026-07-02 19:00"),
            ("wrapped", lane.OLD_BLUE_WRAPPED),
            ("cold", "2026-09-01 19:10"),
        ],
        "places": [
            (lane.KITCHEN, "2026-06-20 10:30"),
            (lane.BLUE_BOX, "2026-06-21 18:00"),
            (lane.KITCHEN_FRIDGE, lane.OLD_BLUE_WRAPPED),
        ],
    },
    lane.BLUE: {
        "name": "Blue 15",
        "plan": "blue",
        "made": "2026-08-12 10:00",
        "labels": ["A1", "A2", "A3"],
        "mass_g": 430.0,
        "stages": [
            ("draining", "2026-08-12 10:00"),
            ("salting", lane.BLUE_IN),
            ("first_growth", "2026-08-17 19:00"),
            ("piercing", "2026-08-23 09:30"),
            ("ripening", "2026-08-25 19:10"),
        ],
        "places": [
            (lane.KITCHEN, "2026-08-12 10:00"),
            (lane.BLUE_BOX, lane.BLUE_IN),
        ],
    },
    lane.WHITE: {
        "name": "White mould 9",
        "plan": "white_mould",
        "made": "2026-09-18 10:00",
        "labels": ["W1", "W2", "W3", "W4"],
        "mass_g": 175.0,
        "stages": [
            ("draining", "2026-09-18 10:00"),
            ("salting", lane.WHITE_IN),
            ("first_growth", "2026-09-20 19:20"),
            ("coat", "2026-09-24 19:20"),
        ],
        "places": [
            (lane.KITCHEN, "2026-09-18 10:00"),
            (lane.WHITE_BOX, lane.WHITE_IN),
        ],
    },
}


def _batch(slug: str, weighings: list[tuple[int, float]]) -> dict[str, Any]:
    batch = _BATCHES[slug]
    size = lane.WHEELS[slug]
    wheel = {
        "diameter_mm": round(1_000.0 * size.diameter_m),
        "height_mm": round(1_000.0 * size.height_m),
        "mass_g": batch["mass_g"],
        "placements": _spans("space", batch["places"]),
        "stages": _spans("stage", batch["stages"]),
        "weighings": [
            {"time": iso(time_us), "grams": float(round(grams))} for time_us, grams in weighings
        ],
    }
    return {
        "slug": slug,
        "name": batch["name"],
        "plan": batch["plan"],
        "made": _at(batch["made"]),
        "wheels": [{"label": label, **wheel} for label in batch["labels"]],
    }


def _spans(what: str, rows: list[tuple[str, str]]) -> list[dict[str, Any]]:
    """Each row with its start and with the start of the next, None for the last."""
    starts = [_at(start) for _, start in rows]
    ends: list[str | None] = [*starts[1:], None]
    return [
        {what: name, "from": start, "to": end}
        for (name, _), start, end in zip(rows, starts, ends, strict=True)
    ]


def _care() -> list[dict[str, Any]]:
    rows = care_by_hand()
    for day, what in lane.care_days():
        time = iso(lane.care_us(day))
        box = lane.BLUE_BOX if what == "blue" else lane.WHITE_BOX
        rows += [
            {"time": time, "space": box, "kind": kind} for kind in ("turn", "air_box", "wipe_lid")
        ]
        if what == "blue" and day.weekday() in _TURNED_TOMME_ON:
            rows.append({"time": time, "space": lane.CAVE, "kind": "turn"})
    for when in lane.REFILLS:
        rows += [
            {"time": _at(when), "space": lane.CAVE, "kind": kind}
            for kind in ("refill_tray", "turn")
        ]
    rows.sort(key=lambda row: (row["time"], row["space"], row["kind"]))
    return [row for row in rows if row["time"] >= iso(lane.START_US)]


def _events() -> list[dict[str, Any]]:
    rows = (
        (
            "box_sweated",
            lane.BLUE_BOX,
            lane.local_us(lane.BLUE_IN),
            lane.local_us(lane.LID_CRACKED),
            "The closed lid gathered water at each cooling cycle; every wiping was undone.",
        ),
        (
            "sensor_crept",
            lane.BLUE_BOX,
            lane.local_us(lane.BLUE_IN),
            lane.local_us(lane.LID_CRACKED),
            "After days above 95 % the sensor had crept up by 2.5 %RH; it took weeks to recover.",
        ),
        (
            "lid_cracked",
            lane.BLUE_BOX,
            lane.local_us(lane.LID_CRACKED),
            lane.local_us(lane.LID_CRACKED),
            "The lid was set ajar by a finger's width.",
        ),
        (
            "tray_dry",
            lane.CAVE,
            lane.local_us(lane.TRAY_LOW),
            lane.local_us(lane.TRAY_FILLED_AGAIN),
            "A refill was forgotten: the tray ran dry over three days.",
        ),
        (
            "door_ajar",
            lane.CAVE,
            lane.local_us(lane.DOOR_AJAR),
            lane.local_us(lane.DOOR_AJAR) + round(lane.AJAR_S * 1e6),
            "The door stood ajar for a night.",
        ),
        (
            "sensor_silent",
            lane.CAVE,
            lane.local_us(lane.SILENT),
            lane.local_us(lane.SILENT) + round(lane.SILENT_S * 1e6),
            "The cave's sensor said nothing for six hours.",
        ),
    )
    return [
        {"event": event, "space": space, "from": iso(start), "to": iso(end), "words": words}
        for event, space, start, end, words in rows
    ]
