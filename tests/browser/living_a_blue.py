"""The world in which a blue is lived through: its household, its air, and the maker's phone.

The air comes from the simulator of the cave, stepped through the days as they pass and written
as readings of its sensors. What the maker does to the box happens to the simulated box too.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from PIL import Image, ImageDraw
from playwright.sync_api import Locator, Page, expect

from sensors.simulation.box import Box, BoxConfig
from sensors.simulation.cave import Cave, CaveConfig
from sensors.simulation.household import Happening, Household, Kind
from sensors.simulation.larch_lane import BLUE, KITCHEN_FRIDGE_CONFIG, WHEELS
from sensors.simulation.room import Room, RoomConfig
from sensors.simulation.sensor import Sensor, SensorConfig
from sensors.simulation.wheels import Wheels
from service.api.context import Context
from service.clock import from_datetime
from service.store import air, places, set_up
from service.store.air import NewReading
from service.store.tables import Site, SpaceKind
from tests.builders import DAY_US, MINUTE_US, FixedClock, add_space, empty_home

ZONE: Final = "Europe/Vienna"
MADE: Final = date(2026, 9, 5)
"""A Saturday; summer time ends within this life, on 25 October."""

KITCHEN, CAVE, BOX, FRIDGE = "Kitchen", "Cave", "Blue box", "Kitchen fridge"
_SLUGS: Final = {CAVE: "cave", BOX: "blue-box", FRIDGE: "kitchen-fridge"}
_SPEED: Final = 60.0
_EVERY: Final = 5
"""Of the simulated minutes each fifth is sent, which a cooling cycle still shows."""

_SIMULATED_DAYS: Final = 100
_VISIT_S: Final = 90.0
_LID_AJAR_M3_PER_H: Final = 0.3
"""About 93 %RH in the box, found by running the model."""
_AIRED_S: Final = 600.0

PLOTTED_MS: Final = 30_000
HAND_PX: Final = 56

SIDEWAYS: Final = "document.documentElement.scrollWidth > innerWidth"
CUT: Final = """() => {
  const found = [];
  for (const text of document.querySelectorAll("main svg text")) {
    const r = text.getBoundingClientRect(), s = text.closest("svg").getBoundingClientRect();
    const hidden = !r.width || text.closest(".main-svg");
    if (!hidden && (r.left < s.left - 1 || r.right > s.right + 1
      || r.top < s.top - 1 || r.bottom > s.bottom + 1)) found.push(text.textContent);
  }
  const pen = document.createElement("canvas").getContext("2d");
  const told = "h1,h2,h3,p,li,td,th,button,a,label,summary";
  for (const each of document.querySelectorAll(`main :is(${told})`)) {
    if (each.offsetParent && !each.closest(".unseen") && !each.matches(".unseen")
      && getComputedStyle(each).overflowX !== "auto" && each.scrollWidth > each.clientWidth + 1
      && getComputedStyle(each).display !== "inline") found.push(each.outerHTML.slice(0, 90));
  }
  for (const each of document.querySelectorAll("main select")) {
    const style = getComputedStyle(each);
    pen.font = style.font;
    const room = each.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
    const said = each.selectedOptions[0]?.textContent ?? "";
    // The arrow of a select takes about 16 px of it.
    if (each.offsetParent && pen.measureText(said).width > room - 14) found.push(`select: ${said}`);
  }
  return found;
}"""
OVERLAPS: Final = """() => {
  const texts = [...document.querySelectorAll("main svg:not(.main-svg) text")].map(
    (t) => [t.textContent, t.getBoundingClientRect()]).filter(([, r]) => r.width);
  const found = [];
  texts.forEach(([a, r], i) => texts.slice(0, i).forEach(([b, s]) => {
    const wide = Math.min(r.right, s.right) - Math.max(r.left, s.left);
    const high = Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top);
    // The boxes of two lines of text touch by their leading; letters do not.
    if (wide > 1 && high > 3) found.push(`${a} | ${b}`);
  }));
  return found;
}"""
SMALLER: Final = """(least) => [...document.querySelectorAll(
    "main :is(button, a, summary, select, .tick-box)")]
  .filter((e) => e.offsetParent && !e.closest("header, footer"))
  .filter((e) => e.getBoundingClientRect().height < least)
  .map((e) => e.outerHTML.slice(0, 90))"""


@dataclass
class World:
    """Larch Lane with an empty cave, and a clock that only the test moves on.

    Attributes:
        context: The service's object graph over it.
        clock: The clock.
        simulated: The caves, the box and their sensors as they live.
        numbers: Of each sensor in the store, by its name.
    """

    context: Context
    clock: FixedClock
    simulated: Household
    numbers: dict[str, int]

    @property
    def today(self) -> date:
        return datetime.fromtimestamp(self.clock.time_us / 1e6, ZoneInfo(ZONE)).date()

    def pass_to(self, day: date, hour: int = 18) -> None:
        """Live on to an hour of a day; its air is written as the sensors would have sent it."""
        self.happens(Kind.FILL_TRAY, CAVE)
        until_us = local_us(day, hour)
        assert until_us >= self.clock.time_us, "time only goes on"
        readings = [
            NewReading(
                self.numbers[each.sensor], each.time_us, each.temperature_c, each.humidity_pct
            )
            for each in self.simulated.readings_until(until_us)
            if each.time_us // MINUTE_US % _EVERY == 0
        ]
        with self.context.sessions() as session:
            air.add_readings(session, readings)
        self.clock.time_us = until_us

    def happens(self, kind: Kind, space: str, amount: float = 0.0) -> None:
        """Let something happen now to the cave or the box."""
        self.simulated.apply(Happening(self.simulated.time_us, kind, space, amount, thing=BLUE))

    def visited(self) -> None:
        """The cave was opened, and the box in it aired and wiped."""
        self.happens(Kind.OPEN_DOOR, CAVE, _VISIT_S)
        self.happens(Kind.OPEN_BOX, BOX, _AIRED_S)
        self.happens(Kind.WIPE_BOX, BOX)


@dataclass
class Maker:
    """Somebody with a phone, who touches only what the pages offer.

    Attributes:
        page: The phone's screen.
        folder: Where the screenshots go.
        wrongs: What went wrong on the page, as the browser tells it.
        shots: How many were taken.
        touches: How many times the screen was touched.
    """

    page: Page
    folder: Path
    wrongs: list[str]
    shots: list[str] = field(default_factory=list)
    touches: int = 0

    def station(self, name: str, *said: str, least_px: int = 0) -> None:
        """What the page shows is whole and says this; a picture of all of it is kept."""
        for words in said:
            expect(self.page.locator("main")).to_contain_text(words)
        if self.page.locator("figure[data-figure]").count():
            undrawn = self.page.locator("figure[data-figure]:not([data-plotted])")
            expect(undrawn).to_have_count(0, timeout=PLOTTED_MS)
        file = f"{len(self.shots) + 1:02}-{name}.png"
        self.page.screenshot(path=self.folder / file, full_page=True)
        self.shots.append(file)
        wrong = {
            "scrolls sideways": self.page.evaluate(SIDEWAYS),
            "cut": self.page.evaluate(CUT),
            "overlaps": self.page.evaluate(OVERLAPS),
            "too small": self.page.evaluate(SMALLER, least_px),
            "console": self.wrongs,
        }
        assert not any(wrong.values()), (file, wrong)

    def touch(self, name: str) -> None:
        """Touch the button of this name; it sends what was entered."""
        self.go(self.page.get_by_role("button", name=name, exact=True).first)

    def follow(self, name: str) -> None:
        """Touch the link of this name."""
        self.go(self.page.get_by_role("link", name=name, exact=True).first)

    def go(self, what: Locator) -> None:
        """Touch what leads to another page, or to the same one anew."""
        with self.page.expect_navigation(wait_until="domcontentloaded"):
            what.click()
        self.touches += 1

    def open(self, words: str) -> None:
        """Touch a summary, so that what is under it shows; no touch where it shows already."""
        summary = self.page.locator("main summary:visible", has_text=words).first
        if not summary.evaluate("each => each.parentElement.open"):
            self._touch(summary)

    def tick(self, *said: str) -> None:
        """Touch boxes, chips or choices."""
        for words in said:
            self._touch(self.page.locator("main label:visible", has_text=words).first)

    def choose(self, label: str, choice: str) -> None:
        """Choose from a list by how the choice begins."""
        field = self.page.get_by_label(label, exact=True).first
        field.select_option(field.locator("option", has_text=choice).first.get_attribute("value"))
        self.touches += 2

    def type(self, label: str, words: str) -> None:
        """Type into the field of this label."""
        self.page.get_by_label(label, exact=True).first.fill(words)
        self.touches += 1

    def _touch(self, what: Locator) -> None:
        what.click()
        self.touches += 1


def local_us(day: date, hour: int, minute: int = 0) -> int:
    """The instant of a day's hour at Larch Lane. [µs UTC]"""
    local = datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZoneInfo(ZONE))
    return from_datetime(local)


def on_day(number: int) -> date:
    """So many days after the make day."""
    return MADE + timedelta(days=number)


def world(folder: Path) -> World:
    """Larch Lane on the eve of the make day: spaces, sensors, two days of air, no wheel."""
    eve_us = local_us(on_day(-2), 8)
    clock = FixedClock(eve_us, _SPEED)
    context = empty_home(folder, clock, demo=True)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane", time_zone=ZONE))
        assert site.id is not None
        add_space(session, site.id, "kitchen", KITCHEN, SpaceKind.ROOM)
        cave = add_space(session, site.id, _SLUGS[CAVE], CAVE, SpaceKind.CAVE)
        box = add_space(session, site.id, _SLUGS[BOX], BOX, SpaceKind.BOX, cave)
        fridge = add_space(session, site.id, _SLUGS[FRIDGE], FRIDGE, SpaceKind.KITCHEN_FRIDGE)
        numbers = {}
        for name, space_id in ((CAVE, cave), (BOX, box), (FRIDGE, fridge)):
            sensor = places.sensor_for(session, f"larch-lane/{_SLUGS[name]}", eve_us)
            assert sensor.id is not None
            places.place_sensor(session, sensor.id, space_id, eve_us)
            numbers[name] = sensor.id
    lane = World(context, clock, _simulated(eve_us), numbers)
    lane.pass_to(MADE, 9)
    return lane


def mould_photo(folder: Path) -> Path:
    """A young wheel on its mat, painted: no more than its colours are true."""
    image = Image.new("RGB", (1_200, 900), "#6b5a45")
    pen = ImageDraw.Draw(image)
    pen.ellipse((250, 100, 950, 800), fill="#f1e2b3", outline="#9c7c55", width=12)
    for place in range(0, 700, 70):
        pen.ellipse(
            (300 + place % 500, 200 + place * 5 // 7, 360 + place % 500, 250 + place * 5 // 7),
            fill="#55798a",
        )
    path = folder / "first-coat.jpg"
    image.save(path, "JPEG")
    return path


def _simulated(from_us: int) -> Household:
    until_us = from_us + _SIMULATED_DAYS * DAY_US
    cave, fridge = Cave(CaveConfig(), 10.0, 89.0), Cave(KITCHEN_FRIDGE_CONFIG, 4.0, 70.0)
    box = Box(BoxConfig(), 10.0, 92.0)
    box.gap_m3_per_h = _LID_AJAR_M3_PER_H
    cave.boxes.append(box)
    garage = RoomConfig(from_us, until_us, 16.6, 15.4, 1.2, 0.8, 62.0, 4.0, 15.0, "blue:garage")
    kitchen = RoomConfig(from_us, until_us, 21.0, 19.8, 1.0, 0.6, 52.0, 5.0, 17.0, "blue:kitchen")
    simulated = Household(
        time_us=from_us,
        rooms={CAVE: Room(garage), FRIDGE: Room(kitchen)},
        caves={CAVE: cave, FRIDGE: fridge},
        boxes={BOX: box},
        wheels={BLUE: Wheels(WHEELS[BLUE], 18.0)},
    )
    for name in _SLUGS:
        simulated.places[name] = name
        simulated.sensors[name] = Sensor(
            SensorConfig(seed=f"blue:{name}"), simulated.spaces[name].air_c, 90.0
        )
    return simulated
