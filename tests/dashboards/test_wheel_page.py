"""The page of a wheel with its climate, and what the shelf says of sweat."""

# ruff: noqa: RUF001 - the reader gets real dashes

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import set_up, weighings
from service.store.tables import Site
from tests import builders
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]


@pytest.fixture
def wet(tmp_path: Path) -> Context:
    """A tomme of 41 days that stood at 4 °C, and for two hours in damp air of 14 °C."""
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        builders.add_batch(session, 1, "Tomme", "tomme", 41, [(190, 75, 1950)], cave, "ripening")
        builders.add_sensor(
            session, "air", cave, lambda ago: 4.0 if ago > 2 else 14.0, builders.steady(92.0)
        )
    return context


def test_a_wheel_s_page_tells_surface_age_and_weight(client: TestClient) -> None:
    said = words_of(client.get("/wheels/1").text)

    assert re.search(
        r"Surface \d+\.\d °C \(\d+\.\d to \d+\.\d\), \d\.\d °C \(\d\.\d to \d\.\d\) above the dew "
        r"point where it is coldest, estimate",
        said,
    )
    assert re.search(r"Mean kinetic temperature \d+\.\d °C \(\d+\.\d to \d+\.\d\), estimate", said)
    assert re.search(r"an estimate within ± \d\.\d °C", said)
    assert re.search(r"Ripened like \d\.\d days at 11 °C \(\d\.\d–\d\.\d\), estimate", said)
    assert "41 days by the calendar" in said
    assert re.search(r"About 1,\d{3} g now \([\d,]+–[\d,]+\), estimate from no weighing yet", said)
    assert "Its life hour by hour" in said


def test_a_wet_face_is_told_on_the_page_and_on_the_shelf(wet: Context, visit: Visit) -> None:
    client = visit(wet)
    page, shelf = (words_of(client.get(path).text) for path in ("/wheels/1", "/"))

    lasted = r"[12] h( \d+ min)? \((none|\d+ min|\d h( \d+ min)?) to \d h( \d+ min)?\)"
    water = r"\d+\.\d g/m² \(\d+\.\d to \d+\.\d\)"
    assert re.search(rf"Face wet for {lasted}, {water} of water, estimate", page)
    assert re.search(rf"Wet for {lasted} since make day, {lasted} in the last week", page)
    assert re.search(rf"in the last week; thickest {water}, estimate", page)
    assert re.search(rf"wet from Wed 25 Nov 1\d:\d\d for [^(]*, up to {water}, estimate", page)
    assert re.search(rf"face wet {lasted}, estimate", shelf)


def test_a_wheel_whose_humidity_is_not_known_is_not_said_to_have_stayed_dry(
    tmp_path: Path, visit: Visit
) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Larch Lane"))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        box = builders.add_space(session, site.id, "box", "Box", "box", cave)
        builders.add_batch(session, 1, "Tomme", "tomme", 41, [(190, 75, 1950)], box, "ripening")
        builders.add_sensor(session, "air", cave, builders.steady(10.0), builders.steady(90.0))
    said = words_of(visit(context).get("/wheels/1").text)

    assert "Whether it was ever wet is not known." in said
    assert "Never wet" not in said


def test_wet_hours_are_shaded_and_stand_in_the_table(wet: Context, visit: Visit) -> None:
    page = visit(wet).get("/wheels/1").text
    rows = re.findall(r"<tr><th scope=\"row\">(Wed 25 Nov 1[0-4]:00)</th>(.*?)</tr>", page)

    assert page.count('class="wet"') >= 2
    assert "<title>wet from" in page
    wet_for = r">(1\xa0h|\d+\xa0min) \((none|\d+\xa0min|1\xa0h) to (1\xa0h|\d+\xa0min)\)<"
    assert re.search(wet_for, dict(rows)["Wed 25 Nov 13:00"])
    assert re.search(r"Surface within ± \d\.\d\xa0°C and wet are estimates", page)
    assert dict(rows)["Wed 25 Nov 10:00"].endswith("<td>no</td>")


def test_a_household_in_fahrenheit_reads_the_surface_so(tmp_path: Path, visit: Visit) -> None:
    client = visit(builders.larch_lane(tmp_path, fahrenheit=True))
    said = words_of(client.get("/wheels/1").text)
    chart: dict[str, Any] = client.get("/wheels/1/figure.json").json()
    (surface,) = [each for each in chart["data"] if each["name"] == "surface"]

    assert re.search(
        r"Surface \d\d\.\d °F \(4\d\.\d to 5\d\.\d\), \d\.\d °F \(\d\.\d to \d\.\d\) above the ",
        said,
    )
    assert "days at 51.8 °F" in said
    assert 48 < surface["y"][-1] < 51  # just under the air's 50.7 °F


@pytest.mark.parametrize(
    ("weight", "unit", "grams"),
    [("1,9", "kg", 1900.0), ("1893.5", "g", 1893.5), ("1900", "", 1900)],
)
def test_a_weighing_is_entered_in_grams_or_kilograms(
    lane: Context, client: TestClient, weight: str, unit: str, grams: float
) -> None:
    form = {"weight": weight} | ({"unit": unit} if unit else {})
    answer = client.post("/wheels/1/weighings", data=form)

    assert (answer.status_code, answer.headers["location"]) == (
        303,
        "/wheels/1?said=weighed-1#weight",
    )
    with lane.sessions() as session:
        assert [each.mass_g for each in weighings.weighings(session, 1)] == [grams]
    assert "1 weighing" in words_of(client.get("/wheels/1").text)
    said = words_of(client.get(answer.headers["location"]).text)
    assert f"Entered: {grams:,.0f} g, Wed 25 Nov 15:32." in said


def test_a_weighing_is_taken_back_on_the_page(lane: Context, client: TestClient) -> None:
    client.post("/wheels/1/weighings", data={"weight": "1900"})
    (path,) = re.findall(
        r'action="(/wheels/1/weighings/\d+/withdraw)"', client.get("/wheels/1").text
    )

    answer = client.post(path)

    assert answer.status_code == 303
    with lane.sessions() as session:
        assert list(weighings.weighings(session, 1)) == []


def test_a_wheel_s_page_goes_by_what_the_maker_needs_first(client: TestClient) -> None:
    page = client.get("/wheels/1").text
    order = ("stage", "tending", "weight", "life", "seen", "planned", "stages", "care")
    places = [page.index(f'<h2 id="{each}"') for each in order]

    assert places == sorted(places)


@pytest.mark.parametrize("said", ["weighed-99", "saw-99", "weighed-", "<b>x</b>", "saw-1-2"])
def test_an_address_says_nothing_of_what_was_not_entered(client: TestClient, said: str) -> None:
    page = client.get("/wheels/1", params={"said": said})

    assert page.status_code == 200
    assert 'class="said"' not in page.text


@pytest.mark.parametrize("weight", ["heavy", "", "-3", "0", "nan", "99999999", "1,950"])
def test_a_weight_that_cannot_be_is_refused_in_words(client: TestClient, weight: str) -> None:
    answer = client.post("/wheels/1/weighings", data={"weight": weight})

    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_the_weight_has_a_chart_with_its_band(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        weighings.enter(session, 1, builders.NOW_US - 70 * builders.HOUR_US, 1930.0)
        weighings.enter(session, 1, builders.NOW_US - builders.HOUR_US, 1921.0)
    chart: dict[str, Any] = client.get("/wheels/1/weight.json").json()
    by_name: dict[str, Any] = {each["name"]: each for each in chart["data"]}

    assert by_name["measured"]["y"] == [1930.0, 1921.0]
    assert chart["data"][1]["fill"] == "tonexty"
    assert chart["data"][0]["y"][-1] < by_name["ahead"]["y"][-1] < chart["data"][1]["y"][-1]
    assert chart["layout"]["xaxis"]["range"][1] > builders.NOW_US // 1_000


def test_no_line_of_a_long_life_has_more_points_than_a_page_can_draw(
    tmp_path: Path, visit: Visit
) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, lambda ago: 88 + ago % 7, hours=24 * 40.0)
    chart: dict[str, Any] = visit(context).get("/wheels/1/figure.json").json()

    assert max(len(each["x"]) for each in chart["data"]) <= 1_500


def test_a_wheel_without_air_still_has_a_page(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Larch Lane"))
        assert site.id is not None
        room = builders.add_space(session, site.id, "room", "Room", "room")
        builders.add_batch(session, 1, "Tomme", "tomme", 4, [(190, 75, 1950)], room, "draining")
    said = words_of(visit(context).get("/wheels/1").text)

    assert "No air is known of its life." in said
    assert "Its weight" in said


@pytest.mark.parametrize("hours_ago", [300, 100, 0])
def test_no_dot_of_a_weighing_lies_on_the_edge_of_its_chart(
    lane: Context, client: TestClient, hours_ago: int
) -> None:
    """A dot is 9 px wide and the narrowest chart 300 px: it needs 1.5 % on either side."""
    with lane.sessions() as session:
        weighings.enter(session, 1, builders.NOW_US - hours_ago * builders.HOUR_US, 1_900.0)
    chart: dict[str, Any] = client.get("/wheels/1/weight.json").json()
    from_ms, to_ms = chart["layout"]["xaxis"]["range"]
    (dots,) = [each for each in chart["data"] if each["mode"] == "markers" and each["y"] == [1900]]
    part = (dots["x"][0] - from_ms) / (to_ms - from_ms)

    assert 0.015 < part < 0.985
