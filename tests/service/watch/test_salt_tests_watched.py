"""A sensor in a salt test is not missed, and what it says raises no alarm on any space."""

from typing import TYPE_CHECKING

import pytest

from service.api import sensor_actions
from service.clock import US_PER_S
from service.store import corrections
from service.store.tables import SensorCorrection

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder

START_US = 1_795_608_000 * US_PER_S
HOUR_MIN = 60


@pytest.fixture
def tested(larder: "Larder") -> "Larder":
    """Two hours of good air, and the sensor in a bag with table salt since."""
    larder.steady(0, 120)
    larder.round_at(120)
    with larder.sessions() as session:
        sensor_actions.start_salt_test(session, larder.sensor_id, "NaCl", at(120))
    return larder


def test_a_sensor_that_says_nothing_in_its_bag_is_not_missed(tested: "Larder") -> None:
    for hour in range(3, 12):
        tested.round_at(hour * HOUR_MIN)

    assert tested.alarms() == []


def test_the_air_of_the_salt_raises_no_alarm(tested: "Larder") -> None:
    """At 75 %RH the wheel would be far too dry."""
    for hour in range(2, 10):
        tested.steady(hour * 60, hour * 60 + 60, humidity=75)
        tested.round_at(hour * HOUR_MIN + 60)

    assert tested.alarms() == []


def test_back_in_its_space_the_sensor_is_watched_again(tested: "Larder") -> None:
    tested.steady(120, 600, humidity=75)
    tested.round_at(600)
    with tested.sessions() as session:
        sensor_actions.end_salt_test(session, 1, None, at(600), back=True)
    tested.steady(601, 900, humidity=70)
    tested.round_at(900)

    assert [alarm.kind for alarm in tested.alarms()] == ["humidity_below"]
    assert tested.alarms()[0].raised_us > at(600)


def test_back_in_its_space_a_silent_sensor_is_missed_again(tested: "Larder") -> None:
    with tested.sessions() as session:
        sensor_actions.end_salt_test(session, 1, None, at(600), back=True)
    for hour in range(10, 16):
        tested.round_at(hour * HOUR_MIN)

    assert [alarm.kind for alarm in tested.alarms()] == ["sensor_silent"]


def test_the_watch_judges_corrected_air(larder: "Larder") -> None:
    """87 as read is 84 in truth, and the wheel asks for 85 at least."""
    larder.steady(0, 120, humidity=87)
    larder.round_at(120)
    before = larder.alarms()
    with larder.sessions() as session:
        corrections.add(session, _three_too_high(larder.sensor_id, at(120)))
    larder.steady(120, 400, humidity=87)
    larder.round_at(400)

    assert before == []
    assert [alarm.kind for alarm in larder.alarms()] == ["humidity_below"]
    assert larder.alarms()[0].extreme == pytest.approx(84.0, abs=0.5)  # a mean on its way down


def test_a_correction_of_the_past_rewrites_no_alarm(larder: "Larder") -> None:
    larder.steady(0, 120, humidity=87)
    larder.steady(120, 400, humidity=84)
    larder.round_at(400)
    before = larder.alarms()
    with larder.sessions() as session:
        corrections.add(session, _three_too_high(larder.sensor_id, at(0)))
    larder.round_at(401)

    assert [alarm.kind for alarm in before] == ["humidity_below"]
    assert larder.alarms() == before


def _three_too_high(sensor_id: int, from_us: int) -> SensorCorrection:
    return SensorCorrection(
        sensor_id=sensor_id,
        from_us=from_us,
        offset_pct=-3.0,
        gain=1.0,
        standard_uncertainty_pct=0.3,
        salts="NaCl",
        made_us=from_us,
    )


def at(minute: float) -> int:
    return START_US + round(minute * 60 * US_PER_S)
