"""How the truth of a sensor reads to the maker: salt tests, corrections, findings.

Values come from `service.calibrating`; nothing is worked out here. Uncertainties are told
twice as wide as the standard ones, so that about 95 in 100 lie within.
"""

# ruff: noqa: RUF001 - the reader gets real minus, times and plus-minus signs

import math
from typing import Final

from dashboards.words import UNIT_SPACE, Words, span
from service.ageing.values import Quantity
from service.calibrating import AT_PCT, Proposal, SaltTestNow
from service.clock import US_PER_S
from service.science.plateau import Hindrance, PlateauState
from service.science.salts import Salt, salt_humidity_pct
from service.science.sensor_truth import Fault, Finding
from service.store.tables import SensorCorrection

SALTS: Final = {
    Salt.SODIUM_CHLORIDE: "table salt (NaCl)",
    Salt.POTASSIUM_CHLORIDE: "potassium chloride (KCl)",
    Salt.POTASSIUM_SULPHATE: "potassium sulphate (K₂SO₄)",
    Salt.MAGNESIUM_CHLORIDE: "magnesium chloride (MgCl₂)",
    Salt.LITHIUM_CHLORIDE: "lithium chloride (LiCl)",
}
"""What a maker calls each salt, the most useful first."""

_WIDE: Final = 2.0
_SMALL: Final = 0.05
"""What is less would read as 0.0."""

_WHY: Final = {
    Hindrance.BROKEN_OFF: "it was ended, or its bag opened, before it had settled",
    Hindrance.TOO_SLOW: "at this pace it would take more than a day; use a smaller bag or jar",
    Hindrance.TOO_UNEVEN: "the readings go up and down too much; put it where the temperature "
    "stays the same",
    Hindrance.TOO_FAR: "it reads more than 10 %RH from the salt; is it this salt, is the bag "
    "shut, is salt left undissolved? If so, the sensor is broken",
    Hindrance.WET: "the sensor reads 100 %: it is wet. Let it dry and begin again",
    Hindrance.NO_READINGS: "no reading came that can be used; a test needs 0 to 50 °C",
}


def standing_words(test: SaltTestNow, words: Words) -> str:
    """How a test stands, in a sentence."""
    plateau = test.plateau
    if plateau.state is PlateauState.DONE:
        return f"Done: {found_words(test, words)}."
    if plateau.state is PlateauState.WILL_NOT_SETTLE:
        why = _WHY[plateau.hindrance] if plateau.hindrance is not None else "no reason is known"
        if not plateau.extrapolated or plateau.hindrance is Hindrance.TOO_FAR:
            return f"It will not settle: {why}."
        return f"It has not settled: {why}. Where it was going: {found_words(test, words)}."
    if not test.readings:
        return "Not yet: no reading has come since it began."
    if plateau.remaining_s is None:
        return "Not yet; too early to say how long it will take."
    return f"Not yet: about {_roughly(plateau.remaining_s)} more (estimate)."


def found_words(test: SaltTestNow, words: Words) -> str:
    """What a test has shown: reading, salt, difference and its band."""
    comparison, plateau = test.comparison, test.plateau
    if comparison is None or plateau.difference_pct is None:
        return "nothing can be said"
    wide = _WIDE * comparison.standard_uncertainty_pct
    return (
        f"the sensor reads {words.humidity(comparison.reading_pct)} where {test.salt.value} gives "
        f"{words.humidity(comparison.true_pct)} at {words.temperature(plateau.temperature_c)}: "
        f"{_off(plateau.difference_pct)} (estimate, ±{wide:.1f}{UNIT_SPACE}%RH)"
    )


def salt_choices(temperature_c: float, words: Words) -> list[tuple[str, str]]:
    """Each salt with the humidity that it gives at a temperature."""
    return [
        (salt.value, f"{name}: {words.humidity(salt_humidity_pct(salt, temperature_c))}")
        for salt, name in SALTS.items()
    ]


def proposal_words(proposal: Proposal) -> str:
    """What a correction by these tests would do."""
    correction = proposal.correction
    wide = _WIDE * proposal.uncertainty_pct
    told = _does(correction.offset_pct, correction.gain)
    reading_pct = correction.reading_pct(AT_PCT)
    at_90 = f"true {AT_PCT:g} %RH is a reading of {reading_pct:.1f}"
    # A test of one salt tells nothing of the gain, so it is less sure far from the salt.
    return f"By {proposal.salts}. {told}; {at_90} (estimate, ±{wide:.1f} %RH there)"


def correction_words(made: SensorCorrection) -> str:
    """What a correction does, with its band at 90 %RH."""
    wide = _WIDE * made.standard_uncertainty_pct
    return f"{_does(made.offset_pct, made.gain)} (estimate, ±{wide:.1f} %RH at {AT_PCT:g} %RH)"


def finding_words(finding: Finding, words: Words, *, now: bool) -> str:
    """A finding in a sentence, with its times."""
    lasted = span(finding.to_us - finding.from_us)
    when = f"since {words.moment(finding.from_us)}, for {lasted}"
    if not now:
        when = f"from {words.moment(finding.from_us)}, for {lasted}"
    match finding.fault:
        case Fault.GAP:
            return f"Silent {when}."
        case Fault.STUCK_TEMPERATURE:
            value = words.value(Quantity.TEMPERATURE, finding.value)
            return f"Temperature stuck at {value} {when}, so it is not known."
        case Fault.STUCK_HUMIDITY:
            return f"Humidity stuck at {words.humidity(finding.value)} {when}, so it is not known."
        case Fault.SATURATED:
            return f"Reads {finding.value:.0f} % {when}: it is wet; its humidity is not known."
        case Fault.CREEP:
            return (
                f"May read up to {finding.value:.1f} %RH too high {when}, after damp days above "
                "95 % (a bound, not a measurement; many sensors do not creep)."
            )


def wrong_words(name: str, finding: Finding) -> str:
    """One line on what is wrong with a sensor now: "Blue box sensor reads 100 % for 5 h"."""
    lasted = span(finding.to_us - finding.from_us)
    if finding.fault is Fault.SATURATED:
        return (
            f"{name} reads {finding.value:.0f} % for {lasted}: it is wet; its humidity is not known"
        )
    what = "temperature" if finding.fault is Fault.STUCK_TEMPERATURE else "humidity"
    return f"{name} has told the same {what} for {lasted}: it is stuck; its {what} is not known"


def uncounted_words(finding: Finding, words: Words) -> str:
    """Why what a sensor tells does not count: "Its sensor has been stuck since Tue 14:02"."""
    since = f"since {words.moment(finding.from_us)}"
    if finding.fault is Fault.SATURATED:
        return (
            f"Its sensor has read {finding.value:.0f}{UNIT_SPACE}% {since}: it is wet; humidity "
            "not known, not counted."
        )
    what = "temperature" if finding.fault is Fault.STUCK_TEMPERATURE else "humidity"
    return f"Its sensor has been stuck {since}: {what} not known, not counted."


def _does(offset_pct: float, gain: float) -> str:
    if math.isclose(gain, 1.0):
        return f"Corrected = reading {_signed(offset_pct)} %RH"
    return f"Corrected = {gain:.3f} × reading {_signed(offset_pct)} %RH"


def _signed(value: float) -> str:
    return f"{'−' if value < 0 else '+'} {abs(value):.1f}"


def _off(difference_pct: float) -> str:
    if abs(difference_pct) < _SMALL:
        return "no difference"
    return f"{abs(difference_pct):.1f}{UNIT_SPACE}%RH too {'high' if difference_pct > 0 else 'low'}"


def _roughly(seconds: float) -> str:
    """A time to wait, no finer than it is known."""
    step_s = 600 if seconds < 2 * 3_600 else 1_800
    return span(max(step_s, math.ceil(seconds / step_s) * step_s) * US_PER_S)
