"""Which of a wheel's time is under its wrap: as its plan says, whatever the stages are called."""

from dataclasses import replace

from service.ageing.plans import shipped_plans
from service.living.stays import spans
from service.store.tables import StageLived, WheelPlacement

BLUE = shipped_plans()["blue"]
DAY_US = 86_400_000_000


def test_a_wheel_is_under_its_wrap_in_the_stages_of_which_its_plan_says_so() -> None:
    names = {"wrapped": "in_foil", "cold": "upstairs"}
    plan = replace(
        BLUE, stages=tuple(replace(s, slug=names.get(s.slug, s.slug)) for s in BLUE.stages)
    )
    lived = [
        StageLived(wheel_id=1, stage="ripening", from_us=0, to_us=3 * DAY_US),
        StageLived(wheel_id=1, stage="in_foil", from_us=3 * DAY_US, to_us=5 * DAY_US),
        StageLived(wheel_id=1, stage="upstairs", from_us=5 * DAY_US, to_us=None),
    ]
    placed = [WheelPlacement(wheel_id=1, space_id=1, from_us=0, to_us=None)]

    found = spans(placed, lived, plan, 0, 7 * DAY_US)

    assert [(each.from_us // DAY_US, each.to_us // DAY_US, each.wrapped) for each in found] == [
        (0, 3, False),
        (3, 7, True),
    ]
