"""Kitchen measures at the edge: litres, grams and °C inside, other units only as typed.

All factors are exact by definition.

References:
    The litre is 1 dm³ and the inch 25.4 mm, the US gallon 231 cubic inches, the pound
    0.453 592 37 kg, the ounce a sixteenth of it: international yard and pound agreement, 1959;
    NIST Special Publication 811 (2008), appendix B. Both from memory; the products are computed.
"""

from enum import StrEnum
from typing import Final

LITRES_PER_US_GALLON: Final = 231 * 2.54**3 / 1_000
GRAMS_PER_POUND: Final = 453.59237


class VolumeUnit(StrEnum):
    """In what a maker measures milk and water."""

    LITRE = "l"
    US_GALLON = "US gal"
    US_QUART = "US qt"


class MassUnit(StrEnum):
    """In what a maker weighs curd and salt."""

    GRAM = "g"
    KILOGRAM = "kg"
    OUNCE = "oz"
    POUND = "lb"


_LITRES: Final = {
    VolumeUnit.LITRE: 1.0,
    VolumeUnit.US_GALLON: LITRES_PER_US_GALLON,
    VolumeUnit.US_QUART: LITRES_PER_US_GALLON / 4,
}
_GRAMS: Final = {
    MassUnit.GRAM: 1.0,
    MassUnit.KILOGRAM: 1_000.0,
    MassUnit.OUNCE: GRAMS_PER_POUND / 16,
    MassUnit.POUND: GRAMS_PER_POUND,
}


def in_litres(amount: float, unit: VolumeUnit) -> float:
    """A volume in litres. [l]

    Examples:
        >>> round(in_litres(1, VolumeUnit.US_GALLON), 9)
        3.785411784
    """
    return amount * _LITRES[unit]


def in_grams(amount: float, unit: MassUnit) -> float:
    """A mass in grams. [g]

    Examples:
        >>> in_grams(1, MassUnit.OUNCE)
        28.349523125
    """
    return amount * _GRAMS[unit]


def in_celsius(fahrenheit: float) -> float:
    """A temperature in °C; the way back from `service.ageing.values.in_fahrenheit`. [°C]

    Examples:
        >>> in_celsius(50.0)
        10.0
    """
    return (fahrenheit - 32) * 5 / 9
