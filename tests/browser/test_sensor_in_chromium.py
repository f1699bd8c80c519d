"""A salt test from the phone, from the bag to the undone correction, in real Chromium."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from service.api import sensor_actions
from service.api.context import Context
from service.store import corrections, places
from tests import builders
from tests.browser.conftest import Watched
from tests.salt_bags import HOUR_US, report_bag
from tests.whole_page import SMALL

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

WIDER = "document.documentElement.scrollWidth > innerWidth"


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [(390, 844), (1280, 800)], ids=["phone", "wide"])
def test_the_sensor_page_is_whole(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    size: tuple[int, int],
    theme: str,
) -> None:
    """No error, no failed request, no sideways scroll, targets of 44 px; in each of its states."""
    lane = builders.larch_lane(tmp_path)
    began_us = builders.NOW_US - 10 * HOUR_US
    with lane.sessions() as session:
        for sensor_id in (1, 2):
            sensor_actions.start_salt_test(session, sensor_id, "NaCl", began_us)
            report_bag(session, sensor_id, began_us)
        sensor_actions.end_salt_test(session, 1, None, began_us + 9 * HOUR_US, back=True)
        sensor_actions.correct_sensor(session, 1, [1], began_us, builders.NOW_US)
    address = serve(lane)
    seen = watched(open_browser(*size, theme))

    for number in (1, 2, 3):
        seen.page.goto(f"{address}/sensors/{number}", wait_until="networkidle")
        for summary in seen.page.locator("summary").all():
            summary.click()
        assert not seen.page.evaluate(WIDER), number
        assert seen.page.evaluate(SMALL) == [], number
    assert seen.wrongs == []


def test_a_salt_test_is_done_from_the_phone_without_scripts(
    tmp_path: Path, serve: Serve, open_browser: Open
) -> None:
    lane = builders.larch_lane(tmp_path)
    clock = lane.clock
    assert isinstance(clock, builders.FixedClock)
    page = open_browser(scripts=False).new_page()
    page.goto(serve(lane) + "/sensors/1")

    page.get_by_label("Salt, and what it gives").select_option("NaCl")
    page.get_by_role("button", name="Start the test").click()
    expect(page.locator("#under-way")).to_contain_text("Not yet")
    with lane.sessions() as session:
        report_bag(session, 1, clock.time_us)
    clock.time_us += 8 * HOUR_US + builders.MINUTE_US
    page.reload()
    expect(page.locator("#under-way")).to_contain_text(re.compile("Done: the sensor reads"))
    page.get_by_role("button", name="End the test").click()
    page.get_by_label("From when it was first placed").check()
    page.get_by_role("button", name="Correct the sensor").click()
    expect(page.locator(".said")).to_contain_text("The correction holds.")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#correction-1")).to_contain_text("Withdrawn.")

    with lane.sessions() as session:
        assert [made.withdrawn for made in corrections.of_sensor(session, 1)] == [True]
        assert places.placements_of_sensor(session, 1)[-1].space_id == 1


def test_two_phones_see_one_test(tmp_path: Path, serve: Serve, open_browser: Open) -> None:
    """The second touches a button of a page that is out of date, and does no harm."""
    lane = builders.larch_lane(tmp_path)
    address = serve(lane)
    one, other = (open_browser(scripts=False).new_page() for _ in range(2))
    for page in (one, other):
        page.goto(address + "/sensors/1")
        page.get_by_label("Salt, and what it gives").select_option("NaCl")

    for page in (one, other):
        page.get_by_role("button", name="Start the test").click()
        expect(page.locator("#under-way")).to_be_visible()
    for page in (one, other):
        page.get_by_role("button", name="End the test").click()
        expect(page.locator(".said")).to_contain_text("The test is over.")

    with lane.sessions() as session:
        assert len(places.placements_of_sensor(session, 1)) == 2


def test_the_page_learns_by_itself_that_the_test_is_done(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path)
    clock = lane.clock
    assert isinstance(clock, builders.FixedClock)
    with lane.sessions() as session:
        sensor_actions.start_salt_test(session, 1, "NaCl", clock.time_us)
    seen = watched(open_browser())
    seen.page.goto(serve(lane) + "/sensors/1")
    with lane.sessions() as session:
        report_bag(session, 1, clock.time_us)
    clock.time_us += 8 * HOUR_US + builders.MINUTE_US

    expect(seen.page.locator("#under-way")).to_contain_text("Done:", timeout=15_000)
    expect(seen.page.locator("#news")).to_contain_text("Done:")
    assert seen.wrongs == []
