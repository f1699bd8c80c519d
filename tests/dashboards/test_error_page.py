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
