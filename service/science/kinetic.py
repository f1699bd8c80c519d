"""Mean kinetic temperature: the one temperature that would have aged a thing as much.

The definition of the pharmacopoeia, over samples as it is printed there, and weighted by
time for samples that come unevenly. Nothing here knows what was stored.
"""

import math

import numpy as np

from service.errors import OutOfRangeError
from service.science.air import GAS_CONSTANT_J_PER_MOL_K, ZERO_C_K
from service.science.ripening import equivalent_days
from service.science.signals import US_PER_DAY, FloatArray, IntArray

HEAT_OF_ACTIVATION_KJ_PER_MOL = 83.144
"""Heat of activation of the definition. [kJ/mol] USP <1160>."""
USP_GAS_CONSTANT_KJ_PER_MOL_K = 8.3144e-3
"""Gas constant as USP <1160> prints it, so that heat over constant is 10,000 K. [kJ/(mol K)]"""

_J_PER_KJ = 1_000.0
_FEWEST = 2


def mean_kinetic_temperature_c(
    temperature_c: FloatArray, heat_kj_per_mol: float = HEAT_OF_ACTIVATION_KJ_PER_MOL
) -> float:
    """Mean kinetic temperature of samples, each of the same weight.

    Above the plain mean, because warm hours count for more. Use it for even sampling.

    Args:
        temperature_c: Samples; NaN counts for nothing. [°C]
        heat_kj_per_mol: Heat of activation. [kJ/mol] Above zero.

    Returns:
        Mean kinetic temperature, between the coldest and the warmest sample. [°C]

    Raises:
        OutOfRangeError: No sample is known, or the heat is not above zero.

    References:
        United States Pharmacopeia, general chapter <1160>, definition of mean kinetic
        temperature, with heat 83.144 kJ/mol and gas constant 8.3144e-3 kJ/(mol K).

    Examples:
        >>> round(mean_kinetic_temperature_c(np.array([4.0, 12.0])), 5)
        8.91807
    """
    known = temperature_c[~np.isnan(temperature_c)]
    if known.size == 0:
        raise OutOfRangeError("no temperature is known; give at least one sample")
    slope_k = _slope_k(heat_kj_per_mol)
    # Relative to one sample, so that nothing underflows: exp(-10,000 K / T) is near 1e-15.
    anchor = 1.0 / (float(known[0]) + ZERO_C_K)
    mean = float(np.mean(np.exp(slope_k * (anchor - 1.0 / (known + ZERO_C_K)))))
    return 1.0 / (anchor - math.log(mean) / slope_k) - ZERO_C_K


def weighted_mean_kinetic_temperature_c(
    times_us: IntArray,
    temperature_c: FloatArray,
    heat_kj_per_mol: float = HEAT_OF_ACTIVATION_KJ_PER_MOL,
) -> float:
    """Mean kinetic temperature over time, with straight lines between samples.

    The constant temperature at which an Arrhenius rate of this heat would have gone as far.

    Args:
        times_us: Times of the samples, rising. [µs UTC]
        temperature_c: Temperatures; NaN is passed over. [°C]
        heat_kj_per_mol: Heat of activation. [kJ/mol] Above zero.

    Returns:
        Mean kinetic temperature, between the coldest and the warmest sample. [°C]

    Raises:
        OutOfRangeError: Fewer than two samples are known, times do not rise, or the heat is
            not above zero.

    References:
        United States Pharmacopeia, general chapter <1160>, its sum taken as an integral.

    Examples:
        >>> times = np.array([0, 60, 3600]) * 1_000_000
        >>> round(weighted_mean_kinetic_temperature_c(times, np.array([12.0, 12.0, 12.0])), 9)
        12.0
    """
    known = ~np.isnan(temperature_c)
    if np.count_nonzero(known) < _FEWEST:
        raise OutOfRangeError("fewer than two temperatures are known; give at least two samples")
    times, values = times_us[known], temperature_c[known]
    slope_k = _slope_k(heat_kj_per_mol)
    anchor_c = float(values[0])
    # The age uses the gas constant of the SI; the energy is scaled so that E/R is the USP's.
    energy = slope_k * GAS_CONSTANT_J_PER_MOL_K / _J_PER_KJ
    days = equivalent_days(times, values, anchor_c, energy)[-1]
    mean = float(days) / (float(times[-1] - times[0]) / US_PER_DAY)
    return 1.0 / (1.0 / (anchor_c + ZERO_C_K) - math.log(mean) / slope_k) - ZERO_C_K


def _slope_k(heat_kj_per_mol: float) -> float:
    """Heat of activation over the gas constant of the definition. [K]"""
    if not heat_kj_per_mol > 0.0:
        raise OutOfRangeError(f"a heat of activation of {heat_kj_per_mol:g} kJ/mol; give above 0")
    return heat_kj_per_mol / USP_GAS_CONSTANT_KJ_PER_MOL_K
