"""One form weighs a batch or a box: what it lists, keeps, asks about and refuses."""

import html
import re
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from service.api.context import Context
from service.store import gates, observations, set_up, weighings
from service.store.tables import Site
from tests import builders
from tests.page_words import words_of

FORM = "/batches/2/weigh"
"""The blue of Larch Lane: wheels 2, 3 and 4, 430 g each when new."""
Visit = Callable[[Context], TestClient]


def touch_of(page: str) -> str:
    (found,) = re.findall(r'name="touch" value="([0-9a-f]{32})"', page)
    return str(found)


def send(client: TestClient, page: str, weights: Mapping[int, str], path: str = FORM) -> Response:
    """Send the form of a page as a browser would, with what it asked about."""
    data = {
        "touch": touch_of(page),
        "wheel": [str(number) for number in weights],
        "weight": list(weights.values()),
        "asked": re.findall(r'name="asked" value="([^"]*)"', page),
    }
    return client.post(path, data=data)


def kept(lane: Context) -> dict[int, list[float]]:
    """What is stored of the wheels of the blue. [g]"""
    with lane.sessions() as session:
        return {
            number: [each.mass_g for each in weighings.weighings(session, number)]
            for number in (2, 3, 4)
        }


def test_one_submit_enters_every_weight_that_was_typed(client: TestClient, lane: Context) -> None:
    page = client.get(FORM).text
    answer = send(client, page, {2: "412", 3: " ", 4: "408,5"})
    told = client.get(answer.headers["location"]).text

    assert answer.status_code == 303
    assert kept(lane) == {2: [412.0], 3: [], 4: [408.5]}
    assert "Weighed Blue 1 412 g and Blue 3 408 g, Wed 25 Nov 15:32." in words_of(told)
    assert "last 412 g, Wed 25 Nov 15:32" in words_of(told)
    assert "430 g when new" in words_of(told)


def test_each_field_says_its_unit_and_takes_a_number_pad(client: TestClient) -> None:
    page = client.get(FORM).text
    fields = re.findall(r"<input[^>]*name=\"weight\"[^>]*>", page)

    assert len(fields) == 3
    assert all('inputmode="decimal"' in each for each in fields)
    assert "Blue 1, g" in words_of(page)


def test_the_same_form_sent_again_enters_once(client: TestClient, lane: Context) -> None:
    page = client.get(FORM).text
    for _ in range(2):
        assert send(client, page, {2: "412", 3: "410"}).status_code == 303

    assert kept(lane) == {2: [412.0], 3: [410.0], 4: []}


def test_one_undo_takes_them_all_and_says_so(client: TestClient, lane: Context) -> None:
    page = client.get(FORM).text
    told = client.get(send(client, page, {2: "412", 3: "410"}).headers["location"]).text
    ((path, back),) = re.findall(
        r'action="(/touches/\w+/undo)"><input type="hidden" name="back" value="([^"]*)"', told
    )
    answer = client.post(path, data={"back": html.unescape(back)})

    assert kept(lane) == {2: [], 3: [], 4: []}
    assert "Undone: Weighed Blue 1 412 g" in words_of(client.get(answer.headers["location"]).text)


def test_a_heavier_wheel_is_asked_about_once_and_then_entered(
    client: TestClient, lane: Context
) -> None:
    asked = send(client, client.get(FORM).text, {2: "412", 3: "445"})
    nothing = kept(lane)
    again = send(client, asked.text, {2: "412", 3: "445"})

    assert asked.status_code == 200
    assert "Heavier than the 430 g before. Is it right?" in words_of(asked.text)
    assert 'value="445"' in asked.text
    assert nothing == {2: [], 3: [], 4: []}
    assert again.status_code == 303
    assert kept(lane) == {2: [412.0], 3: [445.0], 4: []}


def test_a_weight_that_was_mended_is_judged_anew(client: TestClient, lane: Context) -> None:
    asked = send(client, client.get(FORM).text, {3: "445"})
    still = send(client, asked.text, {3: "460"})

    assert "Is it right?" in still.text
    assert kept(lane) == {2: [], 3: [], 4: []}


def test_what_was_asked_about_stays_right_while_another_is_mended(
    client: TestClient, lane: Context
) -> None:
    asked = send(client, client.get(FORM).text, {2: "445"})
    slip = send(client, asked.text, {2: "445", 3: "four"})
    answer = send(client, slip.text, {2: "445", 3: "412"})

    assert slip.status_code == 422
    assert answer.status_code == 303
    assert kept(lane) == {2: [445.0], 3: [412.0], 4: []}


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ({2: "412", 3: "four"}, "“four” in the weight of Blue 2 is no number"),
        ({2: "412", 3: "4"}, "Blue 2: a weight of 4 g cannot be"),
        ({2: "", 3: ""}, "Enter the weights of 1 to 200 wheels"),
    ],
)
def test_what_cannot_be_comes_back_as_it_was_typed(
    client: TestClient, lane: Context, weights: dict[int, str], said: str
) -> None:
    asked = send(client, client.get(FORM).text, weights)
    answer = send(client, asked.text, weights) if asked.status_code == 200 else asked

    assert answer.status_code == 422
    assert said in words_of(answer.text)
    assert all(f'value="{each}"' in answer.text for each in weights.values() if each)
    assert kept(lane) == {2: [], 3: [], 4: []}


@pytest.fixture
def box(tmp_path: Path, visit: Visit) -> TestClient:
    """A browser at a household with two batches in one box, space 1."""
    home = builders.empty_home(tmp_path)
    with home.sessions() as session:
        set_up.add_site(session, Site(slug="larch-lane", name="Larch Lane"))
        number = builders.add_space(session, 1, "box", "Box", "box")
        for name in ("Blue", "Tomme"):
            sizes = [(90.0, 70.0, 430.0)] * 2
            builders.add_batch(session, 1, name, "blue", 9, sizes, number, "ripening")
    return visit(home)


def test_a_visit_to_a_box_with_several_batches_leads_to_one_form(box: TestClient) -> None:
    page = box.get("/care").text

    assert page.count('href="/spaces/1/weigh">Enter all weights here</a>') == 1
    assert all(f'href="/batches/{number}/weigh"' in page for number in (1, 2))


def test_a_box_lists_its_wheels_of_every_batch(box: TestClient) -> None:
    page = box.get("/spaces/1/weigh").text
    answer = send(box, page, {1: "425", 3: "424"}, "/spaces/1/weigh")

    assert re.findall(r"<label[^>]*>([^<]*)</label>", page) == [
        "Blue 1, g",
        "Blue 2, g",
        "Tomme 1, g",
        "Tomme 2, g",
    ]
    assert answer.headers["location"].startswith("/spaces/1/weigh?said=")


def test_a_wheel_that_has_ended_is_not_asked_for(client: TestClient, lane: Context) -> None:
    with lane.sessions() as session:
        gates.end_wheel(session, 3, "eaten", builders.NOW_US - builders.HOUR_US)

    page = words_of(client.get(FORM).text)

    assert "Blue 1, g" in page
    assert "Blue 2, g" not in page


def test_the_batch_and_the_visits_lead_to_the_form(client: TestClient) -> None:
    assert f'href="{FORM}"' in client.get("/batches/2").text
    assert f'href="{FORM}"' in client.get("/care").text


def test_a_weight_alone_is_no_look(client: TestClient, lane: Context) -> None:
    """The look stays due, as it does after a weighing on the wheel's own page."""
    before = client.get("/api/care?until=2026-12-20").json()
    send(client, client.get(FORM).text, {2: "412", 3: "410", 4: "411"})
    after = client.get("/api/care?until=2026-12-20").json()

    def looks(care: dict[str, list[dict[str, object]]]) -> list[dict[str, object]]:
        return [each for each in care["due"] if each["work"] == "look it over"]

    with lane.sessions() as session:
        assert len(observations.of_wheels(session, [2, 3, 4])) == 3
    assert looks(before)
    assert looks(after) == looks(before)
