"""Limits of a counted mean against published quantiles."""

import pytest

from service.science.band import counted_band

# Limits of a Poisson mean with 5 % beyond each: half the 5 % and 95 % points of chi-square with
# 2 n and 2 n + 2 degrees of freedom (Garwood, Biometrika 28 (1936) 437). The points are those of
# the tables in every textbook of statistics (Pearson & Hartley, Biometrika Tables, table 8, from
# memory): 5 % of 2, 10, 20: 0.1026, 3.940, 10.851; 95 % of 2, 4, 12, 22: 5.991, 9.488, 21.026,
# 33.924.
PUBLISHED = {0: (0.0, 5.991), 1: (0.1026, 9.488), 5: (3.940, 21.026), 10: (10.851, 33.924)}


@pytest.mark.parametrize("count", PUBLISHED)
def test_the_limits_of_a_count_are_those_of_the_tables(count: int) -> None:
    band = counted_band(count)
    low, high = PUBLISHED[count]

    # The tables give four digits.
    assert 2 * band.low == pytest.approx(low, abs=6e-4)
    assert 2 * band.high == pytest.approx(high, abs=6e-4)
