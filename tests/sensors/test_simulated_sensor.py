"""A simulated sensor's faults are the ones its configuration names, and no others."""

import math
from itertools import pairwise

import pytest

from sensors.simulation.sensor import Sensor, SensorConfig, lagged

QUIET = SensorConfig(temperature_noise_k=0.0, humidity_noise_pct=0.0)
MINUTE_S = 60.0


@pytest.mark.parametrize("step_s", [1.0, 10.0, 45.0])
def test_sensor_follows_a_step_as_a_first_order_lag_exactly(step_s: float) -> None:
    sensor = Sensor(QUIET, 10.0, 90.0)
    steps = round(180.0 / step_s)
    for _ in range(steps):
        sensor.step(step_s, 20.0, 60.0)

    # The exact step response 1 - exp(-t / lag); only rounding is left.
    assert sensor.temperature_c == pytest.approx(20.0 - 10.0 * math.exp(-180.0 / 90.0), abs=1e-9)
    assert sensor.humidity_pct == pytest.approx(60.0 + 30.0 * math.exp(-180.0 / 45.0), abs=1e-9)


def test_lag_of_many_short_steps_is_that_of_one_long() -> None:
    value = 0.0
    for _ in range(100):
        value = lagged(value, 1.0, 1.0, 90.0)

    assert value == pytest.approx(lagged(0.0, 1.0, 100.0, 90.0), abs=1e-12)


def test_sensor_reads_in_hundredths() -> None:
    said = Sensor(SensorConfig(), 10.123456, 88.98765).read(MINUTE_S)

    assert said is not None
    assert said == (round(said[0], 2), round(said[1], 2))


def test_noise_has_the_spread_that_the_configuration_names() -> None:
    sensor = Sensor(SensorConfig(), 10.0, 80.0)
    said = [reading for _ in range(4_000) if (reading := sensor.read(MINUTE_S))]
    temperatures = [reading[0] for reading in said]
    humidities = [reading[1] for reading in said]

    def spread(values: list[float]) -> float:
        mean = math.fsum(values) / len(values)
        return math.sqrt(math.fsum((value - mean) ** 2 for value in values) / len(values))

    # A spread from 4,000 readings is known to about 1.1 %; five times that, and the rounding.
    assert spread(temperatures) == pytest.approx(0.012, rel=0.09)
    assert spread(humidities) == pytest.approx(0.10, rel=0.06)


def test_same_seed_says_the_same() -> None:
    first, second = (Sensor(SensorConfig(seed="a"), 10.0, 80.0) for _ in range(2))
    other = Sensor(SensorConfig(seed="b"), 10.0, 80.0)
    said = [[sensor.read(MINUTE_S) for _ in range(20)] for sensor in (first, second, other)]

    assert said[0] == said[1]
    assert said[0] != said[2]


def test_sensor_creeps_upward_in_days_above_the_threshold_and_comes_back_slowly() -> None:
    sensor = Sensor(QUIET, 10.0, 97.0)
    for _ in range(60 * 60):
        sensor.read(MINUTE_S)
    crept = sensor.creep_pct
    sensor.humidity_pct = 88.0
    for _ in range(168 * 60):
        sensor.read(MINUTE_S)

    # One time constant up (60 h) and one down (168 h).
    assert crept == pytest.approx(2.5 * (1.0 - math.exp(-1.0)), abs=1e-6)
    assert sensor.creep_pct == pytest.approx(crept * math.exp(-1.0), abs=1e-6)


def test_sensor_does_not_creep_below_the_threshold() -> None:
    sensor = Sensor(QUIET, 10.0, 95.0)
    said = [sensor.read(MINUTE_S) for _ in range(1_000)]

    assert all(a == b for a, b in pairwise(said))


def test_sensor_never_says_more_than_a_hundred_percent() -> None:
    said = Sensor(SensorConfig(humidity_offset_pct=3.0), 10.0, 100.4).read(MINUTE_S)

    assert said is not None
    assert said[1] == 100.0


def test_silent_sensor_says_nothing_for_as_long_as_it_is_silent() -> None:
    sensor = Sensor(QUIET, 10.0, 88.0)
    sensor.silent_s = 300.0
    said = [sensor.read(MINUTE_S) for _ in range(7)]

    assert [reading is None for reading in said] == [True] * 5 + [False] * 2
