"""What the API answers of a wheel's climate: its surface, weight and age. All are estimates."""

import math

import numpy as np
from pydantic import Field

from service.api.moments import Instant
from service.api.shapes import Answer
from service.living.bands import Bands
from service.living.values import Face, WheelClimate
from service.living.weights import Weight
from service.science.band import Band
from service.science.film import WetSpell
from service.science.ripening import EquivalentAge
from service.science.signals import FloatArray, IntArray
from service.science.weight import LossDay


class WeighingAnswer(Answer):
    """A wheel on the scale."""

    id: int
    time: Instant = Field(validation_alias="time_us")
    grams: float


class WetSpellAnswer(Answer):
    """A time in which a face or the side was wet."""

    from_: Instant = Field(validation_alias="from_us", serialization_alias="from")
    to: Instant = Field(validation_alias="to_us")
    peak_g_m2: float
    peak_g_m2_low: float | None = None
    peak_g_m2_high: float | None = None


class FaceAnswer(Answer):
    """The surface as it is now, and whether sweat is near."""

    time: Instant = Field(validation_alias="time_us")
    surface_c: float
    dew_point_c: float | None
    margin_k: float | None = Field(description="The colder of faces and side less the dew point.")
    film_g_m2: float | None
    wet_since: Instant | None = Field(validation_alias="wet_since_us")
    sweats_in_h: float | None
    surface_c_low: float | None = Field(None, description="All bands hold 9 times in 10.")
    surface_c_high: float | None = None
    margin_k_low: float | None = None
    margin_k_high: float | None = None
    film_g_m2_low: float | None = None
    film_g_m2_high: float | None = None
    sweats_in_h_low: float | None = None
    sweats_in_h_high: float | None = Field(None, description="Null where it may stay dry.")


class MassAnswer(Answer):
    """Mass at a time, with the band that holds it 9 times in 10."""

    time: Instant
    grams: float
    low: float
    high: float


class LossAnswer(Answer):
    """When a share of the first mass is lost; null where it may never be."""

    share: float
    earliest: Instant | None
    expected: Instant | None
    latest: Instant | None


class WeightAnswer(Answer):
    """The mass of a wheel through time and ahead."""

    weighings: int = Field(description="How many weighings it rests on.")
    past: tuple[MassAnswer, ...]
    ahead: tuple[MassAnswer, ...]
    losses: tuple[LossAnswer, ...]


class AgeAnswer(Answer):
    """Age in days at the reference temperature, beside the days whose air is known."""

    days: float
    low_days: float
    high_days: float
    elapsed_days: float
    in_gaps_days: float


class ClimateAnswer(Answer):
    """What a wheel lived through, in columns; a row of nulls stands in each silence."""

    wheel_id: int
    from_: Instant = Field(serialization_alias="from", validation_alias="from_us")
    to: Instant = Field(validation_alias="to_us")
    rows: int = Field(description="How many rows there are before thinning.")
    time: list[Instant]
    air_c: list[float | None]
    humidity_pct: list[float | None]
    dew_point_c: list[float | None]
    surface_c: list[float | None]
    face_c: list[float | None]
    mean_c: list[float | None]
    core_c: list[float | None]
    film_g_m2: list[float | None]
    margin_k: list[float | None]
    surface_c_low: list[float | None]
    surface_c_high: list[float | None]
    mean_c_low: list[float | None]
    mean_c_high: list[float | None]
    film_g_m2_low: list[float | None]
    film_g_m2_high: list[float | None]
    margin_k_low: list[float | None]
    margin_k_high: list[float | None]
    wet: tuple[WetSpellAnswer, ...]
    wet_hours: float
    wet_hours_low: float | None
    wet_hours_high: float | None
    peak_film_g_m2: float
    peak_film_g_m2_low: float | None
    peak_film_g_m2_high: float | None
    now: FaceAnswer | None
    weight: WeightAnswer | None
    age: AgeAnswer | None
    reference_temperature_c: float | None
    mean_kinetic_temperature_c: float | None
    mean_kinetic_temperature_c_low: float | None
    mean_kinetic_temperature_c_high: float | None
    notes: tuple[str, ...]


COLUMNS = (
    *("air_c", "humidity_pct", "dew_point_c", "surface_c", "face_c", "mean_c", "core_c"),
    *("film_g_m2", "margin_k"),
)
"""The columns of a climate, in order."""


def climate_answer(
    climate: WheelClimate,
    from_us: int,
    to_us: int,
    rows: int,
    times_us: IntArray,
    columns: list[FloatArray],
) -> ClimateAnswer:
    """A climate as it goes out, with columns that are thinned already."""
    named = dict(zip(COLUMNS, columns, strict=True))
    for name in _BANDED:
        named |= _ends(climate.bands, name, times_us, named[name])
    values = {name: _rounded(column) for name, column in named.items()}
    hours_low, hours_high = _ends_of(climate.wet_hours_band())
    peak_low, peak_high = _ends_of(climate.peak_film_band_g_m2)
    kinetic_low, kinetic_high = _ends_of(climate.kinetic_band_c)
    return ClimateAnswer(
        wheel_id=climate.wheel_id,
        from_=from_us,
        to=to_us,
        rows=rows,
        time=times_us.tolist(),
        **values,
        wet=tuple(
            _spell(each, climate.bands)
            for each in climate.wet
            if each.to_us > from_us and each.from_us < to_us
        ),
        wet_hours=round(climate.wet_hours(), 3),
        wet_hours_low=hours_low,
        wet_hours_high=hours_high,
        peak_film_g_m2=climate.peak_film_g_m2,
        peak_film_g_m2_low=peak_low,
        peak_film_g_m2_high=peak_high,
        now=_face(climate.now),
        weight=_weight(climate.weight),
        age=_age(climate.age),
        reference_temperature_c=climate.reference_temperature_c,
        mean_kinetic_temperature_c=climate.kinetic_c,
        mean_kinetic_temperature_c_low=kinetic_low,
        mean_kinetic_temperature_c_high=kinetic_high,
        notes=climate.notes,
    )


_BANDED = ("surface_c", "mean_c", "film_g_m2", "margin_k")


def _ends(
    bands: Bands | None, name: str, times_us: IntArray, values: FloatArray
) -> dict[str, FloatArray]:
    """The columns of both ends of a column; unknown without bands, and where it is unknown."""
    if bands is None:
        unknown = np.full(values.size, np.nan)
        return {f"{name}_low": unknown, f"{name}_high": unknown}
    low, high = bands.column(name, times_us, values)
    return {f"{name}_low": low, f"{name}_high": high}


def _ends_of(band: Band | None) -> tuple[float | None, float | None]:
    return (None, None) if band is None else (round(band.low, 3), round(band.high, 3))


def _rounded(column: FloatArray) -> list[float | None]:
    return [None if math.isnan(value) else round(value, 3) for value in column.tolist()]


def _spell(spell: WetSpell, bands: Bands | None) -> WetSpellAnswer:
    told = WetSpellAnswer.model_validate(spell)
    if bands is None:
        return told
    peak = bands.spell_peak_g_m2(spell)
    return told.model_copy(update={"peak_g_m2_low": peak.low, "peak_g_m2_high": peak.high})


def _face(face: Face | None) -> FaceAnswer | None:
    if face is None:
        return None
    told = FaceAnswer.model_validate(face)
    ends: dict[str, float | None] = {}
    for name in ("surface_c", "margin_k", "film_g_m2"):
        band: Band | None = getattr(face.band, name)
        ends |= zip((f"{name}_low", f"{name}_high"), _ends_of(band), strict=True)
    early, late = face.sweats_between_h or (None, None)
    return told.model_copy(update=ends | {"sweats_in_h_low": early, "sweats_in_h_high": late})


def _age(age: EquivalentAge | None) -> AgeAnswer | None:
    return None if age is None else AgeAnswer.model_validate(age)


def _weight(weight: Weight | None) -> WeightAnswer | None:
    if weight is None:
        return None
    past, ahead = (
        tuple(
            MassAnswer(time=time_us, grams=grams, low=low, high=high)
            for time_us, grams, low, high in zip(
                band.times_us.tolist(),
                band.grams.tolist(),
                band.low.tolist(),
                band.high.tolist(),
                strict=True,
            )
        )
        if band is not None
        else ()
        for band in (weight.past, weight.ahead)
    )
    losses = tuple(_loss(share, day) for share, day in weight.losses)
    return WeightAnswer(weighings=weight.weighings, past=past, ahead=ahead, losses=losses)


def _loss(share: float, day: LossDay) -> LossAnswer:
    earliest, expected, latest = (
        round(time_us) if math.isfinite(time_us) and 0 <= time_us < _LATEST_US else None
        for time_us in (day.earliest_us, day.expected_us, day.latest_us)
    )
    return LossAnswer(share=share, earliest=earliest, expected=expected, latest=latest)


_LATEST_US = 7_258_118_400_000_000
"""The year 2200: no cheese ages longer."""
