"""A dated correction changes what is told of the air and never what was received."""

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text
from sqlmodel import Session, SQLModel

from service.clock import US_PER_S
from service.errors import UnknownError
from service.store import air, corrections, places, salt_tests
from service.store.air import NewReading
from service.store.database import open_engine
from service.store.tables import SensorCorrection, Site, Space

MINUTE_US = 60 * US_PER_S
END_US = 100 * MINUTE_US
READ_PCT = 93.0


@pytest.fixture
def session() -> Iterator[Session]:
    """Sensor 1 in space 1 for 100 minutes, a reading of 93 %RH in each."""
    engine = open_engine("sqlite://")
    SQLModel.metadata.create_all(engine)
    with Session(engine) as opened:
        opened.add(Site(slug="larch-lane", name="Larch Lane"))
        opened.flush()
        opened.add(Space(site_id=1, slug="cave", name="Cave", kind="cave"))
        opened.add(Space(site_id=1, slug="box", name="Box", kind="box", parent_id=1))
        opened.flush()
        places.sensor_for(opened, "larch-lane/cave-air", 0)
        places.place_sensor(opened, 1, 1, 0)
        air.add_readings(
            opened, [NewReading(1, minute * MINUTE_US, 10.0, READ_PCT) for minute in range(100)]
        )
        yield opened


def correct(
    session: Session, offset_pct: float, from_min: float, *, gain: float = 1.0, made_min: float = 99
) -> int:
    made = corrections.add(
        session,
        SensorCorrection(
            sensor_id=1,
            from_us=round(from_min * MINUTE_US),
            offset_pct=offset_pct,
            gain=gain,
            standard_uncertainty_pct=0.3,
            salts="NaCl",
            made_us=round(made_min * MINUTE_US),
        ),
    )
    assert made.id is not None
    return made.id


def humidities(session: Session, *, cleaned: bool = False) -> list[float]:
    told: list[float] = air.space_history(
        session, 1, 0, END_US, cleaned=cleaned
    ).humidity_pct.tolist()
    return told


def stored(session: Session) -> list[tuple[object, ...]]:
    rows = session.connection().execute(text("SELECT * FROM reading ORDER BY sensor_id, time_us"))
    return [tuple(row) for row in rows]


def test_a_correction_holds_from_its_date_on(session: Session) -> None:
    correct(session, -3.0, from_min=60)

    assert humidities(session) == [READ_PCT] * 60 + [90.0] * 40


def test_a_late_correction_corrects_the_past(session: Session) -> None:
    correct(session, -3.0, from_min=0, made_min=99)

    assert humidities(session) == [90.0] * 100


def test_a_correction_withdrawn_restores_exactly(session: Session) -> None:
    before = air.space_history(session, 1, 0, END_US).humidity_pct.tobytes()
    corrections.withdraw(session, correct(session, -3.0, from_min=20, gain=0.97))

    assert air.space_history(session, 1, 0, END_US).humidity_pct.tobytes() == before


def test_of_two_corrections_the_one_made_last_counts(session: Session) -> None:
    correct(session, -3.0, from_min=50, made_min=51)
    later = correct(session, -2.0, from_min=20, made_min=90)

    assert humidities(session) == [READ_PCT] * 20 + [91.0] * 80
    corrections.withdraw(session, later)
    assert humidities(session) == [READ_PCT] * 50 + [90.0] * 50


def test_an_earlier_correction_holds_until_a_later_one_begins(session: Session) -> None:
    correct(session, -3.0, from_min=10, made_min=10)
    correct(session, -1.0, from_min=70, made_min=70)

    assert humidities(session) == [READ_PCT] * 10 + [90.0] * 60 + [92.0] * 30


def test_a_later_correction_is_worked_out_from_the_reading(session: Session) -> None:
    """93 as read is 99.3 by the later one, and not 106.3 less 10 of the earlier."""
    correct(session, 10.0, from_min=0, made_min=1)
    correct(session, -3.0, from_min=0, gain=1.1, made_min=2)

    # Floating point alone.
    assert humidities(session) == pytest.approx([99.3] * 100, abs=1e-9)


def test_no_reading_ever_changes(session: Session) -> None:
    before = stored(session)
    places.set_lags(session, 1, 60.0, 45.0)
    withdrawn = correct(session, -3.0, from_min=0)
    correct(session, 2.0, from_min=30, gain=1.05)
    corrections.withdraw(session, withdrawn)
    humidities(session, cleaned=True)

    assert stored(session) == before


def test_what_a_sensor_said_stays_as_received(session: Session) -> None:
    correct(session, -3.0, from_min=0)

    assert air.sensor_history(session, 1, 0, END_US).humidity_pct.tolist() == [READ_PCT] * 100


def test_the_newest_value_is_corrected_like_the_history(session: Session) -> None:
    correct(session, -3.0, from_min=60, gain=1.01)
    last = humidities(session)[-1]

    told = corrections.corrected_value(session, 1, 99 * MINUTE_US, READ_PCT)
    assert told == last
    assert corrections.corrected_value(session, 1, 59 * MINUTE_US, READ_PCT) == READ_PCT
    assert corrections.corrected_value(session, 1, 99 * MINUTE_US, None) is None


def test_a_correction_follows_its_sensor_and_not_the_space(session: Session) -> None:
    places.sensor_for(session, "larch-lane/other", 0)
    air.add_readings(session, [NewReading(2, 80 * MINUTE_US + 1, 10.0, READ_PCT)])
    correct(session, -3.0, from_min=0)
    places.place_sensor(session, 2, 1, 80 * MINUTE_US)

    assert humidities(session) == [90.0] * 80 + [READ_PCT]


def test_only_a_span_that_a_correction_touches_says_corrected(session: Session) -> None:
    number = correct(session, -3.0, from_min=60)

    assert not air.is_corrected(session, 1, 0, 60 * MINUTE_US)
    assert air.is_corrected(session, 1, 0, 61 * MINUTE_US)
    assert not air.is_corrected(session, 2, 0, END_US)
    corrections.withdraw(session, number)
    assert not air.is_corrected(session, 1, 0, END_US)


def test_an_unknown_correction_is_an_error(session: Session) -> None:
    with pytest.raises(UnknownError, match="no correction 7"):
        corrections.withdraw(session, 7)


@given(
    humidity=st.lists(st.none() | st.floats(-0.5, 100.5), min_size=1, max_size=20),
    lines=st.lists(
        st.tuples(st.floats(-10, 10), st.floats(0.8, 1.2), st.integers(0, 20), st.booleans()),
        max_size=5,
    ),
)
def test_corrected_air_is_possible_air_and_what_is_not_known_stays_so(
    humidity: list[float | None], lines: list[tuple[float, float, int, bool]]
) -> None:
    made = [
        SensorCorrection(
            sensor_id=1,
            from_us=from_us,
            offset_pct=offset,
            gain=gain,
            standard_uncertainty_pct=0.3,
            salts="NaCl",
            made_us=position,
            withdrawn=withdrawn,
        )
        for position, (offset, gain, from_us, withdrawn) in enumerate(lines)
    ]
    times, values = np.arange(len(humidity)), np.array(humidity, dtype=np.float64)

    told = corrections.corrected(made, times, values)

    for time_us, value, now in zip(times.tolist(), values.tolist(), told.tolist(), strict=True):
        holding = corrections.in_force(made, time_us)
        if np.isnan(value):
            assert np.isnan(now)
        elif holding is None:
            assert now == value
        else:
            assert 0.0 <= now <= 100.0
            assert now == np.clip(holding.offset_pct + holding.gain * value, 0.0, 100.0)


def test_readings_of_a_salt_test_speak_for_no_space(session: Session) -> None:
    """Not even where somebody says afterwards that the sensor stood there all the time."""
    test = salt_tests.start(session, 1, "NaCl", 40 * MINUTE_US)
    test.ended_us = 70 * MINUTE_US
    salt_tests.save(session, test)

    times = air.space_history(session, 1, 0, END_US).times_us

    minutes = (times // MINUTE_US).tolist()
    assert minutes == [*range(40), *range(70, 100)]


def test_a_test_withdrawn_still_was_in_the_air_of_the_salt(session: Session) -> None:
    test = salt_tests.start(session, 1, "NaCl", 40 * MINUTE_US)
    test.ended_us, test.withdrawn = 70 * MINUTE_US, True
    salt_tests.save(session, test)

    assert len(humidities(session)) == 70


def test_a_start_that_was_undone_lasted_no_time(session: Session) -> None:
    test = salt_tests.start(session, 1, "NaCl", 40 * MINUTE_US)
    test.ended_us, test.withdrawn = 40 * MINUTE_US, True
    salt_tests.save(session, test)

    assert len(humidities(session)) == 100


def test_cleaned_air_has_no_spike_and_asked_plainly_it_has(session: Session) -> None:
    # One reading of 60 between 93 and 93, on top of a little noise so that there is a scale.
    air.add_readings(session, [NewReading(1, 50 * MINUTE_US + US_PER_S, 10.0, 60.0)])

    assert min(humidities(session)) == 60.0
    assert np.nanmin(humidities(session, cleaned=True)) == READ_PCT


def test_cleaned_air_is_moved_back_by_the_lag_of_its_sensor(session: Session) -> None:
    """On a ramp a lagging sensor is late by its time constant."""
    places.sensor_for(session, "larch-lane/slow", 0)
    places.place_sensor(session, 2, 2, 0)
    lag_min, rise = 2.0, 0.05
    air.add_readings(
        session,
        [
            NewReading(2, minute * MINUTE_US, 10.0 + rise * (minute - lag_min), 80.0)
            for minute in range(100)
        ],
    )
    places.set_lags(session, 2, lag_min * 60.0, None)

    plain = air.space_history(session, 2, 0, END_US)
    cleaned = air.space_history(session, 2, 0, END_US, cleaned=True)

    true_c = 10.0 + rise * np.arange(100)
    # Floating point alone: a straight line has one slope.
    assert plain.temperature_c == pytest.approx(true_c - rise * lag_min, abs=1e-9)
    assert cleaned.temperature_c == pytest.approx(true_c, abs=1e-9)


def test_what_was_judged_stays_when_more_readings_come(session: Session) -> None:
    places.set_lags(session, 1, 120.0, 120.0)
    correct(session, -3.0, from_min=0)
    before = air.space_history(session, 1, 0, END_US)
    air.add_readings(session, [NewReading(1, END_US, 14.0, 70.0)])

    after = air.space_history(session, 1, 0, END_US)
    one = air.space_history(session, 1, 99 * MINUTE_US, END_US)

    assert after.humidity_pct.tobytes() == before.humidity_pct.tobytes()
    assert one.humidity_pct.tolist() == before.humidity_pct[-1:].tolist()


def test_a_span_cleaned_by_itself_is_as_in_the_whole(session: Session) -> None:
    places.set_lags(session, 1, 60.0, 60.0)
    chance = np.random.default_rng(3)
    air.add_readings(
        session,
        [
            NewReading(1, minute * MINUTE_US, 10.0 + chance.normal(0, 0.05), 88.0)
            for minute in range(100, 400)
        ],
    )

    whole = air.space_history(session, 1, 0, 400 * MINUTE_US, cleaned=True)
    part = air.space_history(session, 1, 200 * MINUTE_US, 300 * MINUTE_US, cleaned=True)

    inside = (whole.times_us >= 200 * MINUTE_US) & (whole.times_us < 300 * MINUTE_US)
    # The window over which the slope is taken is chosen from all that is looked at.
    assert part.temperature_c == pytest.approx(whole.temperature_c[inside], abs=0.1)
