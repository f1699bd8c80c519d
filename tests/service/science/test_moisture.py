"""All of a wheel's moisture in one call."""

import numpy as np
import pytest

from service.science.air import vapour_pressure_pa
from service.science.moisture import moisture
from service.science.signals import US_PER_MINUTE
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, live_through
from service.science.transfer import prior_coefficient
from service.science.weighing import Weighing

WHEEL = Cylinder(0.09, 0.07, 0.38, 1_000.0, 2_950.0)


def test_climate_is_that_of_the_coefficient_which_the_weighings_show() -> None:
    times_us = np.arange(20 * 144) * 10 * US_PER_MINUTE
    air_c = np.full(times_us.size, 10.0)
    vapour = vapour_pressure_pa(air_c, np.full_like(air_c, 88.0))
    stay = Stay("cave", 0, times_us, air_c, vapour, Transfer.uniform(8.0), 6e-9)
    lost_g = live_through(WHEEL, Rind(0.95), [stay], 10.0).lost_g
    weighings = [Weighing(int(times_us[i]), 430 - lost_g[i], 0.1) for i in (0, -1)]

    found = moisture(WHEEL, Rind(0.95), [stay], 10.0, weighings, prior_coefficient())

    # Within the 1 % of water activity that the fit allows itself, the loss is met.
    assert found.climate.lost_g[-1] == pytest.approx(lost_g[-1], rel=0.03)
    assert found.fit.start_g == pytest.approx(430, abs=0.5)
