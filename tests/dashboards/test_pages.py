"""Each page over the store, without a browser: what it says and where a form leads."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import alarm_records, places, quarantine, wheels
from tests import builders
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]
PAGES = (
    "/",
    "/wheels/1",
    "/spaces/1",
    "/care",
    "/wheels/5/gate",
    "/alarms",
    "/sensors",
    "/quarantine",
    "/household",
    "/makes",
    "/makes/new",
    "/makes/setting-time",
    "/batches/1",
    "/batches/1/labels",
    "/phone",
)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_landmarks_one_heading_and_a_skip_link(client: TestClient, path: str) -> None:
    page = client.get(path)

    assert page.status_code == 200
    assert page.text.count("<h1>") == 1
    assert page.text.count("<main") == 1
    assert '<a class="skip" href="#main">' in page.text
    assert '<nav aria-label="Pages">' in page.text
    assert '<html lang="en"' in page.text


@pytest.mark.parametrize("path", PAGES)
def test_no_page_holds_a_script_of_its_own(client: TestClient, path: str) -> None:
    page = client.get(path)

    assert not re.search(r"<script(?![^>]*\bsrc=)", page.text)
    assert not re.search(r"\son[a-z]+=", page.text)
    assert "script-src 'self'" in page.headers["content-security-policy"]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_that_has_not_changed_answers_304(client: TestClient, path: str) -> None:
    etag = client.get(path).headers["etag"]

    again = client.get(path, headers={"If-None-Match": etag})

    assert again.status_code == 304
    assert again.headers["x-now-us"] == str(builders.NOW_US)


def test_time_alone_does_not_change_a_page(tmp_path: Path, visit: Visit) -> None:
    clock = builders.FixedClock()
    client = visit(builders.empty_home(tmp_path, clock))
    etag = client.get("/").headers["etag"]
    clock.time_us += builders.DAY_US

    again = client.get("/", headers={"If-None-Match": etag})

    assert (again.status_code, again.headers["x-now-us"]) == (304, str(clock.time_us))


def test_the_shelf_says_what_is_wrong_with_which_wheel(client: TestClient) -> None:
    said = words_of(client.get("/").text)

    assert "Tomme: " in said
    assert "%RH too dry for" in said
    assert "Nothing needs you" not in said


def test_an_open_alarm_comes_first_on_the_shelf(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    page = client.get("/").text

    assert 'data-need="Cave: too dry, 80.4 %RH"' in page
    assert "/alarms#alarm-1" in page


def test_an_open_alarm_says_when_it_was_raised_and_how_it_is_now(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    said = words_of(client.get("/").text)

    assert "Raised Wed 25 Nov 14:32. Now 10.4 °C, 78.0 %RH." in said


def test_all_in_range_says_that_nothing_is_needed(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(88.0))
        builders.tend_all(session, context)

    said = words_of(visit(context).get("/").text)

    assert "Nothing needs you now. The air of the wheel is in range." in said


def test_a_silent_sensor_is_never_taken_for_fine(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(
            session,
            humidity=builders.steady(88.0),
            until_us=builders.NOW_US - 2 * builders.HOUR_US,
        )

    said = words_of(visit(context).get("/").text)

    assert "not known: no fresh reading since Wed 25 Nov 12:32" in said
    assert "in range" not in said
    assert "Nothing needs you" not in said


def test_an_alarm_that_is_over_does_not_pass_for_a_need(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(88.0))
        builders.add_alarm(session, 1, over=True)
        builders.tend_all(session, context)

    said = words_of(visit(context).get("/").text)

    assert "Nothing needs you now. The air of the wheel is in range." in said
    assert "1 alarm is over and waits to be acknowledged" in said


def test_a_room_with_nothing_in_it_is_only_named(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_space(session, 1, "kitchen", "Kitchen", "room")

    page = client.get("/").text

    assert "Empty and without a sensor: Kitchen" in words_of(page)
    assert "Kitchen, drawn from the front" not in page


def test_an_empty_household_is_told_its_first_steps(tmp_path: Path, visit: Visit) -> None:
    page = visit(builders.empty_home(tmp_path)).get("/").text

    assert "mosquitto_pub" in page
    assert "caves/home/trial/senml" in page
    assert "Nothing needs you" not in page


def test_a_new_sensor_is_named_on_the_shelf(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        air = builders.steady(10.0)
        builders.add_sensor(session, "unplaced", None, air, air, hours=1)

    assert "1 new sensor, not placed yet" in words_of(client.get("/").text)


def test_fahrenheit_reaches_every_page(tmp_path: Path, visit: Visit) -> None:
    client = visit(builders.larch_lane(tmp_path, fahrenheit=True))

    for path in ("/", "/wheels/1", "/spaces/1", "/sensors"):
        said = words_of(client.get(path).text)
        assert "50.7 °F" in said, path
        assert " °C" not in re.sub(r"What this stage asks, .*?Its care", "", said), path


def test_hostile_names_reach_no_page_as_markup(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    name = "<script>alert(1)</script>\u202e" + "A" * 300
    with context.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(88.0), name=name)
        builders.add_alarm(session, 1, title=name)
        quarantine.keep(session, builders.NOW_US, name, name.encode(), name)
    client = visit(context)

    for path in PAGES:
        page = client.get(path).text
        assert "<script>alert" not in page, path
        assert "\u202e" not in page, path


@pytest.mark.parametrize("span", ["day", "week", "all", "nonsense"])
def test_a_space_shows_its_air_as_a_drawing_and_as_a_table(client: TestClient, span: str) -> None:
    page = client.get(f"/spaces/1?span={span}").text

    assert page.count('<svg class="air"') == 2
    assert "<caption>" in page
    assert re.search(r'<th scope="row">\w{3} \d+ \w{3} ', page)


def test_only_pages_with_a_chart_load_plotly(client: TestClient) -> None:
    loading = {path for path in PAGES if "/static/plotly-" in client.get(path).text}

    assert loading == {"/wheels/1", "/spaces/1"}


def test_a_wheel_names_its_stage_its_target_and_the_source(client: TestClient) -> None:
    said = words_of(client.get("/wheels/1").text)

    assert "Ripening" in said
    assert "Target humidity: 85–92 %RH" in said  # noqa: RUF001 - as the page writes a range
    assert "Source:" in said
    assert "day 41" in said


def test_soft_and_blue_cheese_carries_its_caution(client: TestClient) -> None:
    blue, tomme = (words_of(client.get(f"/wheels/{number}").text) for number in (2, 1))

    assert "soft blue cheese" in blue
    assert "soft blue cheese" not in tomme
    assert "Nothing made from unpasteurised milk is for people who are pregnant" in tomme
    assert "throw the cheese away, or ask someone qualified" in tomme


@pytest.mark.parametrize("number", range(1, 10))
def test_no_page_says_that_a_cheese_is_safe(client: TestClient, number: int) -> None:
    assert "safe" not in words_of(client.get(f"/wheels/{number}").text).replace("Food Safety", "")


def test_acknowledging_takes_one_form_and_is_kept(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    answer = client.post("/alarms/1/acknowledge")

    assert (answer.status_code, answer.headers["location"]) == (303, "/alarms")
    page = client.get("/alarms").text
    assert "Acknowledge<" not in page
    assert "acknowledged, by the keeper" in page
    with lane.sessions() as session:
        assert alarm_records.entry(session, 1).acknowledged_by == "the keeper"


def test_placing_a_sensor_leads_back_and_keeps_its_first_readings(
    lane: Context, client: TestClient
) -> None:
    air = builders.steady(10.0)
    with lane.sessions() as session:
        number = builders.add_sensor(session, "unplaced", None, air, air, hours=1)

    answer = client.post(f"/sensors/{number}/place", data={"space_id": "3"})

    assert answer.status_code == 303
    with lane.sessions() as session:
        (stay,) = places.placements_of_sensor(session, number)
        assert stay.space_id == 3
        assert stay.from_us < builders.NOW_US - 50 * builders.MINUTE_US


def test_a_household_can_be_set_up_from_nothing(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    client = visit(context)
    batch = {
        "name": "First blue",
        "plan": "blue",
        "made": "2026-11-20T09:00",
        "count": "3",
        "diameter_mm": "90",
        "height_mm": "70",
        "mass_g": "430",
        "space_id": "2",
    }
    for path, form in (
        ("/household/site", {"name": "Larch Lane", "time_zone": "Europe/Vienna", "scale": "C"}),
        ("/household/spaces", {"name": "Cave", "kind": "cave"}),
        ("/household/spaces", {"name": "Box", "kind": "box", "parent_id": "1"}),
        ("/household/batches", batch),
        ("/household/move", {"wheel_id": "1", "space_id": "1"}),
    ):
        assert client.post(path, data=form).status_code == 303, path

    page = client.get("/").text

    assert "First blue" in page
    with context.sessions() as session:
        assert len(wheels.wheels(session)) == 3
        assert wheels.batch_of(session, 1).made_us == builders.utc_us(2026, 11, 20, 8)
        assert [lived.stage for lived in wheels.stages(session, 1)] == ["draining"]


def test_a_form_that_cannot_be_says_why_on_a_page(client: TestClient) -> None:
    answer = client.post("/household/spaces", data={"name": "Cave", "kind": "cave"})

    assert answer.status_code == 422
    assert "There is a space Cave already" in words_of(answer.text)


@pytest.mark.parametrize("number", ["9" * 22, "-1", "1e3", "٣"])
def test_a_number_that_no_space_has_is_refused(client: TestClient, number: str) -> None:
    answer = client.post("/household/move", data={"wheel_id": "1", "space_id": number})

    assert answer.status_code == 422


def test_what_is_not_there_is_a_page_that_says_so(client: TestClient) -> None:
    answer = client.get("/wheels/999")

    assert answer.status_code == 404
    assert "There is no wheel 999" in words_of(answer.text)


def test_another_site_cannot_post_a_form(client: TestClient) -> None:
    answer = client.post("/alarms/1/acknowledge", headers={"Origin": "https://example.org"})

    assert answer.status_code == 403


def test_the_demo_says_that_it_is_invented_and_how_fast(tmp_path: Path, visit: Visit) -> None:
    said = words_of(visit(builders.larch_lane(tmp_path, demo=True)).get("/").text)

    assert "Demo, invented data. Time here runs 60 times faster" in said
    assert "Let the tray run dry" in said


def test_outside_the_demo_there_are_no_levers(client: TestClient) -> None:
    assert "tray" not in client.get("/").text
    assert client.post("/demo/tray/empty").status_code == 404


def test_a_lever_without_its_broker_says_so(tmp_path: Path, visit: Visit) -> None:
    context = builders.larch_lane(tmp_path, demo=True, broker_port=1)

    answer = visit(context).post("/demo/tray/empty")

    assert answer.status_code == 422
    assert "broker cannot be reached" in answer.text


def test_every_page_is_named_in_the_navigation_or_under_more(client: TestClient) -> None:
    """A phone shows six entries in one row; what is left out there stands under "More"."""
    navigation = client.get("/more").text
    navigation = navigation[: navigation.index("</nav>")]
    listed = client.get("/more").text.split("<main")[1]
    on_a_phone = [
        each for each in re.findall(r"<li.*?</li>", navigation) if 'class="seldom"' not in each
    ]

    assert len(on_a_phone) == 6
    for path in ("/", "/care", "/planner", "/makes", "/alarms", "/more"):
        assert any(f'href="{path}"' in each for each in on_a_phone)
    for path in ("/plans", "/calendar", "/sensors", "/household", "/phone", "/quarantine"):
        assert f'href="{path}"' in listed
        assert client.get(path).status_code == 200


@pytest.mark.parametrize(
    ("path", "entry"),
    [("/wheels/1", "/"), ("/planner/year", "/planner"), ("/sensors/1", "/more")],
)
def test_a_page_beneath_an_entry_marks_it(client: TestClient, path: str, entry: str) -> None:
    assert f'href="{entry}" aria-current="true"' in client.get(path).text
    assert f'href="{entry}" aria-current="page"' in client.get(entry).text


def test_the_navigation_counts_open_alarms(lane: Context, client: TestClient) -> None:
    assert 'class="count"' not in client.get("/care").text
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    assert '<b class="count">1<span class="unseen"> open</span></b>' in client.get("/care").text
