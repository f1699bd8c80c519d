"""How strongly still or moving air and the walls around it trade heat with a wheel.

Nobody knows the coefficient of a given cave to better than a third; what is given here are
estimates from published correlations, each with its range. `transfer` holds radiation and the
coefficients of moisture; this module adds convection by the size and the place of a wheel.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.errors import OutOfRangeError
from service.science.air import ZERO_C_K
from service.science.solid import Cylinder, Transfer
from service.science.transfer import radiation_w_m2_k

_GRAVITY_M_S2: Final = 9.80665
"""Standard gravity. [m/s²] ISO 80000-3:2019."""
# Dry air at 12 °C and 101 325 Pa, CoolProp 8.0.0; 4 to 20 °C change the coefficients by 1 %.
_CONDUCTIVITY_W_M_K: Final = 0.02527
_VISCOSITY_M2_S: Final = 1.438e-5
_DIFFUSIVITY_M2_S: Final = 2.029e-5

_USUAL_DIFFERENCE_K: Final = 1.0
"""How far a wheel and its air commonly are apart: evaporation and cooling cycles. Our choice."""
_DRAUGHT: Final = 2.0
"""How much more a circulating fan passes than still air. [1] Our choice, from no measurement."""
_SPREAD: Final = 0.3
"""Relative standard error of an estimate. [1] Our choice: it spans differences of 0.5 to 2 K,
shelves and neighbours that hinder the air, and emissivities of walls from 0.3 up."""


class Space(StrEnum):
    """What kind of place a wheel is in."""

    SHELF = "shelf"
    """An open shelf in still air."""
    BOX = "box"
    """A lidded box: still air, walls at the temperature of the air, a mat beneath."""
    FRIDGE = "fridge"
    """A shelf with a fan about."""


@dataclass(frozen=True, slots=True)
class TransferEstimate:
    """Coefficients with what is not known of them.

    Attributes:
        transfer: The estimate.
        spread: Its relative standard error. [1]
    """

    transfer: Transfer
    spread: float


def estimated_transfer(
    cylinder: Cylinder,
    space: Space,
    temperature_c: float,
    difference_k: float = _USUAL_DIFFERENCE_K,
) -> TransferEstimate:
    """A sensible coefficient for a wheel of which nothing is measured; an estimate.

    Free convection at a usual difference of temperature, doubled where a fan blows, and radiation
    to walls at the temperature of the air. A face counts as half warmer and half colder than the
    air; on the mat of a box the lower one is taken at half its convection.

    Args:
        cylinder: The wheel.
        space: What kind of place it is in.
        temperature_c: Temperature of the air. [°C]
        difference_k: How far surface and air are apart. [K] Above zero.

    Returns:
        The coefficients, radiation included, and their relative standard error.

    Raises:
        OutOfRangeError: `difference_k` is not above zero.

    References:
        `vertical_w_m2_k`, `horizontal_w_m2_k`, and `transfer.radiation_w_m2_k`. That they fit
        wheels on shelves is an assumption; no measurement of a cave was found.

    Examples:
        >>> tomme = Cylinder(0.19, 0.075, 0.38, 1090.0, 2900.0)
        >>> round(estimated_transfer(tomme, Space.SHELF, 12.0).transfer.mean_w_m2_k(tomme), 1)
        7.5
    """
    draught = _DRAUGHT if space is Space.FRIDGE else 1.0
    radiation = radiation_w_m2_k(temperature_c)
    side = draught * vertical_w_m2_k(cylinder.height_m, difference_k, temperature_c)
    face = (
        draught
        * 0.5
        * (
            horizontal_w_m2_k(cylinder.diameter_m, difference_k, temperature_c, stirring=True)
            + horizontal_w_m2_k(cylinder.diameter_m, difference_k, temperature_c, stirring=False)
        )
    )
    bottom = 0.5 * face if space is Space.BOX else face
    return TransferEstimate(
        Transfer(face + radiation, side + radiation, bottom + radiation), _SPREAD
    )


def vertical_w_m2_k(height_m: float, difference_k: float, temperature_c: float) -> float:
    """Free convection at an upright surface in air, laminar.

    Good to some 10 % for plates; a wheel's side counts as one as long as it is wider than the
    layer of moving air, about 1 cm.

    Args:
        height_m: Height of the surface. [m]
        difference_k: Between surface and air, of either sign. [K]
        temperature_c: Temperature of the air. [°C]

    Returns:
        Coefficient. [W/(m² K)]

    Raises:
        OutOfRangeError: `height_m` is not above zero, or the difference is zero.

    References:
        Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329, the laminar form
        (Rayleigh numbers up to 1e9), from memory.

    Examples:
        >>> round(vertical_w_m2_k(0.10, 1.0, 12.0), 1)
        2.6
    """
    prandtl = _VISCOSITY_M2_S / _DIFFUSIVITY_M2_S
    rayleigh = _rayleigh(height_m, difference_k, temperature_c)
    flow = math.pow(1 + math.pow(0.492 / prandtl, 9 / 16), 4 / 9)
    nusselt = 0.68 + 0.670 * math.sqrt(math.sqrt(rayleigh)) / flow
    return nusselt * _CONDUCTIVITY_W_M_K / height_m


def horizontal_w_m2_k(
    diameter_m: float, difference_k: float, temperature_c: float, *, stirring: bool
) -> float:
    """Free convection at a level disc in air.

    Args:
        diameter_m: Diameter of the disc. [m]
        difference_k: Between surface and air, of either sign. [K]
        temperature_c: Temperature of the air. [°C]
        stirring: True for the side on which warmed air rises or cooled air sinks away; False
            where the air lies still in layers.

    Returns:
        Coefficient. [W/(m² K)]

    Raises:
        OutOfRangeError: `diameter_m` is not above zero, or the difference is zero.

    References:
        McAdams, Heat Transmission, 3rd ed. 1954: Nu = 0.54 Ra^(1/4) and 0.27 Ra^(1/4), with area
        over perimeter for the length, from memory.

    Examples:
        >>> round(horizontal_w_m2_k(0.20, 1.0, 12.0, stirring=False), 1)
        1.5
    """
    length_m = 0.25 * diameter_m
    rayleigh = _rayleigh(length_m, difference_k, temperature_c)
    factor = 0.54 if stirring else 0.27
    return factor * math.sqrt(math.sqrt(rayleigh)) * _CONDUCTIVITY_W_M_K / length_m


def _rayleigh(length_m: float, difference_k: float, temperature_c: float) -> float:
    """Buoyancy over what hinders it, in air as an ideal gas. [1]"""
    if not (length_m > 0 and difference_k != 0):
        raise OutOfRangeError(
            f"free convection over {length_m:g} m at a difference of {difference_k:g} K;"
            " give a length above zero and a difference other than zero"
        )
    buoyancy = _GRAVITY_M_S2 * abs(difference_k) / (temperature_c + ZERO_C_K)
    return buoyancy * length_m**3 / (_VISCOSITY_M2_S * _DIFFUSIVITY_M2_S)
