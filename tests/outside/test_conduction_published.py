"""Roots and temperatures of the finite cylinder against tables, a textbook and the exact series."""

import numpy as np
import pytest
from scipy import optimize, special  # type: ignore[import-untyped]  # scipy ships no types

from service.science.conduction import Exposure, Response, respond
from service.science.modes import Place, cylinder_roots, slab_roots
from service.science.signals import US_PER_S
from service.science.solid import Cylinder, Transfer

# Çengel, Heat and Mass Transfer, table 4-2: Biot number; first root and coefficient of the plane
# wall, of the cylinder.
CENGEL_4_2 = [
    (0.01, 0.0998, 1.0017, 0.1412, 1.0025),
    (0.1, 0.3111, 1.0161, 0.4417, 1.0246),
    (0.2, 0.4328, 1.0311, 0.6170, 1.0483),
    (0.3, 0.5218, 1.0450, 0.7465, 1.0712),
    (0.4, 0.5932, 1.0580, 0.8516, 1.0931),
    (0.5, 0.6533, 1.0701, 0.9408, 1.1143),
    (1.0, 0.8603, 1.1191, 1.2558, 1.2071),
    (2.0, 1.0769, 1.1785, 1.5995, 1.3384),
    (5.0, 1.3138, 1.2403, 1.9898, 1.5029),
    (10.0, 1.4289, 1.2620, 2.1795, 1.5677),
]

# A wheel of 12 by 6 cm, k 0.38, density 1090, heat 2900, taken from 12 to 4 °C at 5 W/(m² K) all
# over: exact series of 200 terms, computed apart from this code. Hours; core, centre of a face,
# rim, mean.
WHEEL = Cylinder(0.12, 0.06, 0.38, 1090.0, 2900.0)
COOLING = [
    (1, 10.917, 9.754, 8.242, 9.717),
    (3, 7.740, 7.108, 6.176, 6.984),
    (6, 5.415, 5.176, 4.822, 5.128),
]


def cooled(
    wheel: Cylinder, film_w_m2_k: float, seconds: float, start_c: float, air_c: float
) -> Response:
    response = Response(wheel, Transfer.uniform(film_w_m2_k), start_c, at_us=0)
    response.commit(0, air_c)
    response.commit(round(seconds * US_PER_S), air_c)
    return response


@pytest.mark.parametrize(("biot", "root", "coefficient", "_root", "_coefficient"), CENGEL_4_2)
def test_first_root_of_the_slab_meets_cengel(
    biot: float, root: float, coefficient: float, _root: float, _coefficient: float
) -> None:
    # The whole thickness has twice the Biot number and twice the root of half of it.
    found = slab_roots(2 * biot, 2 * biot, 1)[0] / 2
    factor = 4 * np.sin(found) / (2 * found + np.sin(2 * found))

    # The table prints four decimals.
    assert found == pytest.approx(root, abs=6e-5)
    assert factor == pytest.approx(coefficient, abs=6e-5)


@pytest.mark.parametrize(("biot", "_root", "_coefficient", "root", "coefficient"), CENGEL_4_2)
def test_first_root_of_the_cylinder_meets_cengel(
    biot: float, _root: float, _coefficient: float, root: float, coefficient: float
) -> None:
    found = cylinder_roots(biot, 1)[0]
    j0, j1 = special.j0(found), special.j1(found)

    # The table prints four decimals.
    assert found == pytest.approx(root, abs=6e-5)
    assert 2 * j1 / (found * (j0**2 + j1**2)) == pytest.approx(coefficient, abs=6e-5)


def test_next_roots_meet_those_computed_apart() -> None:
    # Roots at Biot number 1 by scipy.optimize.brentq, six decimals.
    slab = [0.860334, 3.425618, 6.437298, 9.529334]
    cylinder = [1.255784, 4.079478, 7.155799, 10.270985]

    assert slab_roots(2.0, 2.0, 7)[::2] / 2 == pytest.approx(slab, abs=1e-6)
    assert cylinder_roots(1.0, 4) == pytest.approx(cylinder, abs=1e-6)


def test_roots_go_to_the_limits_of_a_surface_at_the_temperature_of_the_air() -> None:
    # π/2, and the first zero of J0, 2.4048 (Çengel, table 4-2, last row).
    assert slab_roots(1e9, 1e9, 1)[0] / 2 == pytest.approx(np.pi / 2, abs=1e-6)
    assert cylinder_roots(1e9, 1)[0] == pytest.approx(2.4048, abs=6e-5)


def test_the_brass_cylinder_of_the_textbook() -> None:
    """Çengel's short brass cylinder (from memory): 10 by 12 cm, from 120 °C into air of 25 °C.

    After 15 min he reads 63.0 °C in the centre and 62.2 °C in the centre of the top face off his
    charts; the exact series gives 62.732 and 62.123.
    """
    brass = Cylinder(0.10, 0.12, 110.0, 8530.0, 110.0 / (33.9e-6 * 8530.0))
    after = cooled(brass, 60.0, 15 * 60, 120.0, 25.0)

    # The series to its last digit; the charts to what an eye reads off them.
    assert after.at_c(Place.CORE) == pytest.approx(62.732, abs=1e-3)
    assert after.at_c(Place.TOP_CENTRE) == pytest.approx(62.123, abs=1e-3)
    assert after.at_c(Place.CORE) == pytest.approx(63.0, abs=0.3)
    assert after.at_c(Place.TOP_CENTRE) == pytest.approx(62.2, abs=0.3)


@pytest.mark.parametrize(("hours", "core", "face_centre", "rim", "mean"), COOLING)
def test_a_cooling_wheel_meets_the_exact_series(
    hours: int, core: float, face_centre: float, rim: float, mean: float
) -> None:
    after = cooled(WHEEL, 5.0, hours * 3600, 12.0, 4.0)

    # Three decimals are given; filters that are shared may add another millikelvin.
    assert after.at_c(Place.CORE) == pytest.approx(core, abs=1.5e-3)
    assert after.at_c(Place.TOP_CENTRE) == pytest.approx(face_centre, abs=1.5e-3)
    assert after.at_c(Place.BOTTOM_CENTRE) == pytest.approx(face_centre, abs=1.5e-3)
    assert after.at_c(Place.TOP_RIM) == pytest.approx(rim, abs=1.5e-3)
    assert after.at_c(Place.MEAN) == pytest.approx(mean, abs=1.5e-3)


def test_a_whole_series_meets_the_exact_series_too() -> None:
    times_us = np.arange(0, 7 * 3600, 600) * US_PER_S
    air_c = np.full(times_us.size, 4.0)
    lived = respond(WHEEL, [Exposure(times_us, air_c, Transfer.uniform(5.0))], start_c=12.0)
    at = [np.flatnonzero(times_us == hours * 3600 * US_PER_S)[0] for hours, *_ in COOLING]

    # As above.
    assert lived.core_c[at] == pytest.approx([row[1] for row in COOLING], abs=1.5e-3)
    assert lived.mean_c[at] == pytest.approx([row[4] for row in COOLING], abs=1.5e-3)


@pytest.mark.parametrize(
    "wheel",
    [
        WHEEL,
        Cylinder(0.19, 0.075, 0.36, 920.0, 2900.0),
        Cylinder(0.08, 0.032, 0.41, 1050.0, 3100.0),
        Cylinder(0.36, 0.12, 0.35, 1080.0, 2700.0),
    ],
    ids=["12 by 6", "tomme", "white mould", "large"],
)
def test_mean_surface_meets_a_series_summed_from_roots_of_another_kind(wheel: Cylinder) -> None:
    """Brent's roots of  ζ tan ζ = Bi  and  ζ J1 = Bi J0, product of both sums (Çengel, 4-4)."""
    seconds = np.array([60.0, 600.0, 6_000.0, 60_000.0])
    half, radius = wheel.height_m / 2, wheel.diameter_m / 2
    bi_z, bi_r = 7.0 * half / wheel.conductivity_w_m_k, 7.0 * radius / wheel.conductivity_w_m_k
    z_surface = z_mean = r_surface = r_mean = np.zeros_like(seconds)
    edges = [0.0, *special.jn_zeros(1, 99)], special.jn_zeros(0, 100)
    for n, low, high in zip(range(100), *edges, strict=True):
        z = optimize.brentq(
            lambda x: x * np.sin(x) - bi_z * np.cos(x), n * np.pi, (n + 0.5) * np.pi
        )
        fades = np.exp(-(z**2) * wheel.diffusivity_m2_s * seconds / half**2)
        c = 4 * np.sin(z) / (2 * z + np.sin(2 * z)) * fades
        z_surface, z_mean = z_surface + c * np.cos(z), z_mean + c * np.sin(z) / z
        z = optimize.brentq(lambda x: x * special.j1(x) - bi_r * special.j0(x), low, high)
        j0, j1 = special.j0(z), special.j1(z)
        fades = np.exp(-(z**2) * wheel.diffusivity_m2_s * seconds / radius**2)
        c = 2 * j1 / (z * (j0**2 + j1**2)) * fades
        r_surface, r_mean = r_surface + c * j0, r_mean + c * 2 * j1 / z
    faces, side = z_surface * r_mean, z_mean * r_surface
    times_us = np.append(0, seconds * US_PER_S).astype(np.int64)
    still = Exposure(times_us, np.zeros(5), Transfer.uniform(7.0))
    lived = respond(wheel, [still], start_c=1.0)

    # The bounds that `modes_of` states for a jump of 1 K.
    assert lived.surface_c[1:] == pytest.approx(side + wheel.face_share * (faces - side), abs=1e-3)
    assert lived.mean_c[1:] == pytest.approx(z_mean * r_mean, abs=1e-3)
    assert lived.face_c[1:] == pytest.approx(faces, abs=3e-3)
