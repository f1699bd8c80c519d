"""What the API answers about a sensor: where it stands, and how true it is."""

import math
from typing import Self

from pydantic import Field

from service.api.moments import Instant
from service.api.shapes import Answer
from service.calibrating import SaltTestNow
from service.science.plateau import Hindrance, PlateauState
from service.science.salts import Salt, salt_humidity_pct
from service.science.sensor_truth import Fault


class ReadingAnswer(Answer):
    """One reading, as received."""

    time: Instant = Field(validation_alias="time_us")
    temperature_c: float | None
    humidity_pct: float | None


class SensorStayAnswer(Answer):
    """Where a sensor stands, and since when."""

    space_id: int
    space: str
    from_: Instant = Field(alias="from")


class SensorAnswer(Answer):
    """One sensor."""

    id: int
    key: str
    name: str
    first_seen: Instant
    state: str = Field(
        description="placed; new, not placed; not placed any more; or in a salt test"
    )
    placement: SensorStayAnswer | None
    last_reading: ReadingAnswer | None
    battery_pct: float | None
    battery_v: float | None
    link: str | None
    temperature_lag_s: float | None
    humidity_lag_s: float | None


class SaltTestAnswer(Answer):
    """How a saturated-salt test stands. What is said of readings is of readings as received."""

    id: int
    sensor_id: int
    salt: Salt
    started: Instant
    ended: Instant | None
    withdrawn: bool
    state: PlateauState
    hindrance: Hindrance | None
    remaining_s: float | None = Field(description="Estimate; 0 when done, null if not known.")
    readings: int
    newest: Instant | None
    temperature_c: float | None
    reading_pct: float | None
    salt_pct: float | None
    difference_pct: float | None = Field(description="Reading minus salt, estimate.")
    standard_uncertainty_pct: float | None = Field(description="Of the difference; salt's in it.")
    extrapolated: bool = Field(description="The level was not reached; where it was going.")
    usable: bool = Field(description="Whether a correction may rest on it.")

    @classmethod
    def of(cls, test: SaltTestNow) -> Self:
        """The test as an answer."""
        plateau, comparison = test.plateau, test.comparison
        known = not math.isnan(plateau.temperature_c)
        return cls(
            id=test.id,
            sensor_id=test.row.sensor_id,
            salt=test.salt,
            started=test.row.started_us,
            ended=test.row.ended_us,
            withdrawn=test.row.withdrawn,
            state=plateau.state,
            hindrance=plateau.hindrance,
            remaining_s=plateau.remaining_s,
            readings=test.readings,
            newest=test.newest_us,
            temperature_c=plateau.temperature_c if known else None,
            reading_pct=comparison.reading_pct if comparison else None,
            salt_pct=salt_humidity_pct(test.salt, plateau.temperature_c) if known else None,
            difference_pct=plateau.difference_pct,
            standard_uncertainty_pct=comparison.standard_uncertainty_pct if comparison else None,
            extrapolated=plateau.extrapolated,
            usable=test.usable,
        )


class CorrectionAnswer(Answer):
    """Corrected humidity = offset + gain times reading, from that time on."""

    id: int
    sensor_id: int
    from_: Instant = Field(validation_alias="from_us", serialization_alias="from")
    offset_pct: float
    gain: float
    standard_uncertainty_pct: float = Field(
        description="Of the corrected humidity at 90 %RH, when the correction was made."
    )
    salts: str
    made: Instant = Field(validation_alias="made_us")
    withdrawn: bool


class SensorFindingAnswer(Answer):
    """A stretch of time in which a sensor's readings tell against it."""

    fault: Fault
    from_: Instant = Field(serialization_alias="from")
    to: Instant
    value: float | None = Field(
        description="Where it is stuck or saturated; for a creep the most it may read too high."
    )


class SensorTruthAnswer(SensorAnswer):
    """One sensor with its findings of the last week, its corrections and its salt tests."""

    usual_interval_s: float | None
    findings: tuple[SensorFindingAnswer, ...]
    correction: CorrectionAnswer | None = Field(description="The one that holds now.")
    corrections: tuple[CorrectionAnswer, ...]
    salt_tests: tuple[SaltTestAnswer, ...]
