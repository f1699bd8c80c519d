"""Reads the tables of a plan file key by key, and says of each mistake where it stands.

It knows TOML and what a key may hold, but not what a plan is. The parser of the standard
library forgets on which line a key stood, so the lines are found here a second time.
"""

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from enum import StrEnum
from math import isfinite
from typing import Any, Final, TypeVar

from service.errors import PlanError

KeyPath = tuple[str | int, ...]
"""The way from the top of a file to a key; a number counts the tables of one name."""

Choice = TypeVar("Choice", bound=StrEnum)
"""A list of words, of which a key holds one."""

_PART = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_KEY = re.compile(rf"\s*({_DOTTED})\s*=(.*)")
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_SLUG = re.compile(r"[a-z][a-z0-9_]{0,39}")
_VALUE_ON_A_LINE = re.compile(r"""(\s*[A-Za-z0-9_"'-]+\s*=\s*)("[^"]*"|'[^']*'|[^\s#]+)""")
_LARGEST: Final = 10**9
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")
_LONG_QUOTES: Final = ('"""', "'''")
_DEEPEST: Final = 16
"""Names joined by points in one key; our choice: a plan has two."""
_TOO_DEEP: Final = re.compile(rf"""(?<![\w"'-])(?:[\w"'-]++\s*+\.\s*+){{{_DEEPEST}}}""")
_UNSHOWN: Final = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode categories of what is never drawn, or turns the writing round."""
_JOINERS: Final = "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}\N{SOFT HYPHEN}"
"""They belong to some scripts and to pictures put together, and do no harm."""


class PlanFile:
    """The text of a plan file, its keys, and the lines on which they stand.

    Args:
        text: The whole file.
        name: What to call the file in messages.

    Raises:
        PlanError: The text is not TOML.
    """

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        if deep := _TOO_DEEP.search(text):
            # Python would take gigabytes for a key of thousands of names.
            line = text.count("\n", 0, deep.start()) + 1
            raise PlanError(
                f"{name}, line {line}: more than {_DEEPEST} names are joined by points; "
                "write key = value, with the key as the plans that come with the service have it",
                line,
            )
        self._lines = _lines_of_keys(text)
        try:
            self.top = Section(self, (), tomllib.loads(text))
        except tomllib.TOMLDecodeError as error:
            found = _AT_LINE.search(str(error))
            line = int(found.group(1)) if found else text.rstrip("\n").count("\n") + 1
            raise PlanError(
                f"{name}, line {line}: this is not TOML: {_AT_LINE.sub('', str(error)).strip()}; "
                "write key = value, put words in quotes, and close every bracket",
                line,
            ) from error
        except (ValueError, RecursionError) as error:
            # Python gives up on numbers of thousands of digits and on brackets nested as deep.
            raise PlanError(
                f"{name}, line 1: a number is too long or brackets are nested too deep; "
                "write the file as the plans that come with the service are written",
                1,
            ) from error

    def error(self, path: KeyPath, what: str, mend: str) -> PlanError:
        """A mistake at that key, or at the table around it when the key is missing."""
        while path and path not in self._lines:
            path = path[:-1]
        line = self._lines.get(path, 1)
        return PlanError(f"{self.name}, line {line}: {what}; {mend}", line)

    def line(self, path: KeyPath) -> int | None:
        """On which line a key stands, counted from 1; None where it has no line of its own."""
        return self._lines.get(path)


class Section:
    """One table of a plan file. Each key is asked for once; `finish` refuses the others."""

    def __init__(self, file: PlanFile, path: KeyPath, table: Mapping[str, Any]) -> None:
        self._file = file
        self._path = path
        self._table = table
        self._asked: set[str] = set()

    def error(self, key: str | None, what: str, mend: str) -> PlanError:
        """A mistake at a key of this table, or at the table itself."""
        return self._file.error(self._path if key is None else (*self._path, key), what, mend)

    def line(self, key: str) -> int | None:
        """On which line a key stands, counted from 1; None where it has no line of its own."""
        return self._file.line((*self._path, key))

    def has(self, key: str) -> bool:
        """Whether the table holds that key, which may be left out."""
        self._asked.add(key)
        return key in self._table

    def text(self, key: str) -> str:
        """Words that are not blank."""
        value = self._get(key, 'words in quotes, as in "wheels are dry to the touch"')
        if not isinstance(value, str) or not value.strip():
            raise self.error(key, f"{key} has no words", f'write {key} = "..." with words in it')
        return self._one_line(key, value)

    def slug(self, key: str) -> str:
        """A short name for use in addresses and records."""
        value = self.text(key)
        if not _SLUG.fullmatch(value):
            raise self.error(
                key,
                f'{key} is "{value}"',
                "use up to 40 small letters, digits and underscores, a letter first",
            )
        return value

    def choice(self, key: str, choices: type[Choice]) -> Choice:
        """One of the words of a list."""
        return self._chosen(key, self._get(key, f"one of {_listed(choices)}"), choices)

    def choices(self, key: str, choices: type[Choice]) -> tuple[Choice, ...]:
        """Words of a list, in brackets, none of them twice."""
        values = self._list(key, _listed(choices))
        chosen = tuple(self._chosen(key, value, choices) for value in values)
        if len(set(chosen)) < len(chosen):
            raise self.error(key, f"{key} says one word twice", "write each word once")
        return chosen

    def texts(self, key: str) -> tuple[str, ...]:
        """Sentences in brackets, none of them blank."""
        values = self._list(key, "sentences in quotes")
        if not all(isinstance(value, str) and value.strip() for value in values):
            raise self.error(key, f"{key} holds what is no sentence", "put each into quotes")
        return tuple(self._one_line(key, value) for value in values)

    def number(self, key: str, low: float, high: float) -> float:
        """A number from `low` to `high`."""
        value = self._get(key, f"a number from {low:g} to {high:g}")
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(key, f"{key} is not a number", "write it without quotes and unit")
        if abs(value) > _LARGEST or not isfinite(value):
            raise self.error(key, f"{key} is not a number", "write it without quotes and unit")
        if not low <= value <= high:
            raise self.error(key, f"{key} is {value:g}", f"write a number from {low:g} to {high:g}")
        return float(value)

    def whole(self, key: str) -> int:
        """A whole number from 1 on."""
        value = self._get(key, "a whole number from 1 on")
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LARGEST:
            raise self.error(key, f"{key} is not a whole number from 1 on", f"write {key} = 1")
        return value

    def flag(self, key: str) -> bool:
        """Whether something is so."""
        value = self._get(key, "true or false")
        if not isinstance(value, bool):
            raise self.error(
                key, f"{key} is neither true nor false", f"write {key} = true, without quotes"
            )
        return value

    def section(self, key: str) -> "Section":
        """The table under that key."""
        value = self._get(key, "a table in braces or under a header of its own")
        if not isinstance(value, dict):
            raise self.error(key, f"{key} is not a table", f"write {key} = {{ ... }} with its keys")
        return Section(self._file, (*self._path, key), value)

    def sections(self, key: str) -> "tuple[Section, ...]":
        """The tables under that key, at least one."""
        value = self._get(key, f"at least one table headed [[{key}]]")
        if not isinstance(value, list) or not value or not all(isinstance(t, dict) for t in value):
            raise self.error(key, f"{key} is not a list of tables", f"head each with [[{key}]]")
        return tuple(
            Section(self._file, (*self._path, key, number), table)
            for number, table in enumerate(value)
        )

    def _one_line(self, key: str, words: str) -> str:
        """The words on one line; they stand on pages and in calendars, which show only signs."""
        line = " ".join(words.split())
        if any(unicodedata.category(sign) in _UNSHOWN for sign in line if sign not in _JOINERS):
            raise self.error(key, f"{key} holds signs that cannot be shown", "write it anew")
        return line

    def _list(self, key: str, wanted: str) -> list[Any]:
        value = self._get(key, f"a list in brackets of {wanted}")
        if not isinstance(value, list) or not value:
            raise self.error(
                key, f"{key} is not a list", f"write {key} = [ ... ] with one or more of: {wanted}"
            )
        return value

    def _chosen(self, key: str, value: object, choices: type[Choice]) -> Choice:
        for choice in choices:
            if value == choice.value:
                return choice
        told = f'"{value}"' if isinstance(value, str) else "not a word in quotes"
        raise self.error(key, f"{key} is {told}", f"write one of {_listed(choices)}")

    def finish(self) -> None:
        """Refuse what nobody asked for: most often a key with a slip of the pen."""
        for key in self._table:
            if key not in self._asked:
                near = get_close_matches(key, sorted(self._asked - set(self._table)), n=1)
                mend = f"did you mean {near[0]}?" if near else "take it out"
                raise self.error(key, f"{key} is not a key of this table", mend)

    def _get(self, key: str, wanted: str) -> Any:
        if not self.has(key):
            raise self.error(None, f"{key} is missing here", f"add {key}: {wanted}")
        return self._table[key]


def with_value(text: str, name: str, key: str, value: str) -> str:
    """The text of a file with another value for one key at its top, its comments kept.

    Args:
        text: The whole file.
        name: What to call the file in messages.
        key: A key that holds a number or words on one line.
        value: What to write after the equals sign.

    Raises:
        PlanError: The key is not there, or its value does not stand on the key's line.
    """
    file = PlanFile(text, name)
    lines = text.split("\n")
    number = _lines_of_keys(text).get((key,))
    found = _VALUE_ON_A_LINE.match(lines[number - 1]) if number is not None else None
    if number is None or found is None or '"""' in lines[number - 1]:
        raise file.error((key,), f"{key} does not stand on a line of its own", f"write {key} = ...")
    lines[number - 1] = found.group(1) + value + lines[number - 1][found.end() :]
    return "\n".join(lines)


def ascending(section: Section, keys: Iterable[str], low: float, high: float) -> list[float]:
    """Numbers under those keys of a table, none below the one before it.

    Raises:
        PlanError: One is missing, no number, out of `low` to `high`, or out of order.
    """
    numbers: list[float] = []
    before = ""
    for key in keys:
        number = section.number(key, low, high)
        if numbers and number < numbers[-1]:
            raise section.error(
                key,
                f"{key} {number:g} is less than {before} {numbers[-1]:g}",
                "put the smaller number first",
            )
        numbers.append(number)
        before = key
    return numbers


def _listed(choices: type[StrEnum]) -> str:
    return ", ".join(f'"{choice.value}"' for choice in choices)


def _lines_of_keys(text: str) -> dict[KeyPath, int]:
    """On which line each key and each table header stands, counted from 1."""
    lines: dict[KeyPath, int] = {}
    tables: dict[KeyPath, int] = {}
    section: KeyPath = ()
    long_quote = ""
    for number, line in enumerate(text.split("\n"), start=1):
        if long_quote:
            # Words that run over lines may hold anything, even what looks like a key.
            long_quote = "" if long_quote in line else long_quote
        elif header := _HEADER.match(line):
            section = _section_path(header.group(2), tables, new=header.group(1) == "[[")
            lines[section] = number
        elif key := _KEY.match(line):
            path = section
            for part in _parts(key.group(1)):
                path = (*path, part)
                lines.setdefault(path, number)
            long_quote = next((q for q in _LONG_QUOTES if key.group(2).count(q) == 1), "")
    return lines


def _section_path(dotted: str, tables: dict[KeyPath, int], *, new: bool) -> KeyPath:
    """The path of a header; `tables` counts the tables under each doubly bracketed name."""
    path: KeyPath = ()
    parts = _parts(dotted)
    for place, part in enumerate(parts, start=1):
        path = (*path, part)
        if new and place == len(parts):
            tables[path] = tables.get(path, -1) + 1
        if path in tables:
            path = (*path, tables[path])
    return path


def _parts(dotted: str) -> list[str]:
    return [part.strip("\"'") for part in re.findall(_PART, dotted)]
