"""Sensors held against what is known of them: salt tests, corrections, findings.

From stored facts to values: how a saturated-salt test stands, which correction its tests ask
for, and what a sensor's own readings tell against it. Asks the store and the science, writes
nothing, and knows no words for the maker.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.verdict import AirHistory
from service.clock import DAY_US, US_PER_S
from service.errors import OutOfRangeError
from service.judging import INTERVALS
from service.science.correction import NEAREST_PCT, Comparison, Correction, correction_from
from service.science.plateau import Hindrance, Plateau, PlateauState, find_plateau
from service.science.salts import Salt, salt_humidity_pct, salt_named
from service.science.sensor_truth import Fault, Finding, saturated, stuck
from service.science.signals import median_interval_s
from service.science.silenced import sifted
from service.science.thinning import usual_gap_us
from service.store import air, salt_tests
from service.store.database import Session
from service.store.tables import SaltTest, SensorCorrection

AT_PCT: Final = 90.0
"""The true humidity at which a correction's uncertainty is told and kept. [%RH] Caves lie
around it."""
UNSURE_PCT: Final = 1.0
"""A level that a test did not reach is used up to this standard uncertainty. [%RH] Our choice:
what is less sure would make a sensor that is sold as within 2 %RH no better."""
_LONGEST_TEST_US: Final = 3 * DAY_US
"""Readings of a test are looked at for so long after its start. [µs] Our choice: thrice the
longest that a plateau is waited for, whatever the sensor is left in afterwards."""
_LOOK_BACK_US: Final = 14 * DAY_US
"""Findings are worked out from so long ago. [µs] Our choice: a creep from before that has
mostly gone."""
_TOLD_US: Final = 7 * DAY_US
_LATELY_US: Final = DAY_US
_FEWEST: Final = 2
_SILENCE_US: Final = 900 * US_PER_S
"""A shorter silence is not told. [µs] Our choice: a link that stumbles would fill the page."""


@dataclass(frozen=True, slots=True)
class SaltTestNow:
    """How a saturated-salt test stands.

    Attributes:
        row: The stored facts.
        salt: The salt.
        plateau: What its readings show; their differences are of readings as received.
        readings: How many readings it has.
        newest_us: The time of its newest reading. [µs UTC]
    """

    row: SaltTest
    salt: Salt
    plateau: Plateau
    readings: int
    newest_us: int | None

    @property
    def id(self) -> int:
        """Its number."""
        assert self.row.id is not None  # it came from the store
        return self.row.id

    @property
    def comparison(self) -> Comparison | None:
        """Sensor against salt; None while nothing can be said."""
        return self.plateau.comparison()

    @property
    def usable(self) -> bool:
        """Whether a correction may rest on it: ended, not withdrawn, and sure enough."""
        plateau, comparison = self.plateau, self.comparison
        if self.row.ended_us is None or self.row.withdrawn or comparison is None:
            return False
        if plateau.state is PlateauState.DONE:
            return True
        return (
            plateau.hindrance in {Hindrance.BROKEN_OFF, Hindrance.TOO_SLOW}
            and comparison.standard_uncertainty_pct <= UNSURE_PCT
        )


@dataclass(frozen=True, slots=True)
class Proposal:
    """A correction that tests ask for.

    Attributes:
        tests: They.
        correction: What they ask for.
    """

    tests: tuple[SaltTestNow, ...]
    correction: Correction

    @property
    def salts(self) -> str:
        """The salts by formula, as they are kept with the correction."""
        return ", ".join(dict.fromkeys(test.salt.value for test in self.tests))

    @property
    def uncertainty_pct(self) -> float:
        """Standard uncertainty of the corrected humidity at 90 %RH. [%RH]"""
        return self.correction.standard_uncertainty_pct(self.correction.reading_pct(AT_PCT))

    def row(self, sensor_id: int, from_us: int, made_us: int) -> SensorCorrection:
        """The correction as it is kept."""
        return SensorCorrection(
            sensor_id=sensor_id,
            from_us=from_us,
            offset_pct=self.correction.offset_pct,
            gain=self.correction.gain,
            standard_uncertainty_pct=self.uncertainty_pct,
            salts=self.salts,
            made_us=made_us,
        )


def salt_tests_of(session: Session, sensor_id: int, now_us: int, most: int) -> list[SaltTestNow]:
    """The newest tests of a sensor that were not undone at once, newest first."""
    rows = [
        row
        for row in reversed(salt_tests.of_sensor(session, sensor_id))
        if row.ended_us != row.started_us
    ]
    return [salt_test_now(session, row, now_us) for row in rows[:most]]


def salt_test_now(session: Session, row: SaltTest, now_us: int) -> SaltTestNow:
    """How a test stands, from the readings since its start as they were received."""
    salt = salt_named(row.salt)
    end_us = now_us + 1 if row.ended_us is None else row.ended_us
    end_us = min(end_us, row.started_us + _LONGEST_TEST_US)
    said = air.sensor_history(session, row.sensor_id, row.started_us, end_us)
    plateau = find_plateau(
        said.times_us,
        said.temperature_c,
        said.humidity_pct,
        salt,
        finished=row.ended_us is not None,
    )
    newest_us = int(said.times_us[-1]) if said.times_us.size else None
    return SaltTestNow(row, salt, plateau, said.times_us.size, newest_us)


def proposal(tests: Sequence[SaltTestNow]) -> Proposal:
    """The correction that tests of one sensor ask for together.

    Raises:
        OutOfRangeError: One of them cannot be used, or no sensor in order would need what they
            ask for.
    """
    comparisons = []
    for test in tests:
        comparison = test.comparison
        if comparison is None or not test.usable:
            raise OutOfRangeError(
                f"salt test {test.id} ({test.salt.value}) cannot be used: end it once it is done, "
                "or repeat it"
            )
        comparisons.append(comparison)
    found = Proposal(tuple(tests), correction_from(comparisons))
    if not found.correction.plausible:
        raise OutOfRangeError(
            "no sensor in order would need this correction; look whether the salt is the one "
            "that was named and repeat the test, or replace the sensor"
        )
    return found


def proposals(tests: Sequence[SaltTestNow]) -> list[Proposal]:
    """What a maker may choose from: two salts together first, then each test by itself."""
    usable = [test for test in tests if test.usable]
    newest = list({test.salt: test for test in reversed(usable)}.values())
    sets = [
        (one, other)
        for position, one in enumerate(newest)
        for other in newest[position + 1 :]
        if _apart(one, other)
    ]
    found = []
    for chosen in [*sets, *((test,) for test in usable)]:
        try:
            found.append(proposal(chosen))
        except OutOfRangeError:
            continue
    return found


def _apart(one: SaltTestNow, other: SaltTestNow) -> bool:
    """Whether two salts lie far enough from each other to show a gain."""
    away = salt_humidity_pct(one.salt, one.plateau.temperature_c) - salt_humidity_pct(
        other.salt, other.plateau.temperature_c
    )
    return abs(away) >= NEAREST_PCT


def usual_interval_s(session: Session, sensor_id: int) -> float | None:
    """The usual time between readings of a sensor; None while it is not known. [s]"""
    times_us = air.recent_times_us(session, sensor_id, INTERVALS + 1)
    return median_interval_s(times_us) if times_us.size > 1 else None


def findings_of(session: Session, sensor_id: int, now_us: int) -> list[Finding]:
    """What a sensor's readings of the last week tell against it, the newest first.

    Readings of its salt tests count for nothing here. A silence that goes on ends now.
    """
    said = air.sensor_history(session, sensor_id, now_us - _LOOK_BACK_US, now_us + 1)
    if not said.times_us.size:
        return []
    longest_us = usual_gap_us(said.times_us)
    longest_s = longest_us / US_PER_S
    said = _without_tests(session, sensor_id, said)
    left = sifted(said.times_us, said.temperature_c, said.humidity_pct, longest_s)
    found = list(left.faults)
    newest_us = int(said.times_us[-1])
    if now_us - newest_us > longest_us:
        found.append(Finding(Fault.GAP, newest_us, now_us, float("nan")))
    told = [
        finding
        for finding in found
        if finding.to_us > now_us - _TOLD_US
        and (finding.fault is not Fault.GAP or finding.to_us - finding.from_us >= _SILENCE_US)
    ]
    return sorted(told, key=lambda finding: (finding.to_us, finding.from_us), reverse=True)


def wrong_now(session: Session, sensor_id: int, now_us: int) -> list[Finding]:
    """What is wrong with a sensor's newest readings: wet or stuck. Cheap enough for a list."""
    if salt_tests.running(session, sensor_id) is not None:
        return []
    said = air.sensor_history(session, sensor_id, now_us - _LATELY_US, now_us + 1)
    if said.times_us.size < _FEWEST:
        return []
    said = _without_tests(session, sensor_id, said)
    longest_us = usual_gap_us(said.times_us)
    longest_s = longest_us / US_PER_S
    found = saturated(said.times_us, said.humidity_pct, longest_s)
    found += stuck(said.times_us, said.temperature_c, Fault.STUCK_TEMPERATURE, longest_s)
    if not found:
        found += stuck(said.times_us, said.humidity_pct, Fault.STUCK_HUMIDITY, longest_s)
    newest_us = int(said.times_us[-1])
    return [one for one in found if is_now(one, newest_us, longest_us)]


def is_now(finding: Finding, newest_us: int, longest_us: int) -> bool:
    """Whether a finding holds of the newest reading."""
    return finding.to_us >= newest_us - longest_us


def _without_tests(session: Session, sensor_id: int, said: AirHistory) -> AirHistory:
    """Readings with those of salt tests not known: there a value is meant to stand still."""
    inside = np.zeros(said.times_us.size, dtype=bool)
    for from_us, to_us in salt_tests.spans(session, sensor_id):
        inside |= (said.times_us >= from_us) & (said.times_us < to_us)
    return AirHistory(
        said.times_us,
        np.where(inside, np.nan, said.temperature_c),
        np.where(inside, np.nan, said.humidity_pct),
    )
