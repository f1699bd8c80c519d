"""When the stages still ahead of a wheel begin and end, by the days of their gates.

A gate opens on what is seen; its days only say when that usually is. Chained one after the other
they give each coming stage a window of days, which the planner, the year and the question of
which wheels fit together all rest on. Days are those of the household's calendar.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.ageing.plans import Plan, Stage
from service.ageing.work import Counted


@dataclass(frozen=True, slots=True)
class Window:
    """Days between which something is expected, in ascending order."""

    earliest: date
    expected: date
    latest: date

    def not_before(self, day: date) -> "Window":
        """The same window with what lies before a day drawn up to it."""
        return Window(*(max(each, day) for each in (self.earliest, self.expected, self.latest)))


@dataclass(frozen=True, slots=True)
class StageAhead:
    """A stage with the days on which it is expected to begin and to end.

    Attributes:
        stage: The stage.
        begins: When it begins; the one day where it has begun.
        ends: When its gate is expected to open, today at the earliest.
    """

    stage: Stage
    begins: Window
    ends: Window


def one_day(day: date) -> Window:
    """A window of a single day."""
    return Window(day, day, day)


def stages_ahead(
    plan: Plan, slug: str | None, stage_from: date, made: date, today: date
) -> tuple[StageAhead, ...]:
    """The stage that a wheel lives and those after it; none when it lives none of the plan.

    Args:
        plan: The plan.
        slug: The stage that it lives.
        stage_from: Since when.
        made: Its make day.
        today: No gate opens before today.
    """
    slugs = [stage.slug for stage in plan.stages]
    if slug not in slugs:
        return ()
    found: list[StageAhead] = []
    begins = one_day(stage_from)
    for stage in plan.stages[slugs.index(slug) :]:
        ends = _ends(stage, begins, made).not_before(today)
        found.append(StageAhead(stage, begins, ends))
        begins = ends
    return tuple(found)


def wrapping(ahead: Sequence[StageAhead]) -> StageAhead | None:
    """The stage ahead with which a wheel is wrapped while it stays in the cave.

    None when it is wrapped already, or only when it goes into the kitchen fridge.
    """
    if not ahead or ahead[0].stage.wrapped:
        return None
    return next(
        (each for each in ahead if each.stage.wrapped and not each.stage.in_kitchen_fridge), None
    )


def _ends(stage: Stage, begins: Window, made: date) -> Window:
    days = stage.gate.days
    from_make = days.counted is Counted.MAKE
    ends = (
        max(first, (made if from_make else first) + timedelta(days=length))
        for first, length in (
            (begins.earliest, days.earliest),
            (begins.expected, days.expected),
            (begins.latest, days.latest),
        )
    )
    return Window(*ends)
