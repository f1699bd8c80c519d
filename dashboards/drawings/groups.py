"""Wheels that share batch, stage and verdict stand together and share their words."""

# ruff: noqa: RUF001 - a multiplication sign for the reader

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from dashboards.care_words import NextCare
from dashboards.drawings.marks import TONES, tone
from dashboards.words import Words, counted, plain, short
from service.judging import WheelNow


@dataclass(frozen=True, slots=True)
class Line:
    """One line of words under a group, in the ink of its tone."""

    text: str
    tone: str | None = None
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Wheels that are drawn side by side under one set of words.

    Attributes:
        wheels: At least one.
        name: Of their batch, as it may be shown.
        suffix: What follows the name and is never cut: how many, which day.
        lines: Stage, verdict and next care.
    """

    wheels: tuple[WheelNow, ...]
    name: str
    suffix: str
    lines: tuple[Line, ...]

    @property
    def words(self) -> str:
        """All of it in one sentence, for those who do not see the drawing."""
        told = "; ".join(line.text for line in self.lines)
        return f"{self.name}{self.suffix}: {told}"


def grouped(
    wheels: Iterable[WheelNow],
    words: Words,
    now_us: int,
    sweat: Mapping[int, str] | None = None,
    care: Mapping[int, NextCare] | None = None,
) -> list[Group]:
    """The wheels in groups, in the order in which they came.

    Args:
        wheels: The wheels.
        words: The household's words.
        now_us: The time. [µs UTC]
        sweat: What is said of the surface of a wheel, by its number; nothing of the others.
        care: What comes next for a wheel, by its number; a group tells what comes first.
    """
    wet = sweat or {}
    together: dict[tuple[object, ...], list[WheelNow]] = {}
    for wheel in wheels:
        stage = wheel.stage.slug if wheel.stage else None
        together.setdefault((wheel.batch_id, stage, wheel.verdict, wet.get(wheel.id)), []).append(
            wheel
        )
    return [
        _group(
            tuple(alike),
            words,
            now_us,
            wet.get(alike[0].id),
            [(care or {})[each.id] for each in alike if each.id in (care or {})],
        )
        for alike in together.values()
    ]


def _group(
    wheels: tuple[WheelNow, ...],
    words: Words,
    now_us: int,
    wet: str | None,
    care: Sequence[NextCare],
) -> Group:
    first = wheels[0]
    times = f" ×{len(wheels)}" if len(wheels) > 1 else ""
    stage = Line(plain(first.stage.name) if first.stage else "in no stage")
    sweat = (Line(wet, "damp"),) if wet else ()
    coming = min(care, key=lambda each: (not each.overdue, each.day), default=None)
    following = (Line(coming.text),) if coming else ()
    return Group(
        wheels=wheels,
        name=plain(first.batch),
        suffix=f"{times} · day {first.day}",
        lines=(stage, *verdict_lines(first, words, now_us), *sweat, *following),
    )


def verdict_lines(wheel: WheelNow, words: Words, now_us: int) -> tuple[Line, ...]:
    """The verdict of a wheel: each thing out of range, and each thing not known."""
    verdict = wheel.verdict
    lines = [
        Line(words.finding(finding, now_us), TONES[finding.quantity, finding.direction])
        for finding in verdict.findings
    ]
    reasons: dict[tuple[str, int | None], list[str]] = {}
    for unknown in verdict.unknown:
        reasons.setdefault((unknown.reason, unknown.last_us), []).append(unknown.quantity)
    for (reason, last_us), quantities in reasons.items():
        since = f" since {words.moment(last_us)}" if last_us is not None else ""
        lines.append(Line(f"{' and '.join(quantities)} not known: {reason}{since}", "unknown"))
    if lines:
        return tuple(lines)
    return (Line("in range", tone(verdict)),)


def title_of(wheel: WheelNow) -> str:
    """A wheel's own name: its batch and its label."""
    return f"{short(wheel.batch)} {short(wheel.label)}"


def how_many(wheels: Iterable[WheelNow]) -> str:
    """How many wheels, in words."""
    return counted(len(list(wheels)), "wheel")
