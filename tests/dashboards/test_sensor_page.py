"""The page of one sensor: its facts, its salt test and its correction, in words and forms."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from dashboards.pages.sensor import day_begins_us
from dashboards.words import Words, words_for
from service.api import sensor_actions
from service.api.context import Context
from service.api.refusals import RefusedError
from service.science.salts import Salt
from service.store import corrections, places
from tests import builders
from tests.page_words import words_of
from tests.salt_bags import HOUR_US, report_bag

Visit = Callable[[Context], TestClient]
NOW_US = builders.NOW_US
BEGAN_US = NOW_US - 12 * HOUR_US


def begun(lane: Context, *, hours: float = 8.0, time_constant_h: float = 0.7) -> int:
    """The cave's sensor, 3 %RH too high, lies over table salt since some hours; its test."""
    began_us = NOW_US - round(hours * HOUR_US)
    with lane.sessions() as session:
        test = sensor_actions.start_salt_test(session, 1, "NaCl", began_us)
        report_bag(session, 1, began_us, hours=hours, time_constant_h=time_constant_h)
        assert test.id is not None
        return test.id


def ended(lane: Context, salt: Salt = Salt.SODIUM_CHLORIDE, began_us: int = BEGAN_US) -> int:
    """The same with a test of eight hours that is over."""
    with lane.sessions() as session:
        test = sensor_actions.start_salt_test(session, 1, salt.value, began_us)
        report_bag(session, 1, began_us, salt)
        assert test.id is not None
        sensor_actions.end_salt_test(session, test.id, None, began_us + 8 * HOUR_US + 1, back=True)
        return test.id


def told(client: TestClient, number: int = 1) -> str:
    page = client.get(f"/sensors/{number}")
    assert page.status_code == 200
    return words_of(page.text)


def test_the_page_has_landmarks_and_no_script_of_its_own(client: TestClient) -> None:
    page = client.get("/sensors/1")

    assert page.text.count("<h1>") == page.text.count("<main") == 1
    assert not re.search(r"<script(?![^>]*\bsrc=)", page.text)
    assert not re.search(r"\son[a-z]+=", page.text)


def test_the_list_leads_to_the_page(client: TestClient) -> None:
    assert 'href="/sensors/1"' in client.get("/sensors").text


def test_an_unknown_sensor_has_no_page(client: TestClient) -> None:
    assert client.get("/sensors/99").status_code == 404


def test_the_page_tells_where_it_stood_and_how_often_it_reports(client: TestClient) -> None:
    said = told(client)

    assert "Usually reports every 5 min" in said
    assert "Cave Sun 22 Nov" in said
    assert "None holds: humidities are told as received." in said


def test_the_page_warns_before_a_test_is_started(client: TestClient) -> None:
    said = told(client)

    for warning in (
        "No salt near the cheese.",
        "Some salt must stay undissolved",
        "wash your hands",
        "Shut it tight",
        "temperature stays the same",
        "several hours are usual",
        "J. Res. NBS 81A (1977)",
    ):
        assert warning in said


def test_each_salt_says_what_it_gives_at_the_temperature_of_the_sensor(client: TestClient) -> None:
    """Greenspan 1977 at 10.4 °C: NaCl 75.66, K2SO4 98.17."""
    said = told(client)

    assert "table salt (NaCl): 75.7 %RH" in said
    assert "potassium sulphate (K₂SO₄): 98.2 %RH" in said


def test_a_test_is_started_and_ended_by_one_touch_each(lane: Context, client: TestClient) -> None:
    started = client.post("/sensors/1/salt-test", data={"salt": "NaCl"})
    page = client.get("/sensors/1").text
    form = re.search(r'action="/sensors/1/salt-test/end">(.*?)</form>', page, re.DOTALL)
    assert form is not None
    number = re.search(r'name="test_id" value="(\d+)"', form[1])
    chosen = re.search(r'<option value="(\d*)" selected>', form[1])
    assert number is not None
    assert chosen is not None
    client.post("/sensors/1/salt-test/end", data={"test_id": number[1], "space_id": chosen[1]})

    assert started.headers["location"] == "/sensors/1?said=started"
    with lane.sessions() as session:
        assert places.placements_of_sensor(session, 1)[-1].space_id == 1


def test_a_test_under_way_says_how_long_it_will_take(lane: Context, client: TestClient) -> None:
    begun(lane, hours=3.0, time_constant_h=1.0)
    said = told(client)

    assert re.search(r"Not yet: about [\d hmin]+ more \(estimate\)\.", said)
    assert "Until you end it nobody measures Cave." in said


def test_a_test_that_has_just_begun_says_so(client: TestClient) -> None:
    client.post("/sensors/1/salt-test", data={"salt": "KCl"})

    assert "Not yet: no reading has come since it began." in told(client)


def test_a_test_that_is_done_says_how_far_off_the_sensor_is(
    lane: Context, client: TestClient
) -> None:
    begun(lane)

    found = re.search(
        r"Done: the sensor reads ([\d.]+) %RH where NaCl gives 75\.7 %RH at 10\.1 °C: "
        r"([\d.]+) %RH too high \(estimate, ±([\d.]+) %RH\)\.",
        told(client),
    )
    assert found is not None
    reading, high, wide = (float(number) for number in found.groups())
    assert reading - 75.7 == pytest.approx(high, abs=0.11)  # each is rounded to a tenth
    assert abs(high - 3.0) <= wide


def test_a_test_that_will_not_settle_says_why(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session, "wet", 1, builders.steady(10.0), lambda ago: 100.0 if ago < 12 else 88.0
        )
        sensor_actions.start_salt_test(session, 4, "NaCl", BEGAN_US)

    assert "It will not settle: the sensor reads 100 %: it is wet." in told(client, 4)


def test_during_a_test_the_shelf_says_why_nothing_is_known(
    lane: Context, client: TestClient
) -> None:
    begun(lane)

    assert "not known: its sensor is in a salt test" in words_of(client.get("/").text)


def test_a_correction_is_offered_and_applied_from_a_day(lane: Context, client: TestClient) -> None:
    number = ended(lane)
    offered = told(client)
    answer = client.post(
        "/sensors/1/correction", data={"tests": number, "since": "day", "day": "2026-11-24"}
    )
    said = told(client)

    assert re.search(
        r"By NaCl. Corrected = reading . [23]\.\d %RH; true 90 %RH is a reading of 9[23]\.\d "
        r"\(estimate, ±[\d.]+ %RH there\)",
        offered,
    )
    assert answer.headers["location"] == "/sensors/1?said=corrected"
    assert "from Tue 24 Nov 00:00" in said
    assert "as received ·" in said
    assert "corrected ·" in said


def test_a_correction_may_reach_back_to_the_first_placement(
    lane: Context, client: TestClient
) -> None:
    number = ended(lane)
    client.post("/sensors/1/correction", data={"tests": number, "since": "placed", "day": ""})

    with lane.sessions() as session:
        first_us = places.placements_of_sensor(session, 1)[0].from_us
        assert corrections.of_sensor(session, 1)[0].from_us == first_us


def test_two_salts_are_offered_together_first(lane: Context, client: TestClient) -> None:
    one = ended(lane, Salt.SODIUM_CHLORIDE, NOW_US - 30 * HOUR_US)
    two = ended(lane, Salt.POTASSIUM_CHLORIDE, NOW_US - 15 * HOUR_US)
    offered = re.findall(r'name="tests" value="([\d,]+)"', client.get("/sensors/1").text)

    assert sorted(offered[0].split(",")) == sorted(map(str, (one, two)))
    assert sorted(offered[1:]) == sorted(map(str, (one, two)))


def test_a_correction_is_undone_by_one_touch(lane: Context, client: TestClient) -> None:
    number = ended(lane)
    client.post("/sensors/1/correction", data={"tests": number, "day": "2026-11-24"})
    client.post("/sensors/1/correction/withdraw", data={"correction_id": 1})
    said = told(client)

    assert "None holds" in said
    assert "Withdrawn." in said


def test_a_start_by_mistake_is_undone_by_one_touch(lane: Context, client: TestClient) -> None:
    number = begun(lane)
    client.post("/sensors/1/salt-test/undo", data={"test_id": number})

    assert "Tests so far" not in told(client)
    with lane.sessions() as session:
        assert places.placements_of_sensor(session, 1)[-1].to_us is None


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/salt-test", {"salt": "sugar"}),
        ("/salt-test", {"salt": "x" * 5_000}),
        ("/salt-test", {}),
        ("/salt-test/end", {"test_id": "1", "space_id": "1; DROP"}),
        ("/salt-test/end", {"test_id": "-1"}),
        ("/salt-test/end", {"test_id": "9" * 30}),
        ("/salt-test/undo", {"test_id": "77"}),
        ("/correction", {"tests": "1", "day": "yesterday"}),
        ("/correction", {"tests": "1", "day": "0001-01-01"}),
        ("/correction", {"tests": "1", "day": "9999-12-31"}),
        ("/correction", {"tests": "1", "day": "2026-11-27"}),
        ("/correction", {"tests": "", "day": "2026-11-24"}),
        ("/correction", {"tests": "1,", "day": "2026-11-24"}),
        ("/correction", {"tests": "1,1", "day": "2026-11-24"}),
        ("/correction", {"tests": "²", "day": "2026-11-24"}),
        ("/correction", {"tests": "999999999", "day": "2026-11-24"}),
        ("/correction", {"tests": "1", "since": "ever", "day": "2026-11-24"}),
        ("/correction/withdraw", {"correction_id": "5"}),
        ("/lags", {"temperature_lag_s": "nan"}),
        ("/lags", {"temperature_lag_s": "1e400"}),
        ("/lags", {"humidity_lag_s": "-3"}),
        ("/lags", {"humidity_lag_s": "slow"}),
    ],
)
def test_a_form_that_cannot_be_is_refused_in_one_sentence(
    lane: Context, client: TestClient, path: str, form: dict[str, str]
) -> None:
    ended(lane)
    answer = client.post(f"/sensors/1{path}", data=form)

    assert answer.status_code in {404, 422}
    assert answer.text.count("<h1>") == 1
    with lane.sessions() as session:
        assert corrections.of_sensor(session, 1) == []
        assert places.sensor(session, 1).humidity_lag_s is None


def test_lags_are_kept_shown_and_forgotten(lane: Context, client: TestClient) -> None:
    client.post("/sensors/1/lags", data={"temperature_lag_s": "90", "humidity_lag_s": "12.5"})
    page = client.get("/sensors/1").text
    client.post("/sensors/1/lags", data={"temperature_lag_s": "", "humidity_lag_s": " "})

    assert 'name="temperature_lag_s" type="number" min="0" max="1800" step="any"' in page
    assert 'value="90"' in page
    assert 'value="12.5"' in page
    with lane.sessions() as session:
        sensor = places.sensor(session, 1)
        assert (sensor.temperature_lag_s, sensor.humidity_lag_s) == (None, None)


def test_a_wet_sensor_is_told_in_the_list_and_on_its_page(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session,
            "wet",
            2,
            lambda ago: 10.0 + ago / 100,
            lambda ago: 100.0 if ago < 5 else 92.0 + ago % 1,
        )

    assert re.search(
        r"wet reads 100 % for 4 h 5\d min: it is wet; its humidity is not known",
        words_of(client.get("/sensors").text),
    )
    assert "Reads 100 % since" in told(client, 4)


def test_against_a_sensor_that_is_in_order_nothing_stands(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session, "good", 2, lambda ago: 10.0 + ago / 100, lambda ago: 90.0 + ago % 1
        )
    listed = client.get("/sensors").text
    own = listed[listed.index('id="sensor-4"') :]
    own = own[: own.index("</li>")]

    assert "Nothing stands against it." in told(client, 4)
    assert "it is wet" not in own
    assert "it is stuck" not in own


def test_a_stuck_sensor_is_told(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session,
            "stuck",
            2,
            lambda ago: 10.0 + ago / 100,
            lambda ago: 91.5 if ago < 6 else 90.0 + ago % 1,
        )

    assert "stuck has told the same humidity for 5 h 5" in words_of(client.get("/sensors").text)
    assert "Humidity stuck at 91.5 %RH since" in told(client, 4)


def test_a_silence_and_a_creep_are_told_with_their_times(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_sensor(
            session,
            "damp",
            2,
            lambda ago: 10.0 + ago / 100,
            lambda ago: 97.0 + ago % 1,
            until_us=NOW_US - 6 * HOUR_US,
        )
    said = told(client, 4)

    assert "Silent since Wed 25 Nov 09:32, for 6 h" in said
    assert re.search(r"May read up to [12]\.\d %RH too high", said)
    assert "a bound, not a measurement" in said


def test_a_hostile_name_stays_a_name(tmp_path: Path, visit: Visit) -> None:
    home = builders.empty_home(tmp_path)
    with home.sessions() as session:
        sensor = places.sensor_for(session, "larch-lane/<script>alert(1)</script>", 0)
        assert sensor.id is not None
    page = visit(home).get("/sensors/1").text

    assert "<script>alert" not in page
    assert "No readings yet" in words_of(page)


def test_a_day_begins_at_midnight_where_the_household_is() -> None:
    vienna = words_for("Europe/Vienna", fahrenheit=False)

    assert day_begins_us("2026-07-01", vienna) == builders.utc_us(2026, 6, 30, 22, 0)
    assert day_begins_us("2026-11-25", vienna) == builders.utc_us(2026, 11, 24, 23, 0)


def test_where_the_clocks_leave_out_midnight_a_day_begins_when_they_change() -> None:
    """In Beirut clocks went forward at midnight of 27 March 2022; tz database, Asia/Beirut."""
    beirut = words_for("Asia/Beirut", fahrenheit=False)

    assert day_begins_us("2022-03-27", beirut) == builders.utc_us(2022, 3, 26, 22, 0)


@pytest.mark.parametrize("text", ["", "25.11.2026", "2026-13-01", "2026-11-25T10:00", "1969-12-31"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(RefusedError):
        day_begins_us(text, Words())


def test_the_chart_of_a_corrected_space_says_so(lane: Context, client: TestClient) -> None:
    number = ended(lane)
    before = words_of(client.get("/spaces/1?span=week").text)
    client.post("/sensors/1/correction", data={"tests": number, "day": "2026-11-24"})

    assert "humidity corrected" not in before
    assert "humidity corrected" in words_of(client.get("/spaces/1?span=week").text)
    assert "humidity corrected" not in words_of(client.get("/spaces/2?span=week").text)
