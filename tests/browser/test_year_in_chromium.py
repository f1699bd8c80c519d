"""The year of all wheels and the planner in real Chromium, on a phone and wide, light and dark."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from service.api.context import Context
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import OVERLAPS, SIZES, SMALL, scrolls_sideways

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]
DRAWN_MS = 20_000
NAMES = """() => [...document.querySelectorAll(".plot .annotation-text")]
  .map((t) => t.textContent)"""
BARS = """() => document.querySelectorAll(".plot .bars .point path").length"""
OUTSIDE = """() => {
  const plot = document.querySelector(".plot").getBoundingClientRect();
  return [...document.querySelectorAll(".plot .bars .point path, .plot .annotation-text")]
    .map((e) => e.getBoundingClientRect())
    .filter((r) => r.width > 0 && (r.left < plot.left - 1 || r.right > plot.right + 1)).length;
}"""


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=["phone", "wide"])
def test_the_year_is_drawn_whole(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    size: tuple[int, int],
    theme: str,
) -> None:
    """Each batch has its name and its bars; nothing overlaps, leaves the chart or scrolls."""
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser(*size, theme))

    seen.page.goto(f"{address}/planner/year", wait_until="networkidle")
    seen.page.wait_for_selector("figure[data-plotted] .main-svg", timeout=DRAWN_MS)

    names = seen.page.evaluate(NAMES)
    assert [name.split(" · ")[0] for name in names[:4]] == [
        "October blue",
        "Tomme",
        "Blue",
        "White mould",
    ]
    assert seen.page.evaluate(BARS) >= 8
    assert seen.page.evaluate(OUTSIDE) == 0
    assert not scrolls_sideways(seen.page)
    assert seen.page.evaluate(OVERLAPS) == []
    assert seen.page.evaluate(SMALL) == []
    assert seen.wrongs == []


def test_without_scripts_the_year_is_a_drawing_and_a_table(
    tmp_path: Path, serve: Serve, open_browser: Open
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    page = open_browser(scripts=False).new_page()

    page.goto(f"{address}/planner/year")
    page.get_by_text("The same as a table").click()

    expect(page.locator("svg.year")).to_be_visible()
    expect(page.get_by_role("rowheader", name="October blue")).to_be_visible()
    assert page.locator("svg.year rect.bar").count() >= 8


def test_a_wish_is_made_on_the_phone(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser())
    page = seen.page

    page.goto(f"{address}/planner", wait_until="networkidle")
    assert not scrolls_sideways(page)
    page.locator("#wish-2 summary").click()
    assert page.evaluate(SMALL) == []
    page.locator("#firmness-2").select_option("soft")
    page.locator("#day-2").fill("2027-01-20")
    page.locator("#wish-2").get_by_role("button", name="Plan for it").click()

    expect(page.get_by_text("Wanted soft for Wed 20 Jan 2027: change")).to_be_visible()
    assert seen.wrongs == []


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "W" * 300, "漢字" * 40], ids=["markup", "long", "wide"]
)
def test_hostile_names_break_no_page_of_the_planner(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, name: str
) -> None:
    home = builders.empty_home(tmp_path)
    with home.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(80.0), name=name)
        box = builders.add_space(session, 1, "box", name, "box", 1)
        builders.add_space(session, 1, "fridge", name, "kitchen_fridge")
        builders.add_batch(session, 1, name, "blue", 9, [(90, 70, 430)] * 12, box, "ripening")
        builders.add_batch(session, 1, name, "hard", 9, [(900, 90, 9000)] * 2, 1, "cold")
    address = serve(home)
    seen = watched(open_browser())

    for path in ("/planner", "/spaces/1/together", "/planner/year"):
        seen.page.goto(address + path, wait_until="networkidle")
        assert not scrolls_sideways(seen.page), path
    seen.page.wait_for_selector("figure[data-plotted] .main-svg", timeout=DRAWN_MS)
    assert seen.page.evaluate(OUTSIDE) == 0
    assert seen.wrongs == []
