"""Slow change: the means of days, and whether they go somewhere."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.science.charts import ewma, ewma_limits
from service.science.signals import US_PER_DAY
from service.science.trends import daily_means, theil_sen, variance_inflation

_FEWEST_DAYS: Final = 8
"""Days below which a drift is not told. Our choice."""
_USUAL_DAYS: Final = 5
_WEIGHT: Final = 0.3
"""Weight of the newest day in the average. NIST's handbook uses 0.2 to 0.3."""
_LEAST: Final = {Quantity.TEMPERATURE: 0.3, Quantity.HUMIDITY: 1.0}
"""A drift of less over the days looked at is not told. [K, %RH] Our choice: what a good
sensor may itself be off."""
_WIDTH: Final = 3.0


@dataclass(frozen=True, slots=True)
class Drift:
    """The means of days: an estimate.

    Attributes:
        quantity: Of what.
        days: How many whole days are known.
        average: Their exponentially weighted average now. [°C or %RH]
        usual: The mean of the first days. [°C or %RH]
        slope: Theil and Sen's slope of all of them. [K or %RH a day]
        low: Lower end of its 95 % interval.
        high: Upper end.
        is_drifting: Whether the average has left its control limits about the first days, the
            slope's interval leaves out zero, and it comes to something.
    """

    quantity: Quantity
    days: int
    average: float
    usual: float
    slope: float
    low: float
    high: float
    is_drifting: bool


def drift(history: AirHistory, quantity: Quantity) -> Drift | None:
    """How the means of the days go; None with fewer than eight known days."""
    starts_us, means = daily_means(history.times_us, history.of(quantity))
    if means.size < _FEWEST_DAYS:
        return None
    days = (starts_us - starts_us[0]) / US_PER_DAY
    first = theil_sen(days, means)
    residuals = means - first.slope * days - first.intercept
    line = theil_sen(days, means, inflation=variance_inflation(residuals))
    usual = float(np.mean(means[:_USUAL_DAYS]))
    averages = ewma(means[_USUAL_DAYS:], _WEIGHT, usual)
    # The scatter of days about their own line: about their mean it would hold the drift too.
    sigma = float(np.std(residuals, ddof=2))
    low, high = ewma_limits(averages.size, usual, max(sigma, 1e-9), _WEIGHT, _WIDTH)
    left = not low[-1] <= averages[-1] <= high[-1]
    sure = line.low > 0 or line.high < 0
    much = abs(line.slope) * float(days[-1]) >= _LEAST[quantity]
    return Drift(
        quantity=quantity,
        days=int(means.size),
        average=float(averages[-1]),
        usual=usual,
        slope=line.slope,
        low=line.low,
        high=line.high,
        is_drifting=left and sure and much,
    )
