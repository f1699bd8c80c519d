"""A wheel as a solid body, and how heat passes between it and what is around it.

Plain values that the conduction of heat needs; no temperature and no time.
"""

import math
from dataclasses import dataclass, replace

from service.errors import OutOfRangeError
from service.science.composition import Properties


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A wheel as a solid: size and what it is made of.

    Attributes:
        diameter_m: Diameter. [m]
        height_m: Height. [m]
        conductivity_w_m_k: Conductivity of the paste. [W/(m K)]
        density_kg_m3: Density of the whole wheel, holes and all. [kg/m³]
        specific_heat_j_kg_k: Specific heat. [J/(kg K)]
    """

    diameter_m: float
    height_m: float
    conductivity_w_m_k: float
    density_kg_m3: float
    specific_heat_j_kg_k: float

    def __post_init__(self) -> None:
        """Refuse what is no solid.

        Raises:
            OutOfRangeError: A size or a property is not above zero.
        """
        for name in self.__slots__:
            value = getattr(self, name)
            if not (0 < value < math.inf):
                raise OutOfRangeError(f"{name} {value:g} of a wheel; it must be above zero")

    @staticmethod
    def of(
        paste: Properties, diameter_m: float, height_m: float, mass_kg: float | None = None
    ) -> "Cylinder":
        """A wheel of that paste, with its own density where it was weighed.

        Args:
            paste: What it is made of.
            diameter_m: Diameter. [m]
            height_m: Height. [m]
            mass_kg: Mass. [kg] The paste's own density is taken when None.

        Returns:
            The wheel.

        Raises:
            OutOfRangeError: A size or the mass is not above zero.

        Examples:
            >>> gouda = Properties(1070.0, 2870.0, 0.37, 0.27)
            >>> round(Cylinder.of(gouda, 0.19, 0.075, 1.95).density_kg_m3)
            917
        """
        paste_only = Cylinder(
            diameter_m,
            height_m,
            paste.conductivity_w_m_k,
            paste.density_kg_m3,
            paste.specific_heat_j_kg_k,
        )
        if mass_kg is None:
            return paste_only
        return replace(paste_only, density_kg_m3=mass_kg / paste_only.volume_m3)

    @property
    def diffusivity_m2_s(self) -> float:
        """How fast temperature spreads within it. [m²/s]"""
        return self.conductivity_w_m_k / self.heat_j_m3_k

    @property
    def heat_j_m3_k(self) -> float:
        """Heat that a volume takes up. [J/(m³ K)]"""
        return self.density_kg_m3 * self.specific_heat_j_kg_k

    @property
    def face_share(self) -> float:
        """Part of the surface that is the two faces. [1]"""
        return 0.5 * self.diameter_m / (0.5 * self.diameter_m + self.height_m)

    @property
    def area_m2(self) -> float:
        """Both faces and the side. [m²]"""
        return math.pi * self.diameter_m * (0.5 * self.diameter_m + self.height_m)

    @property
    def volume_m3(self) -> float:
        """Volume. [m³]"""
        return 0.25 * math.pi * self.diameter_m**2 * self.height_m


@dataclass(frozen=True, slots=True)
class Transfer:
    """Heat transfer coefficients between the surface and its surroundings, radiation included.

    Attributes:
        top_w_m2_k: Of the upper face. [W/(m² K)]
        side_w_m2_k: Of the side. [W/(m² K)]
        bottom_w_m2_k: Of the lower face; less than the upper one where the mat hinders the air.
            [W/(m² K)]
    """

    top_w_m2_k: float
    side_w_m2_k: float
    bottom_w_m2_k: float

    def __post_init__(self) -> None:
        """Refuse what is no coefficient.

        Raises:
            OutOfRangeError: A coefficient is not above zero.
        """
        for name in self.__slots__:
            value = getattr(self, name)
            if not (0 < value < math.inf):
                raise OutOfRangeError(f"{name} {value:g}; a coefficient must be above zero")

    @staticmethod
    def uniform(everywhere_w_m2_k: float) -> "Transfer":
        """The same coefficient on the whole surface. [W/(m² K)]"""
        return Transfer(everywhere_w_m2_k, everywhere_w_m2_k, everywhere_w_m2_k)

    def mean_w_m2_k(self, cylinder: Cylinder) -> float:
        """The coefficient averaged over the surface of that wheel. [W/(m² K)]"""
        faces = 0.5 * (self.top_w_m2_k + self.bottom_w_m2_k)
        return self.side_w_m2_k + cylinder.face_share * (faces - self.side_w_m2_k)
