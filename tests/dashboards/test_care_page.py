"""The visit list, and the care of a wheel on its own page and on the shelf."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import care, gates, weighings, wheels
from tests import builders
from tests.page_words import words_of

Visit = Callable[[Context], TestClient]


def form_of(page: str, item: str) -> dict[str, list[str]]:
    """The hidden fields of the first form of an item of the visit list."""
    part = page[page.index(f'id="{item}"') :]
    form = part[part.index("<form") : part.index("</form>")]
    fields: dict[str, list[str]] = {}
    for name, value in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form):
        fields.setdefault(name, []).append(value)
    return fields


def touched(client: TestClient, item: str, outcome: str) -> str:
    """The first page after one touch of a button of the visit list."""
    fields = form_of(client.get("/care").text, item)
    answer = client.post("/care", data={**fields, "outcome": outcome})
    assert answer.status_code == 303
    return client.get(answer.headers["location"]).text


def undo_on(client: TestClient, page: str) -> str:
    """The page after its Undo."""
    said = page[page.index('id="told"') :]
    found = re.search(r'action="(/touches/\w+/undo)"', said)
    assert found is not None
    answer = client.post(found[1], data={"back": "/care"})
    return client.get(answer.headers["location"]).text


def test_the_visit_list_groups_by_space_and_tells_overdue_with_its_day(client: TestClient) -> None:
    said = words_of(client.get("/care").text)

    assert (
        "Cave, today On the boards All of this done Turn Tomme 1; Brush Tomme 1. Turn · Tomme 1"
        in said
    )
    assert "overdue by 34 days: it was to be done by Thu 22 Oct" in said
    assert "Air the box · Blue box overdue by 5 days" in said
    assert "Turn · Blue 1–3 overdue by 5 days" in said  # noqa: RUF001 - the reader gets a dash
    assert "Openings saved: " in said


def test_the_next_visits_stand_by_space_and_say_what_is_only_foreseen(client: TestClient) -> None:
    page = client.get("/care").text
    later = words_of(page[page.index('id="later"') :])

    cave, _, fridge = later.partition("Kitchen fridge")
    assert cave.startswith('id="later">The next visits Cave Tomorrow turn')
    assert "Wed 2 Dec turn and look it over; 1 wheel; foreseen" in fridge
    assert (
        "Foreseen, if the visits before it are made on their days:"
        " Turn October blue 1; Look it over October blue 1." in fridge
    )
    assert re.search(r"\d visits after these, until \w{3} \d+ Dec", cave)
    # What is foreseen is nothing to touch yet.
    assert "<button" not in page[page.index("Foreseen, if the visits before it") :]


def test_one_touch_turns_all_wheels_of_a_box_and_undo_takes_it_back(
    client: TestClient, lane: Context
) -> None:
    after = touched(client, "turn-w2", "done")

    assert "Turned Blue 1–3, Wed 25 Nov 15:32." in words_of(after)  # noqa: RUF001 - a dash
    assert 'id="turn-w2"' not in after[: after.index('id="later"')]
    with lane.sessions() as session:
        assert [row.wheel_id for row in care.records(session)] == [2, 3, 4]

    undone = undo_on(client, after)

    assert "Undone: Turned Blue 1–3" in words_of(undone)  # noqa: RUF001 - a dash
    assert 'id="turn-w2"' in undone
    with lane.sessions() as session:
        assert care.records(session) == []


def all_of_it(page: str, title: str) -> dict[str, list[str]]:
    """The hidden fields of the one touch for all works of a spot, by what its button is called."""
    for form in re.findall(r'<form[^>]*action="/care/all">.*?</form>', page, re.DOTALL):
        if f'aria-label="All of this done, {title}:' in form:
            fields: dict[str, list[str]] = {}
            for name, value in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form):
                fields.setdefault(name, []).append(value)
            return fields
    raise AssertionError(f"there is no such button for {title}")


def test_one_touch_enters_all_works_of_a_box_and_is_undone_in_one(
    client: TestClient, lane: Context
) -> None:
    page = client.get("/care").text
    told = "Blue box All of this done Air the box; Wipe the lid; Turn Blue 1–3."  # noqa: RUF001 - a dash
    assert told in words_of(page)

    answer = client.post("/care/all", data=all_of_it(page, "Blue box"))
    after = client.get(answer.headers["location"]).text

    entered = {
        ("turn", 2, None),
        ("turn", 3, None),
        ("turn", 4, None),
        ("air the box", None, 2),
        ("wipe the lid", None, 2),
    }
    with lane.sessions() as session:
        found = care.records(session)
        assert {(row.work, row.wheel_id, row.space_id) for row in found} == entered
        assert len(found) == len(entered)
        assert len({row.touch for row in found}) == 1
    said = "Turned Blue 1–3, aired Blue box and wiped the lid of Blue box, Wed 25 Nov 15:32. Undo"  # noqa: RUF001 - a dash
    assert said in words_of(after)
    assert "Undone:" in words_of(undo_on(client, after))
    with lane.sessions() as session:
        assert care.records(session) == []


def test_one_touch_for_all_that_is_sent_again_enters_nothing_twice(
    client: TestClient, lane: Context
) -> None:
    fields = all_of_it(client.get("/care").text, "Blue box")

    first, again = (client.post("/care/all", data=fields).headers["location"] for _ in range(2))

    assert first == again
    with lane.sessions() as session:
        assert len(care.records(session)) == 5


def test_one_touch_for_all_leaves_out_what_is_entered_of_each_and_what_is_not_due(
    client: TestClient, lane: Context
) -> None:
    touched(client, "air_box-s2", "tomorrow")

    page = client.get("/care").text

    shown = page[: page.index('id="later"')]
    assert "Weigh" in words_of(shown)
    assert "Look it over" in words_of(shown)
    works = set(re.findall(r'name="works" value="([^"]+)"', page))
    assert "TURN-wheel-2" in works
    assert "AIR_BOX-box-2" not in works
    assert not [each for each in works if re.match("WEIGH|LOOK|MOVE|TASTE", each)]
    with lane.sessions() as session:
        assert [row.outcome for row in care.records(session)] == ["put off"]


@pytest.mark.parametrize("works", [[], ["POLISH-wheel-2"], ["TURN-space-2"], ["TURN-wheel-99"]])
def test_one_touch_for_what_is_no_care_enters_nothing(
    client: TestClient, lane: Context, works: list[str]
) -> None:
    edition = all_of_it(client.get("/care").text, "Blue box")["edition"]

    answer = client.post("/care/all", data={"edition": edition, "works": works})

    assert answer.status_code in {404, 422}
    with lane.sessions() as session:
        assert care.records(session) == []


def test_care_that_is_refused_comes_back_as_it_was_chosen(client: TestClient) -> None:
    page = client.get("/care").text
    fields = form_of(page, "turn-w5") | {"wheel": ["6", "8"], "back": "7", "outcome": "done"}

    refused = client.post("/care", data=fields)

    assert refused.status_code == 422
    said = words_of(refused.text)
    assert "That time is before the wheel was made" in said
    some = refused.text[refused.text.index('id="some-turn-w5"') :]
    some = some[: some.index("</details>")]
    assert some.startswith('id="some-turn-w5" open')
    ticked = re.findall(r'value="(\d)" checked', some)
    assert ticked == ["6", "8"]
    assert re.search(r'<option value="7" selected', some)
    assert "data-etag" not in refused.text


def test_what_is_overdue_and_put_off_says_both(client: TestClient) -> None:
    after = touched(client, "turn-w1", "tomorrow")

    later = words_of(after[after.index('id="later"') :])
    assert (
        "Turn · Tomme 1 overdue by 34 days: it was to be done by Thu 22 Oct;"
        " put off until tomorrow" in later
    )
    assert "put off until tomorrow" in words_of(client.get("/wheels/1").text)


def test_a_form_that_is_sent_again_enters_nothing_twice(client: TestClient, lane: Context) -> None:
    fields = form_of(client.get("/care").text, "air_box-s2") | {"outcome": ["done"]}

    first, again = (client.post("/care", data=fields).headers["location"] for _ in range(2))

    assert first == again
    with lane.sessions() as session:
        assert [(row.work, row.space_id) for row in care.records(session)] == [("air the box", 2)]


def test_the_same_touch_after_an_undo_is_a_new_one(client: TestClient, lane: Context) -> None:
    undo_on(client, touched(client, "turn-w2", "done"))

    touched(client, "turn-w2", "done")

    with lane.sessions() as session:
        assert [row.wheel_id for row in care.records(session)] == [2, 3, 4]


def test_single_wheels_and_an_earlier_day_are_entered_from_the_details(
    client: TestClient, lane: Context
) -> None:
    fields = form_of(client.get("/care").text, "turn-w2")

    client.post("/care", data={**fields, "wheel": ["3"], "back": "1", "outcome": "done"})
    nothing = client.post(
        "/care", data={"edition": fields["edition"], "work": "turn", "outcome": "done"}
    )

    assert nothing.status_code == 422
    assert "Tick one wheel or more" in words_of(nothing.text)
    with lane.sessions() as session:
        assert [(row.wheel_id, row.time_us) for row in care.records(session)] == [
            (3, builders.utc_us(2026, 11, 24, 11, 0))
        ]


def test_skip_and_tomorrow_say_what_they_did(client: TestClient) -> None:
    skipped = words_of(touched(client, "turn-w2", "skip"))
    put_off = words_of(touched(client, "turn-w1", "tomorrow"))

    assert "Skipped: turn, Blue 1–3." in skipped  # noqa: RUF001 - a dash
    assert "Put off until tomorrow: turn, Tomme 1." in put_off


def test_a_page_of_care_that_has_not_changed_answers_304(client: TestClient) -> None:
    etag = client.get("/care").headers["etag"]

    assert client.get("/care", headers={"If-None-Match": etag}).status_code == 304


def test_a_gate_that_asks_leads_to_its_page_and_on(client: TestClient, lane: Context) -> None:
    page = client.get("/care").text
    assert "White mould 1–4: The coat is complete" in words_of(page)  # noqa: RUF001 - a dash
    gate = client.get("/wheels/5/gate")
    edition = re.search(r'name="edition" value="([^"]+)"', gate.text)
    assert edition is not None
    said = words_of(gate.text)
    assert "Coat of 95 % or more: not seen yet" in said
    assert "Yes, go on to Wrapped" in said
    fields = {"edition": edition[1], "stage": "coat", "wheel": ["5", "6"], "space_id": "4"}

    refused = client.post("/wheels/5/gate", data={**fields, "seen": "faces dry or tacky"})
    opened = client.post("/wheels/5/gate", data={**fields, "reason": "I was away"})

    assert refused.status_code == 422
    assert "say why" in words_of(refused.text)
    assert re.findall(r'name="wheel" value="(\d)" checked', refused.text) == ["5", "6"]
    assert 'value="faces dry or tacky" checked' in refused.text
    assert '<details id="where" open>' in refused.text
    assert '<option value="4" selected>' in refused.text
    after = client.get(opened.headers["location"]).text
    assert "White mould 1 and 2 went on to Wrapped, into Kitchen fridge." in words_of(after)
    with lane.sessions() as session:
        assert [row.reason for row in gates.answers(session)] == ["I was away"] * 2
        assert wheels.placements(session, 5)[-1].space_id == 4
    undo_on(client, after)
    with lane.sessions() as session:
        assert wheels.placements(session, 5)[-1].space_id == 3
        assert wheels.stages(session, 6)[-1].stage == "coat"


def test_the_page_of_a_wheel_tells_its_care_and_ends_it(client: TestClient) -> None:
    touched(client, "turn-w2", "done")
    page = client.get("/wheels/2").text
    said = words_of(page)

    assert "Its care" in said
    assert re.search(r"Turn · best \w+ \d+ Nov", said)
    assert "with 2 other wheels of that touch" in said
    edition = re.search(r'name="edition" value="([^"]+)"', page)
    assert edition is not None
    ended = client.post("/wheels/2/end", data={"edition": edition[1], "how": "eaten"})
    assert "Blue 1: eaten." in words_of(client.get(ended.headers["location"]).text)
    assert "Eaten Wed 25 Nov 15:32." in words_of(client.get("/wheels/2").text)
    assert "no more" in words_of(client.get("/wheels/2/gate").text)


def test_a_wheel_that_has_ended_keeps_its_history_and_leaves_the_lists(
    client: TestClient, lane: Context
) -> None:
    touched(client, "turn-w2", "done")
    with lane.sessions() as session:
        weighings.enter(session, 2, builders.NOW_US - builders.DAY_US, 402.0)
    edition = form_of(client.get("/care").text, "turn-w1")["edition"]
    client.post("/wheels/2/end", data={"edition": edition, "how": "eaten"})

    said = words_of(client.get("/wheels/2").text)
    assert "Eaten Wed 25 Nov 15:32." in said
    assert "Turned" in said
    assert "402" in said
    for asked in ("On the scale now", "What do you see?", "To the visits", "air not known"):
        assert asked not in said
    assert "Eaten Wed 25 Nov" in words_of(client.get("/batches/2").text)
    assert 'href="/wheels/2"' not in client.get("/").text
    assert 'value="2"' not in client.get("/wheels/3/look").text
    household = client.get("/household").text
    assert '<option value="3">Blue 2' in household
    assert "Blue 1" not in household
    others = client.get("/wheels/3").text
    assert 'href="/wheels/2"' not in others[others.index('id="others"') :]


def test_the_history_says_what_else_a_touch_would_take_back(client: TestClient) -> None:
    client.post("/care/all", data=all_of_it(client.get("/care").text, "Blue box"))

    said = words_of(client.get("/wheels/2").text)

    assert re.search("with 2 other wheels and all of turn, .* of that touch", said)


def test_the_shelf_tells_the_next_care_of_each_group(client: TestClient) -> None:
    said = words_of(client.get("/").text)

    assert "turn overdue since Fri 23 Oct" in said
    assert "Care is overdue: turn October blue 1, by" in said


def test_overdue_care_is_the_sentence_when_the_air_is_fine(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(session, humidity=builders.steady(88.0))

    said = words_of(visit(context).get("/").text)

    assert "Care is overdue: turn Tomme 1, by 34 days, and 3 others." in said
    assert "The air of the wheel is in range." in said


@pytest.mark.parametrize("path", ["/care", "/wheels/5/gate"])
def test_pages_of_care_have_landmarks_and_one_heading(client: TestClient, path: str) -> None:
    page = client.get(path)

    assert page.status_code == 200
    assert page.text.count("<h1>") == 1
    assert page.text.count("<main") == 1
    assert not re.search(r"<script(?![^>]*\bsrc=)", page.text)
