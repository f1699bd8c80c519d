"""What the pages say of the behaviour of a space: sweat, rhythm, openings, what is ahead."""

# ruff: noqa: RUF001 - the reader gets real dashes

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from dashboards.drawings.air import Trace, label_place
from dashboards.space_words import surface_lines
from dashboards.words import Words
from service.api.context import Context
from service.living.bands import FaceBand
from service.living.lid_bands import LidBand
from service.living.now import LidNow, SurfaceNow
from service.science.band import Band
from service.store import set_up
from service.store.tables import Site
from tests import builders
from tests.builders import HOUR_US, NOW_US
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]
SURFACE = SurfaceNow((1,), 1, NOW_US, 9.9, 7.6, 2.1, 0.0, None, None)
LID = LidNow(2, NOW_US, 9.0, 9.4, 0.31, NOW_US - HOUR_US)
BAND = FaceBand(Band(7.0, 7.9), Band(-0.9, 0.1), Band(0.0, 2.6), Band(0.0, 2.0 * HOUR_US))

SOON = "8.4 °C, 0.8 °C above the dew point of 7.6 °C; sweat in about 2 h (45 min to 5 h), estimate"
WET = (
    "7.2 °C (6.8 to 7.7), 0.4 °C (0.9 below to 0.1 above) below the dew point of 7.6 °C; wet, "
    "about 1.3 g/m² (0.0 to 2.6) of water since Wed 25 Nov 13:32, estimate"
)


def swinging(ago: float) -> float:
    """A cave that cools in cycles of 36 minutes."""
    phase = (-ago / 0.6) % 1.0
    return 10.4 - 0.8 * (phase / 0.35 if phase < 0.35 else (1 - phase) / 0.65)


def visited(ago: float) -> float:
    since = 5.0 - ago
    return swinging(ago) + (3.0 * math.exp(-since / 0.2) if 0 <= since < 2 else 0.0)


def damp(ago: float) -> float:
    since = 5.0 - ago
    return 88.5 - (15.0 * math.exp(-since / 0.3) if 0 <= since < 2 else 0.0)


def drying(ago: float) -> float:
    wander = 0.2 * math.sin(1.9 * ago) * math.sin(0.37 * ago)
    return 89.0 - 0.3 * max(0.0, 9.0 - ago) + wander


def home(
    folder: Path,
    temperature: Callable[[float], float],
    humidity: Callable[[float], float],
    *,
    fahrenheit: bool = False,
) -> Context:
    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Home", fahrenheit=fahrenheit))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_batch(
            session, site.id, "Tomme", "tomme", 41, [(190, 75, 1950)], cave, "ripening"
        )
        builders.add_sensor(session, "air", cave, temperature, humidity, 240)
    return context


AHEAD = r"Cave is drying\. Humidity will be below 85 % in about \d h \(\d–\d+ h\), estimate\."


def test_the_shelf_says_what_is_ahead_before_it_happens(tmp_path: Path, visit: Visit) -> None:
    said = words_of(visit(home(tmp_path, swinging, drying)).get("/").text)

    assert re.search(AHEAD + " Try: look at the water tray first", said)
    assert "Nothing needs you" not in said


def test_the_shelf_is_calm_about_a_steady_cave(tmp_path: Path, visit: Visit) -> None:
    context = home(tmp_path, swinging, builders.steady(88.0))
    with context.sessions() as session:
        builders.tend_all(session, context)

    said = words_of(visit(context).get("/").text)

    assert "Nothing needs you now." in said
    assert "estimate" not in said


def test_what_is_out_of_range_comes_before_what_is_ahead(tmp_path: Path, visit: Visit) -> None:
    def warm(ago: float) -> float:
        return swinging(ago) + (6.0 if ago < 3 else 0.0)

    said = words_of(visit(home(tmp_path, warm, drying)).get("/").text)

    assert "Tomme: " in said
    assert "Cave is drying" not in said


def test_an_open_alarm_comes_before_what_is_ahead(tmp_path: Path, visit: Visit) -> None:
    context = home(tmp_path, swinging, drying)
    with context.sessions() as session:
        builders.add_alarm(session, 1)

    assert 'data-need="Cave: too dry, 80.4 %RH"' in visit(context).get("/").text


def test_a_space_tells_margin_rhythm_water_and_what_is_ahead(tmp_path: Path, visit: Visit) -> None:
    said = words_of(visit(home(tmp_path, swinging, drying)).get("/spaces/1").text)

    assert re.search(AHEAD, said)
    band = r" \(\d+\.\d to \d+\.\d\)"
    assert re.search(
        rf"sweating: \d+\.\d °C{band}, \d\.\d °C{band} above the dew point of \d+\.\d °C; dry", said
    )
    assert re.search(
        r"No opening .* short ones may be missed, so up to 0\.\d a day, estimate", said
    )
    assert re.search(r"It cools \d+ % of the time \(± \d+ %\), in cycles of 36 min", said)
    assert re.search(
        r"a tray must give about \d+ g of water a day \(\d+–\d+ g\), a very rough", said
    )


def test_openings_are_listed_and_marked(tmp_path: Path, visit: Visit) -> None:
    client = visit(home(tmp_path, visited, damp))
    page = client.get("/spaces/1").text
    figure = client.get("/spaces/1/figure.json").json()

    told = client.get("/api/spaces/1/behaviour").json()["openings_per_day"]

    assert "1 opening of the door" in words_of(page)
    # One seen in ten days: 0.0051 to 0.474 a day by Garwood's limits of one event.
    assert (told["low"], told["high"]) == pytest.approx((0.0051, 0.474), rel=0.02)
    assert "about 0.1 times a day (0.0 to 0.5) over 10 days, estimate" in words_of(page)
    assert "Wed 25 Nov 09:3" in words_of(page)
    assert page.count('class="weighed"') == 1
    marks = [trace for trace in figure["data"] if trace["name"] == "measured"]
    assert [trace["customdata"][0][:11] for trace in marks] == ["door opened"]


def test_the_dew_point_is_named_at_its_end(tmp_path: Path, visit: Visit) -> None:
    client = visit(home(tmp_path, swinging, builders.steady(88.0)))
    figure = client.get("/spaces/1/figure.json").json()

    assert ">dew point</text>" in client.get("/spaces/1").text
    assert "dew point" in [note["text"] for note in figure["layout"]["annotations"]]


def test_the_day_reaches_into_what_is_expected(tmp_path: Path, visit: Visit) -> None:
    client = visit(home(tmp_path, swinging, drying))
    day = client.get("/spaces/1/figure.json?span=day").json()
    week = client.get("/spaces/1/figure.json?span=week").json()

    assert day["layout"]["xaxis"]["range"][1] > NOW_US // 1_000
    assert "expected" in [note["text"] for note in day["layout"]["annotations"]]
    dashed = [each for each in day["data"] if each.get("line", {}).get("dash") == "dash"]
    assert [each["y"][0] > each["y"][-1] for each in dashed] == [True]
    assert week["layout"]["xaxis"]["range"][1] == NOW_US // 1_000
    assert "expected" not in [note["text"] for note in week["layout"]["annotations"]]


def test_a_household_in_fahrenheit_reads_all_of_it_so(tmp_path: Path, visit: Visit) -> None:
    client = visit(home(tmp_path, visited, damp, fahrenheit=True))
    page = words_of(client.get("/spaces/1").text)

    assert "°C" not in page
    assert " K " not in page
    assert re.search(
        r"nearest to sweating: \d+\.\d °F \(\d+\.\d to \d+\.\d\), \d+\.\d °F "
        r"\(\d\.\d to \d\.\d\) above",
        page,
    )


def test_the_behaviour_is_told_to_programs_too(tmp_path: Path, visit: Visit) -> None:
    told = visit(home(tmp_path, swinging, drying)).get("/api/spaces/1/behaviour").json()

    assert told["at"] == "2026-11-25T14:20:00Z"
    assert told["cooling"]["period_s"] == pytest.approx(2_160, rel=0.02)  # readings of 5 minutes
    assert told["openings_per_day"] is None
    (seen,) = told["outlooks"]
    assert (seen["quantity"], seen["direction"], seen["limit"]) == ("humidity", "below", 85.0)
    assert seen["hours"]["low"] <= seen["hours"]["expected"] <= seen["hours"]["high"]


def test_a_space_without_readings_has_no_behaviour(tmp_path: Path, visit: Visit) -> None:
    context = builders.larch_lane(tmp_path)

    assert visit(context).get("/api/spaces/3/behaviour").json() is None
    assert visit(context).get("/api/spaces/99/behaviour").status_code == 404


@pytest.mark.parametrize(
    ("surface", "said"),
    [
        (SURFACE, "9.7 °C, 2.1 °C above the dew point of 7.6 °C; dry, estimate"),
        (
            SurfaceNow((1,), 1, NOW_US, 8.0, 7.6, 0.3, 0.0, None, None),
            "7.9 °C, 0.3 °C above the dew point of 7.6 °C; dry, but close, estimate",
        ),
        (
            SurfaceNow(
                (1,), 1, NOW_US, 8.4, 7.6, 0.8, 0.0, None, 2.2, sweats_between_h=(0.75, 5.0)
            ),
            SOON,
        ),
        (
            SurfaceNow((1,), 1, NOW_US, 7.4, 7.6, -0.4, 1.26, NOW_US - HOUR_US, None, BAND),
            WET,
        ),
    ],
    ids=["dry", "close", "soon", "wet"],
)
def test_the_margin_is_told_in_words(surface: SurfaceNow, said: str) -> None:
    ((_, line),) = surface_lines([surface], [], Words())

    assert line.replace("\xa0", " ") == f"Wheels, where nearest to sweating: {said}"


def test_the_wheel_nearest_to_sweating_speaks_for_all() -> None:
    near = SurfaceNow((2,), 1, NOW_US, 8.0, 7.6, 0.3, 0.0, None, None)

    assert surface_lines([SURFACE, near], [], Words()) == surface_lines([near], [], Words())


def test_a_wet_lid_is_marked_as_damp() -> None:
    lid = replace(LID, band=LidBand(Band(8.5, 9.4), Band(-1.2, -0.1), Band(0.1, 2.0)))
    ((tone, line),) = surface_lines([], [lid], Words())

    assert tone == "damp"
    assert line.replace("\xa0", " ") == (
        "Lid: 9.0 °C (8.5 to 9.4), 0.4 °C (0.1 to 1.2) below the dew point beneath it; wet, about "
        "0.3 g/m² (0.1 to 2.0) of water since Wed 25 Nov 13:32, estimate"
    )


def test_a_line_without_values_has_no_name() -> None:
    nothing = Trace("dew-point", "dew point", np.array([1]), np.array([np.nan]), "dew point")

    assert label_place(nothing) is None
