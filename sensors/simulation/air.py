"""Moist air as the simulator sees it, by a formula that the service does not use.

Plain `math` on single numbers, so that a history comes out the same on every machine.
"""

import math

SATURATION_SCALE_PA = 611.2
SATURATION_SLOPE = 17.62
SATURATION_OFFSET_C = 243.12
"""Magnus form over water: WMO-No. 8, Guide to Instruments, Annex 4.B."""

VAPOUR_GAS_CONSTANT_J_PER_KG_K = 461.5
"""Gas constant of water vapour: 8.314 J/(mol K) over 18.015 g/mol."""

AIR_HEAT_J_PER_M3_K = 1_250.0
"""Heat that warms a cubic metre of air: 1.24 kg/m³ times 1,006 J/(kg K) at 10 °C."""

LATENT_HEAT_J_PER_KG = 2.477e6
"""Heat of evaporation at 10 °C (IAPWS-95: 2,477.2 kJ/kg). Held constant: 0.6 % over 4 to 20 °C."""

ABSOLUTE_ZERO_C = -273.15


def saturation_pressure_pa(temperature_c: float) -> float:
    """Vapour pressure of air that is saturated over water.

    Without the enhancement factor (0.4 %); within 0.35 % of IAPWS-95 over 0 to 30 °C.

    Args:
        temperature_c: Temperature of the water or the air. [°C] Above -40.

    Returns:
        Saturation vapour pressure. [Pa]

    References:
        WMO-No. 8, Guide to Meteorological Instruments and Methods of Observation, Annex 4.B.

    Examples:
        >>> saturation_pressure_pa(0.0)
        611.2
    """
    return SATURATION_SCALE_PA * math.exp(
        SATURATION_SLOPE * temperature_c / (SATURATION_OFFSET_C + temperature_c)
    )


def vapour_capacity_kg_per_pa(volume_m3: float, temperature_c: float) -> float:
    """Mass of vapour that raises the vapour pressure in a volume by one pascal (ideal gas).

    Args:
        volume_m3: Volume of the air. [m³]
        temperature_c: Temperature of the air. [°C]

    Returns:
        Mass for each pascal. [kg/Pa]

    Examples:
        >>> round(vapour_capacity_kg_per_pa(1.0, 10.0) * 1e6, 3)
        7.653
    """
    return volume_m3 / (VAPOUR_GAS_CONSTANT_J_PER_KG_K * (temperature_c - ABSOLUTE_ZERO_C))
