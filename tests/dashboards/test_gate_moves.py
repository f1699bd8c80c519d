"""The gate page says when the next stage asks for other air than where the wheels are."""

import re

from fastapi.testclient import TestClient

from dashboards.cautions import cautions_for
from dashboards.site import site
from service.ageing.plans import shipped_plans
from service.api.context import Context
from service.store import places
from tests import builders


def gate_of_a_draining_blue(context: Context, kitchen_c: float | None) -> str:
    """The gate page of a blue that drains in a kitchen, with or without a sensor in it."""
    with context.sessions() as session:
        site_row = places.the_site(session)
        assert site_row is not None
        assert site_row.id is not None
        kitchen = builders.add_space(session, site_row.id, "kitchen", "Kitchen", "room")
        (wheel_id,) = builders.add_batch(
            session, site_row.id, "New blue", "blue", 4, [(90, 70, 430)], kitchen, "salting"
        )
        if kitchen_c is not None:
            warm = builders.steady(kitchen_c)
            builders.add_sensor(session, "kitchen-air", kitchen, warm, builders.steady(55.0))
    browser = TestClient(site(context), base_url="http://localhost", client=("127.0.0.1", 50_000))
    return browser.get(f"/wheels/{wheel_id}/gate").text


def test_gate_tells_that_the_next_stage_is_too_cold_for_the_kitchen(lane: Context) -> None:
    page = gate_of_a_draining_blue(lane, 20.5)

    assert re.search(r"First growth asks for 8\S+12\s°C; in Kitchen it is 20\.5\s°C now", page)
    assert '<details id="where" open>' in page


def test_spaces_that_suit_the_next_stage_are_offered_first(lane: Context) -> None:
    page = gate_of_a_draining_blue(lane, 20.5)
    offered = re.findall(r'<option value="\d+">([^<,]+)', page[page.index('id="space"') :])

    # The cave has 10.4 °C, the blue box 10.1 °C; the fridge has 3.9 °C, the white box no sensor.
    assert offered[:2] == ["Cave", "Blue box"]


def test_gate_says_so_when_no_sensor_tells_how_warm_it_is(lane: Context) -> None:
    page = gate_of_a_draining_blue(lane, None)

    assert "no fresh reading tells how warm it is in Kitchen" in page


def test_gate_is_quiet_where_the_air_suits(lane: Context) -> None:
    page = gate_of_a_draining_blue(lane, 10.0)

    assert "asks for" not in page
    assert '<details id="where">' in page


def test_wheel_of_pasteurised_milk_carries_no_caution_of_raw_milk() -> None:
    tomme = shipped_plans()["tomme"]
    told = {
        raw: any("unpasteurised" in each.words for each in cautions_for(tomme, None, raw_milk=raw))
        for raw in (True, False, None)
    }

    assert told == {True: True, False: False, None: True}
