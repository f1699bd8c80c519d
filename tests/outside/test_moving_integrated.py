"""The planner's closed form against published ratios, and against integration and root finding.

Arrhenius ratios: worked out apart from this code for 40, 60, 83.144 and 100 kJ/mol, R = 8.314
J/(mol K). The rate of 83.144 kJ/mol is that of USP <1160>, mean kinetic temperature. The days
are found anew here by scipy: `solve_ivp` integrates the ripening of the law as textbooks write
it, and `brentq` finds the day of moving.
"""

import math
from collections.abc import Callable

import pytest
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]  # the package has no stubs
from scipy.optimize import brentq  # type: ignore[import-untyped]  # the package has no stubs

from service.ageing.courses import Aged, PlaceAir, courses
from service.ageing.work import Days

WANTED, PAST = Days(45, 50, 55, "planted"), Days(55, 60, 65, "planted")
GAS_CONSTANT = 8.314462618  # CODATA 2018, exact
PUBLISHED = [
    # kJ/mol, from °C, to °C, ratio
    (40.0, 4.0, 12.0, 1.6274),
    (60.0, 4.0, 12.0, 2.0761),
    (83.144, 4.0, 12.0, 2.7519),
    (100.0, 4.0, 12.0, 3.3787),
    (40.0, 10.0, 20.0, 1.7853),
    (60.0, 10.0, 20.0, 2.3854),
    (83.144, 10.0, 20.0, 3.3359),
    (100.0, 10.0, 20.0, 4.2587),
    (40.0, 10.0, 13.0, 1.195),
    (60.0, 10.0, 13.0, 1.306),
    (83.144, 10.0, 13.0, 1.448),
    (100.0, 10.0, 13.0, 1.561),
]


def rate(celsius: float, reference_c: float, kj_per_mol: float) -> float:
    """The law of Arrhenius as textbooks write it, in kelvin and joules."""
    here, there = celsius + 273.15, reference_c + 273.15
    return math.exp(kj_per_mol * 1_000 / GAS_CONSTANT * (1 / there - 1 / here))


def integrated(day: float, move: float, at: Callable[[float], float], age: float) -> float:
    """Equivalent age on a day by integration, in two parts so that no step crosses the move."""
    for start, end in ((0.0, move), (move, day)):
        if end > start:
            middle = at((start + end) / 2)
            run = solve_ivp(lambda _t, _y, r=middle: [r], (start, end), [age], rtol=1e-10)
            age = float(run.y[0][-1])
    return age


@pytest.mark.parametrize(("energy", "cold", "warm", "ratio"), PUBLISHED)
def test_the_days_of_two_places_stand_in_the_published_ratio(
    energy: float, cold: float, warm: float, ratio: float
) -> None:
    aged = (Aged(energy, 0.0, 0.0, 0.0),)
    zero = (0.0, 0.0, 0.0)
    days = [
        courses(aged, zero, PlaceAir(at, 0), PlaceAir(at, 0), 11.0, WANTED, PAST)[0].reached(50, 0)
        for at in (cold, warm)
    ]

    assert days[0] / days[1] == pytest.approx(ratio, rel=5e-4)  # half of the last digit printed


@pytest.mark.parametrize("energy", [22.6, 46.2, 60.0, 103.5])
@pytest.mark.parametrize(("cave", "fridge"), [(10.4, 3.9), (13.0, 4.0), (8.0, 6.5)])
@pytest.mark.parametrize("ahead", [30.0, 45.0, 60.0])
def test_the_day_of_moving_is_the_one_that_root_finding_gives(
    energy: float, cave: float, fridge: float, ahead: float
) -> None:
    reference, age = 10.0, 18.0

    def at(move: float) -> Callable[[float], float]:
        return lambda t: rate(cave if t < move else fridge, reference, energy)

    def missing(move: float) -> float:
        return integrated(ahead, move, at(move), age) - 50.0

    course = courses(
        (Aged(energy, age, age, age),),
        (0.0, 0.0, 0.0),
        PlaceAir(cave, 0.0),
        PlaceAir(fridge, 0.0),
        reference,
        WANTED,
        PAST,
    )[0]
    solved = course.move_for(ahead)

    if missing(0.0) > 0:
        assert solved == 0.0
    elif missing(ahead) < 0:
        assert solved == ahead
    else:
        # Root and integral are good to 1e-8 of a day here; a minute is far more.
        assert solved == pytest.approx(brentq(missing, 0.0, ahead, xtol=1e-9), abs=1 / 1440)


def test_the_band_holds_what_any_energy_and_temperature_of_it_would_give() -> None:
    energies = [46.2, 22.6, 35.0, 60.0, 80.0, 103.5]
    cave, fridge = PlaceAir(11.0, 1.5), PlaceAir(4.0, 1.0)
    aged = tuple(Aged(each, 18.0, 20.0, 22.0) for each in energies)
    ways = courses(aged, (0.0, 0.0, 0.0), cave, fridge, 10.0, WANTED, PAST)
    band = [way.reached(way.wanted, 1e9) for way in ways]

    for energy in energies:
        for kelvin in (-1.5, -0.5, 0.0, 1.5):
            for age in (18.0, 19.0, 22.0):
                for wanted in (45.0, 50.0, 55.0):
                    days = (wanted - age) / rate(11.0 + kelvin, 10.0, energy)
                    assert min(band) - 1e-9 <= days <= max(band) + 1e-9
