"""No page is a dead end: it says what to do next, and leads to what stands around it."""

from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from dashboards.visit_list import today_words
from service.api.context import Context
from service.store import alarm_records, places, quarantine
from service.store.tables import Alarm
from service.tending.care import care_now
from tests import builders
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]
CAVE, BLUE_BOX, WHITE_BOX = "/spaces/1", "/spaces/2", "/spaces/3"


def body_of(client: TestClient, path: str) -> str:
    """The main part of a page, without the navigation."""
    page = client.get(path).text
    return page[page.index("<main") : page.index("</main>")]


def test_an_empty_space_that_nobody_measures_says_what_to_do(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        number = builders.add_space(session, 1, "kitchen", "Kitchen", "room")

    page = body_of(client, f"/spaces/{number}")

    said = words_of(page)
    assert "No sensor stands here, so its air is not known. Place a sensor" in said
    assert "No wheel is in it. Move a wheel here or add a batch" in said
    assert 'href="/sensors"' in page
    assert 'href="/household"' in page
    assert "How far back" not in page


def test_a_sensor_that_is_silent_is_told_from_one_that_is_missing(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        cellar = builders.add_space(session, 1, "cellar", "Cellar", "cave")
        sensor = places.sensor_for(session, "larch-lane/mute", builders.NOW_US)
        assert sensor.id is not None
        places.place_sensor(session, sensor.id, cellar, builders.NOW_US)

    said = words_of(body_of(client, f"/spaces/{cellar}"))

    assert "No readings in this time. A sensor stands here, but nothing of it came in." in said
    assert "No sensor stands here" not in said


def test_a_cave_and_the_boxes_in_it_lead_to_each_other(client: TestClient) -> None:
    cave, box = body_of(client, CAVE), body_of(client, BLUE_BOX)

    assert f'href="{BLUE_BOX}">Blue box' in cave
    assert f'href="{WHITE_BOX}">White box' in cave
    assert "Stands in Cave" in words_of(box)
    assert f'href="{CAVE}"' in box


def test_the_shelf_leads_to_a_box_that_nobody_measures(client: TestClient) -> None:
    assert f'href="{WHITE_BOX}">White box</a>' in client.get("/").text


@pytest.mark.parametrize(
    ("path", "asked"), [(CAVE, "Enter its weight"), (WHITE_BOX, "Enter their weights")]
)
def test_a_space_leads_to_the_scale_of_the_wheels_in_it(
    client: TestClient, path: str, asked: str
) -> None:
    assert f'href="{path}/weigh">{asked}</a>' in client.get(path).text
    assert client.get(f"{path}/weigh").status_code == 200


def test_a_sensor_s_page_leads_back_to_all_of_them(client: TestClient) -> None:
    assert 'href="/sensors">All sensors</a>' in body_of(client, "/sensors/2")


def test_a_space_and_its_sensor_of_one_name_have_titles_of_their_own(
    lane: Context, visit: Visit
) -> None:
    with lane.sessions() as session:
        air = builders.steady(10.0)
        cellar = builders.add_space(session, 1, "cellar", "Cellar", "cave")
        sensor = builders.add_sensor(session, "Cellar", cellar, air, air, hours=1)
        assert places.sensor(session, sensor).name == places.space(session, cellar).name

    pages = [visit(lane).get(path).text for path in (f"/spaces/{cellar}", f"/sensors/{sensor}")]

    titles = [page[page.index("<title>") : page.index("</title>")] for page in pages]
    assert titles[0] != titles[1]


def test_a_question_at_a_gate_is_told_with_one_colon(lane: Context) -> None:
    with lane.sessions() as session:
        said = today_words(care_now(session, lane.plans, builders.NOW_US), {1: "Cave"})

    assert said is not None
    assert "Look and say, White mould 1–4: The coat is complete" in said[1]  # noqa: RUF001 - a dash


def test_one_wheel_at_a_gate_is_not_spoken_of_as_several(client: TestClient) -> None:
    one, several = client.get("/wheels/1/gate").text, client.get("/wheels/5/gate").text

    assert "It moves to another space with it" in one
    assert "it stays in Cave" in one
    assert "They move to another space with it" in several
    assert "they stay in White box" in several


def test_boards_are_counted_from_one(lane: Context, client: TestClient) -> None:
    form = {"name": "Tin", "kind": "box", "parent_id": "1", "board": "2"}

    client.post("/household/spaces", data=form)

    with lane.sessions() as session:
        (tin,) = [each for each in places.spaces(session) if each.name == "Tin"]
        assert tin.board == 1


def test_past_alarms_are_told_newest_first(lane: Context, client: TestClient) -> None:
    """A history may be entered space by space, so that numbers do not follow the time."""
    with lane.sessions() as session:
        first = builders.add_alarm(session, 1, "Cave: raised later", over=True)
        second = builders.add_alarm(session, 2, "Blue box: raised earlier", over=True)
        for number in (first, second):
            alarm_records.acknowledge(session, number, "keeper", builders.NOW_US)
        row = session.get(Alarm, first)
        assert row is not None
        row.raised_us += builders.HOUR_US // 2

    page = client.get("/alarms").text
    page = page[page.index('id="past"') :]

    assert page.index("raised later") < page.index("raised earlier")


@pytest.mark.parametrize("path", ["/care", "/planner", "/planner/year"])
def test_a_page_without_wheels_says_where_they_come_from(
    tmp_path: Path, visit: Visit, path: str
) -> None:
    client = visit(builders.empty_home(tmp_path))

    page = body_of(client, path)

    assert "Wheels come from a make day , or are added as a batch under Household" in words_of(page)
    assert client.get("/makes").status_code == client.get("/household").status_code == 200


def test_one_message_thrown_away_is_not_spoken_of_as_several(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        quarantine.keep(session, builders.NOW_US, "caves/x/y/senml", b"{}", "no JSON")

    said = words_of(body_of(client, "/quarantine/away?kind=no%20JSON"))

    assert "It could not be stored: no JSON Its bytes are gone then" in said
    assert "Keep it" in said
