"""Rules of the wheel's response to air: bounds, linearity, cuts, moves, gaps."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.conduction import Exposure, Response, Temperatures, respond
from service.science.modes import Place
from service.science.signals import US_PER_S, IntArray
from service.science.solid import Cylinder, Transfer

Array = npt.NDArray[np.float64]

WHEEL = Cylinder(0.12, 0.06, 0.38, 1090.0, 2900.0)
SHELF = Transfer.uniform(7.0)
FIELDS = ("surface_c", "face_c", "side_c", "coldest_c", "mean_c", "core_c")

# Irregular readings: gaps of nothing to five hours between them, air of a cave or a kitchen.
steps_s = st.one_of(st.just(60), st.integers(0, 120), st.integers(0, 18_000))
readings = st.lists(st.tuples(steps_s, st.floats(-2, 25)), min_size=2, max_size=40)
starts_c = st.floats(-2, 25)


def minutes(count: int, every: int = 1) -> IntArray:
    return np.arange(count, dtype=np.int64) * every * 60 * US_PER_S


def history(pairs: list[tuple[int, float]]) -> tuple[IntArray, Array]:
    times_us = np.cumsum([step for step, _ in pairs]) * US_PER_S
    return times_us.astype(np.int64), np.array([air for _, air in pairs])


def lived(times_us: IntArray, air_c: Array, start_c: float = 12.0) -> Temperatures:
    return respond(WHEEL, [Exposure(times_us, air_c, SHELF)], start_c)


def rows(temperatures: Temperatures) -> Array:
    return np.stack([getattr(temperatures, name) for name in FIELDS])


@given(readings, starts_c)
def test_no_temperature_leaves_the_range_of_air_and_start(
    pairs: list[tuple[int, float]], start_c: float
) -> None:
    times_us, air_c = history(pairs)
    found = rows(lived(times_us, air_c, start_c))
    low, high = min(start_c, air_c.min()), max(start_c, air_c.max())

    # Filters that faint modes share overshoot by up to 3 mK for each kelvin of a jump.
    slack = 3e-3 * (high - low) + 1e-9
    assert found.min() >= low - slack
    assert found.max() <= high + slack


@given(readings, starts_c, starts_c, st.floats(-2, 2))
def test_twice_the_air_gives_twice_the_answer_and_sums_add(
    pairs: list[tuple[int, float]], one_c: float, other_c: float, factor: float
) -> None:
    times_us, air_c = history(pairs)
    turned_c = air_c[::-1].copy()
    both = rows(lived(times_us, air_c + factor * turned_c, one_c + factor * other_c))
    apart = rows(lived(times_us, air_c, one_c)), rows(lived(times_us, turned_c, other_c))
    straight = [name != "coldest_c" for name in FIELDS]

    # Rounding only; the coldest point is a choice among points, and no sum.
    assert both[straight] == pytest.approx((apart[0] + factor * apart[1])[straight], abs=1e-9)


@given(readings, starts_c, st.data())
def test_a_history_cut_anywhere_gives_the_same(
    pairs: list[tuple[int, float]], start_c: float, data: st.DataObject
) -> None:
    times_us, air_c = history(pairs)
    cut = data.draw(st.integers(1, len(pairs) - 1))
    whole = Response(WHEEL, SHELF, start_c, int(times_us[0]))
    in_parts = whole.fork()
    found = rows(whole.run(times_us, air_c))
    first = rows(in_parts.run(times_us[:cut], air_c[:cut]))
    second = rows(in_parts.run(times_us[cut:], air_c[cut:]))

    # Rounding only.
    assert np.hstack((first, second)) == pytest.approx(found, abs=1e-9)


@given(readings, starts_c, st.data())
def test_readings_added_on_the_straight_line_change_nothing(
    pairs: list[tuple[int, float]], start_c: float, data: st.DataObject
) -> None:
    times_us, air_c = history([(step + 1, air) for step, air in pairs])
    place = data.draw(st.integers(0, len(pairs) - 2))
    between_us = int(data.draw(st.integers(int(times_us[place]), int(times_us[place + 1]))))
    value_c = float(np.interp(between_us, times_us, air_c))
    more_us = np.insert(times_us, place + 1, between_us)
    more = rows(lived(more_us, np.insert(air_c, place + 1, value_c), start_c))

    # Rounding only: between readings the air runs straight by definition.
    assert np.delete(more, place + 1, axis=1) == pytest.approx(
        rows(lived(times_us, air_c, start_c)), abs=1e-8
    )


@given(readings, starts_c)
def test_steps_give_what_the_whole_history_gives(
    pairs: list[tuple[int, float]], start_c: float
) -> None:
    times_us, air_c = history(pairs)
    response = Response(WHEEL, SHELF, start_c, int(times_us[0]))
    stepped = []
    for time_us, air in zip(times_us.tolist(), air_c.tolist(), strict=True):
        response.commit(time_us, air)
        stepped.append((response.at_c(Place.SURFACE), response.at_c(Place.MEAN)))
    found = lived(times_us, air_c, start_c)

    # Rounding only.
    assert np.array(stepped) == pytest.approx(
        np.column_stack((found.surface_c, found.mean_c)), abs=1e-9
    )


@pytest.mark.parametrize("jitter_s", [0, 1, 20])
@pytest.mark.parametrize("step_s", [60, 600, 7_200])
def test_long_steps_and_short_ones_give_what_single_steps_give(step_s: int, jitter_s: int) -> None:
    """The longer the step, the more lags are forgotten within one."""
    chance = np.random.default_rng(step_s + jitter_s)
    count = 3_000
    jitters_s = chance.integers(-jitter_s, jitter_s + 1, count)
    times_us = (np.arange(count) * step_s + jitters_s - jitters_s[0]) * US_PER_S
    air_c = chance.normal(10, 2, count)
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    stepped = []
    for time_us, air in zip(times_us.tolist(), air_c.tolist(), strict=True):
        response.commit(time_us, air)
        stepped.append([response.at_c(place) for place in (Place.FACE, Place.SIDE, Place.CORE)])
    found = lived(times_us, air_c)

    # Rounding only.
    assert np.array(stepped) == pytest.approx(
        np.column_stack((found.face_c, found.side_c, found.core_c)), abs=1e-10
    )


@given(st.integers(0, 100_000), st.floats(-2, 25), readings)
def test_a_prediction_is_what_the_step_then_brings(
    step_s: int, air_c: float, pairs: list[tuple[int, float]]
) -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    response.run(*history(pairs))
    until_us = response.at_us + step_s * US_PER_S
    gain, offset_c = response.predict(until_us)
    response.commit(until_us, air_c)

    # Rounding only.
    assert gain * air_c + offset_c == pytest.approx(response.at_c(Place.SURFACE), abs=1e-9)
    assert 0 <= gain <= 1


def test_a_longer_step_lets_the_surface_follow_more() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    gains = [response.predict(s * US_PER_S)[0] for s in (0, 1, 60, 3_600, 86_400, 10**7)]

    assert gains == sorted(gains)
    # No time lets nothing pass, but for rounding; in 116 days hardly anything is left behind.
    assert gains[0] == pytest.approx(0.0, abs=1e-12)
    assert gains[-1] == pytest.approx(1.0, abs=2e-3)


def test_many_lengths_of_step_give_what_one_length_gives() -> None:
    """A thousand steps of a second less or more, in which the air runs straight."""
    times_us = minutes(9_000)
    air_c = 10 + 2 * np.sin(np.arange(9_000) / 50)
    jitter_us = np.random.default_rng(1).integers(1, 59, 8_999) * US_PER_S
    more_us = np.sort(np.append(times_us, times_us[:-1] + jitter_us))
    more_c = np.interp(more_us, times_us, air_c)
    found, plain = lived(more_us, more_c), lived(times_us, air_c)

    # Rounding only.
    assert rows(found)[:, ::2] == pytest.approx(rows(plain), abs=1e-9)


def test_a_wheel_in_air_of_its_own_temperature_stays_as_it_is() -> None:
    found = rows(lived(minutes(500), np.full(500, 12.0)))

    # Exact but for rounding.
    assert found == pytest.approx(12.0, abs=1e-12)


def test_a_wheel_starts_at_its_own_temperature_whatever_the_air() -> None:
    found = rows(lived(minutes(2), np.full(2, 4.0)))

    # Exact but for rounding.
    assert found[:, 0] == pytest.approx(12.0, abs=1e-9)


def test_a_wheel_ends_at_the_temperature_of_steady_air() -> None:
    found = rows(lived(minutes(30, every=600), np.full(30, 4.0)))

    # 12 days are 87 time constants.
    assert found[:, -1] == pytest.approx(4.0, abs=1e-9)


def test_the_surface_goes_before_the_mean_and_the_mean_before_the_core() -> None:
    found = lived(minutes(60, every=5), np.full(60, 20.0))

    assert (found.surface_c[1:] > found.mean_c[1:]).all()
    assert (found.mean_c[1:] > found.core_c[1:]).all()


def test_the_coldest_point_is_no_warmer_than_any_part_of_the_surface() -> None:
    air_c = 12 + 6 * np.sin(np.arange(2_000) / 90)
    found = lived(minutes(2_000), air_c)

    assert (found.coldest_c <= found.face_c + 1e-9).all()
    assert (found.coldest_c <= found.side_c + 1e-9).all()


def test_a_mat_keeps_the_lower_face_behind() -> None:
    response = Response(WHEEL, Transfer(7.0, 7.0, 2.0), 4.0, at_us=0)
    response.commit(0, 14.0)
    response.commit(3_600 * US_PER_S, 14.0)

    assert response.at_c(Place.BOTTOM_CENTRE) < response.at_c(Place.TOP_CENTRE) - 1


@pytest.mark.parametrize("place", [Place.MEAN, Place.CORE, Place.SURFACE, Place.FACE])
def test_a_move_leaves_the_temperature_as_it_is(place: Place) -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    response.commit(0, 4.0)
    response.commit(2_400 * US_PER_S, 4.0)
    before_c = response.at_c(place)
    response.move(Transfer(12.0, 9.0, 3.0))

    # A part of a thousand of the jump of 8 K, for what filters that faint modes share let slip.
    assert response.at_c(place) == pytest.approx(before_c, abs=8e-3)


def test_a_move_loses_no_heat() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    response.commit(0, 4.0)
    response.commit(2_400 * US_PER_S, 4.0)
    before_c = response.at_c(Place.MEAN)
    response.move(Transfer(12.0, 9.0, 3.0))

    # 0.1 % of the heat that the wheel has given off, which is 2.1 K of it.
    assert response.at_c(Place.MEAN) == pytest.approx(before_c, abs=1e-3 * (12 - before_c))


def test_a_move_there_and_back_changes_nothing() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)
    response.commit(0, 4.0)
    response.commit(2_400 * US_PER_S, 4.0)
    other = response.fork()
    other.move(Transfer.uniform(15.0))
    other.move(SHELF)
    for each in (response, other):
        each.commit(4_800 * US_PER_S, 6.0)

    # A part of a thousand of the jump of 8 K.
    assert other.at_c(Place.SURFACE) == pytest.approx(response.at_c(Place.SURFACE), abs=8e-3)
    assert other.at_c(Place.MEAN) == pytest.approx(response.at_c(Place.MEAN), abs=1e-3)


def test_a_move_to_the_same_coefficients_is_only_a_jump_of_the_air() -> None:
    times_us, air_c = minutes(200), np.linspace(8, 12, 200)
    jump_us = np.insert(times_us, 100, times_us[100])
    jump_c = np.insert(air_c, 100, air_c[99])
    jump_c[101:] += 5
    moved = respond(
        WHEEL,
        [
            Exposure(times_us[:100], air_c[:100], SHELF),
            Exposure(times_us[100:], air_c[100:] + 5, SHELF),
        ],
        12.0,
    )
    found = np.delete(rows(lived(jump_us, jump_c)), 100, axis=1)

    # Rounding only.
    assert rows(moved) == pytest.approx(found, abs=1e-9)


def test_the_old_air_stands_until_the_move_and_the_new_from_it() -> None:
    early = Exposure(minutes(2), np.array([4.0, 4.0]), SHELF)
    move_us, first_us = 3_600 * US_PER_S, 7_200 * US_PER_S
    late = Exposure(np.array([first_us]), np.array([20.0]), SHELF, from_us=move_us)
    found = respond(WHEEL, [early, late], 12.0)
    by_hand = lived(
        np.array([0, 60 * US_PER_S, move_us, move_us, first_us]),
        np.array([4.0, 4.0, 4.0, 20.0, 20.0]),
    )

    # Rounding only.
    assert found.surface_c[-1] == pytest.approx(by_hand.surface_c[-1], abs=1e-9)


def test_unknown_air_runs_straight_and_is_marked() -> None:
    times_us, air_c = minutes(300), np.linspace(8, 14, 300)
    holed_c = air_c.copy()
    holed_c[100:150] = np.nan
    found = lived(times_us, holed_c)

    # Rounding only: the air did run straight.
    assert rows(found) == pytest.approx(rows(lived(times_us, air_c)), abs=1e-9)
    assert found.estimated[100:150].all()
    assert not found.estimated[:100].any()


def test_a_silence_is_marked_after_its_end_for_as_long_as_it_lasted() -> None:
    times_us = np.delete(minutes(300), slice(100, 140))
    found = lived(times_us, np.full(times_us.size, 9.0))
    marked_min = times_us[found.estimated] // (60 * US_PER_S)

    # Readings at 99 and 140 minutes; the 41 minutes between count on until 181.
    assert marked_min.tolist() == list(range(140, 181))


def test_a_long_silence_is_marked_no_longer_than_the_wheel_remembers() -> None:
    times_us = np.concatenate((minutes(100), 86_400 * 20 * US_PER_S + minutes(1_000)))
    found = lived(times_us, np.full(times_us.size, 9.0))
    marked_s = np.count_nonzero(found.estimated) * 60
    slowest_s = 60_000.0

    assert 0 < marked_s < slowest_s


def test_a_minute_that_is_missing_marks_nothing_around_it() -> None:
    times_us = np.delete(minutes(300), 100)
    found = lived(times_us, np.full(times_us.size, 9.0))

    assert not found.estimated.any()


def test_an_empty_history_leaves_the_wheel_as_it_is() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=5)
    found = response.run(np.empty(0, dtype=np.int64), np.empty(0))

    assert found.surface_c.size == 0
    assert (response.at_us, response.effective_air_c) == (5, 12.0)


def test_times_that_go_back_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="in order of time"):
        lived(np.array([60, 0]) * US_PER_S, np.array([9.0, 9.0]))


def test_a_step_back_is_refused() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=10)

    with pytest.raises(OutOfRangeError, match="forward"):
        response.predict(9)


def test_air_that_is_never_known_is_refused() -> None:
    response = Response(WHEEL, SHELF, 12.0, at_us=0)

    with pytest.raises(OutOfRangeError, match="never known"):
        response.run(minutes(2), np.full(2, np.nan))
    with pytest.raises(OutOfRangeError, match="never known"):
        Exposure(minutes(2), np.full(2, np.nan), SHELF)


def test_a_stay_needs_air_for_each_of_its_times() -> None:
    with pytest.raises(OutOfRangeError, match="as many"):
        Exposure(minutes(2), np.full(3, 9.0), SHELF)
    with pytest.raises(OutOfRangeError, match="as many"):
        Exposure(minutes(0), np.empty(0), SHELF)


def test_a_stay_cannot_begin_after_its_first_reading() -> None:
    with pytest.raises(OutOfRangeError, match="leave out the air"):
        Exposure(minutes(2), np.full(2, 9.0), SHELF, from_us=1)


def test_stays_that_overlap_are_refused() -> None:
    stay = Exposure(minutes(10), np.full(10, 9.0), SHELF)

    with pytest.raises(OutOfRangeError, match="cut that one"):
        respond(WHEEL, [stay, stay], 12.0)


def test_a_wheel_that_was_nowhere_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="at least one"):
        respond(WHEEL, [], 12.0)


@settings(max_examples=30)
@given(st.floats(0.04, 0.5), st.floats(0.02, 0.3), st.floats(0.15, 0.6), st.floats(0.5, 60.0))
def test_every_wheel_that_can_be_made_settles_at_its_air(
    diameter_m: float, height_m: float, conductivity: float, film: float
) -> None:
    wheel = Cylinder(diameter_m, height_m, conductivity, 1050.0, 2900.0)
    response = Response(wheel, Transfer(film, 0.5 * film, 0.2 * film), 12.0, at_us=0)
    response.commit(0, 4.0)
    for place in Place:
        # Exact but for rounding.
        assert response.at_c(place) == pytest.approx(12.0, abs=1e-9)
    response.commit(10**8 * US_PER_S, 4.0)

    # Three years are long enough for every one.
    assert [response.at_c(place) for place in Place] == pytest.approx([4.0] * len(Place), abs=1e-3)
