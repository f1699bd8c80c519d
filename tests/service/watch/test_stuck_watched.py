"""A stuck sensor foretells nothing, and closes nothing that is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from service.behaving.calm import CalmAir
from service.store import places, set_up
from service.store.tables import Space
from service.watch import foreseeing, sweat
from tests.service.watch.conftest import at

if TYPE_CHECKING:
    import pytest

    from service.store.alarm_records import AlarmEntry
    from tests.service.watch.conftest import Larder, LarderMaker

DAY_MIN = 1_440
WARM_FROM = DAY_MIN
STUCK_FROM = WARM_FROM + 90
SPEAKS_FROM = STUCK_FROM + 900
DRIES_FROM = 8 * DAY_MIN

Row = tuple[float, float, float]


def looked(larder: Larder, from_min: int, to_min: int, every_min: int = 20) -> None:
    for minute in range(from_min, to_min, every_min):
        larder.round_at(minute + 1)
        larder.watch.look_ahead()


def of(larder: Larder, kind: str) -> list[AlarmEntry]:
    return [alarm for alarm in larder.alarms() if alarm.kind == kind]


def stands_still(rows: list[Row], from_min: float, to_min: float) -> list[Row]:
    """The same, with the humidity standing still between two times."""
    last = next(damp for minute, _, damp in rows if minute >= from_min)
    return [
        (minute, warm, last if from_min <= minute < to_min else damp) for minute, warm, damp in rows
    ]


def carried(days: float) -> list[Row]:
    """A day at 5 °C; then warm air, damp until the sensor speaks again and dry after that."""
    chance = np.random.default_rng(2)
    minutes = np.arange(0.0, days * DAY_MIN, 5.0)
    cold = minutes < WARM_FROM
    damp = np.where(minutes < SPEAKS_FROM, 96.0, 70.0)
    warm = np.where(cold, 5.0, 14.0) + chance.normal(0, 0.03, minutes.size)
    damp = np.where(cold, 85.0, damp) + chance.normal(0, 0.2, minutes.size)
    return list(zip(minutes.tolist(), warm.tolist(), damp.tolist(), strict=True))


def drying(days: float) -> list[Row]:
    """Steady for eight days, then 0.35 %RH an hour down."""
    chance = np.random.default_rng(7)
    minutes = np.arange(0.0, days * DAY_MIN, 5.0)
    warm = 10.5 + 0.3 * np.sin(2 * np.pi * minutes / DAY_MIN)
    damp = 89.0 - np.maximum(minutes - DRIES_FROM, 0) * 0.35 / 60
    warm, damp = (
        warm + chance.normal(0, 0.02, minutes.size),
        damp + chance.normal(0, 0.2, minutes.size),
    )
    return list(zip(minutes.tolist(), warm.tolist(), damp.tolist(), strict=True))


def test_an_open_alarm_of_sweat_outlasts_a_stuck_sensor(larder: Larder) -> None:
    larder.read(stands_still(carried(3.0), STUCK_FROM, SPEAKS_FROM))
    looked(larder, WARM_FROM, SPEAKS_FROM)
    while_stuck = of(larder, sweat.WHEEL)
    looked(larder, SPEAKS_FROM, SPEAKS_FROM + 360)

    assert [alarm.returned_us for alarm in while_stuck] == [None]
    assert [alarm.returned_us is None for alarm in of(larder, sweat.WHEEL)] == [False]


def test_an_open_alarm_of_a_lid_outlasts_a_stuck_sensor_of_its_cave(
    make_larder: LarderMaker,
) -> None:
    larder = make_larder(kind="box")
    larder.stand()
    with larder.sessions() as session:
        cave = set_up.add_space(session, Space(site_id=1, slug="outer", name="Cave", kind="cave"))
        places.space(session, larder.space_id).parent_id = cave.id
        cave_id = cave.id or 0
    inner, larder.space_id = larder.space_id, cave_id
    outer_sensor = larder.add_sensor("outer-air")
    larder.stand(outer_sensor)
    larder.space_id = inner
    chance = np.random.default_rng(4)
    minutes = np.arange(0.0, 2.0 * DAY_MIN, 5.0)
    noise = chance.normal(0, 0.03, (4, minutes.size))
    larder.read(
        zip(minutes.tolist(), (12 + noise[0]).tolist(), (95 + noise[1]).tolist(), strict=True)
    )
    cold = np.where(minutes >= WARM_FROM, 8.0, 12.0) + noise[2]
    cold[minutes >= STUCK_FROM] = 8.0
    larder.read(
        zip(minutes.tolist(), cold.tolist(), (85 + noise[3]).tolist(), strict=True),
        sensor_id=outer_sensor,
    )
    looked(larder, WARM_FROM - 40, STUCK_FROM + 480)

    assert [alarm.returned_us for alarm in of(larder, sweat.LID)] == [None]


def test_an_early_warning_outlasts_a_stuck_sensor(larder: Larder) -> None:
    at_min = DRIES_FROM + 480
    larder.read(stands_still(drying(9.5), at_min, 9.5 * DAY_MIN))
    looked(larder, DRIES_FROM, int(9.5 * DAY_MIN), 40)

    (early,) = of(larder, "humidity_falling")
    assert (early.raised_us, early.returned_us) == (early.raised_us, None)


def test_a_forecast_does_not_see_what_a_stuck_sensor_said(
    larder: Larder, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[CalmAir] = []

    def noted(calm: CalmAir, *_: object) -> None:
        seen.append(calm)

    monkeypatch.setattr(foreseeing, "outlook", noted)
    from_min, to_min = 7.0 * DAY_MIN, 7.5 * DAY_MIN
    larder.read(stands_still(drying(8.0), from_min, to_min))
    looked(larder, 8 * DAY_MIN - 21, 8 * DAY_MIN, 20)

    minutes = (seen[-1].middles_us - at(0)) / 60_000_000
    within = (minutes > from_min + 60) & (minutes < to_min - 60)
    assert np.isnan(seen[-1].humidity_pct[within]).all()
    assert np.isfinite(seen[-1].temperature_c[within]).all()


def test_the_record_is_the_same_however_often_somebody_looks_at_a_stuck_sensor(
    make_larder: LarderMaker,
) -> None:
    records = []
    for every_min in (60, 190):
        larder = make_larder()
        larder.stand()
        larder.shelve()
        at_min = DRIES_FROM + 480
        larder.read(stands_still(drying(9.5), at_min, at_min + 300))
        looked(larder, DRIES_FROM, int(9.5 * DAY_MIN) + every_min, every_min)
        records.append(
            [
                (alarm.kind, alarm.raised_us, alarm.returned_us)
                for alarm in larder.alarms()
                if alarm.kind in foreseeing.FORETELLS
            ]
        )

    assert records[0]
    assert records[0] == records[1]


def test_an_alarm_of_a_limit_goes_by_the_readings_as_they_came(larder: Larder) -> None:
    """A sensor that stands still out of range may still be right."""
    rows = [(m, t, h - (6.0 if m >= DAY_MIN else 0.0)) for m, t, h in drying(2.0)]
    larder.read(stands_still(rows, DAY_MIN + 300, 2 * DAY_MIN))
    looked(larder, DAY_MIN - 60, 2 * DAY_MIN, 60)

    assert [alarm.returned_us for alarm in of(larder, "humidity_below")] == [None]
