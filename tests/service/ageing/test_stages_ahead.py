"""The days of coming stages, chained from gate to gate."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from service.ageing.coming import Window, one_day, stages_ahead
from service.ageing.plans import Plan, Stage, shipped_plans
from service.ageing.work import Counted, Days

TODAY = date(2026, 11, 25)
BLUE = shipped_plans()["blue"]


def with_gates(*gates: Days) -> Plan:
    """A plan whose stages, named a, b and so on, have these gates."""
    first = BLUE.stages[0]
    stages: list[Stage] = [
        replace(first, slug=chr(ord("a") + place), gate=replace(first.gate, days=days))
        for place, days in enumerate(gates)
    ]
    return replace(BLUE, stages=tuple(stages))


def test_each_stage_begins_where_the_one_before_ends() -> None:
    plan = with_gates(Days(2, 4, 6, "x"), Days(10, 20, 30, "x"))

    found = stages_ahead(plan, "a", TODAY, TODAY, TODAY)

    assert found[0].begins == one_day(TODAY)
    assert found[0].ends == Window(*(TODAY + timedelta(days=n) for n in (2, 4, 6)))
    assert found[1].begins == found[0].ends
    assert found[1].ends == Window(*(TODAY + timedelta(days=n) for n in (12, 24, 36)))


def test_a_gate_counted_from_make_day_does_not_wait_for_a_late_stage() -> None:
    plan = with_gates(Days(7, 10, 14, "x", Counted.MAKE))
    made = TODAY - timedelta(days=6)

    (found,) = stages_ahead(plan, "a", TODAY - timedelta(days=1), made, TODAY)

    assert found.ends == Window(*(made + timedelta(days=n) for n in (7, 10, 14)))


def test_a_gate_that_is_late_is_expected_today() -> None:
    plan = with_gates(Days(2, 4, 6, "x"), Days(1, 2, 3, "x"))

    found = stages_ahead(plan, "a", TODAY - timedelta(days=30), TODAY, TODAY)

    assert found[0].ends == one_day(TODAY)
    assert found[1].ends.expected == TODAY + timedelta(days=2)


def test_a_wheel_in_no_stage_of_its_plan_has_none_ahead() -> None:
    assert stages_ahead(BLUE, None, TODAY, TODAY, TODAY) == ()
    assert stages_ahead(BLUE, "smoking", TODAY, TODAY, TODAY) == ()


@given(ago=st.integers(0, 400), age=st.integers(0, 400), place=st.integers(0, 6))
def test_windows_are_in_order_and_never_run_backwards(ago: int, age: int, place: int) -> None:
    slug = BLUE.stages[place].slug
    found = stages_ahead(
        BLUE, slug, TODAY - timedelta(days=ago), TODAY - timedelta(days=ago + age), TODAY
    )

    for each in found:
        assert each.begins.earliest <= each.begins.expected <= each.begins.latest
        assert each.begins.earliest <= each.ends.earliest
        assert TODAY <= each.ends.earliest <= each.ends.expected <= each.ends.latest
