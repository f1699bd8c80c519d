"""The pages as a maker sees them, in real Chromium, at phone size and wide, light and dark."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from service.api import people
from service.api.context import Context
from service.clock import WorldClock
from service.store import places
from tests import builders
from tests.browser.conftest import Watched
from tests.whole_page import (
    ASTRAY,
    CUT,
    FOCUS_HIDDEN,
    NAMELESS,
    OUTLINE,
    OVERLAPS,
    SIZES,
    SMALL,
    TWICE,
    scrolls_sideways,
)

pytestmark = pytest.mark.browser

Serve = Callable[[Context], str]
Open = Callable[..., BrowserContext]
Watch = Callable[[BrowserContext], Watched]

PAGES = (
    "/",
    "/care",
    "/wheels/1",
    "/wheels/1/gate",
    "/wheels/1/look",
    "/spaces/1?span=week",
    "/spaces/1/together",
    "/spaces/1/weigh",
    "/spaces/3",
    "/planner",
    "/planner/year",
    "/makes",
    "/makes/new",
    "/makes/setting-time",
    "/batches/1",
    "/batches/2/weigh",
    "/batches/2/labels",
    "/alarms",
    "/sensors",
    "/sensors/1",
    "/quarantine",
    "/plans",
    "/plans/blue",
    "/plans/blue/edit",
    "/calendar",
    "/household",
    "/more",
)
DRAWN_MS = 20_000
PASSWORD = "twelve wheels of blue"


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=["phone", "wide"])
def test_every_page_is_whole(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    size: tuple[int, int],
    theme: str,
) -> None:
    """No error, no failed request, no sideways scroll, no overlap, targets of 44 px; charts."""
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        builders.add_alarm(session, 1)
    address = serve(lane)
    seen = watched(open_browser(*size, theme))

    for path in PAGES:
        # Else the next page would cut off what this one still loads.
        seen.page.goto(address + path, wait_until="networkidle")
        if seen.page.locator("figure[data-figure]").count():
            seen.page.wait_for_selector("figure[data-plotted] .main-svg", timeout=DRAWN_MS)
            expect(seen.page.locator("figure[data-figure] .drawn:visible")).to_have_count(0)
        assert not scrolls_sideways(seen.page), path
        assert seen.page.evaluate(OVERLAPS) == [], path
        assert seen.page.evaluate(CUT) == [], path
        assert seen.page.evaluate(SMALL) == [], path
    assert seen.wrongs == []


def test_every_page_can_be_read_aloud_and_walked_by_keyboard(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    """One first heading and no level skipped, all named, nothing pointed at that is not there."""
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        builders.add_alarm(session, 1)
    address = serve(lane)
    page = watched(open_browser()).page
    titles: dict[str, str] = {}

    for path in PAGES:
        page.goto(address + path)
        for script in (OUTLINE, NAMELESS, ASTRAY, TWICE, FOCUS_HIDDEN):
            assert page.evaluate(script) == [], path
        assert page.title() not in titles, (path, titles)
        titles[page.title()] = path


@pytest.mark.parametrize("width", [390, 375, 360])
@pytest.mark.parametrize("open_alarms", [0, 12])
def test_the_navigation_of_a_phone_stays_on_one_line(
    tmp_path: Path,
    serve: Serve,
    open_browser: Open,
    watched: Watch,
    width: int,
    open_alarms: int,
) -> None:
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        for _ in range(open_alarms):
            builders.add_alarm(session, 1)
    address = serve(lane)
    page = watched(open_browser(width)).page

    for path in ("/", "/makes", "/alarms"):
        page.goto(address + path)
        assert page.locator("header nav ul").evaluate("e => e.offsetHeight") < 60, path


@pytest.mark.parametrize(
    "name",
    ["<script>alert(1)</script>", "W" * 300, "\u202e\u05e9\u05dc\u05d5\u05dd", "漢字" * 40],
    ids=["markup", "long", "turned", "wide"],
)
def test_hostile_names_break_no_layout(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch, name: str
) -> None:
    home = builders.empty_home(tmp_path)
    with home.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(80.0), name=name)
        box = builders.add_space(session, 1, "box", name, "box", 1)
        builders.add_space(session, 1, "bare", name, "room")
        builders.add_batch(session, 1, name, "blue", 9, [(90, 70, 430)] * 12, box, "ripening")
        builders.add_batch(session, 1, name, "hard", 9, [(900, 90, 9000)] * 2, 1, "ripening")
        builders.add_alarm(session, 1, title=name)
    address = serve(home)
    seen = watched(open_browser())

    for path in PAGES:
        # Else the next page would cut off what this one still loads.
        seen.page.goto(address + path, wait_until="networkidle")
        assert not scrolls_sideways(seen.page), path
    seen.page.goto(address)
    assert seen.page.evaluate(OVERLAPS) == []
    assert seen.page.evaluate(CUT) == []
    assert seen.wrongs == []


def test_with_scripts_off_the_drawing_and_the_table_serve(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    page = watched(open_browser(scripts=False)).page
    page.goto(f"{address}/spaces/1")

    expect(page.locator("svg.air").first).to_be_visible()
    page.locator("summary", has_text="The values hour by hour").click()
    expect(page.locator("tbody tr").first).to_be_visible()
    assert page.locator("tbody tr").count() >= 24


def test_an_alarm_is_acknowledged_in_one_touch(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        builders.add_alarm(session, 1)
    seen = watched(open_browser())
    seen.page.goto(f"{serve(lane)}/alarms")

    seen.page.get_by_role("button", name="Acknowledge").click()

    expect(seen.page.get_by_text("seen by the keeper")).to_be_visible()
    expect(seen.page.get_by_role("button", name="Acknowledge")).to_have_count(0)
    assert seen.wrongs == []


def test_a_new_sensor_is_placed_in_two_touches(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        air = builders.steady(10.0)
        number = builders.add_sensor(session, "unplaced", None, air, air, hours=1)
    seen = watched(open_browser())
    seen.page.goto(f"{serve(lane)}/sensors")
    form = seen.page.locator(f"#sensor-{number}")

    form.get_by_label("Where it stands from now on").select_option("White box")
    form.get_by_role("button", name="Place").click()

    expect(form.get_by_role("link", name="White box")).to_be_visible()
    with lane.sessions() as session:
        assert places.placements_of_sensor(session, number)[-1].space_id == 3


def test_two_browsers_see_each_other_s_work_without_a_reload(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    """The demo asks every two seconds; what is open, focused and scrolled stays so."""
    lane = builders.larch_lane(tmp_path, demo=True)
    with lane.sessions() as session:
        builders.add_alarm(session, 1)
    address = serve(lane)
    one, other = (watched(open_browser()).page for _ in range(2))
    for page in (one, other):
        page.goto(f"{address}/alarms")
    one.locator("summary").first.click()
    one.locator("summary").first.focus()

    other.get_by_role("button", name="Acknowledge").click()

    expect(one.get_by_text("seen by the keeper")).to_be_visible(timeout=10_000)
    assert one.evaluate("document.querySelector('details').open")
    assert one.evaluate("document.activeElement.nodeName") == "SUMMARY"


def test_a_new_alarm_is_read_aloud(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path, demo=True)
    page = watched(open_browser()).page
    page.goto(serve(lane))
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    expect(page.locator("#news")).to_have_text("Cave: too dry, 80.4 %RH", timeout=10_000)
    expect(page.locator("#news")).to_have_attribute("aria-live", "polite")


def test_a_page_that_is_cut_off_says_since_when(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    context = open_browser()
    page = watched(context).page
    page.goto(serve(builders.larch_lane(tmp_path, demo=True)))
    context.set_offline(True)

    expect(page.locator("#lost")).to_contain_text(
        "Not reached since Wed 25 Nov 15:3", timeout=10_000
    )
    context.set_offline(False)
    expect(page.locator("#lost")).to_be_empty(timeout=10_000)


def test_the_age_of_the_last_reading_grows_by_itself(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    page = watched(open_browser()).page
    page.goto(serve(builders.larch_lane(tmp_path)))

    expect(page.locator("[data-since]").first).to_have_text(", 40 s ago")
    expect(page.locator("[data-since]").first).to_have_text(", 43 s ago", timeout=10_000)


def test_a_keyboard_reaches_the_content_and_a_wheel(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    page = watched(open_browser()).page
    page.goto(serve(builders.larch_lane(tmp_path)))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.closest('svg.shelf') !== null"):
            break

    page.keyboard.press("Enter")

    expect(page).to_have_url(re.compile(r"/wheels/\d+$"))


def test_signing_in_by_password_then_the_phone_by_code_once(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path)
    with lane.sessions() as session:
        people.add_keeper(session, "Ada", PASSWORD, WorldClock().now_us())
    address = serve(lane)
    desk, phone, stranger = (watched(open_browser()).page for _ in range(3))
    desk.goto(f"{address}/alarms")
    desk.get_by_label("Name").fill("Ada")
    desk.get_by_label("Password").fill("wrong")
    desk.get_by_role("button", name="Sign in").click()
    expect(desk.get_by_role("alert")).to_contain_text("do not go together")
    desk.get_by_label("Password").fill(PASSWORD)
    desk.get_by_role("button", name="Sign in").click()
    expect(desk).to_have_url(f"{address}/alarms")

    desk.goto(f"{address}/phone")
    desk.get_by_role("button", name="Show a code").click()
    expect(desk.locator(".code svg")).to_be_visible()
    secret_address = desk.locator("code").inner_text()
    phone.goto(secret_address)
    phone.get_by_role("button", name="Sign in").click()
    expect(phone.get_by_role("heading", name="Larch Lane")).to_be_visible()

    stranger.goto(secret_address)
    expect(stranger.get_by_role("alert")).to_contain_text("has been used or has expired")
    stranger.goto(f"{address}/")
    expect(stranger).to_have_url(f"{address}/sign-in")
    desk.get_by_role("button", name="Sign out").click()
    expect(desk).to_have_url(f"{address}/sign-in")


def test_a_change_leaves_the_chart_and_the_open_table_alone(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    lane = builders.larch_lane(tmp_path, demo=True)
    seen = watched(open_browser())
    seen.page.goto(f"{serve(lane)}/spaces/1")
    seen.page.wait_for_selector("figure[data-plotted] .main-svg", timeout=DRAWN_MS)
    seen.page.evaluate("document.querySelector('.main-svg').dataset.same = 'yes'")
    seen.page.locator("summary").click()
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    expect(seen.page.locator(".need.alarm")).to_be_visible(timeout=10_000)

    expect(seen.page.locator(".main-svg[data-same]")).to_be_visible()
    expect(seen.page.locator("tbody tr").first).to_be_visible()
    assert seen.wrongs == []


def test_a_weighing_takes_two_touches_and_can_be_taken_back(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    seen = watched(open_browser())
    page = seen.page
    page.goto(f"{address}/wheels/1", wait_until="networkidle")

    page.get_by_label("On the scale now, wiped dry").fill("1893,5")
    page.get_by_role("button", name="Enter grams").click()
    page.get_by_text("1 weighing", exact=True).click()

    expect(page.get_by_role("row", name=re.compile("1,89[34]"))).to_be_visible()
    page.get_by_role("button", name=re.compile("^Undo")).click()
    expect(page.get_by_text("1 weighing", exact=True)).to_have_count(0)
    expect(page.get_by_label("On the scale now, wiped dry")).to_be_visible()
    page.wait_for_load_state()
    assert not scrolls_sideways(page)
    assert seen.wrongs == []


def test_with_scripts_off_a_wheel_s_life_is_a_table(
    tmp_path: Path, serve: Serve, open_browser: Open, watched: Watch
) -> None:
    address = serve(builders.larch_lane(tmp_path))
    page = watched(open_browser(scripts=False)).page
    page.goto(f"{address}/wheels/1")

    expect(page.locator("#chart .drawn svg")).to_have_count(2)
    expect(page.locator("#weight-chart .drawn svg")).to_have_count(1)
    page.get_by_text("Its life hour by hour").click()
    expect(page.get_by_role("columnheader", name="Surface")).to_be_visible()
    assert not scrolls_sideways(page)
