"""A tray that leaks is foretold before its alarm, from any hour of the demo's day on."""

from pathlib import Path

import numpy as np
import pytest

from sensors.files import read_readings
from sensors.simulation import larch_lane as lane
from sensors.simulation.household import Happening, Kind
from sensors.simulation.live import LEAK_KG_PER_H, LEAK_LEFT_KG, household_at
from service.ageing.alarm_record import fold
from service.ageing.alarms import Condition, Raised, alarm_rule
from service.ageing.values import Direction, Quantity
from service.ageing.verdict import AirHistory
from service.behaving.calm import STEP_US, calm_air, step_before
from service.behaving.outlook import outlook
from service.clock import DAY_US, HOUR_US

KEPT = Path(__file__).parents[3] / "sample_readings"
LIMIT_PCT = 85.0
"""The tomme's: the tightest on the open boards of the cave."""


def air_of_a_leak(start_us: int, hours: int) -> AirHistory:
    """Sixteen days of the cave's readings, at whose end the tray leaks for so many hours."""
    kept = read_readings(KEPT / "cave.csv")
    past = (kept.times_us <= start_us) & (kept.times_us > start_us - 16 * DAY_US)
    household = household_at(KEPT, start_us)
    household.apply(Happening(0, Kind.LEAK_TRAY, lane.CAVE, LEAK_LEFT_KG, LEAK_KG_PER_H))
    live = [
        reading
        for reading in household.readings_until(start_us + hours * HOUR_US)
        if reading.sensor == lane.CAVE
    ]
    return AirHistory(
        np.append(kept.times_us[past], [each.time_us for each in live]),
        np.append(kept.temperature_c[past], [each.temperature_c for each in live]),
        np.append(kept.humidity_pct[past], [each.humidity_pct for each in live]),
    )


@pytest.mark.parametrize("hour", [0, 6, 12, 18])
def test_a_leaking_tray_is_foretold_hours_before_its_alarm(hour: int) -> None:
    start_us = lane.LAST_DAY_US + hour * HOUR_US
    history = air_of_a_leak(start_us, 12)
    live = history.times_us > start_us - DAY_US
    _, changes = fold(
        Condition(),
        history.times_us[live],
        history.humidity_pct[live],
        LIMIT_PCT,
        direction=Direction.BELOW,
        rule=alarm_rule(Quantity.HUMIDITY, 60.0),
    )
    alarm_h = min(
        (each.time_us - start_us) / HOUR_US for each in changes if isinstance(each, Raised)
    )

    calm = calm_air(history)
    steps = range(step_before(start_us), start_us + round(alarm_h * HOUR_US), STEP_US)
    seen = [
        outlook(calm, Quantity.HUMIDITY, Direction.BELOW, LIMIT_PCT, at_us) is not None
        for at_us in steps
    ]
    # An early warning wants to see it at two steps running.
    first = next(n for n in range(1, len(seen)) if seen[n - 1] and seen[n])
    warning_h = (steps[first] - start_us) / HOUR_US

    assert 6.0 < alarm_h < 11.0
    assert 3.0 < warning_h < alarm_h - 2.0
