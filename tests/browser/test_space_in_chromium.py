"""A drying cave in real Chromium: what is ahead, openings and dew point, drawn whole."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from service.api.context import Context
from service.store import set_up
from service.store.tables import Site
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import OVERLAPS, SIZES, SMALL, scrolls_sideways

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]
DRAWN_MS = 20_000
NAMES = (
    """() => [...document.querySelectorAll(".plot .annotation-text")].map((t) => t.textContent)"""
)
DASHED = """() => [...document.querySelectorAll(".plot .js-line")]
  .filter((line) => line.style.strokeDasharray && line.style.strokeDasharray !== "none").length"""
MARKED = """() => document.querySelectorAll(".plot .points .point").length"""


def drying_cave(folder: Path) -> Context:
    """A cave that cools in cycles, was opened five hours ago, and dries since nine."""

    def warm(ago: float) -> float:
        phase = (-ago / 0.6) % 1.0
        visit = 3.0 * 0.5 ** ((5.0 - ago) / 0.15) if 3 < ago <= 5 else 0.0
        return 10.4 - 0.8 * (phase / 0.35 if phase < 0.35 else (1 - phase) / 0.65) + visit

    def damp(ago: float) -> float:
        visit = 15.0 * 0.5 ** ((5.0 - ago) / 0.2) if 3 < ago <= 5 else 0.0
        return 89.0 - 0.3 * max(0.0, 9.0 - ago) - visit

    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Home"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_batch(
            session, site.id, "Tomme", "tomme", 41, [(190, 75, 1950)], cave, "ripening"
        )
        builders.add_sensor(session, "air", cave, warm, damp, 240)
    return context


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=["phone", "wide"])
def test_a_drying_cave_is_drawn_whole(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    size: tuple[int, int],
    theme: str,
) -> None:
    """What is expected is dashed and named, the opening marked, the dew point named."""
    address = serve(drying_cave(tmp_path))
    seen = watched(open_browser(*size, theme))

    seen.page.goto(f"{address}/spaces/1", wait_until="networkidle")
    seen.page.wait_for_selector("figure[data-plotted] .main-svg", timeout=DRAWN_MS)

    assert {"expected", "dew point"} <= set(seen.page.evaluate(NAMES))
    assert seen.page.evaluate(DASHED) == 1
    assert seen.page.evaluate(MARKED) == 1
    assert not scrolls_sideways(seen.page)
    assert seen.page.evaluate(OVERLAPS) == []
    assert seen.page.evaluate(SMALL) == []
    assert seen.wrongs == []


def test_without_scripts_the_drawing_says_the_same(
    tmp_path: Path, serve: Serve, open_browser: Open
) -> None:
    address = serve(drying_cave(tmp_path))
    page = open_browser(scripts=False).new_page()

    page.goto(f"{address}/spaces/1")

    assert page.locator("svg.air path.dashed").count() == 1
    assert page.locator("svg.air path.spread.expected").count() == 1
    assert page.locator("svg.air text", has_text="expected").is_visible()
    assert page.locator("svg.air text", has_text="dew point").is_visible()
    assert page.evaluate(OVERLAPS) == []
