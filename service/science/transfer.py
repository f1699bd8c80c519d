"""How heat and water cross a surface: coefficients, water activity, and how little we know.

A textbook coefficient of evaporation misses measured wheels by a factor of 2 to 8, because
rind, cloth, still corners and neighbours stand in the way. So nothing here is asserted: a
coefficient is a median with a spread, wide until weighings narrow it. Moisture flux is driven
by vapour pressure in pascals, heat flux by kelvins, both for a square metre of surface.
"""

import math
from dataclasses import dataclass

from service.errors import OutOfRangeError
from service.science.air import ATMOSPHERE_PA, ZERO_C_K, FloatArray, Values

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant. [W/(m² K⁴)] CODATA 2018, exact since the SI of 2019."""
RIND_EMISSIVITY = 0.95
"""Emissivity of a moist rind. [1] Our choice: near that of water; the textbooks agree."""
WATER_TO_AIR_MASS = 18.015268 / 28.966
"""Molar mass of water over that of dry air. [1] IAPWS-95; ASHRAE Fundamentals 2017."""
AIR_HEAT_J_KG_K = 1_012.0
"""Specific heat of moist air at 12 °C, 85 %RH. [J/(kg K)] CoolProp 8.0.0."""
LEWIS_NUMBER = 0.886
"""Thermal over vapour diffusivity of air at 12 °C. [1] CoolProp 8.0.0, and
D = 1.87e-10 T^2.072 m²/s for water vapour; 0.893 at 4 °C."""

STILL_AIR_W_M2_K = 3.0
"""Convection from a wheel in a cave. [W/(m² K)] Churchill and Chu's correlations give 1.3 to
3.6 for wheels 0.5 to 2 K from the air; a small fan adds to it."""
MEASURED_SHARE = 0.42
"""Water that wheels give off, as a share of what Lewis's relation says of bare water. [1] The
geometric mean of 1 and of the 1/4 to 1/8 that follows from Picque et al. 2011."""
SHARE_LOG_SD = 0.84
"""Spread of the logarithm of that share. [1] 90 % of wheels within a factor of 4. Our choice:
it reaches from an eighth of the textbook to nearly twice it."""

_BAND_Z = 1.6448536269514722
"""Standard normal deviate with 5 % beyond it on each side of the band."""

_LATENT_AT_ZERO_J_KG = 2.5009e6
_LATENT_SLOPE_J_KG_K = -2.37e3
"""A straight line through the latent heat of IAPWS-95 at 0 and 20 °C."""

_VAPOUR_GAS_J_KG_K = 461.523
"""Gas constant of water vapour. [J/(kg K)] IAPWS-95."""
_SALT_DEPRESSION_KG_MOL = 0.033
_SALT_KG_MOL = 0.058443
"""Molar mass of NaCl. [kg/mol]"""
_CURD_ASH = 0.018
"""Minerals of a cheese before salting. [1] Our choice: rennet curds hold 1.5 to 2 %."""


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A moisture coefficient as we know it: log-normal, given by its median and its spread.

    Attributes:
        median: As likely too high as too low. [kg/(m² s Pa)]
        log_sd: Standard deviation of its natural logarithm, so about its relative standard
            error when small. [1]
    """

    median: float
    log_sd: float

    @property
    def low(self) -> float:
        """Lower end of the 90 % band. [kg/(m² s Pa)]"""
        return self.median * math.exp(-_BAND_Z * self.log_sd)

    @property
    def high(self) -> float:
        """Upper end of the 90 % band. [kg/(m² s Pa)]"""
        return self.median * math.exp(_BAND_Z * self.log_sd)


def latent_heat_j_kg(temperature_c: Values) -> Values:
    """Heat that evaporates a kilogram of water.

    Args:
        temperature_c: Temperature of the water. [°C] From 0 to 30.

    Returns:
        Latent heat, within 0.02 % of IAPWS-95 from 0 to 20 °C. [J/kg]

    References:
        IAPWS-95 (Wagner and Pruß, J. Phys. Chem. Ref. Data 31 (2002) 387), as a straight line.

    Examples:
        >>> round(latent_heat_j_kg(10.0) / 1e3)
        2477
    """
    return _LATENT_AT_ZERO_J_KG + _LATENT_SLOPE_J_KG_K * temperature_c


def radiation_w_m2_k(temperature_c: float, emissivity: float = RIND_EMISSIVITY) -> float:
    """Radiation between a surface and walls at nearly its temperature, as a heat coefficient.

    The fourth powers are linearised: 0.5 % wrong when surface and walls are 2 K apart. Walls
    are taken to be as warm as the air and much larger than the wheel.

    Args:
        temperature_c: Mean temperature of surface and walls. [°C]
        emissivity: Of the surface. [1] From 0 to 1.

    Returns:
        Coefficient to add to that of convection. [W/(m² K)]

    References:
        Stefan-Boltzmann law; its slope is four times emissivity, constant and T³.

    Examples:
        >>> round(radiation_w_m2_k(12.0), 1)
        5.0
    """
    return 4 * emissivity * STEFAN_BOLTZMANN_W_M2_K4 * (temperature_c + ZERO_C_K) ** 3


def lewis_kg_m2_s_pa(
    convection_w_m2_k: float,
    pressure_pa: float = ATMOSPHERE_PA,
    lewis_number: float = LEWIS_NUMBER,
) -> float:
    """Moisture coefficient of bare water in the stream of air that gives this convection.

    An upper guide for a wheel, never a value to rely on: see `prior_coefficient`.

    Args:
        convection_w_m2_k: Heat coefficient of convection, without radiation. [W/(m² K)]
        pressure_pa: Pressure of the air. [Pa]
        lewis_number: Thermal over vapour diffusivity. [1] 1 gives the classic wet bulb.

    Returns:
        Flux of water for each pascal of difference. [kg/(m² s Pa)]

    References:
        Chilton and Colburn's analogy, exponent 2/3; properties as named at the constants.

    Examples:
        >>> round(lewis_kg_m2_s_pa(1.0) * 1e9, 1)
        6.6
    """
    heat = pressure_pa * AIR_HEAT_J_KG_K * math.pow(lewis_number, 2 / 3)
    return convection_w_m2_k * WATER_TO_AIR_MASS / heat


def prior_coefficient(convection_w_m2_k: float = STILL_AIR_W_M2_K) -> Coefficient:
    """What can be said of a wheel's moisture coefficient before its first weighing.

    Args:
        convection_w_m2_k: Heat coefficient of convection, without radiation. [W/(m² K)]

    Returns:
        Lewis's relation times the share that measured wheels show, with a 90 % band of a
        factor of 4 to either side.

    References:
        Picque et al. 2011, J. Dairy Sci., doi 10.3168/jds.2010-3373: 15 % in 23 days at
        6 °C, 75 %RH is about 3e-9 kg/(m² s Pa) on an assumed wheel of 250 g, 11 x 3 cm.

    Examples:
        >>> prior = prior_coefficient(3.0)
        >>> [round(k * 1e9, 1) for k in (prior.low, prior.median, prior.high)]
        [2.1, 8.3, 33.0]
    """
    return Coefficient(MEASURED_SHARE * lewis_kg_m2_s_pa(convection_w_m2_k), SHARE_LOG_SD)


def water_activity_from_molality(salt_mol_kg: float) -> float:
    """Water activity of a cheese from the salt in its water.

    Args:
        salt_mol_kg: Sodium chloride for each kilogram of water. [mol/kg] From 0 to 5.

    Returns:
        Water activity. [1] For cheeses with more than 40 % water; older and drier ones, whose
        split proteins bind water too, lie lower.

    Raises:
        OutOfRangeError: The molality is negative or above 5 mol/kg, near saturated brine.

    References:
        Marcos et al., Water activity and chemical composition of cheese, J. Dairy Sci. 64
        (1981) 622.

    Examples:
        >>> round(water_activity_from_molality(1.426), 3)
        0.953
    """
    strongest = 5.0
    if not 0 <= salt_mol_kg <= strongest:
        raise OutOfRangeError(
            f"molality {salt_mol_kg:g} mol/kg is outside 0 to {strongest:g} mol/kg; "
            "give moles of salt for each kilogram of the cheese's water"
        )
    return 1 - _SALT_DEPRESSION_KG_MOL * salt_mol_kg


def water_activity_from_composition(water: float, ash: float) -> float:
    """Default water activity of a wheel whose own was not measured.

    Ash beyond what curd holds is taken for salt. Within 0.03 of the ranges usually given for
    eight families of cheese; the fit to weighings absorbs most of the rest.

    Args:
        water: Mass fraction of water. [1] Above 0.
        ash: Mass fraction of ash, salt included. [1]

    Returns:
        Water activity, an estimate. [1]

    Raises:
        OutOfRangeError: There is no water, or more salt than brine can hold.

    References:
        See `water_activity_from_molality`; the minerals of curd are our choice.

    Examples:
        >>> round(water_activity_from_composition(0.518, 0.0368), 2)
        0.98
    """
    if not 0 < water <= 1:
        raise OutOfRangeError(f"water {water:g} is no mass fraction above 0; give it from 0 to 1")
    return water_activity_from_molality(max(0.0, ash - _CURD_ASH) / _SALT_KG_MOL / water)


def linear_saturation(
    temperature_c: FloatArray, saturation_pa: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """First and second slope of saturation pressure, for steps near a known temperature.

    Args:
        temperature_c: Where. [°C]
        saturation_pa: Saturation pressure there. [Pa]

    Returns:
        First [Pa/K] and second [Pa/K²] derivative, within 0.3 % and 2 % from 0 to 30 °C: the
        slopes of Clausius and Clapeyron with latent heat as above.

    References:
        Clausius-Clapeyron relation for an ideal vapour; gas constant of water vapour
        461.52 J/(kg K), IAPWS-95.
    """
    kelvin = temperature_c + ZERO_C_K
    relative = latent_heat_j_kg(temperature_c) / (_VAPOUR_GAS_J_KG_K * kelvin**2)
    second = relative**2 - 2 * relative / kelvin
    return saturation_pa * relative, saturation_pa * second
