"""Control charts: what must hold for any series."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.charts import cusum, ewma, ewma_limits

VALUES = st.lists(st.floats(-50, 50), min_size=1, max_size=60).map(np.array)


@given(VALUES, st.floats(0.01, 1.0), st.floats(-50, 50))
def test_average_stays_within_all_it_has_seen(
    values: np.ndarray, weight: float, start: float
) -> None:
    averages = ewma(values, weight, start)

    # A rounding of the last digit may step over the edge.
    assert averages.min() >= min(values.min(), start) - 1e-9
    assert averages.max() <= max(values.max(), start) + 1e-9


@given(VALUES, st.floats(0, 5), st.floats(0, 5))
def test_cumulative_sums_are_those_of_the_definition(
    values: np.ndarray, slack: float, head_start: float
) -> None:
    expected, total = [], head_start
    for value in values.tolist():
        total = max(0.0, total + value - 3.0 - slack)
        expected.append(total)

    upper, _ = cusum(values, 3.0, slack, head_start)

    # Sums of up to sixty numbers of up to a hundred in another order: rounding only.
    assert upper == pytest.approx(expected, abs=1e-9)


def test_sums_of_a_mirrored_series_change_places() -> None:
    values = np.random.default_rng(3).normal(0, 2, 50)

    assert cusum(values, 0.0, 0.5)[0].tolist() == cusum(-values, 0.0, 0.5)[1].tolist()


@pytest.mark.parametrize("weight", [0.0, -0.1, 1.1])
def test_weight_outside_its_range_is_refused(weight: float) -> None:
    with pytest.raises(OutOfRangeError, match="weight"):
        ewma(np.ones(3), weight, 1.0)
    with pytest.raises(OutOfRangeError, match="weight"):
        ewma_limits(3, 0.0, 1.0, weight)
