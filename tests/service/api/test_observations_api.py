"""Observations and photos through the API: entered, refused, sent twice, shown, taken back."""

from io import BytesIO
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from service.ageing.seen import Look
from service.ageing.work import Rind
from service.api.context import Context
from service.api.observation_actions import MOST_PHOTOS
from service.photos import LARGEST_BYTES
from service.store import observations
from service.store.observations import NewObservation

SEEN = "/api/wheels/1/observations"
NOON = "2026-11-25T12:00:00Z"
FULL = {
    "touch": "0f0f0f0f0f0f",
    "rind": "moist",
    "firmness": "giving",
    "smell": "mushrooms",
    "coat": {"white": 50, "blue": 25.5},
    "grams": 412.0,
    "words": "  even, and dry between\r\nthe holes ",
}


def jpeg(colour: str = "tan", size: tuple[int, int] = (60, 40), kind: str = "JPEG") -> bytes:
    written = BytesIO()
    Image.new("RGB", size, colour).save(written, kind)
    return written.getvalue()


def entered(client: TestClient, body: dict[str, Any] | None = None) -> dict[str, Any]:
    answer = client.post(SEEN, json=body or FULL)
    assert answer.status_code == 201, answer.text
    made: dict[str, Any] = answer.json()
    return made


def test_what_was_seen_is_entered_with_its_weighing(client: TestClient) -> None:
    made = entered(client)
    listed = client.get(SEEN).json()
    weighed = client.get("/api/wheels/1/weighings").json()

    assert listed == [made]
    assert {key: made[key] for key in ("rind", "firmness", "smell", "coat", "time")} == {
        "rind": "moist",
        "firmness": "giving",
        "smell": "mushrooms",
        "coat": {"white": 50, "blue": 25.5},
        "time": NOON,
    }
    assert made["coat_pct"] == 75.5
    assert made["words"] == "even, and dry between\nthe holes"
    assert weighed == [{"id": made["weighing_id"], "time": NOON, "grams": 412.0}]
    assert made["doubts"] == []


@pytest.mark.parametrize(
    "body",
    [
        {"rind": "dry"},
        {"firmness": "oozy"},
        {"smell": "foul"},
        {"coat": {"other": 0}},
        {"slimy": True},
        {"grams": 400.0},
        {"words": "looks well"},
    ],
)
def test_any_one_thing_is_enough(client: TestClient, body: dict[str, Any]) -> None:
    made = entered(client, body)

    assert client.get(SEEN).json() == [made]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({}, "nothing was entered"),
        ({"words": " \n "}, "nothing was entered"),
        ({"coat": {}}, "nothing was entered"),
        ({"coat": {"white": 60, "blue": 41}}, "101 % of the rind"),
        ({"coat": {"white": 101}}, "less than or equal to 100"),
        ({"coat": {"white": -1}}, "greater than or equal to 0"),
        ({"coat": {"white": "60"}}, "number"),
        ({"coat": {"mauve": 60}}, "'white', 'grey'"),
        ({"rind": "soaked"}, "'dry', 'tacky', 'moist' or 'wet'"),
        ({"firmness": "moist"}, "'hard', 'firm'"),
        ({"smell": "roses"}, "'foul'"),
        ({"slimy": "yes"}, "boolean"),
        ({"grams": 3.0}, "from 8.6 up to 2150"),
        ({"rind": "dry", "at": "2026-11-25T13:00:00Z"}, "still to come"),
        ({"rind": "dry", "at": "2026-11-20T13:00:00Z"}, "before the wheel was made"),
        ({"rind": "dry", "touch": "short"}, "8 to 64"),
        ({"rind": "dry", "touch": "no/such*touch"}, "8 to 64"),
        ({"words": "w" * 2_001}, "2000"),
        ({"grams": 400.0, "also": [2]}, "each wheel has its own weight"),
        ({"colour": "white"}, "Extra inputs"),
    ],
)
def test_what_cannot_be_is_refused_and_leaves_nothing(
    client: TestClient, body: dict[str, Any], words: str
) -> None:
    answer = client.post(SEEN, json=body)

    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert client.get(SEEN).json() == []
    assert client.get("/api/wheels/1/weighings").json() == []


def test_what_is_not_a_number_is_refused(client: TestClient) -> None:
    headers = {"content-type": "application/json"}
    for body in ('{"coat": {"white": NaN}}', '{"grams": Infinity}', '{"rind": '):
        assert client.post(SEEN, content=body, headers=headers).status_code == 422


def test_a_touch_sent_twice_enters_once(client: TestClient) -> None:
    first, second = entered(client), entered(client)

    assert first == second
    assert len(client.get(SEEN).json()) == 1
    assert len(client.get("/api/wheels/1/weighings").json()) == 1


def test_a_touch_that_comes_again_with_something_else_is_not_swallowed(client: TestClient) -> None:
    entered(client)
    answer = client.post(SEEN, json=FULL | {"rind": "wet"})

    assert answer.status_code == 422
    assert "sent before with something else" in answer.json()["detail"]


def test_without_a_touch_each_sending_is_new(client: TestClient) -> None:
    first, second = (entered(client, {"rind": "dry"}) for _ in range(2))

    assert first["id"] != second["id"]
    assert first["touch"] != second["touch"]


def test_the_same_is_entered_of_several_wheels_in_one_touch(client: TestClient) -> None:
    made = entered(client, {"rind": "tacky", "also": [2, 2, 1]})
    (other,) = client.get("/api/wheels/2/observations").json()

    assert len(client.get(SEEN).json()) == 1
    assert (other["touch"], other["rind"]) == (made["touch"], "tacky")


def test_of_several_wheels_an_unknown_one_lets_nothing_be_entered(client: TestClient) -> None:
    assert client.post(SEEN, json={"rind": "tacky", "also": [99]}).status_code == 404
    assert client.get(SEEN).json() == []
    assert client.get("/api/wheels/99/observations").status_code == 404


def test_what_is_taken_back_takes_its_weighing_and_photos_with_it(client: TestClient) -> None:
    made = entered(client)
    other = client.post("/api/wheels/1/weighings", json={"grams": 420.0}).json()
    photo = client.post(f"{SEEN}/{made['id']}/photos", content=jpeg()).json()
    gone, again = (client.delete(f"{SEEN}/{made['id']}") for _ in range(2))

    assert (gone.status_code, again.status_code) == (204, 204)
    assert client.get(SEEN).json() == []
    assert client.get("/api/wheels/1/weighings").json() == [other]
    assert client.get(photo["image"]).status_code == 404
    assert client.get(photo["thumbnail"]).status_code == 404
    assert client.post(f"{SEEN}/{made['id']}/photos", content=jpeg()).status_code == 404


def test_an_observation_is_taken_back_only_by_way_of_its_wheel(client: TestClient) -> None:
    made = entered(client)

    assert client.delete(f"/api/wheels/2/observations/{made['id']}").status_code == 404
    assert client.delete(f"{SEEN}/999").status_code == 404
    assert client.get(SEEN).json() == [made]


@pytest.mark.parametrize("way", ["body", "form", "wrong name"])
def test_a_photo_is_sent_as_body_or_as_the_file_of_a_form(client: TestClient, way: str) -> None:
    number = entered(client)["id"]
    sent = jpeg(kind="PNG" if way == "wrong name" else "JPEG")
    how: dict[str, Any] = {"content": sent} if way == "body" else {"files": {"photo": sent}}
    if way == "wrong name":
        # What the sender says of name and kind counts for nothing; the bytes do.
        how = {"files": {"photo": ("rind.svg", sent, "image/svg+xml")}}
    made = client.post(f"{SEEN}/{number}/photos", **how)
    shown = client.get(made.json()["image"])

    assert made.status_code == 201
    assert (made.json()["width"], made.json()["height"]) == (60, 40)
    assert client.get(SEEN).json()[0]["photos"] == [made.json()]
    assert Image.open(BytesIO(shown.content)).format == "JPEG"
    assert Image.open(BytesIO(client.get(made.json()["thumbnail"]).content)).size == (60, 40)


def test_a_photo_is_private_kept_for_good_and_never_guessed_at(client: TestClient) -> None:
    number = entered(client)["id"]
    made = client.post(f"{SEEN}/{number}/photos", content=jpeg()).json()

    for address in (made["image"], made["thumbnail"]):
        headers = client.get(address).headers
        assert headers["content-type"] == "image/jpeg"
        assert headers["cache-control"] == "private, max-age=31536000, immutable"
        assert "Cookie" in headers["vary"]
        assert headers["x-content-type-options"] == "nosniff"


def test_a_stranger_sees_and_sends_nothing(guarded: Context, stranger: TestClient) -> None:
    with guarded.sessions() as session:
        look = Look(rind=Rind.DRY)
        new = NewObservation("touch-one", 1, guarded.clock.now_us(), look, entered_us=0)
        row = observations.enter(session, new)
        number = row.id or 0
        photo_id = observations.add_photo(session, number, (60, 40), jpeg(), jpeg())
    answers = [
        stranger.get(f"/photos/{photo_id}"),
        stranger.get(f"/photos/{photo_id}/thumbnail"),
        stranger.get(SEEN),
        stranger.post(f"{SEEN}/{number}/photos", content=jpeg()),
    ]

    assert [answer.status_code for answer in answers] == [303, 303, 401, 401]
    assert not any(jpeg() in answer.content for answer in answers)


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "send a JPEG, PNG or WebP"),
        (jpeg(kind="GIF"), "send a JPEG, PNG or WebP"),
        (jpeg(size=(600, 400))[:800], "did not arrive whole"),
        (b"\x00\x00\x00\x18ftypheic" + b"\x00" * 100, "HEIC"),
    ],
)
def test_what_is_no_photo_is_refused(client: TestClient, sent: bytes, words: str) -> None:
    number = entered(client)["id"]
    answer = client.post(f"{SEEN}/{number}/photos", content=sent)

    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert client.get(SEEN).json()[0]["photos"] == []


def test_a_form_without_a_file_is_refused(client: TestClient) -> None:
    number = entered(client)["id"]
    answer = client.post(f"{SEEN}/{number}/photos", files={"photo": (None, "words")})

    assert answer.status_code == 422
    assert "no file" in answer.json()["detail"]


def test_only_the_route_of_photos_takes_large_bodies(client: TestClient) -> None:
    number = entered(client)["id"]
    large = b"\x00" * (LARGEST_BYTES + 100_000)
    too_large = client.post(f"{SEEN}/{number}/photos", content=large)
    fits = client.post(f"{SEEN}/{number}/photos", content=large[:1_000_000])
    elsewhere = client.post(SEEN, content=b"{" + b" " * 100_000 + b"}")

    assert too_large.status_code == 413
    assert fits.status_code == 422
    assert elsewhere.status_code == 413


def test_photos_beyond_the_limit_are_refused_but_the_same_again_is_not(client: TestClient) -> None:
    number = entered(client)["id"]
    colours = ["tan", "white", "black", "red", "blue"][: MOST_PHOTOS + 1]
    answers = [client.post(f"{SEEN}/{number}/photos", content=jpeg(each)) for each in colours]
    again = client.post(f"{SEEN}/{number}/photos", content=jpeg("tan"))

    assert [answer.status_code for answer in answers] == [201] * MOST_PHOTOS + [422]
    assert again.json() == answers[0].json()


def test_a_phone_s_photo_of_twelve_megapixels_is_taken_whole(client: TestClient) -> None:
    pixels = np.random.default_rng(5).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    written = BytesIO()
    Image.fromarray(pixels).resize((4_000, 3_000)).save(written, "JPEG", quality=97)
    number = entered(client)["id"]
    made = client.post(f"{SEEN}/{number}/photos", files={"photo": written.getvalue()})

    assert len(written.getvalue()) > 3_000_000
    assert made.status_code == 201
    assert (made.json()["width"], made.json()["height"]) == (1_600, 1_200)


def test_what_may_be_spoilage_is_named(client: TestClient) -> None:
    made = entered(client, {"coat": {"pink": 10}, "slimy": True, "smell": "foul"})

    assert made["doubts"] == ["pink growth", "slime", "a foul smell"]
