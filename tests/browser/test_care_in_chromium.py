"""The visit list in real Chromium at phone size: large targets, one touch, Undo."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from service.api.context import Context
from service.store import care, wheels
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import scrolls_sideways

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]
WET_HANDS_PX = 56
"""The least height of what is touched on the visit list; the reason is in the page's name."""
WIDE_PX = 300
"""Our choice: the touch that stands for a whole box is nearly as wide as a phone."""
TARGETS = """() => [...document.querySelectorAll(
    "main button, main a, main summary, main select, main label.tick-box")]
  .filter((each) => each.checkVisibility())
  .map((each) => [each.textContent.trim().slice(0, 40), each.getBoundingClientRect().height,
                  each.getBoundingClientRect().width])"""


def small_targets(page: Page) -> list[tuple[str, float, float]]:
    """What can be touched in the page's content and is lower than it must be, or narrow."""
    found: list[tuple[str, float, float]] = page.evaluate(TARGETS)
    assert len(found) > 10
    return [each for each in found if each[1] < WET_HANDS_PX - 0.5 or each[2] < 44]


@pytest.mark.parametrize("scripts", [True, False])
def test_care_is_done_and_undone_with_wet_hands(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, *, scripts: bool
) -> None:
    lane = builders.larch_lane(tmp_path)
    address = serve(lane)
    seen = watched(open_browser(scripts=scripts))
    page = seen.page
    page.goto(f"{address}/care")

    assert small_targets(page) == []
    assert not scrolls_sideways(page)
    page.get_by_role("button", name="Done: Turn, Blue").first.click()
    expect(page.locator("#told")).to_contain_text("Turned Blue 1")
    assert small_targets(page) == []
    with lane.sessions() as session:
        assert [row.wheel_id for row in care.records(session)] == [2, 3, 4]
    page.locator("#told").get_by_role("button", name="Undo").click()
    expect(page.locator("#told")).to_contain_text("Undone")
    with lane.sessions() as session:
        assert care.records(session) == []
    page.locator("#some-turn-w2 summary").click()
    assert small_targets(page) == []
    page.locator("#some-turn-w2").get_by_label("Blue 2").check()
    page.locator("#some-turn-w2").get_by_role("button", name="Done").click()
    expect(page.locator("#told")).to_contain_text("Turned Blue 2")
    assert seen.wrongs == []


@pytest.mark.parametrize("scripts", [True, False])
def test_a_whole_box_is_done_and_undone_with_one_touch_of_a_wet_thumb(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, *, scripts: bool
) -> None:
    lane = builders.larch_lane(tmp_path)
    address = serve(lane)
    seen = watched(open_browser(scripts=scripts))
    page = seen.page
    page.goto(f"{address}/care")
    button = page.get_by_role("button", name="All of this done, Blue box: ")

    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= WET_HANDS_PX
    assert box["width"] >= WIDE_PX
    button.click()
    expect(page.locator("#told")).to_contain_text("Turned Blue 1–3, aired Blue box and wiped")  # noqa: RUF001 - the reader gets a dash
    expect(button).to_have_count(0)
    assert small_targets(page) == []
    with lane.sessions() as session:
        assert len(care.records(session)) == 5
    page.go_back()
    button.click()
    expect(page.locator("#told")).to_be_visible()
    with lane.sessions() as session:
        assert len(care.records(session)) == 5
    page.locator("#told").get_by_role("button", name="Undo").click()
    expect(page.locator("#told")).to_contain_text("Undone")
    expect(button).to_be_visible()
    with lane.sessions() as session:
        assert care.records(session) == []
    assert seen.wrongs == []


def test_a_gate_is_opened_without_a_key_pressed(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path)
    address = serve(lane)
    seen = watched(open_browser(theme="dark"))
    page = seen.page
    page.goto(f"{address}/care")

    page.get_by_role("link", name="The coat is complete").click()
    assert not scrolls_sideways(page)
    page.get_by_label("White mould 4").uncheck()
    for asked in ("coat of 95", "faces dry", "The coat is white"):
        page.get_by_label(asked).check()
    page.get_by_role("button", name="Yes, go on to Wrapped").click()

    expect(page.locator("#told")).to_contain_text("went on to Wrapped")
    with lane.sessions() as session:
        assert [wheels.stages(session, number)[-1].stage for number in (5, 6, 7, 8)] == [
            "wrapped",
            "wrapped",
            "wrapped",
            "coat",
        ]
    assert seen.wrongs == []
