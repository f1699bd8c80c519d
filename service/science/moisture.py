"""A wheel's moisture in one go: the coefficient from weighings, then the life it led with it.

This only calls the parts in their order: `loss_table` and `weight` find the coefficient of
each space, `surface` lives through the air once more with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.science.loss_table import loss_table
from service.science.solid import Cylinder
from service.science.surface import Rind, Stay, Wheelclimate, live_through, with_moisture
from service.science.transfer import Coefficient
from service.science.weighing import Weighing
from service.science.weight import WeightFit, fit_weighings


@dataclass(frozen=True, slots=True, eq=False)
class Moisture:
    """What a wheel lived through, and what its weighings say. All of it is an estimate.

    Attributes:
        climate: Surface, film and loss with the most likely coefficients.
        fit: Coefficients, and mass with its band.
    """

    climate: Wheelclimate
    fit: WeightFit


def moisture(
    cylinder: Cylinder,
    rind: Rind,
    stays: Sequence[Stay],
    start_c: float,
    weighings: list[Weighing],
    prior: Coefficient,
) -> Moisture:
    """Fit a wheel to its weighings and let it live through its air.

    Args:
        cylinder: The wheel.
        rind: Its surface.
        stays: Where it was, in order of time; their moisture coefficients are not looked at.
        start_c: Its temperature at the start. [°C]
        weighings: Wiped dry, in any order. The mass at the start is one of them.
        prior: The coefficient before any weighing, `transfer.prior_coefficient`.

    Returns:
        The wheel's climate and the fit.

    Raises:
        OutOfRangeError: As `fit_weighings` and `live_through` say.
    """
    fit = fit_weighings(loss_table(cylinder, rind, stays, start_c, prior), weighings, prior)
    found = {space: coefficient.median for space, coefficient in fit.coefficients.items()}
    climate = live_through(cylinder, rind, with_moisture(stays, found), start_c)
    return Moisture(climate, fit)
