"""What a cheese is made of, and with it how it stores and passes heat.

Five components, each with properties of its own that change with temperature; the paste is their
mixture. Holes, rind and frozen water are left out. Nothing here knows a wheel's size or the air.
"""

import math
from dataclasses import dataclass, fields
from typing import Final

from service.errors import OutOfRangeError

COLDEST_C: Final = -2.0
"""Lowest temperature at which the water of any cheese is still liquid. [°C] Our choice."""
WARMEST_C: Final = 60.0
"""Highest temperature that is of use here. [°C] Our choice; the formulas hold to 150 °C."""
TOLERANCE: Final = 0.05
"""How far the fractions may miss a whole. [1] Our choice: analyses leave out acids and traces,
and count carbohydrate as the rest; a larger miss is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Composition:
    """Mass fractions of a cheese. They are made to sum to one when they nearly do.

    Attributes:
        water: Moisture. [1]
        fat: Fat, not fat in dry matter. [1]
        protein: Protein. [1]
        ash: Minerals, salt included. [1]
        carbohydrate: Lactose and whatever else is left. [1]
    """

    water: float
    fat: float
    protein: float
    ash: float
    carbohydrate: float

    def __post_init__(self) -> None:
        """Make the fractions sum to one.

        Raises:
            OutOfRangeError: A fraction is below zero, there is no water, or the sum is too far
                from one.
        """
        parts = {field.name: getattr(self, field.name) for field in fields(self)}
        total = math.fsum(parts.values())
        if not (min(parts.values()) >= 0 and self.water > 0):
            raise OutOfRangeError(
                f"composition {parts}; no fraction may be below zero, and every cheese has water"
            )
        if not (abs(total - 1) <= TOLERANCE):
            raise OutOfRangeError(
                f"the mass fractions sum to {total:g}, not to 1 within {TOLERANCE:g};"
                " give fractions of the whole cheese, such as 0.42 for 42 % water"
            )
        for name, part in parts.items():
            object.__setattr__(self, name, part / total)


@dataclass(frozen=True, slots=True)
class Properties:
    """How a paste stores and passes heat.

    Attributes:
        density_kg_m3: Density without holes. [kg/m³]
        specific_heat_j_kg_k: Specific heat. [J/(kg K)]
        conductivity_w_m_k: Conductivity with the components side by side in the flow of heat, the
            highest that the mixture can have. [W/(m K)]
        least_conductivity_w_m_k: Conductivity with the components one behind the other, the lowest
            that it can have. [W/(m K)]
    """

    density_kg_m3: float
    specific_heat_j_kg_k: float
    conductivity_w_m_k: float
    least_conductivity_w_m_k: float

    @property
    def diffusivity_m2_s(self) -> float:
        """How fast temperature spreads in the paste. [m²/s]"""
        return self.conductivity_w_m_k / (self.density_kg_m3 * self.specific_heat_j_kg_k)


def properties(composition: Composition, temperature_c: float) -> Properties:
    """Density, specific heat and conductivity of a cheese without holes.

    Measured cheeses lie within about 15 % of the specific heat and 25 % of the conductivity; the
    time constant of a wheel in still air hangs mostly on its mass and specific heat. For a wheel
    that was weighed and measured, take its own density instead.

    Args:
        composition: What the cheese is made of.
        temperature_c: Temperature of the paste. [°C] From -2 to 60.

    Returns:
        Its properties.

    Raises:
        OutOfRangeError: The temperature lies outside -2 to 60 °C.

    References:
        Choi & Okos, Effects of temperature and composition on the thermal properties of foods,
        in Food Engineering and Process Applications 1 (1986) 93-101; printed again in the ASHRAE
        Handbook of Refrigeration, chapter 9, tables 1 and 2. Read in transcriptions. The slope of
        the conductivity of fat is -2.7604e-4: copies with 2.7604e-3 repeat a misprint that Okos
        corrected in 1995. Side by side and one behind the other: Wiener's bounds.

    Examples:
        >>> cheddar = Composition(0.3675, 0.3314, 0.2490, 0.0393, 0.0128)
        >>> round(properties(cheddar, 20.0).specific_heat_j_kg_k)
        2772
    """
    if not (COLDEST_C <= temperature_c <= WARMEST_C):
        raise OutOfRangeError(
            f"temperature {temperature_c:g} °C of a paste is outside"
            f" {COLDEST_C:g} to {WARMEST_C:g} °C"
        )
    room, heat, passed, held = 0.0, 0.0, 0.0, 0.0
    for name, (conductivity, density, specific_heat) in _COMPONENTS.items():
        part = getattr(composition, name)
        volume = part / _at(density, temperature_c)
        room += volume
        heat += part * _at(specific_heat, temperature_c)
        passed += volume * _at(conductivity, temperature_c)
        held += volume / _at(conductivity, temperature_c)
    return Properties(
        density_kg_m3=1 / room,
        specific_heat_j_kg_k=heat,
        conductivity_w_m_k=passed / room,
        least_conductivity_w_m_k=room / held,
    )


_Polynomial = tuple[float, float, float]

# Choi & Okos 1986, a + b t + c t² with t in °C: conductivity [W/(m K)], density [kg/m³] and
# specific heat [J/(kg K)].
_COMPONENTS: Final[dict[str, tuple[_Polynomial, _Polynomial, _Polynomial]]] = {
    "water": (
        (0.57109, 1.7625e-3, -6.7036e-6),
        (997.18, 3.1439e-3, -3.7574e-3),
        (4176.2, -0.090864, 5.4731e-3),
    ),
    "protein": (
        (0.17881, 1.1958e-3, -2.7178e-6),
        (1329.9, -0.5184, 0.0),
        (2008.2, 1.2089, -1.3129e-3),
    ),
    "fat": (
        (0.18071, -2.7604e-4, -1.7749e-7),
        (925.59, -0.41757, 0.0),
        (1984.2, 1.4733, -4.8008e-3),
    ),
    "carbohydrate": (
        (0.20141, 1.3874e-3, -4.3312e-6),
        (1599.1, -0.31046, 0.0),
        (1548.8, 1.9625, -5.9399e-3),
    ),
    "ash": (
        (0.32962, 1.4011e-3, -2.9069e-6),
        (2423.8, -0.28063, 0.0),
        (1092.6, 1.8896, -3.6817e-3),
    ),
}


def _at(polynomial: _Polynomial, temperature_c: float) -> float:
    """Value of a property of one component at that temperature."""
    a, b, c = polynomial
    return a + temperature_c * (b + temperature_c * c)
