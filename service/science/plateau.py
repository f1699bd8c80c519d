"""The plateau of a saturated-salt test: not yet, done, or it will not settle and why.

A sensor in a sealed bag over a slurry creeps towards the salt's humidity with a time constant
nobody knows. Each reading is compared with the salt's humidity at the temperature of the same
instant, so a test in a fridge that cycles is judged as well as one on a shelf. The file may
begin in the air of a room or a cave and end after the bag was opened.

Nothing here knows which sensor it is or what will be done with the result.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from service.science.approach import Approach, fit_approach, hanging_together
from service.science.correction import PLAUSIBLE_OFFSET_PCT, Comparison
from service.science.exposures import Exposure, exposures
from service.science.salts import (
    COLDEST_C,
    WARMEST_C,
    Salt,
    salt_humidity_pct,
    salt_uncertainty_pct,
)

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

SETTLED_PCT = 0.15
"""A sensor this near to where it goes has arrived. [%RH] Our choice: below any salt's ±."""
SHORTEST_HOLD_S = 1_200.0
"""The plateau must last this long. [s] Common practice for small sensors (T. Padfield)."""
UNEVEN_HOLD_S = 7_200.0
"""Where cooling cycles show in the readings it must last two hours. [s] Our choice: two cycles
or more."""
EVEN_PCT = 0.3
"""Scatter of minute medians above this counts as uneven. [%RH] Our choice."""
SURE_PCT = 0.5
"""The plateau counts once its mean is this sure. [%RH] Our choice."""
LONGEST_S = 86_400.0
"""What needs longer than this will not settle in time. [s] Our choice: a day."""
WET_PCT = 99.95
"""A sensor that says 100 is wet, or cut off there: its mean means nothing. [%RH]"""
WET_SHARE = 0.05
"""So much of the second half may be cut off. [1] Our choice."""
OPEN_AIR_S = 240.0
"""In open air a sensor arrives faster than this, in a bag slower. [s] Our choice: lags of
sensors are 1 to 3 min, bags take 5 min to hours."""
ALIKE = 2.0
"""Time constants within this factor are alike. [1] Our choice."""
APPROACHED_PCT = 1.0
"""An approach from nearer than this has no time constant worth the name. [%RH] Our choice."""
FEWEST = 10
"""Fewer minutes than this tell nothing. Our choice."""

BATCH_S = 3_600.0
"""Length of the batches whose means judge an uneven plateau. [s] Our choice: a cooling cycle
or more."""

_BATCHES = 4
_S_PER_US = 1e-6
_LAST_SHARE = 3
_ONSET_SHARE = 0.9
_SIGNIFICANT = 2.5


class PlateauState(StrEnum):
    """How a test stands."""

    NOT_YET = "not yet"
    DONE = "done"
    WILL_NOT_SETTLE = "will not settle"


class Hindrance(StrEnum):
    """Why a test will not settle."""

    BROKEN_OFF = "broken off"
    TOO_SLOW = "too slow"
    TOO_UNEVEN = "too uneven"
    TOO_FAR = "too far from the salt"
    WET = "sensor wet"
    NO_READINGS = "no readings that can be used"


@dataclass(frozen=True, slots=True)
class Plateau:
    """What a saturated-salt test has shown so far.

    Attributes:
        state: How it stands.
        salt: The salt.
        hindrance: Why it will not settle, or None.
        from_us: Where the part that counts begins. [µs UTC]
        to_us: Where it ends. [µs UTC]
        temperature_c: Mean temperature in that part. [°C]
        difference_pct: Reading minus the salt's humidity: mean of the plateau, or the level
            towards which it was going where it is not done; None if nothing can be said. [%RH]
        difference_uncertainty_pct: Standard uncertainty of it, without the salt's. [%RH]
        remaining_s: Time until it is done, estimated; 0 when done, None if unknown. [s]
        time_constant_s: Of the approach, estimated, or None. [s]
    """

    state: PlateauState
    salt: Salt
    hindrance: Hindrance | None
    from_us: int
    to_us: int
    temperature_c: float
    difference_pct: float | None = None
    difference_uncertainty_pct: float | None = None
    remaining_s: float | None = None
    time_constant_s: float | None = None

    @property
    def extrapolated(self) -> bool:
        """The difference is where the sensor was going, not where it arrived."""
        return self.difference_pct is not None and self.state is not PlateauState.DONE

    def comparison(self) -> Comparison | None:
        """Sensor against salt, for a correction; None if nothing can be said.

        An extrapolated level has at least a fifth of the way left to go as its uncertainty,
        for no sensor follows one exponential exactly; see `find_plateau`.
        """
        if self.difference_pct is None or self.difference_uncertainty_pct is None:
            return None
        salt_pct = salt_humidity_pct(self.salt, self.temperature_c)
        uncertainty = np.hypot(
            self.difference_uncertainty_pct, salt_uncertainty_pct(self.salt, self.temperature_c)
        )
        return Comparison(salt_pct + self.difference_pct, salt_pct, float(uncertainty))


def find_plateau(
    times_us: IntArray,
    temperature_c: FloatArray,
    humidity_pct: FloatArray,
    salt: Salt,
    *,
    finished: bool = False,
) -> Plateau:
    """How a saturated-salt test stands, and what it has shown.

    The series is cut where the air around the sensor changed suddenly; each piece is fitted
    as a first-order approach of reading minus salt. A piece is settled from where 0.15 %RH
    is left to go, if what follows neither drifts nor lasts too short. Of several settled
    pieces near the salt those count in which the sensor arrived slowly, as it does in a bag
    and not in open air; of these the last that lasted at least half as long as the longest.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperature that the sensor says. [°C] NaN where not known; below 0
            and above 50 is passed over.
        humidity_pct: Humidity that the sensor says, uncorrected. [%RH] NaN where not known.
        salt: The salt in the bag.
        finished: No more readings will come; what is not done by now was broken off.

    Returns:
        The state of the test.

    Raises:
        Nothing: a test that goes wrong is a value.

    References:
        Greenspan 1977 for the salts; T. Padfield, conservation physics, for the waiting
        times: at least an hour for bulky and 20 min for small sensors.

    Examples:
        >>> t = np.arange(0.0, 6 * 3600.0, 60.0)
        >>> said = 77.3 - 20.0 * np.exp(-t / 2400.0)
        >>> test = find_plateau(
        ...     (t * 1e6).astype(np.int64), np.full(t.size, 20.0), said, Salt.SODIUM_CHLORIDE
        ... )
        >>> test.state.value, round(test.difference_pct, 1)
        ('done', 1.8)
    """
    inside = (temperature_c >= COLDEST_C) & (temperature_c <= WARMEST_C)
    inside &= ~np.isnan(humidity_pct)
    if not inside.any():
        edges = (int(times_us[0]), int(times_us[-1])) if times_us.size else (0, 0)
        state = PlateauState.WILL_NOT_SETTLE if finished else PlateauState.NOT_YET
        why = Hindrance.NO_READINGS if finished else None
        return Plateau(state, salt, why, *edges, float("nan"))
    times, temperature, humidity = times_us[inside], temperature_c[inside], humidity_pct[inside]
    difference = humidity - salt_humidity_pct(salt, temperature)
    resolution = _resolution(humidity)
    pieces = exposures(times, difference, temperature, humidity)
    found = [
        _judged(piece, salt, resolution, ended=finished or piece is not pieces[-1])
        for piece in pieces
    ]
    return _the_one_that_counts(found)


def _judged(piece: Exposure, salt: Salt, resolution: float, *, ended: bool) -> Plateau:
    """What one exposure to one air shows."""
    seconds, values = piece.seconds, piece.difference_pct
    end_s = float(seconds[-1])
    if seconds.size < FEWEST:
        state = PlateauState.WILL_NOT_SETTLE if ended else PlateauState.NOT_YET
        why = Hindrance.BROKEN_OFF if ended else None
        return _told(piece, salt, 0, state, why)
    if np.mean(piece.humidity_pct[seconds.size // 2 :] >= WET_PCT) > WET_SHARE:
        return _told(piece, salt, 0, PlateauState.WILL_NOT_SETTLE, Hindrance.WET)
    begin = _onset(values)
    approach = first = fit_approach(seconds[begin:], values[begin:])
    start = _settled(seconds, begin, approach)
    while seconds.size - start >= FEWEST:
        drift, sure = _drift(seconds[start:], values[start:])
        if abs(drift) <= max(2 * SETTLED_PCT, sure):
            return _held(piece, salt, start, first, resolution, drift, ended=ended)
        # A slower approach goes on under the fast one: fit what comes after it.
        begin = start if start > begin else begin + (seconds.size - begin) // _LAST_SHARE
        approach = fit_approach(seconds[begin:], values[begin:])
        start = _settled(seconds, begin, approach)
    return _unsettled(piece, salt, begin, approach, end_s, resolution, ended=ended)


def _settled(seconds: FloatArray, begin: int, approach: Approach) -> int:
    """Index from which next to nothing of an approach is left to go."""
    return int(np.searchsorted(seconds, seconds[begin] + approach.within_s(SETTLED_PCT)))


def _held(
    piece: Exposure,
    salt: Salt,
    start: int,
    approach: Approach,
    resolution: float,
    drift: float,
    *,
    ended: bool,
) -> Plateau:
    """A piece that has arrived: has it stayed long enough, and is its mean sure enough?"""
    values = piece.difference_pct[start:]
    held_s = float(piece.seconds[-1] - piece.seconds[start])
    scatter = float(values.std(ddof=1))
    _, means = _batched(piece.seconds[start:], values)
    sure = float(means.std(ddof=1) * np.sqrt(hanging_together(means) / means.size))
    parts = (sure, resolution / np.sqrt(12), drift / np.sqrt(12))
    uncertainty = float(np.sqrt(np.sum(np.square([*parts, SETTLED_PCT / 3]))))
    mean = float(values.mean())
    needed_s = SHORTEST_HOLD_S if scatter <= EVEN_PCT else UNEVEN_HOLD_S
    if uncertainty > SURE_PCT:
        needed_s = max(needed_s, held_s * (uncertainty / SURE_PCT) ** 2)
    seen = abs(approach.distance) > max(APPROACHED_PCT, 3.0 * scatter)
    facts = (mean, uncertainty, approach.time_constant_s if seen else None)
    if abs(mean) > PLAUSIBLE_OFFSET_PCT:
        state, why, wait_s = PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_FAR, None
    elif held_s >= needed_s:
        state, why, wait_s = PlateauState.DONE, None, 0.0
    elif needed_s - held_s > LONGEST_S:
        state, why, wait_s = PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_UNEVEN, None
    elif ended:
        state, why, wait_s = PlateauState.WILL_NOT_SETTLE, Hindrance.BROKEN_OFF, None
    else:
        state, why, wait_s = PlateauState.NOT_YET, None, needed_s - held_s
    return _told(piece, salt, start, state, why, wait_s, facts)


def _unsettled(
    piece: Exposure,
    salt: Salt,
    begin: int,
    approach: Approach,
    end_s: float,
    resolution: float,
    *,
    ended: bool,
) -> Plateau:
    """A piece that is still on its way, with the level it is going to."""
    gone_s = end_s - float(piece.seconds[begin])
    left = abs(approach.remaining(gone_s))
    # One exponential is a model: a fifth of what is left to go is our choice of its error.
    parts = (approach.level_uncertainty, left / 5.0, resolution / np.sqrt(12), SETTLED_PCT)
    uncertainty = float(np.sqrt(np.sum(np.square(parts))))
    wait_s = max(approach.within_s(SETTLED_PCT) - gone_s, 0.0) + SHORTEST_HOLD_S
    # Before one time constant has passed the curve has not bent: the level is a guess.
    bent = gone_s >= approach.time_constant_s and uncertainty < PLAUSIBLE_OFFSET_PCT
    facts = (approach.level, uncertainty, approach.time_constant_s) if bent else None
    far = abs(approach.level) - PLAUSIBLE_OFFSET_PCT > 2.0 * uncertainty
    if bent and far:
        state, why = PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_FAR
    elif bent and wait_s > LONGEST_S:
        state, why = PlateauState.WILL_NOT_SETTLE, Hindrance.TOO_SLOW
    elif ended:
        state, why = PlateauState.WILL_NOT_SETTLE, Hindrance.BROKEN_OFF
    else:
        state, why = PlateauState.NOT_YET, None
    waiting = wait_s if bent and state is PlateauState.NOT_YET else None
    return _told(piece, salt, begin, state, why, waiting, facts)


def _told(
    piece: Exposure,
    salt: Salt,
    start: int,
    state: PlateauState,
    why: Hindrance | None,
    wait_s: float | None = None,
    facts: tuple[float, float, float | None] | None = None,
) -> Plateau:
    """The facts as a value."""
    mean, uncertainty, time_constant_s = facts if facts is not None else (None, None, None)
    return Plateau(
        state,
        salt,
        why,
        piece.begin_us + round(float(piece.seconds[start]) / _S_PER_US),
        piece.begin_us + round(float(piece.seconds[-1]) / _S_PER_US),
        float(piece.temperature_c[start:].mean()),
        mean,
        uncertainty,
        wait_s,
        time_constant_s,
    )


def _the_one_that_counts(found: list[Plateau]) -> Plateau:
    """The settled piece, else the one on its way, else the longest that tells a level."""
    done = [test for test in found if test.state is PlateauState.DONE]
    if done:
        # The bag is where the sensor arrived slowly, not the air before or after it.
        pace = [test.time_constant_s or OPEN_AIR_S for test in done]
        slow = [t for t, s in zip(done, pace, strict=True) if ALIKE * s >= max(pace)]
        longest_us = max(test.to_us - test.from_us for test in slow)
        return [test for test in slow if 2 * (test.to_us - test.from_us) >= longest_us][-1]
    if found[-1].state is PlateauState.NOT_YET:
        return found[-1]
    near = [test for test in found if test.hindrance is not Hindrance.TOO_FAR]
    told = [test for test in near if test.difference_pct is not None]
    return max(told or found, key=lambda test: test.to_us - test.from_us)


def _onset(values: FloatArray) -> int:
    """Where the approach begins: the last time it was nearly as far off as it ever was."""
    level = float(np.median(values[-max(values.size // _LAST_SHARE, 1) :]))
    distance = np.abs(values - level)
    onset = int(np.flatnonzero(distance >= _ONSET_SHARE * distance.max())[-1])
    return onset if values.size - onset >= FEWEST else 0


def _drift(seconds: FloatArray, values: FloatArray) -> tuple[float, float]:
    """How far a straight line runs over the whole piece, and how far chance may take it."""
    seconds, values = _batched(seconds, values)
    centred = seconds - seconds.mean()
    power = float(centred @ centred)
    slope = float(centred @ values) / power
    residual = values - values.mean() - slope * centred
    variance = float(residual @ residual) / max(values.size - 2, 1) * hanging_together(residual)
    length = float(seconds[-1] - seconds[0])
    return slope * length, _SIGNIFICANT * float(np.sqrt(variance / power)) * length


def _batched(seconds: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means of batches of an hour, or of a fourth of the piece, where cycles would not cancel.

    Batch means tell how sure the mean of a series is whose noise repeats: a cycle of half an
    hour, as a fridge has, leaves little of itself in the mean of an hour.
    """
    length_s = float(seconds[-1] - seconds[0])
    if length_s < _BATCHES * BATCH_S and values.std() <= EVEN_PCT:
        return seconds, values
    parts = max(round(length_s / BATCH_S), _BATCHES)
    slots = np.minimum(((seconds - seconds[0]) / length_s * parts).astype(np.int64), parts - 1)
    counts = np.bincount(slots, minlength=parts)
    filled = counts > 0
    sums = (np.bincount(slots, weights=w, minlength=parts) for w in (seconds, values))
    at_s, means = (total[filled] / counts[filled] for total in sums)
    return at_s, means


def _resolution(humidity_pct: FloatArray) -> float:
    """The step in which the sensor tells humidity, as seen; zero if it never changed. [%RH]"""
    steps = np.diff(np.unique(humidity_pct.round(4)))
    return float(steps.min()) if steps.size else 0.0
