"""A maker copies and edits a plan on the phone, in real Chromium, with scripts on and off."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from service.ageing.plans import shipped_plans, shipped_texts
from service.api.context import Context
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import SMALL

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

VERSION = shipped_plans()["blue"].version


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "plain"])
def test_a_plan_is_edited_and_copied_on_the_phone(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    scripts: bool,  # noqa: FBT001 - a column of the table
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser(scripts=scripts))
    page = seen.page
    page.goto(f"{address}/household")
    page.get_by_role("link", name="Read, copy and edit the plans").click()
    page.get_by_role("link", name=re.compile("^Blue, natural rind")).click()
    page.get_by_role("link", name="Edit or copy").click()

    text = page.get_by_label("The plan")
    whole = text.input_value()
    assert whole == shipped_texts()["blue"]
    text.fill(whole.replace("latest = 12,", "latest = 1,", 1))
    page.get_by_role("button", name="Save as the next version").click()
    expect(page.get_by_role("alert")).to_contain_text("latest 1 is less than expected 5")
    assert "latest = 1," in text.input_value()

    text.fill(whole.replace("low = 8, high = 12,", "low = 9, high = 13,"))
    page.get_by_role("button", name="Save as the next version").click()
    expect(page.get_by_role("status").filter(has_text="The plan is kept")).to_be_visible()
    expect(page.get_by_text(f"Version {VERSION + 1} · saved by the keeper")).to_be_visible()

    page.get_by_role("button", name=f"Move Blue to version {VERSION + 1}").click()
    expect(page.get_by_text(f"Blue ages by version {VERSION + 1}.", exact=True)).to_be_visible()

    page.get_by_role("link", name="Edit or copy").click()
    page.get_by_label("Name of a copy").fill("Dorset night")
    page.get_by_role("button", name="Save as a copy").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Dorset night")
    assert page.url == f"{address}/plans/dorset_night?said=saved"
    expect(page.get_by_text("soft blue cheese")).to_be_visible()
    # The one mistake above was answered as one.
    assert [wrong for wrong in seen.wrongs if "422" not in wrong] == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_pages_of_plans_are_whole_on_a_phone(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, theme: str
) -> None:
    """No error, no sideways scroll, targets of 44 px or more."""
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser(theme=theme))

    for path in ("/plans", "/plans/blue", "/plans/coated", "/plans/blue/edit"):
        seen.page.goto(address + path, wait_until="networkidle")
        wide = seen.page.evaluate("document.documentElement.scrollWidth > innerWidth")
        assert not wide, path
        assert seen.page.evaluate(SMALL) == [], path
    assert seen.wrongs == []
