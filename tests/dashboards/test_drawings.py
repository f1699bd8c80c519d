"""The shelf and the lines of air, read back from their SVG."""

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.drawings.air import Band, Panel, Point, Spread, Trace, panel_drawing, value_axis
from dashboards.drawings.marks import lone_mark
from dashboards.drawings.shelf import WIDTH, space_drawing
from dashboards.drawings.svg import path, shortened, text_width, wrapped
from dashboards.time_axis import ticks
from dashboards.words import Words
from service.ageing.limits import SpaceTarget
from service.ageing.plans import shipped_plans
from service.ageing.values import Direction, Finding, Quantity, Unknown, Verdict
from service.clock import US_PER_S
from service.judging import SpaceNow, WheelNow
from service.store.tables import SpaceKind

NOW_US = 1_795_617_120 * US_PER_S
DRY = Verdict(findings=(Finding(Quantity.HUMIDITY, Direction.BELOW, 2.0, NOW_US - US_PER_S),))
UNKNOWN = Verdict(unknown=(Unknown(Quantity.HUMIDITY, "no sensor in this space"),))


def a_wheel(
    number: int,
    batch: str = "Tomme",
    diameter_mm: float = 190.0,
    height_mm: float = 75.0,
    plan: str = "tomme",
    verdict: Verdict = Verdict(),  # noqa: B008 - a frozen value
) -> WheelNow:
    return WheelNow(
        id=number,
        label=str(number),
        batch_id=hash(batch) % 1000,
        batch=batch,
        plan=plan,
        plan_version=1,
        style=plan,
        made_us=NOW_US,
        day=41,
        diameter_mm=diameter_mm,
        height_mm=height_mm,
        mass_g=1950.0,
        space_id=1,
        stage=shipped_plans()["tomme"].stages[3],
        stage_from_us=NOW_US,
        verdict=verdict,
        edition=shipped_plans().get(plan),
    )


def a_space(
    number: int, *wheels: WheelNow, name: str = "Cave", parent_id: int | None = None
) -> SpaceNow:
    kind = SpaceKind.CAVE if parent_id is None else SpaceKind.BOX
    return SpaceNow(
        number, f"space-{number}", name, kind, parent_id, 0, None, SpaceTarget(), wheels
    )


def drawn(space: SpaceNow, *boxes: SpaceNow) -> ET.Element:
    return ET.fromstring(space_drawing(space, boxes, Words(), NOW_US))


def wheels_in(svg: ET.Element) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of each wheel drawn."""
    return [
        (x, y, x + width, y + height)
        for rect in svg.iter("rect")
        if rect.get("class", "").startswith("wheel")
        for x, y, width, height in (
            [float(rect.get(a, "")) for a in ("x", "y", "width", "height")],
        )
    ]


def height_of(svg: ET.Element) -> float:
    return float(svg.get("viewBox", "").split()[3])


def test_one_scale_serves_a_space() -> None:
    box = a_space(2, a_wheel(2, "Blue", 95.0, 75.0), name="Box", parent_id=1)

    (left, top, right, bottom), (l2, t2, r2, b2) = wheels_in(drawn(a_space(1, a_wheel(1)), box))

    # Coordinates are written with one decimal, so that sizes are good to 0.1 px.
    assert (right - left) == pytest.approx(2 * (r2 - l2), abs=0.2)
    assert (bottom - top) == pytest.approx(b2 - t2, abs=0.2)


@pytest.mark.parametrize("count", [1, 12, 30, 200])
def test_many_wheels_neither_overlap_nor_are_cut(count: int) -> None:
    wheels = [a_wheel(n, "Blue", 90.0, 70.0) for n in range(count)]
    svg = drawn(a_space(1), a_space(2, *wheels, name="Box", parent_id=1))

    boxes = wheels_in(svg)

    assert len(boxes) == count
    assert all(x0 >= 0 and x1 <= WIDTH and y0 >= 0 for x0, y0, x1, _ in boxes)
    assert all(bottom <= height_of(svg) for *_, bottom in boxes)
    assert not any(
        a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
        for i, a in enumerate(boxes)
        for b in boxes[:i]
    )


def test_a_huge_wheel_fits_its_space() -> None:
    ((left, _, right, _),) = wheels_in(drawn(a_space(1, a_wheel(1, diameter_mm=1_500.0))))

    assert left >= 0
    assert right <= WIDTH


def test_wheels_of_one_batch_share_their_words_and_a_link() -> None:
    svg = drawn(a_space(1, a_wheel(1), a_wheel(2), a_wheel(3)))

    (link,) = svg.iter("a")

    assert link.get("href") == "/wheels/1"
    assert "Tomme \N{MULTIPLICATION SIGN}3 · day 41" in link.get("aria-label", "")


def test_a_verdict_of_its_own_sets_a_wheel_apart() -> None:
    svg = drawn(a_space(1, a_wheel(1), a_wheel(2, verdict=DRY)))

    assert len(list(svg.iter("a"))) == 2


def test_not_known_is_never_drawn_as_in_range() -> None:
    svg = drawn(a_space(1, a_wheel(1, verdict=UNKNOWN)))

    words = " ".join(text.text or "" for text in svg.iter("text"))

    assert "humidity not known" in words
    assert "in range" not in words


def test_every_verdict_has_a_shape_of_its_own() -> None:
    """Shape and fill without colour."""
    names = ["dry", "damp", "cold", "warm", "unknown", "in-range"]

    shapes = {
        tuple(re.search(rf' {a}="([^"]+)"', lone_mark(name)).group(1) for a in ("d", "fill"))  # type: ignore[union-attr]  # it is there, or the test fails
        for name in names
    }

    assert len(shapes) == len(names)


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "A" * 300, "\u202eolleh", '"><a x="']
)
def test_hostile_names_stay_text_within_the_drawing(name: str) -> None:
    svg = drawn(a_space(1, a_wheel(1, batch=name)), a_space(2, name=name, parent_id=1))

    shown = [text.text or "" for text in svg.iter("text")]

    assert not list(svg.iter("script"))
    assert len(list(svg.iter("a"))) == 1
    assert all(text_width(each, 12) <= WIDTH for each in shown)
    assert not any("\u202e" in each for each in shown)


@given(st.text(max_size=80), st.floats(20, 300))
def test_a_shortened_text_fits(text: str, width: float) -> None:
    assert text_width(shortened(text, width, 12), 12) <= width


@given(st.lists(st.text("abcdefgh", min_size=1, max_size=9), min_size=1, max_size=12))
def test_wrapping_loses_no_word_while_lines_remain(words: list[str]) -> None:
    assert " ".join(wrapped(" ".join(words), 200.0, 12, most=50)).split() == words


def panel(values: list[float], bands: tuple[Band, ...] = ()) -> Panel:
    times = np.arange(len(values), dtype=np.int64) * 60 * US_PER_S
    return Panel("Humidity", "humidity", "%RH", times, np.array(values), bands)


def lines_of(svg_text: str) -> list[str]:
    return re.findall(r'<path d="([^"]+)" class="line', svg_text)


def test_a_gap_stays_open() -> None:
    drawing = panel_drawing(panel([80, 81, float("nan"), 82, 83]), 0, 240 * US_PER_S, ())

    assert len(lines_of(drawing)) == 2


def test_a_lone_reading_between_gaps_is_seen() -> None:
    nan = float("nan")

    drawing = panel_drawing(panel([nan, 81, nan]), 0, 120 * US_PER_S, ())

    assert [line.endswith("h.1") for line in lines_of(drawing)] == [True]


def test_the_band_lies_where_its_values_lie() -> None:
    """The line runs along the low end of the band: same height."""
    drawing = panel_drawing(
        panel([86.0, 86.0], (Band(0, 60 * US_PER_S, 86.0, 92.0),)), 0, 60 * US_PER_S, ()
    )
    band = ET.fromstring(drawing).find("rect")
    assert band is not None

    foot = float(band.get("y", "")) + float(band.get("height", ""))

    line_y = float(lines_of(drawing)[0].split(" ")[1].split("l")[0])
    assert line_y == pytest.approx(foot, abs=0.2)  # one decimal is written


def test_no_reading_at_all_still_draws() -> None:
    drawing = panel_drawing(panel([]), 0, 60 * US_PER_S, ())

    assert lines_of(drawing) == []


@given(st.lists(st.floats(-40, 100), min_size=1, max_size=20))
def test_the_axis_holds_every_value(values: list[float]) -> None:
    low, high = value_axis(panel(values))

    assert low <= min(values)
    assert max(values) <= high
    assert high > low


def test_a_path_ends_where_its_last_point_is() -> None:
    """Steps are taken between rounded points, so that rounding cannot add up."""
    points = [(i * 0.333, (i * 7 % 13) * 0.777) for i in range(500)]

    numbers = [float(n) for n in re.findall(r"-?\d*\.?\d+", path(points))]

    x = numbers[0] + sum(numbers[2::2])
    y = numbers[1] + sum(numbers[3::2])
    assert (x, y) == pytest.approx(points[-1], abs=0.051)


def test_time_words_do_not_touch() -> None:
    words = Words()
    marks = ticks(0, 20 * 86_400 * US_PER_S, words, 20)
    texts = ET.fromstring(panel_drawing(panel([80.0]), 0, 20 * 86_400 * US_PER_S, marks))
    spans = [
        (float(t.get("x", "")) - half, float(t.get("x", "")) + half)
        for t in texts.iter("text")
        if t.get("text-anchor") == "middle"
        for half in (text_width(t.text or "", 11) / 2,)
    ]

    assert len(spans) >= 2
    assert all(a[1] < b[0] for a, b in pairwise(spans))


def test_a_box_whose_lid_is_wet_says_so_above_its_wheels() -> None:
    box = a_space(2, a_wheel(2, "Blue", 95.0, 75.0), name="Blue box", parent_id=1)
    sweat, lids = {2: "face wet 1 h, estimate"}, {2: "lid wet 40 min, estimate"}
    dry = ET.fromstring(space_drawing(a_space(1), [box], Words(), NOW_US))
    svg = ET.fromstring(space_drawing(a_space(1), [box], Words(), NOW_US, sweat, lids))
    texts = {(text.text or ""): float(text.get("y", "")) for text in svg.iter("text")}

    assert texts["Blue box"] < texts["lid wet 40 min, estimate"] < texts["face wet 1 h, estimate"]
    assert height_of(svg) > height_of(dry)
    assert all(bottom <= height_of(svg) for *_, bottom in wheels_in(svg))


def test_wheels_of_which_one_is_wet_stand_apart() -> None:
    wheels = [a_wheel(n, "Blue", 90.0, 70.0) for n in (1, 2, 3)]
    svg = ET.fromstring(
        space_drawing(a_space(1, *wheels), [], Words(), NOW_US, {2: "face wet 1 h, estimate"})
    )

    assert len(list(svg.iter("a"))) == 2


def test_the_axis_takes_in_bands_points_and_further_lines() -> None:
    times = np.array([0, US_PER_S])
    panel = Panel(
        words="Weight",
        tone="weight",
        unit="g",
        times_us=times,
        values=np.array([400.0, 390.0]),
        more=(Trace("ahead", "to come", times, np.array([390.0, 350.0])),),
        spread=Spread(times, np.array([395.0, 380.0]), np.array([405.0, 420.0])),
        points=(Point(0, 430.0, "weighed 430 g"),),
        shaded=((0, US_PER_S // 2, "wet for a while"),),
    )
    low, high = value_axis(panel)
    svg = ET.fromstring(panel_drawing(panel, 0, US_PER_S, ()))

    assert low < 350
    assert high > 430
    classes = {name for each in svg.iter() for name in each.get("class", "").split()}
    assert classes >= {"spread", "weighed", "wet", "weight", "ahead"}
    assert [title.text for title in svg.iter("title")] == ["wet for a while", "weighed 430 g"]
