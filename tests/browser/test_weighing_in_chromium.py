"""Wheels on the scale at phone size: how many touches, whole pages, and a doubt that is asked."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from service.api.context import Context
from service.store import weighings
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import SIZES, SMALL, scrolls_sideways

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

MOST_TOUCHES = 5
"""The link, a number for each of three wheels, and one to enter them all."""


@dataclass
class Thumb:
    """Touches the screen, and counts."""

    page: Page
    touches: int = 0

    def touch(self, what: Locator) -> None:
        what.click()
        self.touches += 1

    def type(self, label: str, text: str) -> None:
        self.touch(self.page.get_by_label(label, exact=True))
        self.page.keyboard.type(text)


def kept(lane: Context) -> list[list[float]]:
    """What is stored of the three wheels of the blue. [g]"""
    with lane.sessions() as session:
        return [[each.mass_g for each in weighings.weighings(session, n)] for n in (2, 3, 4)]


@pytest.mark.parametrize("start", ["/care", "/batches/2"])
def test_three_wheels_are_weighed_in_five_touches_and_undone_in_one(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, start: str
) -> None:
    lane = builders.larch_lane(tmp_path)
    seen = watched(open_browser())
    page = seen.page
    page.goto(serve(lane) + start)
    thumb = Thumb(page)

    thumb.touch(page.locator("main a[href='/batches/2/weigh']").first)
    for label, grams in (("Blue 1, g", "412"), ("Blue 2, g", "410,5"), ("Blue 3, g", "409")):
        thumb.type(label, grams)
    thumb.touch(page.get_by_role("button", name="Enter the weights"))
    expect(page.locator("#told")).to_contain_text("Weighed Blue 1 412 g, Blue 2 410 g")

    assert thumb.touches <= MOST_TOUCHES
    assert kept(lane) == [[412.0], [410.5], [409.0]]
    thumb.touch(page.locator("#told").get_by_role("button", name="Undo"))
    expect(page.locator("#told")).to_contain_text("Undone")
    assert kept(lane) == [[], [], []]
    assert seen.wrongs == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=["phone", "wide"])
def test_the_form_is_whole_also_while_it_asks(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    size: tuple[int, int],
    theme: str,
) -> None:
    lane = builders.larch_lane(tmp_path)
    seen = watched(open_browser(*size, theme))
    page = seen.page
    page.goto(f"{serve(lane)}/batches/2/weigh")
    assert not scrolls_sideways(page)
    assert page.evaluate(SMALL) == []

    page.get_by_label("Blue 2, g").fill("445")
    page.get_by_role("button", name="Enter the weights").click()

    expect(page.get_by_label("Blue 2, g")).to_have_accessible_description(
        "Heavier than the 430 g before. Is it right? 430 g when new"
    )
    assert not scrolls_sideways(page)
    assert page.evaluate(SMALL) == []
    page.get_by_role("button", name="They are right: enter them").click()
    expect(page.locator("#told")).to_contain_text("Weighed Blue 2 445 g")
    assert kept(lane) == [[], [445.0], []]
    assert seen.wrongs == []
