"""What no air in a cave can be: values that betray a broken sensor or an unset clock.

Values are judged, never changed: a humidity of 100.3 % is kept as received.
"""

from sensors.moments import iso

LOWEST_C, HIGHEST_C = -40.0, 85.0
"""The range that the issue allows; also what hobby temperature probes are specified for
(common practice, no source)."""

HUMIDITY_TOLERANCE_PCT = 0.5
"""How far beyond 0 to 100 % a sensor may read by its own error. The issue's value."""

PROBE_MISSING_C = -127.0
"""What common 1-wire drivers return when the probe does not answer (common practice, no
source)."""

POWER_ON_C = 85.0
"""What a common 1-wire probe holds after power-on, before its first conversion (common
practice, no source)."""

WARM_BEFORE_C = 80.0
"""A sensor that read at least this before may really have come to 85 °C. Our choice."""

FURTHEST_AHEAD_US = 600 * 1_000_000
"""How far a sensor's clock may run ahead of the arrival. The issue's 10 minutes."""

EARLIEST_US = 978_307_200 * 1_000_000
"""2001-01-01. Unset clocks start at 1970 or at 2000-01-01 and count on from there; a year
is let pass for those that do (our choice)."""


def fault(
    temperature_c: float | None, humidity_pct: float | None, previous_c: float | None = None
) -> str | None:
    """Why a reading cannot be true, in words for a maker; None for one that can.

    One probe measures both, so one impossible value discredits the other.

    Args:
        temperature_c: Air temperature, None when the sensor gave none. [°C]
        humidity_pct: Relative humidity, None when the sensor gave none. [%]
        previous_c: The temperature last accepted from this sensor, None when not known. [°C]

    Examples:
        >>> fault(-127.0, None)
        'temperature -127 °C is the error code of a probe that does not answer'
        >>> fault(11.5, 100.4) is None
        True
    """
    if temperature_c is None:
        if humidity_pct is None:
            return "neither temperature nor humidity is given"
    elif temperature_c == PROBE_MISSING_C:
        return "temperature -127 °C is the error code of a probe that does not answer"
    elif temperature_c == POWER_ON_C and (previous_c is None or previous_c < WARM_BEFORE_C):
        return "temperature 85 °C exactly is what a probe says after power-on, before it measures"
    elif not LOWEST_C <= temperature_c <= HIGHEST_C:
        return f"temperature {temperature_c:g} °C is not between -40 and 85 °C"
    if humidity_pct is not None and not (
        -HUMIDITY_TOLERANCE_PCT <= humidity_pct <= 100.0 + HUMIDITY_TOLERANCE_PCT
    ):
        return f"humidity {humidity_pct:g} %RH is not between 0 and 100 %RH"
    return None


def time_fault(time_us: int, arrival_us: int | None = None) -> str | None:
    """Why a reading's time cannot be true; None for one that can.

    Args:
        time_us: The time of the reading. [µs since 1970, UTC]
        arrival_us: When it came in; None, as for a file, asks only whether the clock was
            set. [µs since 1970, UTC]

    Examples:
        >>> time_fault(5_000_000, 1_795_608_000_000_000)
        "its time 1970-01-01T00:00:05Z is before 2001: the sensor's clock was never set"
    """
    if time_us < EARLIEST_US:
        return f"its time {iso(time_us)} is before 2001: the sensor's clock was never set"
    if arrival_us is not None and time_us - arrival_us > FURTHEST_AHEAD_US:
        ahead_s = (time_us - arrival_us) // 1_000_000
        return (
            f"its time {iso(time_us)} is {ahead_s} s ahead of its arrival; 600 s is the most:"
            " the sensor's clock is wrong"
        )
    return None
