"""The store gives back the readings that it was given, each once, whatever the order."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Engine, text
from sqlalchemy.pool import StaticPool
from sqlmodel import Session, SQLModel, create_engine

from service.store import air, places
from service.store.air import Added, NewReading

temperatures = st.one_of(st.none(), st.floats(-40, 85))
humidities = st.one_of(st.none(), st.floats(-0.5, 100.5))
Held = dict[tuple[int, int], tuple[float | None, float | None]]
"""Temperature and humidity by sensor and time."""

times_us = st.integers(-(2**63), 2**63 - 1)
"""All that 64 bits hold."""

few_times_us = st.integers(0, 5)
"""So few that the same one comes again and again."""


def readings(times: st.SearchStrategy[int]) -> st.SearchStrategy[list[NewReading]]:
    return st.lists(
        st.builds(
            NewReading,
            sensor_id=st.integers(1, 3),
            time_us=times,
            temperature_c=temperatures,
            humidity_pct=humidities,
        ),
        max_size=30,
    )


@pytest.fixture(scope="module")
def engine() -> Engine:
    made = create_engine("sqlite://", poolclass=StaticPool)
    SQLModel.metadata.create_all(made)
    with Session(made) as session:
        for name in ("one", "two", "three"):
            places.sensor_for(session, name, 0)
        session.commit()
    return made


def added(engine: Engine, *batches: Sequence[NewReading]) -> tuple[list[Added], Held]:
    """What adding the batches to an empty store said, and what the store holds afterwards."""
    with Session(engine) as session:
        said = [air.add_readings(session, batch) for batch in batches]
        rows = session.connection().execute(
            text("SELECT sensor_id, time_us, temperature_c, humidity_pct FROM reading")
        )
        held = {(row[0], row[1]): (row[2], row[3]) for row in rows}
        session.rollback()
    return said, held


def expected(
    batch: Sequence[NewReading],
) -> tuple[Held, tuple[int, ...]]:
    """The rule in its plainest form, one reading after the other, without a database."""
    held: Held = {}
    conflicts = []
    for position, reading in enumerate(batch):
        new = (reading.temperature_c, reading.humidity_pct)
        have = held.get(reading.key, (None, None))
        if any(a is not None and b is not None and a != b for a, b in zip(have, new, strict=True)):
            conflicts.append(position)
        else:
            held[reading.key] = (
                new[0] if have[0] is None else have[0],
                new[1] if have[1] is None else have[1],
            )
    return held, tuple(conflicts)


@given(readings(times_us))
def test_the_store_returns_what_it_was_given(engine: Engine, batch: list[NewReading]) -> None:
    given_once = list({reading.key: reading for reading in batch}.values())
    (said,), held = added(engine, given_once)

    assert said == Added(len(given_once))
    assert held == {one.key: (one.temperature_c, one.humidity_pct) for one in given_once}


@given(readings(few_times_us))
def test_halves_are_joined_and_contradictions_named(
    engine: Engine, batch: list[NewReading]
) -> None:
    (said,), held = added(engine, batch)
    should_hold, should_conflict = expected(batch)

    assert held == should_hold
    assert said == Added(len(should_hold), should_conflict)


@given(readings(few_times_us), st.data())
def test_it_makes_no_difference_how_a_stream_is_cut_into_batches(
    engine: Engine, batch: list[NewReading], data: st.DataObject
) -> None:
    cut = data.draw(st.integers(0, len(batch)))
    said, held = added(engine, batch[:cut], batch[cut:])
    (whole,), held_at_once = added(engine, batch)

    assert held == held_at_once
    assert sum(one.rows for one in said) == whole.rows
    assert said[0].conflicts + tuple(cut + position for position in said[1].conflicts) == (
        whole.conflicts
    )


@given(readings(few_times_us))
def test_the_same_stream_twice_is_the_same_as_once(engine: Engine, batch: list[NewReading]) -> None:
    (_first, second), held = added(engine, batch, batch)

    assert second.rows == 0
    assert held == expected(batch)[0]


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=50, unique=True))
def test_a_history_comes_in_the_order_of_time_and_within_its_bounds(
    engine: Engine, times: list[int]
) -> None:
    middle = sorted(times)[len(times) // 2]
    with Session(engine) as session:
        air.add_readings(session, [NewReading(1, time, 10.0 + time, None) for time in times])
        history = air.sensor_history(session, 1, 0, middle)
        newest = air.latest(session, 1)
        newest_us = newest.time_us if newest is not None else None
        session.rollback()

    assert history.times_us.tolist() == sorted(time for time in times if time < middle)
    assert history.temperature_c.tolist() == [10.0 + time for time in history.times_us]
    assert np.isnan(history.humidity_pct).all()
    assert newest_us == max(times)


def test_looking_up_what_is_stored_uses_the_key_and_does_not_read_the_whole_table(
    engine: Engine,
) -> None:
    """Redelivery looks up many readings; a table of years must not be read for each batch."""
    asked: list[str] = []
    with Session(engine) as session:
        batch = [NewReading(1 + time % 2, time, 10.0, 90.0) for time in range(100)]
        air.add_readings(session, batch)
        raw = session.connection().connection.driver_connection
        assert raw is not None
        raw.set_trace_callback(asked.append)
        air.add_readings(session, batch)
        raw.set_trace_callback(None)
        lookups = [sql for sql in asked if sql.lstrip().startswith("SELECT")]
        plans = [
            str(row)
            for sql in lookups
            for row in raw.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall()
        ]
        session.rollback()

    assert lookups
    assert all("SEARCH reading USING PRIMARY KEY" in plan for plan in plans)
