"""The pages of the planner: days in words, wishes, room, cautions, the year, who fits together."""

# ruff: noqa: RUF001 - the reader gets real dashes

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from dashboards.cautions import eating_cautions, sixty_days
from dashboards.planner_words import between
from service.ageing.coming import Window
from service.ageing.plans import shipped_plans
from service.api.context import Context
from service.store import places, wheels
from tests import builders

Visit = Callable[[Context], TestClient]
TODAY = date(2026, 11, 25)


def words_of(page: str) -> str:
    """What the middle of a page says, without its tags."""
    text = re.sub(r"<[^>]+>", " ", page[page.index("<main") :])
    return " ".join(text.replace("\xa0", " ").replace("\u2060", "").split())


@pytest.mark.parametrize(
    ("days", "told"),
    [
        ((date(2026, 12, 1), date(2026, 12, 4), date(2026, 12, 9)), "about Fri 4 Dec (1–9 Dec)"),
        (
            (date(2026, 11, 28), date(2026, 12, 4), date(2027, 1, 9)),
            "about Fri 4 Dec (28 Nov – 9 Jan 2027)",
        ),
        ((TODAY, TODAY, date(2026, 12, 2)), "today (25 Nov – 2 Dec)"),
        ((TODAY, TODAY, TODAY), "today"),
        ((date(2027, 1, 8), date(2027, 1, 8), date(2027, 1, 8)), "Fri 8 Jan 2027"),
    ],
)
def test_a_window_reads_with_its_earliest_and_latest(
    days: tuple[date, date, date], told: str
) -> None:
    assert between(Window(*days), TODAY) == told


def test_the_planner_tells_each_wheel_s_days(client: TestClient) -> None:
    said = words_of(client.get("/planner").text)

    assert re.search(r"Blue : 1 , 2 , 3|Blue: 1 , 2 , 3", said)
    assert re.search(
        r"Wrap about \w{3} \d+ \w{3}( 2027)? \d[^.]* To the kitchen fridge about .*"
        r" Giving, eat from about .* Eat until about .* Estimates: the day, then earliest to",
        said,
    )
    assert re.search(
        r"Since first growth it has ripened like \d+ days at 10 °C \(\d+–\d+\): ", said
    )
    assert "If the cave is 1.0 °C warmer from today on:" in said
    assert "nobody measured its air" in said.lower()
    assert "How these days come about" in said


def test_a_day_is_wished_for_a_whole_batch(lane: Context, client: TestClient) -> None:
    answer = client.post(
        "/planner/wish", data={"wheels": "2,3,4", "firmness": "soft", "day": "2027-01-20"}
    )

    assert (answer.status_code, answer.headers["location"]) == (
        303,
        "/planner?said=wish-2#wheel-2",
    )
    with lane.sessions() as session:
        kept = [wheels.wheel(session, number) for number in (2, 3, 4)]
        assert {(each.wanted_firmness, each.wanted_day) for each in kept} == {
            ("soft", "2027-01-20")
        }
    said = words_of(client.get("/planner").text)
    assert "Wanted soft for Wed 20 Jan 2027: change" in said
    assert "Kept: wanted soft" not in said
    told = words_of(client.get(answer.headers["location"]).text)
    assert "Kept: wanted soft for Wed 20 Jan 2027." in told
    assert re.search(r"For Wed 20 Jan 2027 it can be soft|Too late for|is too far off", said)


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("2026-11-27", "Too late for Fri 27 Nov: even if it stays in the cave it is then only"),
        ("2027-11-20", "Sat 20 Nov 2027 is too far off: even if it is moved today"),
    ],
)
def test_a_day_that_cannot_be_met_is_told_in_words(
    client: TestClient, day: str, words: str
) -> None:
    client.post("/planner/wish", data={"wheels": "2", "firmness": "giving", "day": day})

    assert words in words_of(client.get("/planner").text)
    assert words in words_of(client.get("/wheels/2").text)


@pytest.mark.parametrize(
    "form",
    [
        {"wheels": "2", "day": "2026-11-24"},
        {"wheels": "2", "day": "tomorrow"},
        {"wheels": "2", "firmness": "hard"},
        {"wheels": "2", "firmness": "mushy"},
        {"wheels": "two"},
        {"wheels": ""},
    ],
)
def test_a_wish_that_cannot_be_is_refused_in_words(
    client: TestClient, form: dict[str, str]
) -> None:
    answer = client.post("/planner/wish", data=form)

    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_the_room_of_the_kitchen_fridge_is_kept_and_counted(
    lane: Context, client: TestClient
) -> None:
    assert "how much room there is has not been said" in words_of(client.get("/planner").text)

    assert client.post("/planner/room/4", data={"room": "80,5"}).status_code == 303
    with lane.sessions() as session:
        assert places.space(session, 4).room_cm2 == 80.5
    said = words_of(client.get("/planner").text)
    assert "Today 1 wheel takes 81 cm² of 80 cm²: there is not room for all" in said
    assert "smells strongly: wrap closely and box apart" in said
    assert client.post("/planner/room/4", data={"room": "much"}).status_code == 422


def test_of_two_kitchen_fridges_each_has_its_room_and_wheels_say_which(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        fridge = builders.add_space(session, 1, "garage", "Garage fridge", "kitchen_fridge")
        builders.add_sensor(
            session, "garage", fridge, builders.steady(3.0), builders.steady(50.0), 200.0
        )

    kept = client.post(f"/planner/room/{fridge}", data={"room": "20"})
    page = client.get(kept.headers["location"]).text
    said = words_of(page)

    assert kept.headers["location"] == f"/planner?said=room-{fridge}#room-{fridge}"
    assert f'<input id="room-{fridge}"' in page
    assert "The kitchen fridges" in said
    assert "Garage fridge The room is kept. Today no wheel is to be in it." in said
    assert re.search(r"Kitchen fridge Today 1 wheel takes 81 cm²", said)
    assert "Of several kitchen fridges a wheel is planned for one whose board" in said
    # A board of 20 cm² is too small for any wheel here.
    assert "To Kitchen fridge about" in said
    assert "To Garage fridge" not in said
    assert re.search(
        r"Of the 2 kitchen fridges it is planned for Kitchen fridge \(about \d\.\d °C of late; its"
        r" plan asks for 1–5 °C\)\.",
        said,
    )
    client.post(f"/planner/room/{fridge}", data={"room": ""})
    client.post("/planner/room/4", data={"room": "20"})
    assert "To Garage fridge about" in words_of(client.get("/planner").text)
    assert "To Garage fridge about" in words_of(client.get("/wheels/2").text)


def test_the_wheel_s_page_tells_what_is_ahead_and_links_to_it(client: TestClient) -> None:
    page = client.get("/wheels/2").text

    assert "What is ahead" in words_of(page)
    assert re.search(r"Wrap about .* Eat until about .* Estimates:", words_of(page))
    assert 'href="/planner#wheel-2"' in page


def test_the_cautions_stand_by_the_days_of_eating(client: TestClient) -> None:
    said = words_of(client.get("/planner").text)

    for words in (
        "throw the cheese away, or ask someone qualified",
        "21 CFR 133.106(a)(1)",
        "133.182(a)",
        "Not for people who are pregnant",
        "at or below 4–5 °C",
        "Local food rules come first",
    ):
        assert words in said
    assert "safe to eat" not in said


def test_a_kitchen_fridge_that_is_too_warm_is_told(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, builders.steady(88.0))
        fridge = builders.add_space(session, 1, "fridge", "Kitchen fridge", "kitchen_fridge")
        builders.add_sensor(session, "cold", fridge, builders.steady(7.2), builders.steady(50.0))

    said = words_of(visit(context).get("/planner").text)

    assert "Of late it was about 7.2 °C in it. The kitchen fridge stays at or below 4–5 °C" in said


def test_sixty_days_are_asked_of_raw_milk_and_of_blue() -> None:
    """21 CFR 133.182(a) and 133.106(a)(1): 60 days."""
    plans, made = shipped_plans(), date(2026, 10, 1)
    before, after = date(2026, 11, 29), date(2026, 11, 30)

    assert sixty_days(plans["blue"], made, before, raw_milk=False) == after
    assert sixty_days(plans["blue"], made, after, raw_milk=False) is None
    assert sixty_days(plans["tomme"], made, before, raw_milk=True) == after
    assert sixty_days(plans["tomme"], made, before, raw_milk=None) == after
    assert sixty_days(plans["tomme"], made, before, raw_milk=False) is None


def test_cautions_for_eaters_follow_style_and_milk() -> None:
    plans = shipped_plans()
    hard = " ".join(each.words for each in eating_cautions([(plans["hard"], False)]))
    white = " ".join(each.words for each in eating_cautions([(plans["white_mould"], None)]))

    assert "pregnant" not in hard
    assert "60 days" not in hard
    assert "soft cheese with a white rind" in white
    assert "60 days" in white


def test_the_year_says_the_same_drawn_and_as_a_table(client: TestClient) -> None:
    page = client.get("/planner/year").text
    said = words_of(page)

    assert page.count('class="name"') == 4  # the four batches of Larch Lane
    assert "solid: lived striped or pale: expected, an estimate" in said
    assert re.search(r"Ripening until about \d+ \w{3}( 2027)?, then ", said)
    assert 'class="bar stage-' in page
    assert "The same as a table" in said
    assert re.search(r"October blue · 1 Kitchen fridge .* estimate", said)
    assert re.search(r"Ripening Fri 13 Nov 2026 about .*, estimate", said)


def test_the_year_goes_to_plotly_as_one_chart(client: TestClient) -> None:
    chart: dict[str, Any] = client.get("/planner/year.json").json()
    lived = [each for each in chart["data"] if each["name"].endswith("lived")]
    ahead = [each for each in chart["data"] if each["name"].endswith("expected")]
    first, last = chart["layout"]["xaxis"]["range"]
    now = builders.NOW_US // 1_000

    assert {each["type"] for each in chart["data"]} == {"bar"}
    assert {row for each in lived for row in each["y"]} == {0, 1, 2, 3}
    assert all(
        first <= base <= base + length <= now
        for each in lived
        for base, length in zip(each["base"], each["x"], strict=True)
    )
    assert all(base >= now for each in ahead for base in each["base"])
    assert 364 <= (last - first) / 86_400_000 <= 366
    assert len(chart["layout"]["annotations"]) == 8  # each row has its name and its stages


def test_names_are_no_mark_up_in_the_year(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, builders.steady(88.0), name="<b>&amp;")
    client = visit(context)

    chart: dict[str, Any] = client.get("/planner/year.json").json()

    assert chart["layout"]["annotations"][0]["text"].startswith("&lt;b>&amp;amp;")
    assert "<b>&amp;amp;" not in client.get("/planner/year").text


def test_a_space_tells_which_of_its_wheels_fit(client: TestClient) -> None:
    assert 'href="/spaces/1/together"' in client.get("/spaces/1").text
    said = words_of(client.get("/spaces/1/together").text)

    assert "Now" in said
    assert re.search(r"All 8 fit together: temperature \d+–\d+ °C and humidity \d+–\d+ %RH", said)
    assert client.get("/spaces/99/together").status_code == 404


def test_a_wheel_that_does_not_fit_is_named_with_what_mends_it(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        wheels.begin_stage(session, 2, "cold", builders.NOW_US - builders.DAY_US)
    said = words_of(client.get("/spaces/2/together").text)

    assert "No temperature suits all. Outside: Blue 1." in said
    assert "It mends it: Blue 1 into Kitchen fridge." in said


def test_two_moves_that_mend_it_together_are_told_in_one_sentence(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        cellar = builders.add_space(session, 1, "cellar", "Warm cellar", "cave")
        builders.add_sensor(
            session, "cellar", cellar, builders.steady(20.0), builders.steady(70.0), 200.0
        )
        wheels.begin_stage(session, 2, "cold", builders.NOW_US - builders.DAY_US)
        wheels.begin_stage(session, 5, "draining", builders.NOW_US - builders.DAY_US)
    said = words_of(client.get("/spaces/1/together").text)

    assert re.search(
        r"It mends it: Blue 1 into Kitchen fridge, and White mould 1 into Warm cellar\.", said
    )
    assert "A space counts for a move where its mean temperature and humidity" in said


def test_where_nothing_mends_it_that_is_told(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        wheels.begin_stage(session, 5, "draining", builders.NOW_US - builders.DAY_US)
    said = words_of(client.get("/spaces/1/together").text)

    assert "Outside: White mould 1." in said
    assert "Neither one move nor two together mend it here." in said


def test_a_place_whose_air_is_not_known_is_told_with_what_is_not(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        builders.add_space(session, 1, "cellar", "Warm cellar", "cave")
        wheels.begin_stage(session, 5, "draining", builders.NOW_US - builders.DAY_US)
    said = words_of(client.get("/spaces/1/together").text)

    assert "White mould 1 into Warm cellar; how warm it is in Warm cellar is not known." in said


def test_an_empty_household_has_a_planner_and_a_year(tmp_path: Path, visit: Visit) -> None:
    client = visit(builders.empty_home(tmp_path))

    for path in ("/planner", "/planner/year", "/planner/year.json"):
        assert client.get(path).status_code == 200
    assert "No wheel is entered yet" in words_of(client.get("/planner").text)


def test_what_a_warmer_cave_changes_is_told_with_its_band(client: TestClient) -> None:
    told = re.findall(r"If the cave is [^<]*?: ([^<]*), an estimate", client.get("/planner").text)
    shifts = [part for each in told for part in re.split(r", (?=\w+ )", each) if " day" in part]

    assert any("sooner" in part for part in shifts)
    assert all(
        re.search(r"\d+ days? (sooner|later) \(−?\d+ to −?\d+\)", part)
        for part in shifts
        if "sooner" in part or "later" in part
    )
