"""Ripening against temperature, against published ratios, Q10 values and kinetic means."""

import numpy as np
import pytest
from scipy.special import exp1  # type: ignore[import-untyped]  # scipy ships no types

from service.science.kinetic import mean_kinetic_temperature_c, weighted_mean_kinetic_temperature_c
from service.science.ripening import (
    activation_from_q10_kj_per_mol,
    equivalent_days,
    q10_from_activation,
    ripening_rate,
)
from service.science.signals import US_PER_DAY


# The law of Arrhenius with the gas constant of CODATA 2018, worked out apart from this code in
# the project's table of references, section 5; four decimals, three in the last row.
@pytest.mark.parametrize(
    ("warm_c", "cold_c", "ratios", "within"),
    [
        (12.0, 4.0, (1.6274, 2.0761, 2.7519, 3.3787), 6e-5),
        (20.0, 10.0, (1.7853, 2.3854, 3.3359, 4.2587), 6e-5),
        (13.0, 10.0, (1.195, 1.306, 1.448, 1.561), 6e-4),
    ],
)
def test_rates_stand_in_the_ratios_of_arrhenius(
    warm_c: float, cold_c: float, ratios: tuple[float, ...], within: float
) -> None:
    energies = (40.0, 60.0, 83.144, 100.0)
    found = [ripening_rate(warm_c, cold_c, energy) for energy in energies]

    # Half a digit of the table.
    assert found == pytest.approx(ratios, abs=within)


# Q10 of white-brined cheese, 5 to 20 °C, one to nine weeks: Iranian Journal of Biosystems
# Engineering, 2012/13, article 35220, abstract. The energies are worked out from them in the
# table of references, section 5, for 5 to 15 °C, to one decimal.
@pytest.mark.parametrize(
    ("what", "q10", "energy"),
    [
        ("soluble nitrogen at pH 4.6", 1.403011, 22.6),
        ("non-protein nitrogen", 4.724578, 103.5),
        ("fat breakdown", 1.426353, 23.7),
    ],
)
def test_published_q10_of_ripening_convert_to_energies(
    what: str, q10: float, energy: float
) -> None:
    found = activation_from_q10_kj_per_mol(q10, from_c=5.0)

    assert found == pytest.approx(energy, abs=0.05), what  # half a digit of the table


def test_doubling_over_ten_kelvin_is_46_kj_per_mol() -> None:
    """Table of references, section 5: Q10 of 2 is 46.2 kJ/mol at 5 to 15 °C."""
    found = q10_from_activation(46.2, from_c=5.0)

    # 0.05 kJ/mol is half a digit of the energy: 0.0008 of the Q10.
    assert found == pytest.approx(2.0, abs=8e-4)


# Mean kinetic temperature: the definition of United States Pharmacopeia, general chapter
# <1160>, heat 83.144 kJ/mol over 8.3144e-3 kJ/(mol K). No worked public example with data was
# found; these values were worked out from the definition apart from this code.
@pytest.mark.parametrize(
    ("samples", "mean_c"),
    [
        ([5.0, 25.0], 19.69772),
        ([20.0, 30.0], 26.25989),
        ([4.0, 12.0], 8.91807),
        ([20.0, 25.0, 30.0, 40.0], 31.62083),
        ([12.0] * 23 + [20.0], 12.52700),
    ],
)
def test_mean_kinetic_temperature_of_samples(samples: list[float], mean_c: float) -> None:
    found = mean_kinetic_temperature_c(np.array(samples))

    assert found == pytest.approx(mean_c, abs=6e-6)  # half a digit of the table


def test_time_weighted_mean_of_steps_is_that_of_as_many_samples() -> None:
    """Steps of a second between 4 and 12 °C, twelve hours each: the definition's {4, 12}."""
    half, second = US_PER_DAY // 2, 1_000_000
    times = np.array([0, half, half + second, 2 * half])
    found = weighted_mean_kinetic_temperature_c(times, np.array([4.0, 4.0, 12.0, 12.0]))

    # The second between the steps is 1e-5 of the day, of 8 K at most.
    assert found == pytest.approx(8.91807, abs=1e-4)


def test_age_on_a_ramp_is_the_exponential_integral() -> None:
    """In closed form by E1, from scipy, an independent library."""
    slope_k = 60e3 / 8.314462618
    low_k, high_k = 273.15 + 4.0, 273.15 + 14.0

    def antiderivative(kelvin: float) -> float:
        x = slope_k / kelvin
        return float(kelvin * np.exp(-x) - slope_k * exp1(x))

    per_kelvin = (antiderivative(high_k) - antiderivative(low_k)) * np.exp(slope_k / 283.15)
    expected = per_kelvin / 10.0 * 7.0  # seven days for ten kelvin
    ramp = equivalent_days(np.array([0, 7 * US_PER_DAY]), np.array([4.0, 14.0]), 10.0, 60.0)

    # Gauss-Legendre on five points over 10 K; digits lost in the difference.
    assert ramp[-1] == pytest.approx(expected, rel=1e-9)
