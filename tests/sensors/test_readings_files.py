"""Files of readings: bad rows are named and never fatal, good ones come back exactly."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import BadFileError
from sensors.files import read_readings, write_readings
from sensors.plausible import EARLIEST_US

HEADER = "time,temperature_c,humidity_pct\n"
NOON_US = 1_795_608_000_000_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "readings.csv"


def test_rows_become_times_and_values(path: Path) -> None:
    path.write_text(HEADER + "2026-11-25T12:00:00Z,11.5,87\n2026-11-25T14:00:30.5+02:00,11.6,\n")
    readings = read_readings(path)

    assert readings.times_us.tolist() == [NOON_US, NOON_US + 30_500_000]
    assert readings.temperature_c.tolist() == [11.5, 11.6]
    assert readings.humidity_pct[0] == 87.0
    assert np.isnan(readings.humidity_pct[1])
    assert readings.rejected == ()


def test_byte_order_mark_crlf_quotes_and_other_columns_do_no_harm(path: Path) -> None:
    path.write_bytes(
        b"\xef\xbb\xbfsensor,humidity_pct,time,temperature_c\r\n"
        b'box,87,"2026-11-25T12:00:00Z", 11.5 \r\n\r\n'
    )
    readings = read_readings(path)

    assert (readings.times_us[0], readings.temperature_c[0]) == (NOON_US, 11.5)
    assert readings.rejected == ()


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("2026-11-25T12:00:00,11,87", "no UTC offset"),
        ("yesterday,11,87", "time cannot be read"),
        ("9999-12-31T23:59:59Z,11,87", "beyond the years 1653 to 2286"),
        (",11,87", "time cannot be read"),
        ("2026-11-25T12:00:00Z,11", "2 cells; 3 are needed"),
        ("# a remark", "1 cells"),
        ("2026-11-25T12:00:00Z,,", "neither temperature nor humidity"),
        ("2026-11-25T12:00:00Z,warm,87", "'warm' is not a number"),
        ("2026-11-25T12:00:00Z,nan,87", "'nan' is not a number"),
        ("2026-11-25T12:00:00Z,1_1,87", "'1_1' is not a number"),
        ("2026-11-25T12:00:00Z,\u0661\u0661,87", "is not a number"),
        ("2026-11-25T12:00:00Z,1e999,87", "too large"),
        ('2026-11-25T12:00:00Z,"11,87', "is not a number"),
        ("2026-11-25T12:00:00Z,-127,87", "error code"),
        ("2026-11-25T12:00:00Z,85,87", "after power-on"),
        ("2026-11-25T12:00:00Z,11,101", "between 0 and 100"),
        ("1970-01-01T00:00:05Z,11,87", "never set"),
    ],
)
def test_bad_row_is_named_and_its_neighbours_are_kept(path: Path, row: str, reason: str) -> None:
    path.write_text(
        f"{HEADER}2026-11-25T11:59:00Z,11,87\n{row}\n2026-11-25T12:01:00Z,11,87\n",
        encoding="utf-8",
    )
    readings = read_readings(path)

    assert len(readings.times_us) == 2
    ((line, said),) = readings.rejected
    assert (line, reason in said) == (3, True)


def test_bytes_that_are_not_utf8_cost_one_row(path: Path) -> None:
    path.write_bytes(
        HEADER.encode() + b"2026-11-25T12:00:00Z,\xff,87\n2026-11-25T12:01:00Z,11,87\n"
    )

    assert [line for line, _ in read_readings(path).rejected] == [2]


def test_rows_are_put_in_order_and_the_first_of_equal_times_counts(path: Path) -> None:
    path.write_text(
        HEADER + "2026-11-25T12:01:00Z,12,87\n2026-11-25T12:00:00Z,11,87\n"
        "2026-11-25T12:01:00Z,13,87\n"
    )
    readings = read_readings(path)

    assert readings.temperature_c.tolist() == [11.0, 12.0]
    assert readings.rejected == ((4, "an earlier row has the same time and other values"),)


def test_a_row_that_says_the_same_again_is_no_fault(path: Path) -> None:
    path.write_text(HEADER + "2026-11-25T12:00:00Z,11,\n" * 2 + "2026-11-25T12:01:00Z,12,87\n" * 3)
    readings = read_readings(path)

    assert readings.temperature_c.tolist() == [11.0, 12.0]
    assert readings.rejected == ()


def test_first_of_many_rows_with_one_time_counts(path: Path) -> None:
    path.write_text(HEADER + "".join(f"2026-11-25T12:00:00Z,{i},87\n" for i in range(80)))
    readings = read_readings(path)

    assert readings.temperature_c.tolist() == [0.0]
    assert [line for line, _ in readings.rejected] == list(range(3, 82))


def test_file_to_be_sent_as_it_is_keeps_impossible_values(path: Path) -> None:
    path.write_text(HEADER + "2026-11-25T12:00:00Z,-127,87\n")

    assert read_readings(path, judged=False).temperature_c.tolist() == [-127.0]


def test_85_degrees_is_believed_after_a_hot_row_and_rows_without_temperature(path: Path) -> None:
    path.write_text(
        HEADER + "2026-11-25T12:00:00Z,84,\n2026-11-25T12:01:00Z,,40\n2026-11-25T12:02:00Z,85,\n"
    )

    assert len(read_readings(path).times_us) == 3


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "first line"),
        ("time,temperature\n", "first line"),
        ("time,time,temperature_c,humidity_pct\n", "first line"),
        ("# remark\n" + HEADER, "first line"),
        (HEADER.replace(",", ";"), "first line"),
        (HEADER, "holds no usable reading"),
        (HEADER + "yesterday,11,87\n", "no usable reading; line 2: its time cannot be read"),
    ],
)
def test_file_that_cannot_be_used_is_refused_in_one_line(
    path: Path, text: str, reason: str
) -> None:
    path.write_text(text)

    with pytest.raises(BadFileError, match=reason) as caught:
        read_readings(path)
    assert "\n" not in str(caught.value)


def test_missing_file_is_refused_in_one_line(path: Path) -> None:
    with pytest.raises(BadFileError, match="cannot be read: No such file"):
        read_readings(path)


@given(
    st.dictionaries(
        st.integers(EARLIEST_US, 9 * 10**15),
        st.tuples(st.floats(-40.0, 84.999), st.floats(-0.5, 100.5) | st.just(float("nan"))),
        min_size=1,
        max_size=10,
    )
)
def test_written_readings_come_back_bit_for_bit(
    tmp_path_factory: pytest.TempPathFactory, rows: dict[int, tuple[float, float]]
) -> None:
    path = tmp_path_factory.getbasetemp() / "round_trip.csv"
    times = sorted(rows)
    values = np.array([rows[time_us] for time_us in times])
    write_readings(path, times, values[:, 0], values[:, 1])
    readings = read_readings(path)

    assert readings.rejected == ()
    np.testing.assert_array_equal(readings.times_us, times)
    np.testing.assert_array_equal(readings.temperature_c, values[:, 0])
    np.testing.assert_array_equal(readings.humidity_pct, values[:, 1])


def test_columns_of_different_length_are_not_written(path: Path) -> None:
    with pytest.raises(ValueError, match="shorter"):
        write_readings(path, [NOON_US, NOON_US + 1], [11.0], [87.0])
