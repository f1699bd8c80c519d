"""The pages of a make day: its record, marks and timers, two browsers, and the sums."""

# ruff: noqa: RUF001 - the reader gets real typography

import html
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import make_days, wheels
from service.store.make_days import Value
from tests import builders
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]
SECOND_US = 1_000_000


def fields_of(page: str, form: str) -> dict[str, str]:
    """What a browser would send of a form as it is shown."""
    (found,) = re.findall(rf'<form id="{form}".*?</form>', page, re.DOTALL)
    sent: dict[str, str] = {}
    for tag in re.findall(r"<input[^>]*>", found):
        name = re.search(r'name="([^"]*)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name:
            sent[name[1]] = html.unescape(value[1]) if value else ""
    for name, text in re.findall(
        r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', found, re.DOTALL
    ):
        sent[name] = html.unescape(text)
    for name, choices in re.findall(r'<select[^>]*name="([^"]*)">(.*?)</select>', found, re.DOTALL):
        options = re.findall(r'<option value="([^"]*)"( selected)?', choices)
        sent[name] = next((value for value, chosen in options if chosen), options[0][0])
    return sent


def stored(lane: Context, *fields: str) -> tuple[Value, ...]:
    """Fields of the first make day as the store has them."""
    with lane.sessions() as session:
        day = make_days.make_day(session, 1)
        return tuple(getattr(day, field) for field in fields)


def move_on(lane: Context, seconds: int) -> None:
    assert isinstance(lane.clock, builders.FixedClock)
    lane.clock.time_us += seconds * SECOND_US


@pytest.fixture
def home(client: TestClient) -> str:
    """The address of a make day that was begun now."""
    form = {"name": "December blue", "plan": "blue", "raw_milk": "raw"}
    answer = client.post("/makes", data=form)
    assert answer.status_code == 303
    return str(answer.headers["location"])


def test_a_make_day_is_begun_and_listed(client: TestClient, home: str) -> None:
    listed = words_of(client.get("/makes").text)
    page = words_of(client.get(home).text)

    assert "December blue, Wed 25 Nov 2026 raw milk · under way" in listed
    assert "Make day of Wed 25 Nov 2026 · Blue, natural rind · raw milk" in page
    assert 'href="/makes"' in client.get("/").text


def test_before_the_household_is_entered_no_make_day_begins(tmp_path: Path, visit: Visit) -> None:
    page = visit(builders.empty_home(tmp_path)).get("/makes/new")

    assert page.status_code == 200
    assert "/household" in page.text
    assert "<form" not in page.text


def test_rennet_and_flocculation_give_the_cut_and_one_touch_starts_its_timer(
    lane: Context, client: TestClient, home: str
) -> None:
    """13 min 19 s times 4 (common practice, no source), from 15:32:00 by Vienna's clock."""
    client.post(f"{home}/rennet")
    move_on(lane, 799)
    client.post(f"{home}/flocculation", data={"multiplier": "4"})
    before = words_of(client.get(home).text)
    client.post(f"{home}/timers/cut")
    after = words_of(client.get(home).text)

    assert "Flocculated after 13 min 19 s; times 4 makes 53 min 16 s in all" in before
    assert "39 min 57 s after it. Cut at Wed 25 Nov 16:25:16." in before
    assert "Start the timer to the cut" in before
    assert "Cut the curd ends at Wed 25 Nov 16:25:16" in after
    assert "Start the timer to the cut" not in after


def test_an_early_flocculation_mark_is_taken_back(
    lane: Context, client: TestClient, home: str
) -> None:
    client.post(f"{home}/rennet")
    move_on(lane, 300)
    client.post(f"{home}/flocculation", data={"multiplier": "4"})
    client.post(f"{home}/flocculation/withdraw")
    move_on(lane, 499)
    client.post(f"{home}/flocculation", data={"multiplier": "3,5"})

    assert "Flocculated after 13 min 19 s; times 3.5" in words_of(client.get(home).text)


def test_a_step_is_one_touch_with_its_temperature(client: TestClient, home: str) -> None:
    client.post(f"{home}/steps", data={"preset": "Milk warm", "temperature": "32,5", "ph": "6.6"})
    page = client.get(home).text
    (path,) = re.findall(r'action="(/makes/1/steps/\d+/withdraw)"', page)
    client.post(path)

    assert "Wed 25 Nov 15:32 Milk warm 32.5 °C, pH 6.6" in words_of(page)
    assert "32.5 °C" not in words_of(client.get(home).text)


def test_an_earlier_step_stands_at_its_own_time(client: TestClient, home: str) -> None:
    client.post(f"{home}/steps", data={"words": "Milk fetched", "at": "2026-11-25T14:10"})
    said = words_of(client.get(home).text)

    assert said.index("Wed 25 Nov 14:10 Milk fetched") < said.index("Make day begun")


def test_a_household_in_fahrenheit_types_and_reads_fahrenheit(tmp_path: Path, visit: Visit) -> None:
    lane = builders.larch_lane(tmp_path, fahrenheit=True)
    client = visit(lane)
    client.post("/makes", data={"name": "Tomme", "plan": "tomme"})
    client.post("/makes/1/steps", data={"preset": "Milk warm", "temperature": "90"})
    with lane.sessions() as session:
        (step,) = make_days.steps(session, 1)
        assert step.temperature_c == pytest.approx(32.2, abs=0.05)  # 90 °F is about 32 °C

    assert "Milk warm 90.0 °F" in words_of(client.get("/makes/1").text)


def test_timers_say_when_they_end_and_when_the_time_is_up(
    lane: Context, client: TestClient, home: str
) -> None:
    client.post(f"{home}/timers", data={"name": "Stir", "duration": "13 min 19 s"})
    running = client.get(home).text
    move_on(lane, 800)
    over = client.get(home).text
    client.post("/makes/1/timers/1/stop")
    seen = client.get(home).text

    ends_us = builders.NOW_US + 799 * SECOND_US
    assert f'data-ends="{ends_us}"' in running
    assert "ends at Wed 25 Nov 15:45:19 (13 min 19 s from Wed 25 Nov 15:32:00) Stop" in words_of(
        running
    )
    assert "The time is up: it ran out at Wed 25 Nov 15:45:19" in words_of(over)
    assert "Seen" in words_of(over)
    assert "data-ends" not in seen


@pytest.mark.parametrize("duration", ["13", "soon", "13:99", "0:00"])
def test_a_timer_that_cannot_be_is_refused_with_help(
    client: TestClient, home: str, duration: str
) -> None:
    answer = client.post(f"{home}/timers", data={"name": "Stir", "duration": duration})

    assert answer.status_code == 422
    assert "“" in answer.text


def test_the_record_is_saved_with_kitchen_measures_turned_into_ours(
    lane: Context, client: TestClient, home: str
) -> None:
    form = fields_of(client.get(home).text, "record")
    form |= {"milk": "Cow, evening", "milk_l": "3,5", "milk_unit": "US gal", "rennet": "calf"}
    saved = client.post(home, data=form)
    salt = fields_of(client.get(home).text, "salt")
    salt |= {"curd_g": "2.5", "curd_unit": "lb", "salting": "dry", "salt_pct": "2"}
    client.post(home, data=salt)
    milk_l, curd_g = stored(lane, "milk_l", "curd_g")

    assert saved.headers["location"] == f"{home}#record-head"
    assert milk_l == pytest.approx(3.5 * 3.785411784, abs=1e-4)  # kept to a tenth of a ml
    assert curd_g == pytest.approx(2.5 * 453.59237, abs=0.01)  # kept to a hundredth of a g
    assert stored(lane, "milk", "rennet", "raw_milk") == ("Cow, evening", "calf", True)
    assert "22.7 g of salt , 2 % of 1133.98 g of curd" in words_of(client.get(home).text)


def test_brine_tells_the_salt_for_a_litre_of_water(client: TestClient, home: str) -> None:
    salt = fields_of(client.get(home).text, "salt") | {"salting": "brine", "salt_pct": "20"}
    client.post(home, data=salt)

    assert "250 g of salt in each litre of water" in words_of(client.get(home).text)


def test_what_another_browser_has_saved_is_told_and_nothing_is_lost(
    lane: Context, client: TestClient, home: str
) -> None:
    """Both open the record; one saves 12 l, the other 10 l and a culture."""
    one, other = (fields_of(client.get(home).text, "record") for _ in range(2))
    client.post(home, data=one | {"milk_l": "12"})
    late = client.post(home, data=other | {"milk_l": "10", "cultures": "mesophilic"})
    meanwhile = stored(lane, "milk_l", "cultures")
    again = client.post(home, data=fields_of(late.text, "record"))

    assert (late.status_code, meanwhile) == (409, (12.0, ""))
    assert "amount of milk: stored is 12 l, yours is 10 l" in words_of(late.text)
    assert again.status_code == 303
    assert stored(lane, "milk_l", "cultures") == (10.0, "mesophilic")


def test_two_browsers_that_change_different_fields_both_keep_theirs(
    lane: Context, client: TestClient, home: str
) -> None:
    one, other = (fields_of(client.get(home).text, "record") for _ in range(2))
    client.post(home, data=one | {"milk_l": "12"})
    late = client.post(home, data=other | {"cultures": "mesophilic"})

    assert late.status_code == 303
    assert stored(lane, "milk_l", "cultures") == (12.0, "mesophilic")


def test_a_make_day_becomes_a_batch_with_its_record(
    lane: Context, client: TestClient, home: str
) -> None:
    form = fields_of(client.get(home).text, "record") | {"milk_l": "12"}
    client.post(home, data=form)
    done = {"each_g": "431 428,5 440", "diameter_mm": "90", "height_mm": "70", "space_id": "2"}
    first = client.post(f"{home}/finish", data=done)
    again = client.post(f"{home}/finish", data=done)
    batch = words_of(client.get(first.headers["location"]).text)
    wheel = client.get("/wheels/10")

    assert first.headers["location"] == again.headers["location"] == "/batches/5"
    assert "December blue 2 ⌀ 90 mm × 70 mm, 428.5 g when new" in batch
    assert "1.3 kg of cheese from 12 l of milk: 1.08 kg from 10 l (10.8 %" in batch
    assert "made Wed 25 Nov 2026 · raw milk" in batch
    assert wheel.status_code == 200
    assert 'href="/batches/5"' in wheel.text
    assert "Its wheels are made" in words_of(client.get(home).text)
    with lane.sessions() as session:
        assert len(wheels.wheels_of(session, 5)) == 3


def test_a_batch_without_a_make_day_has_a_page_too(client: TestClient) -> None:
    said = words_of(client.get("/batches/2").text)

    assert "raw or pasteurised: not said" in said
    assert "entered without a make day" in said


@pytest.mark.parametrize("raw_milk", ["raw", ""])
def test_milk_that_is_or_may_be_raw_is_cautioned_with_its_source(
    client: TestClient, raw_milk: str
) -> None:
    client.post("/makes", data={"name": "Caution", "plan": "blue", "raw_milk": raw_milk})
    said = words_of(client.get("/makes/1").text)

    assert "60 days at no less than 1.7 °C (35 °F)" in said
    assert "21 CFR Part 133" in said
    assert "weakened immunity" in said
    assert "Local food rules come first" in said


def test_pasteurised_milk_has_the_local_codes_and_no_caution_of_raw_milk(
    client: TestClient,
) -> None:
    client.post("/makes", data={"name": "Mild", "plan": "blue", "raw_milk": "pasteurised"})
    said = words_of(client.get("/makes/1").text)

    assert "21 CFR" not in said
    assert "Local food rules come first" in said


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("flocculation=13:19&multiplier=4", "53 min 16 s from rennet to cut, 39 min 57 s left"),
        ("flocculation=13+min+19+s&multiplier=4", "53 min 16 s from rennet to cut"),
        ("flocculation=13&multiplier=4", "could be minutes or seconds"),
        ("flocculation=13:19&multiplier=x", "is no number"),
        ("flocculation=13:19&multiplier=", "Enter the multiplier"),
        ("flocculation=13:19&multiplier=99", "lies between 1 and 10"),
        ("curd=1.2&curd_unit=kg&salt=2", "24.0 g of salt for 1200 g of curd"),
        ("water=4&strength=20", "1000 g of salt in 4 l of water"),
        ("water=4&strength=30", "26.4 %"),
    ],
)
def test_the_sums_answer_or_help(client: TestClient, query: str, words: str) -> None:
    page = client.get(f"/makes/setting-time?{query}")

    assert page.status_code == 200
    assert words in words_of(page.text)


@pytest.mark.parametrize("field", ["flocculation", "curd", "water"])
def test_what_turns_the_writing_is_not_given_back(client: TestClient, field: str) -> None:
    sums = {"flocculation": "multiplier", "curd": "salt", "water": "strength"}
    page = client.get("/makes/setting-time", params={field: "\u202ex", sums[field]: "2"}).text

    assert 'value="x"' in page
    assert "\u202e" not in page


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "\u202eturned", "漢字" * 40])
def test_odd_names_do_not_break_the_pages(client: TestClient, name: str) -> None:
    started = client.post("/makes", data={"name": name, "plan": "blue"})
    if started.status_code == 303:
        client.post("/makes/1/timers", data={"name": name, "duration": "1 min"})
        client.post("/makes/1/steps", data={"words": name})
        page = client.get("/makes/1").text
        assert "<script>alert" not in page
        assert "\u202e" not in page
    else:
        assert started.status_code == 422


@pytest.mark.parametrize(
    ("path", "form"),
    [
        (
            "/makes/1",
            {"form": "record", "version": "1", "name": "A", "plan": "blue", "milk_l": "x"},
        ),
        ("/makes/1", {"form": "other", "version": "1"}),
        ("/makes/1", {"form": "record", "version": "one"}),
        ("/makes/1/steps", {"words": "", "preset": ""}),
        ("/makes/1/steps", {"words": "Stir", "temperature": "warm"}),
        ("/makes/1/flocculation", {"multiplier": "4"}),
        ("/makes/1/finish", {"count": "1", "diameter_mm": "90", "height_mm": "70"}),
        ("/makes/1/finish", {"each_g": "1 x", "diameter_mm": "90", "height_mm": "70"}),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    client: TestClient, home: str, path: str, form: dict[str, str]
) -> None:
    del home
    answer = client.post(path, data=form)

    assert answer.status_code == 422
    assert "<h1>That is not possible</h1>" in answer.text


@pytest.mark.parametrize("path", ["/makes/9", "/batches/9", "/batches/9/labels"])
def test_an_unknown_make_day_or_batch_is_not_found(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


@pytest.mark.parametrize("was", ["not json", "[1]", '{"milk": {"a": 1}}', '{"version": 1}'])
def test_a_bent_memory_of_what_was_is_no_way_past_another_s_edit(
    client: TestClient, home: str, was: str
) -> None:
    form = fields_of(client.get(home).text, "record")
    client.post(home, data=form | {"milk": "Cow"})
    late = client.post(home, data=form | {"milk": "Ewe", "was": was})

    assert late.status_code == 409


def test_a_page_on_which_nothing_changed_is_not_sent_again(
    client: TestClient, lane: Context, home: str
) -> None:
    client.post(f"{home}/timers", data={"name": "Stir", "duration": "10 min"})
    first = client.get(home)
    move_on(lane, 7)
    again = client.get(home, headers={"If-None-Match": first.headers["etag"]})

    assert again.status_code == 304
