"""The page for what cannot be says it in one sentence that nobody else can turn."""

import re

import pytest
from fastapi.testclient import TestClient

TURNED = "\u202e\u05e9\u05dc\u05d5\u05dd"


@pytest.mark.parametrize("path", ["/plans/{}", "/nowhere/{}"])
def test_what_was_asked_for_turns_no_text(client: TestClient, path: str) -> None:
    answer = client.get(path.format(TURNED))

    assert answer.status_code == 404
    assert "\u202e" not in answer.text


def test_it_says_one_sentence_and_the_way_back(client: TestClient) -> None:
    page = client.get("/wheels/99").text

    assert re.findall(r'role="alert">([^<]*)<', page) == ["There is no wheel 99"]
    assert 'href="/">To the shelf' in page


def test_a_refused_form_leads_back_to_its_page(client: TestClient) -> None:
    refused = client.post(
        "/makes/1/timers",
        data={"name": "Stir", "duration": "soon"},
        headers={"Referer": "http://localhost/makes/1?from=care"},
    )

    assert 'href="/makes/1?from=care">Back to where you were' in refused.text


@pytest.mark.parametrize(
    "referer",
    ["", "https://elsewhere.example/makes/1", "http://[", "javascript:alert(1)", "about:blank"],
)
def test_another_site_is_no_place_to_go_back_to(client: TestClient, referer: str) -> None:
    page = client.get("/wheels/99", headers={"Referer": referer}).text

    assert "Back to where you were" not in page


def test_the_way_back_never_leaves_the_site(client: TestClient) -> None:
    referer = "http://localhost//elsewhere.example/makes"

    page = client.get("/wheels/99", headers={"Referer": referer}).text

    assert 'href="/elsewhere.example/makes">Back to where you were' in page
