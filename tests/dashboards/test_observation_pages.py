"""The form of what is seen, and what stands of it on the wheel's page."""

import re
from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from service.ageing.seen import CoatColour
from service.api.context import Context
from service.store import observations, weighings
from tests import builders
from tests.page_words import words_of

FORM = "/wheels/1/look"
DOUBT = "throw the cheese away, or ask someone qualified"


def part(page: str, ident: str) -> str:
    """The words of the section with that heading."""
    found = re.search(rf'<section aria-labelledby="{ident}">.*?</section>', page, re.DOTALL)
    assert found is not None
    return words_of(found.group())


def touch_of(client: TestClient, path: str = FORM) -> str:
    found = re.search(r'name="touch" value="([0-9a-f]{32})"', client.get(path).text)
    assert found is not None
    return found.group(1)


def jpeg(colour: str = "tan", size: tuple[int, int] = (60, 40)) -> bytes:
    written = BytesIO()
    Image.new("RGB", size, colour).save(written, "JPEG")
    return written.getvalue()


def test_what_is_seen_is_entered_and_stands_on_the_wheel_s_page(client: TestClient) -> None:
    data: dict[str, Any] = {
        "touch": touch_of(client),
        "rind": "tacky",
        "firmness": "giving",
        "smell": "mushrooms",
        "coat": ["", "white-50", "blue-25", "grey-0"],
        "weight": "1,9",
        "unit": "kg",
        "own_words": "even\r\n<b>all round</b>",
    }
    files = [("photos", ("a.jpg", jpeg(), "image/jpeg"))]
    sent = client.post(FORM, data=data, files=files)
    page = client.get("/wheels/1").text
    seen = part(page, "seen")

    assert sent.status_code == 303, words_of(sent.text)
    assert sent.headers["location"] == "/wheels/1?said=saw-1#seen"
    assert "Wed 25 Nov 15:32" in seen
    told = "rind tacky · feels giving · smells of mushrooms · coat 75 %: white 50 %, blue 25 %"
    assert told in seen
    assert "1,900 g" in seen
    assert "&lt;b&gt;all round&lt;/b&gt;" in page
    assert DOUBT not in seen
    assert page.count('<img src="/photos/1/thumbnail?of=') == 1
    assert client.get("/photos/1").headers["content-type"] == "image/jpeg"


def test_a_form_sent_twice_enters_once(client: TestClient, lane: Context) -> None:
    data = {"touch": touch_of(client), "rind": "wet", "weight": "1900"}
    files = [("photos", ("a.jpg", jpeg(), "image/jpeg"))]
    for _ in range(2):
        assert client.post(FORM, data=data, files=files).status_code == 303

    with lane.sessions() as session:
        (row,) = observations.of_wheel(session, 1)
        assert len(weighings.weighings(session, 1)) == 1
        assert observations.count_photos(session, row.id or 0) == 1


def test_a_form_sent_again_after_its_undo_says_that_it_counts_no_more(client: TestClient) -> None:
    data = {"touch": touch_of(client), "rind": "wet"}
    client.post(FORM, data=data)
    client.post("/wheels/1/observations/1/withdraw")
    again = client.post(FORM, data=data)

    assert "Undone: what was seen counts no more." in client.get(again.headers["location"]).text


def test_undo_takes_it_from_the_page_with_its_weighing(client: TestClient, lane: Context) -> None:
    client.post(FORM, data={"touch": touch_of(client), "rind": "wet", "weight": "1900"})
    assert "rind wet" in part(client.get("/wheels/1").text, "seen")
    undone = client.post("/wheels/1/observations/1/withdraw")

    assert (undone.status_code, undone.headers["location"]) == (303, "/wheels/1?said=unseen#seen")
    assert "Nothing entered yet" in part(client.get("/wheels/1").text, "seen")
    with lane.sessions() as session:
        assert weighings.weighings(session, 1) == []


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"coat": ["pink-10"]}, "You saw pink growth."),
        ({"coat": ["black-25"]}, "You saw black growth."),
        ({"slimy": "yes"}, "You saw slime."),
        ({"smell": "foul"}, "You saw a foul smell."),
    ],
)
def test_what_may_be_spoilage_brings_the_caution_with_its_source(
    client: TestClient, data: dict[str, Any], said: str
) -> None:
    client.post(FORM, data=data | {"touch": touch_of(client)})
    seen = part(client.get("/wheels/1").text, "seen")

    assert said in seen
    assert DOUBT in seen
    assert "Common practice, no source." in seen


def test_a_bare_rind_is_told_apart_from_one_that_was_not_looked_at(client: TestClient) -> None:
    client.post(FORM, data={"touch": touch_of(client), "coat": ["none", ""]})

    assert "no growth" in part(client.get("/wheels/1").text, "seen")


def test_the_newest_come_first_and_the_older_are_folded_away(
    client: TestClient, lane: Context
) -> None:
    clock = lane.clock
    assert isinstance(clock, builders.FixedClock)
    for rind in ("dry", "tacky", "moist", "wet"):
        client.post(FORM, data={"touch": touch_of(client), "rind": rind})
        clock.time_us += builders.HOUR_US
    seen = part(client.get("/wheels/1").text, "seen")
    order = [seen.index(f"rind {rind}") for rind in ("wet", "moist", "tacky", "dry")]

    assert order == sorted(order)
    assert seen.index("rind wet") < seen.index("3 before") < seen.index("rind moist")


def test_others_of_the_batch_are_entered_in_the_same_touch(
    client: TestClient, lane: Context
) -> None:
    page = client.get("/wheels/2/look").text
    assert re.findall(r'name="also" value="(\d+)"', page) == ["3", "4"]
    data = {"touch": touch_of(client, "/wheels/2/look"), "rind": "moist", "also": ["3", "4"]}
    client.post("/wheels/2/look", data=data)

    with lane.sessions() as session:
        rows = observations.of_wheels(session, (2, 3, 4))
        assert [(row.wheel_id, row.touch) for row in rows] == [
            (number, data["touch"]) for number in (2, 3, 4)
        ]


def test_what_was_seen_earlier_is_entered_in_the_household_s_time(
    client: TestClient, lane: Context
) -> None:
    data = {"touch": touch_of(client), "rind": "dry", "when": "2026-11-24T08:15"}
    client.post(FORM, data=data)

    # Vienna is one hour ahead of UTC in November.
    with lane.sessions() as session:
        (row,) = observations.of_wheel(session, 1)
        assert row.time_us == builders.utc_us(2026, 11, 24, 7, 15)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({}, "Nothing was entered; touch at least one thing"),
        ({"own_words": "  "}, "Nothing was entered"),
        ({"coat": ["white-75", "blue-50"]}, "The colours together cover 125 % of the rind"),
        ({"coat": ["white-lots"]}, "Choose for each colour"),
        ({"coat": ["mauve-50"]}, "Choose for each colour"),
        ({"coat": ["white-²"]}, "Choose for each colour"),
        ({"rind": "soaked"}, "Choose one of dry, tacky, moist, wet"),
        ({"weight": "heavy"}, "Write the weight as a number"),
        ({"weight": "5"}, "A weight of 5 g cannot be"),
        ({"rind": "dry", "when": "2027-01-01T08:15"}, "That time is still to come"),
        ({"rind": "dry", "when": "yesterday"}, "Write date and time"),
        ({"rind": "dry", "own_words": "w" * 2_001}, "Write no more than 2000 signs"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    client: TestClient, lane: Context, data: dict[str, Any], sentence: str
) -> None:
    answer = client.post(FORM, data=data | {"touch": touch_of(client)})

    assert answer.status_code == 422
    assert sentence in words_of(answer.text)
    with lane.sessions() as session:
        assert observations.of_wheel(session, 1) == []


@pytest.mark.parametrize(
    ("files", "sentence"),
    [
        ([b"<svg/>"], "That file is no photo"),
        ([jpeg(size=(400, 300))[:700]], "The photo is broken or did not arrive whole"),
        ([jpeg(), b"GIF89a" + b"\x00" * 40], "That file is no photo"),
        ([jpeg()] * 5, "Send no more than 4 photos at once"),
    ],
)
def test_one_bad_photo_lets_nothing_be_entered(
    client: TestClient, lane: Context, files: list[bytes], sentence: str
) -> None:
    sent = [("photos", ("rind.jpg", each, "image/jpeg")) for each in files]
    data = {"touch": touch_of(client), "rind": "dry"}
    answer = client.post(FORM, data=data, files=sent)

    assert answer.status_code == 422
    assert sentence in words_of(answer.text)
    with lane.sessions() as session:
        assert observations.of_wheel(session, 1) == []


def test_a_photo_alone_is_enough(client: TestClient) -> None:
    files = [("photos", ("rind.jpg", jpeg(), "image/jpeg"))]
    answer = client.post(FORM, data={"touch": touch_of(client)}, files=files)

    assert answer.status_code == 303
    assert "/photos/1/thumbnail" in client.get("/wheels/1").text


def test_a_choice_of_photos_that_was_left_empty_is_no_photo(client: TestClient) -> None:
    # As browsers send it, by the HTML standard's "constructing the form data set": an empty file
    # with an empty name.
    lines = [
        *("--edge", 'Content-Disposition: form-data; name="touch"', "", touch_of(client)),
        *("--edge", 'Content-Disposition: form-data; name="rind"', "", "dry"),
        *("--edge", 'Content-Disposition: form-data; name="photos"; filename=""'),
        *("Content-Type: application/octet-stream", "", "", "--edge--", ""),
    ]
    answer = client.post(
        FORM,
        content="\r\n".join(lines).encode(),
        headers={"content-type": "multipart/form-data; boundary=edge"},
    )
    page = client.get("/wheels/1").text

    assert answer.status_code == 303
    assert "rind dry" in part(page, "seen")
    assert "/photos/" not in page


def test_there_is_no_form_for_a_wheel_that_is_not_there(client: TestClient) -> None:
    assert client.get("/wheels/99/look").status_code == 404
    data = {"touch": "0123456789abcdef", "rind": "dry"}
    assert client.post("/wheels/99/look", data=data).status_code == 404


def test_the_page_says_nowhere_that_a_cheese_may_be_eaten(
    lane: Context, visit: Callable[[Context], TestClient]
) -> None:
    said = words_of(visit(lane).get(FORM).text).lower()

    assert " safe" not in said
    assert DOUBT in said


@pytest.mark.parametrize(
    ("wheel", "first"),
    [(1, ["grey", "white"]), (2, ["blue", "white"]), (5, ["white", "grey"])],
    ids=["tomme", "blue", "white mould"],
)
def test_the_coat_is_asked_for_in_the_order_of_the_plan_s_kind(
    client: TestClient, wheel: int, first: list[str]
) -> None:
    page = client.get(f"/wheels/{wheel}/look").text
    asked = re.findall(r'<select id="coat-(\w+)"', page)
    at_once, folded = page.split('<details id="other-colours">')

    assert asked[:2] == first
    assert sorted(asked) == sorted(CoatColour)
    assert all(f'id="coat-{colour}"' in at_once for colour in ("pink", "black"))
    assert folded.count('id="coat-') == len(asked) - 6
