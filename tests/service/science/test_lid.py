"""The lid of a box: between two airs, warmed by its own sweat, dripping when it must."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from service.errors import OutOfRangeError
from service.science.air import dew_point_c, saturation_pressure_pa, vapour_pressure_pa
from service.science.film import LID_WET, wet_spells
from service.science.lid import LID, LID_NEAR_BOX, LID_NEAR_CAVE, Lid, lid_run
from service.science.signals import US_PER_MINUTE, US_PER_S, BoolArray

FloatArray = npt.NDArray[np.float64]
LATENT = 2.477e6


def cycling(minutes: int = 600) -> tuple[npt.NDArray[np.int64], FloatArray, FloatArray, FloatArray]:
    """A damp box in a cave that cools in cycles: times, box air, its vapour, cave air."""
    at = np.arange(minutes)
    cave_c = 10 + 2.4 * np.sin(2 * np.pi * at / 45)
    box_c = 10 + 0.6 * np.sin(2 * np.pi * (at - 6) / 45)
    humidity = 98.9 + 1.0 * np.sin(2 * np.pi * at / 400)
    return at * US_PER_MINUTE, box_c, vapour_pressure_pa(box_c, humidity), cave_c


def stepped(lid: Lid, minutes: int = 600) -> tuple[FloatArray, FloatArray]:
    """The same lid by a plain explicit step of half a second and a formula of its own."""
    _, box_c, vapour, cave_c = cycling(minutes)
    parts = 120
    temperature = (lid.inside_w_m2_k * box_c[0] + lid.outside_w_m2_k * cave_c[0]) / (
        lid.inside_w_m2_k + lid.outside_w_m2_k
    )
    film, rows = 0.0, [(temperature, 0.0)]
    for i in range(minutes - 1):
        for part in range(parts):
            a = (part + 0.5) / parts
            box, cave = (x[i] + a * (x[i + 1] - x[i]) for x in (box_c, cave_c))
            pressure = vapour[i] + a * (vapour[i + 1] - vapour[i])
            # WMO-No. 8, Annex 4.B, scaled to Sonntag's value at 10 °C.
            saturated = 1.001715 * 611.2 * np.exp(17.62 * temperature / (243.12 + temperature))
            gain = lid.moisture_kg_m2_s_pa * (pressure - saturated) * 60 / parts
            gain = max(gain, -film)
            film = min(lid.holds_g_m2 / 1e3, film + gain)
            heat = lid.inside_w_m2_k * (box - temperature) + lid.outside_w_m2_k * (
                cave - temperature
            )
            temperature += (heat * 60 / parts + LATENT * gain) / lid.heat_j_m2_k
        rows.append((temperature, 1e3 * film))
    table = np.array(rows)
    return table[:, 0], table[:, 1]


def wet(times_us: npt.NDArray[np.int64], film: FloatArray) -> BoolArray:
    mask = np.zeros(times_us.size, dtype=bool)
    for spell in wet_spells(times_us, film, LID_WET):
        mask |= (times_us >= spell.from_us) & (times_us < spell.to_us)
    return mask


@pytest.mark.parametrize("lid", [LID, LID_NEAR_BOX, LID_NEAR_CAVE])
def test_lid_is_that_of_a_stepped_reference(lid: Lid) -> None:
    times_us, box_c, vapour, cave_c = cycling()
    temperature, film = stepped(lid)

    run = lid_run(times_us, box_c, vapour, cave_c, lid)
    said, true = wet(times_us, run.film_g_m2), wet(times_us, film)

    # The bounds that were set: 0.1 K, F1 0.95, peak 5 %.
    assert np.sqrt(np.mean((run.lid_c - temperature) ** 2)) < 0.1
    assert true.any()
    assert 2 * (said & true).sum() / (said.sum() + true.sum()) >= 0.95
    assert run.film_g_m2.max() == pytest.approx(film.max(), rel=0.05)


def test_dry_lid_lies_between_both_airs() -> None:
    times_us, box_c, vapour, cave_c = cycling()

    run = lid_run(times_us, box_c, 0.5 * vapour, cave_c)

    assert run.film_g_m2.max() == 0
    assert run.lid_c.min() > min(box_c.min(), cave_c.min())
    assert run.lid_c.max() < max(box_c.max(), cave_c.max())


def test_lid_under_a_fan_sweats_more_than_one_in_still_air() -> None:
    films = [lid_run(*cycling(), lid).film_g_m2.sum() for lid in (LID_NEAR_BOX, LID, LID_NEAR_CAVE)]

    assert films[0] < films[1] < films[2]


def test_sweat_warms_the_lid() -> None:
    size = 300
    times_us = np.arange(size) * US_PER_MINUTE
    box_c, cave_c = np.full(size, 12.0), np.full(size, 8.0)
    vapour = vapour_pressure_pa(box_c, np.full(size, 98.0))

    dry = lid_run(times_us, box_c, 0.1 * vapour, cave_c).lid_c[-1]
    wet_c = lid_run(times_us, box_c, vapour, cave_c).lid_c[-1]

    assert dry < wet_c < dew_point_c(12.0, 98.0)


def test_heat_and_water_of_a_lid_balance() -> None:
    times_us, box_c, vapour, cave_c = cycling()
    run = lid_run(times_us, box_c, vapour, cave_c)
    step_s = np.diff(times_us) / US_PER_S

    heat = LID.inside_w_m2_k * (box_c - run.lid_c) + LID.outside_w_m2_k * (cave_c - run.lid_c)
    sensible_j = 0.5 * (heat[1:] + heat[:-1]) * step_s
    latent_j = LATENT / 1e3 * np.diff(run.film_g_m2 + run.dripped_g_m2)
    stored_j = LID.heat_j_m2_k * np.diff(run.lid_c)
    turned = np.abs(sensible_j).sum() + np.abs(latent_j).sum()

    # The bound that was set: 0.1 % of what was turned over.
    assert abs((sensible_j + latent_j - stored_j).sum()) < 1e-3 * turned


def test_lid_drips_what_it_cannot_hold() -> None:
    size = 3_000
    times_us = np.arange(size) * US_PER_MINUTE
    box_c = np.full(size, 12.0)
    vapour = saturation_pressure_pa(box_c)

    run = lid_run(times_us, box_c, vapour, np.full(size, 6.0), replace(LID, holds_g_m2=20.0))

    assert run.film_g_m2.max() == 20
    assert run.dripped_g_m2[-1] > 0
    assert (np.diff(run.dripped_g_m2) >= 0).all()


def test_lid_of_no_history_is_empty() -> None:
    nothing = np.empty(0)

    run = lid_run(np.empty(0, dtype=np.int64), nothing, nothing, nothing)

    assert run.lid_c.size == 0


def test_gap_in_either_air_is_refused() -> None:
    times_us, box_c, vapour, cave_c = cycling(10)
    cave_c[3] = np.nan

    with pytest.raises(OutOfRangeError, match="fill the gaps"):
        lid_run(times_us, box_c, vapour, cave_c)
