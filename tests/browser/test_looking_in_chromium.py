"""What do you see? From the phone: a photo of twelve megapixels, chips, undo, in real Chromium."""

import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, expect

from service.api.context import Context
from service.store import observations
from tests import builders
from tests.browser.conftest import Watched

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

SMALL = """(least) => [...document.querySelectorAll("main button, main .more, main .act, "
    + "main summary, main select, main textarea, main .chips span, "
    + "main input:not([type=hidden]), main .photos a")]
  .filter((e) => e.offsetParent)
  .filter((e) => e.getBoundingClientRect().height < least || e.getBoundingClientRect().width < 44)
  .map((e) => e.outerHTML.slice(0, 90))"""
WIDER = "document.documentElement.scrollWidth > innerWidth"
LONGEST_S = 15.0
"""A phone's photo is stored well within a keeper's patience; a busy small board is slow."""


def phone_photo(folder: Path) -> Path:
    """A photo of 4000 × 3000 pixels as a phone held upright writes it, with its position."""  # noqa: RUF002 - the sign of a size
    grains = np.random.default_rng(3).integers(60, 240, (300, 400, 3), dtype=np.uint8)
    image = Image.fromarray(grains).resize((4_000, 3_000))
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 12.0, 34.5)})
    path = folder / "rind.jpg"
    image.save(path, "JPEG", quality=97, exif=exif)
    return path


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_wheel_is_looked_at_from_the_phone(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, theme: str
) -> None:
    lane = builders.larch_lane(tmp_path)
    photo = phone_photo(tmp_path)
    address = serve(lane)
    seen = watched(open_browser(390, 844, theme))
    page = seen.page

    page.goto(f"{address}/wheels/2")
    page.get_by_role("link", name="What do you see?").click()
    assert not page.evaluate(WIDER)
    assert page.evaluate(SMALL, 44) == []
    chips = page.locator("main .chips span").all()
    assert min(box["height"] for chip in chips if (box := chip.bounding_box())) >= 48
    expect(page.locator(".doubt")).to_be_hidden()

    page.get_by_label("Take one now").set_input_files(photo)
    page.get_by_label("moist", exact=True).check()
    page.get_by_label("giving").check()
    page.get_by_label("white", exact=True).select_option("white-50")
    page.get_by_label("pink").select_option("pink-10")
    expect(page.locator(".doubt")).to_be_visible()
    page.get_by_label("Weight", exact=True).fill("412")
    began_s = time.monotonic()
    page.get_by_role("button", name="Enter what you see").click()
    expect(page.locator("#seen-1")).to_contain_text("rind moist · feels giving · coat 60")
    took_s = time.monotonic() - began_s

    assert page.url.endswith("/wheels/2?said=saw-1#seen")
    expect(page.locator(".said")).to_contain_text("Entered: rind moist · feels giving")
    expect(page.locator("#seen-1")).to_contain_text("You saw pink growth.")
    thumbnail = page.locator("#seen-1 img")
    thumbnail.scroll_into_view_if_needed()
    size = "(e) => e.decode().then(() => [e.naturalWidth, e.naturalHeight])"
    assert thumbnail.evaluate(size) == [240, 320]
    assert not page.evaluate(WIDER)
    assert page.evaluate(SMALL, 44) == []
    assert photo.stat().st_size > 3_000_000
    assert took_s < LONGEST_S
    with lane.sessions() as session:
        kept = observations.photo(session, 1)
        assert (kept.width, kept.height) == (1_200, 1_600)
        assert dict(Image.open(BytesIO(kept.image)).getexif()) == {}

    page.get_by_role("button", name="Undo what was seen").click()
    expect(page.locator("section:has(#seen)")).to_contain_text("Nothing entered yet.")
    assert seen.wrongs == []


def test_a_wheel_is_looked_at_without_scripts_and_from_the_keyboard(
    tmp_path: Path, serve: Serve, open_browser: Open
) -> None:
    lane = builders.larch_lane(tmp_path)
    page = open_browser(scripts=False).new_page()
    page.goto(serve(lane) + "/wheels/2/look")

    page.get_by_label("not looked").first.focus()
    page.keyboard.press("ArrowRight")
    page.get_by_label("nothing grows yet").focus()
    page.keyboard.press("Space")
    page.get_by_role("button", name="Enter what you see").press("Enter")

    expect(page.locator("#seen-1")).to_contain_text("rind dry · no growth")
