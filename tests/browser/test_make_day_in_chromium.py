"""A make day as a maker lives it with one thumb, and labels that a phone's camera reads."""

import io
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from service.api.context import Context
from service.app import build
from service.clock import US_PER_S, WorldClock
from service.settings import Settings
from service.store import make_days, set_up, wheels
from service.store.ageing_tables import MakeDay
from service.store.tables import Site
from tests import builders
from tests.browser.conftest import Watched, served_site
from tests.whole_page import SMALL

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

SLOW_MS = 20_000
SPY = """() => {
  window.tones = 0;
  const make = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function () {
    window.tones += 1;
    return make.call(this);
  };
  window.shakes = 0;
  Navigator.prototype.vibrate = () => { window.shakes += 1; return true; };
}"""
A4_PT, LETTER_PT = (595.3, 841.9), (612.0, 792.0)


def own_home(folder: Path) -> Context:
    """Larch Lane with a cave, by the world's own clock."""
    context = build(Settings(data_folder=folder))
    with context.sessions() as session:
        set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane", time_zone="UTC"))
        builders.add_space(session, 1, "cave", "Cave", "cave")
    return context


def begin(context: Context) -> int:
    """A make day that was begun through the store; its number."""
    with context.sessions() as session:
        day = make_days.start(
            session,
            MakeDay(
                site_id=1,
                name="Blue",
                plan="blue",
                plan_version=1,
                started_us=context.clock.now_us(),
            ),
        )
        assert day.id is not None
        return day.id


def is_whole(page: Page) -> None:
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), page.url
    assert page.evaluate(SMALL) == [], page.url


def fill_in(page: Page, **fields: str) -> None:
    """Type into fields by the names under which they are sent."""
    for name, text in fields.items():
        page.locator(f"main [name={name}]:not([type=hidden])").fill(text)


def touch(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def unfold(page: Page, words: str) -> None:
    page.locator("summary", has_text=words).first.click()


def let_it_set(page: Page, clock: builders.FixedClock) -> None:
    """Rennet, flocculation after 13 min 19 s, a timer to the cut, and the cut."""
    touch(page, "Rennet is in, now")
    expect(page.get_by_text("Rennet added").first).to_be_visible()
    clock.time_us += 799 * US_PER_S
    page.locator("#flocculation-multiplier").fill("4")
    touch(page, "It has flocculated, now")
    told = "times 4 makes 53 min 16 s in all, 39 min 57 s after it"
    expect(page.get_by_text(told)).to_be_visible()
    touch(page, "Start the timer to the cut")
    countdown = page.locator(".countdown[data-ends]")
    expect(countdown).to_contain_text(re.compile(r"^39:5\d left$"))
    is_whole(page)
    clock.time_us += 2_400 * US_PER_S
    page.reload()
    expect(countdown).to_contain_text("time is up")
    touch(page, "Seen: Cut the curd")
    expect(countdown).to_have_count(0)
    touch(page, "Cut the curd")


def test_a_whole_make_day_on_a_phone(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    home = own_home(tmp_path)
    clock = builders.FixedClock(WorldClock().now_us())
    seen = watched(open_browser(390, 844))
    page = seen.page
    page.goto(serve(replace(home, clock=clock)))
    page.get_by_role("link", name="Make day").click()
    page.get_by_role("link", name="Begin a make day").click()
    fill_in(page, name="December blue")
    page.locator("[name=plan]").select_option("blue")
    page.locator("[name=raw_milk]").select_option("raw")
    is_whole(page)
    touch(page, "Begin now")

    fill_in(page, temperature="32,5")
    touch(page, "Milk warm")
    expect(page.get_by_role("cell", name="Milk warm 32.5 °C")).to_be_visible()
    unfold(page, "Enter the record")
    fill_in(page, milk="Cow, evening", milk_l="12", cultures="mesophilic")
    touch(page, "Save the record")
    let_it_set(page, clock)
    unfold(page, "Enter curd and salt")
    fill_in(page, curd_g="1200", salt_pct="2")
    page.locator("[name=salting]").select_option("dry")
    touch(page, "Save and work out the salt")
    expect(page.get_by_text("24.0 g of salt")).to_be_visible()
    unfold(page, "How many, how large")
    fill_in(page, each_g="431 428.5 440", diameter_mm="90", height_mm="70")
    page.locator("#finish-space").select_option(label="Cave")
    touch(page, "Make the wheels")

    expect(page.get_by_role("heading", name="December blue")).to_be_visible()
    expect(page.get_by_text("1.08 kg from 10 l")).to_be_visible()
    is_whole(page)
    page.get_by_role("link", name="Labels to print").click()
    expect(page.locator(".label")).to_have_count(3)
    is_whole(page)
    with home.sessions() as session:
        assert wheels.batch(session, 1).raw_milk is True
        assert [each.mass_g for each in wheels.wheels_of(session, 1)] == [431.0, 428.5, 440.0]
    assert seen.wrongs == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_codes_of_the_labels_open_the_wheels(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, theme: str
) -> None:
    """Read from what is drawn on the screen, by a reader that is not ours."""
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser(900, 1_200, theme))
    seen.page.goto(f"{address}/batches/2/labels")
    shot = Image.open(io.BytesIO(seen.page.screenshot(full_page=True)))

    found = {each.text for each in zxingcpp.read_barcodes(shot)}

    assert found == {f"{address}/wheels/{number}" for number in (2, 3, 4)}
    for each in found:
        seen.page.goto(each)
        expect(seen.page.get_by_role("heading", name="Blue", exact=False).first).to_be_visible()
    assert seen.wrongs == []


@pytest.mark.parametrize(("paper", "size_pt"), [("a4", A4_PT), ("letter", LETTER_PT)])
def test_the_sheet_prints_labels_alone_on_the_chosen_paper(
    tmp_path: Path, serve: Serve, open_browser: Open, paper: str, size_pt: tuple[float, float]
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    page = open_browser(900, 1_200).new_page()
    page.goto(f"{address}/batches/2/labels?paper={paper}")
    printed = page.pdf(prefer_css_page_size=True)
    page.emulate_media(media="print")
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", printed)

    # Chromium rounds to whole dots of 1/96 inch, three quarters of a point.
    assert [tuple(float(side) for side in box) for box in boxes] == [
        pytest.approx(size_pt, abs=1.0)
    ]
    expect(page.locator(".label")).to_have_count(3)
    expect(page.locator("nav")).to_be_hidden()
    expect(page.locator("footer")).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).to_be_hidden()


def test_a_timer_rings_once_and_goes_on_over_a_reload(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    home = own_home(tmp_path)
    number = begin(home)
    seen = watched(open_browser())
    page = seen.page
    page.add_init_script(f"({SPY})()")
    page.goto(f"{serve(home)}/makes/{number}")
    page.get_by_role("button", name="Sound when a time is up").click()
    unfold(page, "Start a timer")
    page.get_by_label("Timer for").fill("Stir")
    page.get_by_label("How long").fill("4 s")
    page.get_by_role("button", name="Start the timer").click()
    expect(page.locator(".countdown")).to_contain_text("left")
    page.reload()
    expect(page.locator(".countdown")).to_contain_text("left")
    page.get_by_role("heading", name="Timers").click()

    expect(page.locator(".countdown")).to_contain_text("time is up", timeout=SLOW_MS)
    expect(page.locator("#rung")).to_have_text("Stir: the time is up.")
    rang = page.evaluate("[window.tones, window.shakes]")
    expect(page.get_by_role("button", name="Seen: Stir")).to_be_visible(timeout=SLOW_MS)
    page.reload()
    page.get_by_role("heading", name="Timers").click()
    expect(page.locator(".countdown")).to_contain_text("time is up")

    assert rang == [6, 1]
    assert page.evaluate("[window.tones, window.shakes]") == [0, 0]
    assert seen.wrongs == []


def test_a_timer_goes_on_when_the_service_is_started_anew(
    tmp_path: Path, open_browser: Open
) -> None:
    first = own_home(tmp_path)
    number = begin(first)
    page = open_browser().new_page()
    with served_site(first) as address:
        page.goto(f"{address}/makes/{number}")
        unfold(page, "Start a timer")
        page.get_by_label("Timer for").fill("Stir")
        page.get_by_label("How long").fill("30 min")
        page.get_by_role("button", name="Start the timer").click()
        told = page.locator("#timer-1 p").inner_text()
    with served_site(build(Settings(data_folder=tmp_path))) as address:
        page.goto(f"{address}/makes/{number}")
        expect(page.locator("#timer-1 p")).to_have_text(told)
        expect(page.locator(".countdown")).to_contain_text(re.compile(r"^(30:00|29:\d\d) left$"))


def test_with_scripts_off_a_timer_says_when_it_ends(
    tmp_path: Path, serve: Serve, open_browser: Open
) -> None:
    home = own_home(tmp_path)
    number = begin(home)
    page = open_browser(scripts=False).new_page()
    page.goto(f"{serve(home)}/makes/{number}")
    unfold(page, "Start a timer")
    page.get_by_label("Timer for").fill("Stir")
    page.get_by_label("How long").fill("30 min")
    page.get_by_role("button", name="Start the timer").click()

    expect(page.get_by_text("ends at")).to_be_visible()
    expect(page.locator("#sound")).to_be_hidden()


def test_what_another_browser_enters_appears_and_what_one_types_stays(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    home = own_home(tmp_path)
    number = begin(home)
    address = serve(home)
    one, other = (watched(open_browser()) for _ in range(2))
    for each in (one, other):
        each.page.goto(f"{address}/makes/{number}")
        unfold(each.page, "Enter the record")
    one.page.get_by_label("How much milk").fill("10")
    one.page.get_by_role("heading", name="Setting").click()
    other.page.get_by_label("How much milk").fill("12")
    other.page.get_by_role("button", name="Save the record").click()
    other.page.get_by_role("button", name="Stir").click()

    expect(one.page.get_by_role("cell", name="Stir", exact=True)).to_be_visible(timeout=SLOW_MS)
    expect(one.page.get_by_label("How much milk")).to_have_value("10")
    one.wrongs.clear()
    one.page.get_by_role("button", name="Save the record").click()
    expect(one.page.get_by_text("amount of milk: stored is 12 l, yours is 10 l")).to_be_visible()
    expect(one.page.get_by_label("How much milk")).to_have_value("10")
    one.page.get_by_role("button", name="Save the record").click()
    expect(one.page.locator("#conflicts")).to_have_count(0)
    unfold(one.page, "Read or change the record")
    expect(one.page.get_by_text("raw or pasteurised: not said, 10 l")).to_be_visible()
    with home.sessions() as session:
        assert make_days.make_day(session, number).milk_l == 10.0


def test_what_is_not_needed_now_is_folded_away(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    """A make day that has just begun is no longer than two and a half screens of a phone."""
    home = own_home(tmp_path)
    number = begin(home)
    seen = watched(open_browser(390, 844))
    page = seen.page
    page.goto(f"{serve(home)}/makes/{number}")

    assert page.evaluate("document.documentElement.scrollHeight") < 2.5 * 844
    expect(page.locator("main details[open]")).to_have_count(0)
    for heading in ("Milk, cultures, rennet, moulds", "Curd and salt"):
        section = page.locator("section", has=page.get_by_role("heading", name=heading))
        expect(section).to_contain_text("Nothing entered yet.")
    is_whole(page)
    for summary in page.locator("main summary").all():
        summary.click()
    expect(page.locator("main details:not([open])")).to_have_count(0)
    is_whole(page)
    assert seen.wrongs == []


def test_a_running_timer_and_the_next_step_come_first(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    home = own_home(tmp_path)
    number = begin(home)
    page = watched(open_browser(390, 844)).page
    page.goto(f"{serve(home)}/makes/{number}")
    touch(page, "Rennet is in, now")
    unfold(page, "Start a timer")
    fill_in(page, duration="30 min")
    page.get_by_label("Timer for").fill("Stir")
    touch(page, "Start the timer")
    page.goto(page.url.partition("#")[0])

    for shown in (page.locator(".countdown[data-ends]"), page.get_by_label("Multiplier")):
        expect(shown).to_be_in_viewport()
