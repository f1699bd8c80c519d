"""What is told of a wheel's climate: plain values, all of them estimates."""

from dataclasses import dataclass
from typing import Final

from service.clock import DAY_US, HOUR_US
from service.living.bands import UNKNOWN_FACE, Bands, FaceBand
from service.living.life import Weighed
from service.living.weights import Weight
from service.science.air import FloatArray
from service.science.band import Band
from service.science.film import WetSpell
from service.science.margin import MarginAhead
from service.science.ripening import EquivalentAge
from service.science.signals import BoolArray, IntArray

_WEEK_US: Final = 7 * DAY_US


@dataclass(frozen=True, slots=True, eq=False)
class Lived:
    """What a wheel lived through, one value an instant; NaN where it is not known.

    Attributes:
        times_us: Instants, rising. [µs UTC]
        air_c: The air about it. [°C]
        humidity_pct: Of that air. [%RH]
        dew_point_c: Of that air. [°C]
        surface_c: Mean of its surface. [°C]
        face_c: Mean of its faces. [°C]
        mean_c: Mean of the whole wheel. [°C]
        core_c: Its middle. [°C]
        film_g_m2: Water on it where it is thickest; NaN where it is wrapped. [g/m²]
        margin_k: The colder of faces and side less the dew point. [K]
        estimated: Where the air was not measured, or only since shortly before.
    """

    times_us: IntArray
    air_c: FloatArray
    humidity_pct: FloatArray
    dew_point_c: FloatArray
    surface_c: FloatArray
    face_c: FloatArray
    mean_c: FloatArray
    core_c: FloatArray
    film_g_m2: FloatArray
    margin_k: FloatArray
    estimated: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """The surface of a wheel as it is now, an estimate.

    Attributes:
        time_us: Of the newest reading that it rests on. [µs UTC]
        surface_c: Mean of its surface. [°C]
        dew_point_c: Of the air; None where no water is modelled. [°C]
        margin_k: The colder of faces and side less the dew point. [K]
        film_g_m2: Water on it.
        wet_since_us: Since when a face or the side is wet; None when it is not. [µs UTC]
        ahead: The margin in the hours to come; None when too little is known.
        band: The ends of all that.
    """

    time_us: int
    surface_c: float
    dew_point_c: float | None
    margin_k: float | None
    film_g_m2: float | None
    wet_since_us: int | None
    ahead: MarginAhead | None
    band: FaceBand = UNKNOWN_FACE

    @property
    def sweats_in_h(self) -> float | None:
        """Hours until it is expected to sweat; None when it is not, or wet already. [h]"""
        if self.ahead is None or self.wet_since_us is not None:
            return None
        return self.ahead.sweats_in_h()

    @property
    def sweats_between_h(self) -> tuple[float, float | None] | None:
        """The early and the late end of that; late is None where it may stay dry. [h]"""
        if self.ahead is None or self.wet_since_us is not None:
            return None
        return self.ahead.sweats_between_h()


@dataclass(frozen=True, slots=True, eq=False)
class WheelClimate:
    """The climate of a wheel up to now.

    Attributes:
        wheel_id: The wheel.
        made_us: When it was made. [µs UTC]
        now_us: Up to when. [µs UTC]
        lived: Through time; None when no air of it was ever known.
        wet: When a face or the side was wet, in order of time.
        now: The surface now; None when there is no fresh reading.
        weighings: What the maker weighed.
        weight: Its mass; None when nothing can be said of it.
        age: Its age in days at the reference temperature; None when no air is known.
        reference_temperature_c: Of its plan; None when the plan is not here. [°C]
        kinetic_c: Mean kinetic temperature; None when no air is known. [°C]
        notes: What the reader should know of these estimates.
        bands: How far surface, film and wet hours may be off; None when no air is known.
        kinetic_band_c: Band of the mean kinetic temperature. [°C]
    """

    wheel_id: int
    made_us: int
    now_us: int
    lived: Lived | None
    wet: tuple[WetSpell, ...]
    now: Face | None
    weighings: tuple[Weighed, ...]
    weight: Weight | None
    age: EquivalentAge | None
    reference_temperature_c: float | None
    kinetic_c: float | None
    notes: tuple[str, ...]
    bands: Bands | None = None
    kinetic_band_c: Band | None = None

    def wet_hours(self, from_us: int | None = None) -> float:
        """Hours in which a face or the side was wet, since a time or in all. [h]"""
        since = 0 if from_us is None else from_us
        return sum(max(0, each.to_us - max(each.from_us, since)) for each in self.wet) / HOUR_US

    @property
    def wet_hours_last_week(self) -> float:
        """Wet hours of the seven days up to now. [h]"""
        return self.wet_hours(self.now_us - _WEEK_US)

    def wet_hours_band(self, from_us: int | None = None) -> Band | None:
        """The band of the wet hours; None where no sweat is modelled. [h]"""
        if self.bands is None or not self.bands.of.moved:
            return None
        return self.bands.wet_hours(self.wet_hours(from_us), 0 if from_us is None else from_us)

    @property
    def wet_hours_last_week_band(self) -> Band | None:
        """The band of the wet hours of the last seven days. [h]"""
        return self.wet_hours_band(self.now_us - _WEEK_US)

    @property
    def peak_film_band_g_m2(self) -> Band | None:
        """The band of the thickest film; None where no sweat is modelled. [g/m²]"""
        if self.bands is None or not self.bands.of.moved:
            return None
        return self.bands.peak_g_m2(self.peak_film_g_m2)

    @property
    def peak_film_g_m2(self) -> float:
        """The thickest film that ever lay on it in a wet spell; 0 if there was none. [g/m²]"""
        return max((each.peak_g_m2 for each in self.wet), default=0.0)
