"""Weight from weighings: what one learns from how many, and what a bad one may do."""

import math

import numpy as np
import numpy.typing as npt
import pytest

from service.errors import OutOfRangeError
from service.science.air import vapour_pressure_pa
from service.science.loss_table import LossTable, loss_table
from service.science.signals import US_PER_MINUTE
from service.science.solid import Cylinder, Transfer
from service.science.surface import Rind, Stay, live_through, with_moisture
from service.science.transfer import Coefficient, prior_coefficient
from service.science.weighing import Weighing
from service.science.weight import fit_weighings

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DAY_US = 1_440 * US_PER_MINUTE
DAYS = 40
K = 7e-9
START_G = 1_950.0
PRIOR = prior_coefficient()


def steady_table(spaces: tuple[str, ...] = ("cave",)) -> LossTable:
    """Losses in proportion to the coefficient: 1e-9 loses a gram in five days."""
    times_us = np.arange(DAYS + 1) * DAY_US
    knots = PRIOR.median * np.exp(PRIOR.log_sd * np.linspace(-2.6, 2.6, 9))
    a_day = knots * 0.2e9
    days = np.arange(DAYS + 1.0)
    size = DAYS / len(spaces)
    lived = [np.clip(days - i * size, 0, size) for i in range(len(spaces))]
    loss = np.stack([np.outer(a_day, part)[:, None, :] for part in lived])
    return LossTable(times_us, knots, np.ones(1), loss, spaces)


def weighing(day: float, off_g: float = 0.0, coefficient: float = K) -> Weighing:
    return Weighing(round(day * DAY_US), START_G - 0.2e9 * coefficient * day + off_g)


def test_without_a_second_weighing_the_band_is_the_priors() -> None:
    fit = fit_weighings(steady_table(), [weighing(0)], PRIOR)

    found = fit.coefficients["cave"]

    # A thousandth of the spread between what 400 worlds and a curve say; five of that.
    assert found.median == pytest.approx(PRIOR.median, rel=0.02)
    assert found.log_sd == pytest.approx(PRIOR.log_sd, rel=0.02)


def test_band_without_weighings_holds_nine_wheels_of_ten() -> None:
    fit = fit_weighings(steady_table(), [weighing(0)], PRIOR)
    draws = PRIOR.median * np.exp(PRIOR.log_sd * np.random.default_rng(5).standard_normal(4_000))

    band = fit.masses(np.array([DAYS * DAY_US]))
    masses = START_G - 0.2e9 * draws * DAYS
    inside = (masses > band.low[0]) & (masses < band.high[0])

    # The scale's own error widens the band a little.
    assert inside.mean() == pytest.approx(0.9, abs=0.03)


def test_loss_between_two_weighings_is_met() -> None:
    fit = fit_weighings(steady_table(), [weighing(0), weighing(15)], PRIOR)

    masses = fit.masses(np.array([0, 15, 40]) * DAY_US).grams

    # Two exact weighings leave only the pull of the prior, below 1 % here.
    assert masses[0] - masses[1] == pytest.approx(0.2e9 * K * 15, rel=0.01)
    assert masses[0] - masses[2] == pytest.approx(0.2e9 * K * 40, rel=0.01)


def test_noisy_weighings_are_within_their_own_standard_error() -> None:
    chance = np.random.default_rng(11)
    away = []
    for _ in range(60):
        days = np.linspace(0, 20, 4)
        noisy = [weighing(day, float(chance.normal(0, 1.5))) for day in days]
        found = fit_weighings(steady_table(), noisy, PRIOR).coefficients["cave"]
        away.append(math.log(found.median / K) / found.log_sd)

    # Sixty draws of a standard normal: the root mean square lies within 0.3 of one.
    assert np.sqrt(np.mean(np.square(away))) == pytest.approx(0.9, abs=0.35)


def test_order_of_the_weighings_does_not_matter() -> None:
    days = [0, 5, 9, 17]
    sorted_fit = fit_weighings(steady_table(), [weighing(d, d % 3 - 1) for d in days], PRIOR)
    mixed_fit = fit_weighings(steady_table(), [weighing(d, d % 3 - 1) for d in days[::-1]], PRIOR)

    assert sorted_fit.coefficients == mixed_fit.coefficients


@pytest.mark.parametrize("off_g", [-60.0, 45.0, 500.0])
def test_one_bad_weighing_of_four_is_left_alone_and_named(off_g: float) -> None:
    bad = weighing(10, off_g)
    good = [weighing(0), weighing(5), weighing(16)]

    fit = fit_weighings(steady_table(), [*good, bad], PRIOR)

    # Exact weighings but one; what is left is the tail's small pull.
    assert fit.coefficients["cave"].median == pytest.approx(K, rel=0.03)
    assert fit.suspects == (bad,)
    assert any("do not fit" in note for note in fit.notes)


def test_more_weighings_narrow_the_coefficient() -> None:
    errors = [
        fit_weighings(steady_table(), [weighing(day) for day in np.linspace(0, 20, count)], PRIOR)
        .coefficients["cave"]
        .log_sd
        for count in (2, 4, 8)
    ]

    assert errors[0] > errors[1] > errors[2]


def test_two_spaces_that_weighings_tell_apart_have_their_own_coefficients() -> None:
    half = DAYS / 2
    before = 0.2e9 * K * half
    dry = [weighing(day) for day in (0, 8, 20)]
    slow = [
        Weighing(round(day * DAY_US), START_G - before - 0.2e9 * 3e-9 * (day - half))
        for day in (30, 40)
    ]

    fit = fit_weighings(steady_table(("cave", "fridge")), [*dry, *slow], PRIOR)

    # Exact weighings; the error of the scale lets the prior pull by a few per cent.
    assert fit.coefficients["cave"].median == pytest.approx(K, rel=0.05)
    assert fit.coefficients["fridge"].median == pytest.approx(3e-9, rel=0.15)
    assert not fit.notes


def test_spaces_that_weighings_cannot_tell_apart_share_one_with_a_note() -> None:
    fit = fit_weighings(steady_table(("cave", "fridge")), [weighing(0), weighing(40)], PRIOR)

    assert fit.coefficients["cave"] == fit.coefficients["fridge"]
    assert any("tell the spaces apart" in note for note in fit.notes)


def test_space_without_weighings_borrows_the_coefficient_of_the_other() -> None:
    days = [0, 6, 14]

    fit = fit_weighings(steady_table(("cave", "fridge")), [weighing(d) for d in days], PRIOR)

    # Exact weighings; the prior pulls by less than a per cent.
    assert fit.coefficients["fridge"].median == pytest.approx(K, rel=0.03)
    assert fit.notes


def test_of_three_spaces_the_best_told_has_its_own() -> None:
    days = [0, 6, 12, 39.9]

    fit = fit_weighings(steady_table(("a", "b", "c")), [weighing(day) for day in days], PRIOR)

    assert fit.coefficients["b"] == fit.coefficients["c"]
    assert fit.coefficients["a"].log_sd != fit.coefficients["b"].log_sd


def test_weighing_outside_the_known_air_is_left_out_with_a_note() -> None:
    fit = fit_weighings(steady_table(), [weighing(0), weighing(10), weighing(DAYS + 3)], PRIOR)

    assert fit.notes == ("1 weighings lie outside the known air",)


def test_no_weighing_at_all_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="mass at the start"):
        fit_weighings(steady_table(), [weighing(DAYS + 3)], PRIOR)


def test_weighing_without_an_error_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="error"):
        fit_weighings(steady_table(), [Weighing(0, START_G, 0.0)], PRIOR)


def test_mass_ahead_goes_on_like_the_last_week() -> None:
    fit = fit_weighings(steady_table(), [weighing(0), weighing(20), weighing(40)], PRIOR)

    ahead = fit.ahead(np.array([40, 50]) * DAY_US)

    # Exact weighings; the prior pulls by less than a per cent.
    assert ahead.grams[0] - ahead.grams[1] == pytest.approx(0.2e9 * K * 10, rel=0.02)
    assert ahead.low[1] < ahead.grams[1] < ahead.high[1]
    assert ahead.high[1] - ahead.low[1] > ahead.high[0] - ahead.low[0]


def test_day_of_a_loss_to_come_is_foretold_with_its_band() -> None:
    fit = fit_weighings(steady_table(), [weighing(0), weighing(20), weighing(40)], PRIOR)

    day = fit.day_of_loss(0.04)

    # 78 g at 1.4 g a day; the prior pulls by less than a per cent.
    assert day.expected_us / DAY_US == pytest.approx(0.04 * START_G / 1.4, rel=0.02)
    assert day.earliest_us < day.expected_us < day.latest_us


def test_day_of_a_loss_that_is_past_lies_in_the_past() -> None:
    fit = fit_weighings(steady_table(), [weighing(0), weighing(20), weighing(40)], PRIOR)

    day = fit.day_of_loss(0.01)

    # 19.5 g at 1.4 g a day; looked up two hundred times in forty days.
    assert day.expected_us / DAY_US == pytest.approx(0.01 * START_G / 1.4, rel=0.02)


def test_loss_that_never_comes_has_an_infinite_day() -> None:
    table = steady_table()
    gaining = LossTable(
        table.times_us, table.coefficients, table.unknowns, -table.loss_g, table.spaces
    )

    fit = fit_weighings(gaining, [weighing(0)], PRIOR)

    assert fit.day_of_loss(0.05).expected_us == math.inf


@pytest.mark.parametrize("share", [0.0, 1.0, 8.0])
def test_loss_that_is_no_share_is_refused(share: float) -> None:
    fit = fit_weighings(steady_table(), [weighing(0)], PRIOR)

    with pytest.raises(OutOfRangeError, match="share"):
        fit.day_of_loss(share)


WHEEL = Cylinder(0.19, 0.075, 0.38, 1_080.0, 2_850.0)


def cave_air(days: int) -> tuple[IntArray, FloatArray, FloatArray]:
    times_us = np.arange(days * 144) * 10 * US_PER_MINUTE
    at = times_us / DAY_US
    air_c = 10.5 + 0.6 * np.sin(2 * np.pi * at) + 0.5 * np.sin(2 * np.pi * at * 33)
    humidity = 87 + 3 * np.sin(2 * np.pi * at / 9) + 1.5 * np.sin(2 * np.pi * at * 33)
    return times_us, air_c, vapour_pressure_pa(air_c, humidity)


def test_table_gives_the_loss_that_living_through_gives() -> None:
    times_us, air_c, vapour = cave_air(10)
    stay = Stay("cave", 0, times_us, air_c, vapour, Transfer.uniform(7.0), 0.0)
    table = loss_table(WHEEL, Rind(0.955), [stay], 12.0, PRIOR)
    coefficient = float(table.coefficients[3])

    lived = live_through(WHEEL, Rind(0.955), with_moisture([stay], {"cave": coefficient}), 12.0)

    middle = table.unknowns.size // 2
    # Means of a quarter of an hour against readings every ten minutes.
    assert table.loss_g[0, 3, middle, -1] == pytest.approx(lived.lost_g[-1], rel=2e-3)


@pytest.mark.parametrize("coefficient", [3e-9, 2e-8])
@pytest.mark.parametrize("mismatch", [-0.008, 0.008])
def test_future_loss_is_met_after_two_weighings(coefficient: float, mismatch: float) -> None:
    """A wheel whose coefficient nobody knows and whose activity is told a little wrong."""
    times_us, air_c, vapour = cave_air(36)
    stay = Stay("cave", 0, times_us, air_c, vapour, Transfer.uniform(7.0), coefficient)
    lost = live_through(WHEEL, Rind(0.955 + mismatch), [stay], 12.0).lost_g
    prior = PRIOR
    other_heat = Stay("cave", 0, times_us, air_c, vapour, Transfer.uniform(9.0), 0.0)
    table = loss_table(WHEEL, Rind(0.955), [other_heat], 12.0, prior)
    seen = [0, 9 * 144, 18 * 144]
    weighings = [Weighing(int(times_us[i]), round(START_G - lost[i])) for i in seen]

    band = fit_weighings(table, weighings, prior).masses(times_us[[0, -1]])

    # The bound that was set for caves of which no coefficient is known.
    assert band.grams[0] - band.grams[1] == pytest.approx(lost[-1], rel=0.10)
    assert band.low[1] < START_G - lost[-1] < band.high[1]


def test_losses_of_two_spaces_are_booked_apart() -> None:
    times_us, air_c, vapour = cave_air(4)
    heat = Transfer.uniform(7.0)
    moved_us = int(times_us[-1])
    stays = [
        Stay("cave", 0, times_us, air_c, vapour, heat, 0.0),
        Stay("fridge", moved_us, times_us + moved_us, air_c - 6, vapour * 0.6, heat, 0.0),
    ]

    table = loss_table(WHEEL, Rind(0.955), stays, 10.5, PRIOR)
    in_cave = table.times_us <= moved_us

    assert table.spaces == ("cave", "fridge")
    assert (np.diff(table.loss_g[0, 4, 4])[~in_cave[1:]] == 0).all()
    assert (table.loss_g[1, 4, 4][: in_cave.sum() - 1] == 0).all()


def test_prior_of_another_width_is_followed() -> None:
    narrow = Coefficient(PRIOR.median, 0.1)

    fit = fit_weighings(steady_table(), [weighing(0)], narrow)

    # What 400 worlds and a curve differ by.
    assert fit.coefficients["cave"].log_sd == pytest.approx(0.1, rel=0.03)
