"""Wheels as guests of a space, with the stages ahead of them."""

from dataclasses import replace
from datetime import date, timedelta

from service.ageing.coming import StageAhead, Window, one_day
from service.ageing.guests import Guest
from service.ageing.plans import shipped_plans
from service.ageing.values import Target

TODAY = date(2026, 11, 25)
STAGE = shipped_plans()["blue"].stages[0]


def guest(wheel: int, space: int, *stages: tuple[int, Target, str], batch: int = 0) -> Guest:
    """A wheel in a space with its stages: until how many days from now, what it asks, its name."""
    ahead = []
    begins = one_day(TODAY - timedelta(days=3))
    for until, asks, slug in stages:
        end = TODAY + timedelta(days=until)
        ends = Window(end - timedelta(days=1), end, end + timedelta(days=1))
        ahead.append(
            StageAhead(
                replace(STAGE, slug=slug, in_kitchen_fridge=slug == "kitchen", target=asks),
                begins,
                ends,
            )
        )
        begins = ends
    return Guest(wheel, batch or wheel, space, tuple(ahead), TODAY)
