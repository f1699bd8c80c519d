"""Files of readings: `time,temperature_c,humidity_pct`, one reading a line.

Reads the file and says what it could not use; knows nothing of what the readings are for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sensors.errors import BadFileError
from sensors.moments import from_iso, iso
from sensors.plausible import fault, time_fault

COLUMNS = ("time", "temperature_c", "humidity_pct")
"""The columns that a file must have; others beside them are passed over."""


@dataclass(frozen=True, slots=True)
class ReadingsFile:
    """The usable readings of a file in the order of time, and the rows that were not usable.

    Attributes:
        times_us: Strictly rising. [µs since 1970, UTC]
        temperature_c: NaN where the row gives none. [°C]
        humidity_pct: NaN where the row gives none. [%RH]
        rejected: Line number and reason of every row left out.
    """

    times_us: NDArray[np.int64]
    temperature_c: NDArray[np.float64]
    humidity_pct: NDArray[np.float64]
    rejected: tuple[tuple[int, str], ...]


def read_readings(path: Path, *, judged: bool = True) -> ReadingsFile:
    """The readings of a file. Bad rows are counted and named, never fatal.

    A row may lack temperature or humidity, not both. Of two rows with one time the first
    counts; the other is rejected unless it says the same. Lines may end in CRLF and a byte
    order mark may come first.

    Args:
        path: The file, in UTF-8.
        judged: Whether rows that no air can be, or whose clock was never set, are rejected;
            not so when the file is to be sent as it is.

    Raises:
        BadFileError: The file cannot be opened, its first line does not name the columns, or
            no row can be used.
    """
    rows: list[tuple[int, float | None, float | None]] = []
    lines: list[int] = []
    rejected: list[tuple[int, str]] = []
    previous_c: float | None = None
    try:
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            places = _places(path, file.readline())
            for number, line in enumerate(file, 2):
                if line.isspace():
                    continue
                try:
                    row = _row(line, places)
                    reason = judged and (time_fault(row[0]) or fault(row[1], row[2], previous_c))
                except ValueError as error:
                    reason = str(error)
                if reason:
                    rejected.append((number, reason))
                    continue
                if row[1] is not None:
                    previous_c = row[1]
                rows.append(row)
                lines.append(number)
    except OSError as error:
        raise BadFileError(f"{path} cannot be read: {error.strerror}") from None
    if not rows:
        first = f"; line {rejected[0][0]}: {rejected[0][1]}" if rejected else ""
        raise BadFileError(f"{path} holds no usable reading{first}")
    return _in_order(rows, lines, rejected)


def write_readings(
    path: Path,
    times_us: Iterable[int],
    temperature_c: Iterable[float | None],
    humidity_pct: Iterable[float | None],
) -> None:
    """Write readings so that `read_readings` gives the same numbers back.

    Args:
        path: The file; what it held is lost.
        times_us: [µs since 1970, UTC]
        temperature_c: None or NaN leaves the cell empty. [°C]
        humidity_pct: None or NaN leaves the cell empty. [%RH]

    Raises:
        ValueError: The three are not of one length.
    """
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(",".join(COLUMNS) + "\n")
        file.writelines(
            f"{iso(int(time_us))},{_cell(temperature)},{_cell(humidity)}\n"
            for time_us, temperature, humidity in zip(
                times_us, temperature_c, humidity_pct, strict=True
            )
        )


def _places(path: Path, header: str) -> Sequence[int]:
    """Where in a row the three columns are."""
    names = [_bare(name) for name in header.split(",")]
    if any(names.count(column) != 1 for column in COLUMNS):
        raise BadFileError(f"the first line of {path} must be {','.join(COLUMNS)}")
    return [names.index(column) for column in COLUMNS]


def _row(line: str, places: Sequence[int]) -> tuple[int, float | None, float | None]:
    """Time, temperature and humidity of a line.

    Split by hand and not by the csv module: none of the cells can hold a comma, and a stray
    quote must cost one row, not all that follow.
    """
    cells = line.split(",")
    if len(cells) <= max(places):
        raise ValueError(f"it has {len(cells)} cells; {max(places) + 1} are needed")
    time, temperature, humidity = (_bare(cells[place]) for place in places)
    try:
        time_us = from_iso(time)
    except ValueError as error:
        raise ValueError(f"its time cannot be read: {error}") from None
    temperature_c, humidity_pct = _number(temperature), _number(humidity)
    if temperature_c is None and humidity_pct is None:
        raise ValueError("it has neither temperature nor humidity")
    return time_us, temperature_c, humidity_pct


def _bare(cell: str) -> str:
    cell = cell.strip()
    return cell[1:-1] if len(cell) > 1 and cell[0] == cell[-1] == '"' else cell


def _number(cell: str) -> float | None:
    if not cell:
        return None
    # float() would also read 1_0, nan, infinity and the digits of other scripts.
    if not cell.isascii() or "n" in cell.lower() or "_" in cell:
        raise ValueError(f"{cell[:20]!r} is not a number")
    try:
        number = float(cell)
    except ValueError:
        raise ValueError(f"{cell[:20]!r} is not a number") from None
    if number - number != 0.0:
        raise ValueError(f"{cell[:20]!r} is too large a number")
    return number


def _cell(value: float | None) -> str:
    # NaN is the only number that differs from itself.
    return "" if value is None or value != value else repr(float(value))  # noqa: PLR0124


def _in_order(
    rows: Sequence[tuple[int, float | None, float | None]],
    lines: Sequence[int],
    rejected: list[tuple[int, str]],
) -> ReadingsFile:
    """The rows as arrays, sorted by time, the first of equal times kept.

    A row that only says the same again is dropped; one that contradicts is rejected.
    """
    times_us = np.array([row[0] for row in rows], dtype=np.int64)
    values = np.array([row[1:] for row in rows], dtype=np.float64)
    line_numbers = np.array(lines)
    order = np.argsort(times_us, kind="stable")
    times_us, values, line_numbers = times_us[order], values[order], line_numbers[order]
    is_again = np.zeros(times_us.size, dtype=np.bool_)
    is_again[1:] = times_us[1:] == times_us[:-1]
    # Each row beside the one that is kept of its time; a missing value equals a missing one.
    kept = np.flatnonzero(~is_again)[np.cumsum(~is_again) - 1]
    contradicts = is_again & ~np.all(
        (values == values[kept]) | (np.isnan(values) & np.isnan(values[kept])), axis=1
    )
    rejected.extend(
        (int(line), "an earlier row has the same time and other values")
        for line in line_numbers[contradicts]
    )
    return ReadingsFile(
        times_us[~is_again],
        values[~is_again, 0],
        values[~is_again, 1],
        tuple(sorted(rejected)),
    )
