"""The gate's page: what it asks, when it opens, and what it keeps."""

import re

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.store import wheels
from tests.page_words import words_of


def test_a_gate_passed_early_is_refused_with_the_day_in_words(client: TestClient) -> None:
    edition = re.search(r'name="edition" value="([^"]+)"', client.get("/wheels/2/gate").text)
    assert edition is not None
    form = {"edition": edition[1], "stage": "ripening", "wheel": "2"}

    refused = words_of(client.post("/wheels/2/gate", data=form).text)

    assert re.search(r"It is early, before \w{3} \d+ \w{3}; say why you go on", refused)


def test_not_yet_hides_the_question_until_its_day(client: TestClient) -> None:
    gate = client.get("/wheels/5/gate").text
    edition = re.search(r'name="edition" value="([^"]+)"', gate)
    assert edition is not None

    answer = client.post(
        "/wheels/5/gate",
        data={"edition": edition[1], "stage": "coat", "wheel": ["5", "6", "7", "8"], "days": "3"},
    )

    said = words_of(client.get(answer.headers["location"]).text)
    assert "Not yet: White mould 1–4. It is asked again Sat 28 Nov." in said  # noqa: RUF001 - a dash
    assert "White mould 1–4: The coat is complete" not in said  # noqa: RUF001 - a dash


def test_a_refused_gate_ticks_no_wheel_that_was_not_ticked(client: TestClient) -> None:
    gate = client.get("/wheels/5/gate").text
    edition = re.search(r'name="edition" value="([^"]+)"', gate)
    assert edition is not None

    refused = client.post("/wheels/5/gate", data={"edition": edition[1], "stage": "coat"})

    assert refused.status_code == 422
    assert "Choose one wheel or more" in words_of(refused.text)
    assert not re.findall(r'name="wheel" value="(\d)" checked', refused.text)


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/wheels/5/stage", {"stage": "wrapped"}),
        ("/household/stage", {"wheel_id": "5"}),
    ],
)
def test_a_stage_ends_at_its_gate_and_nowhere_else(
    client: TestClient, lane: Context, path: str, form: dict[str, str]
) -> None:
    answer = client.post(path, data=form)

    assert (answer.status_code, answer.headers["location"]) == (303, "/wheels/5/gate")
    with lane.sessions() as session:
        assert [lived.stage for lived in wheels.stages(session, 5)] == ["coat"]


def test_the_household_offers_each_wheel_s_gate(client: TestClient) -> None:
    page = client.get("/household").text
    form = page[page.index('action="/household/stage"') :]

    assert '<option value="5">White mould 1: Coat</option>' in form


def test_a_reason_kept_at_a_gate_stands_in_the_history_of_the_wheel(client: TestClient) -> None:
    gate = client.get("/wheels/5/gate").text
    edition = re.search(r'name="edition" value="([^"]+)"', gate)
    assert edition is not None
    form = {"edition": edition[1], "stage": "coat", "wheel": "5", "reason": "I was away"}

    client.post("/wheels/5/gate", data=form)

    said = words_of(client.get("/wheels/5").text)
    assert re.search(r"Went on to Wrapped, without coat of 95 % or more.*\. I was away", said)
