"""The page that looks back from what was seen."""

# ruff: noqa: RUF001 - the reader gets real dashes

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from dashboards.lookback_words import compared_words
from service.ageing.lookback import Feature, Sight, Value, compare
from service.ageing.noted import Condition
from service.api.context import Context
from tests import builders, planted_weeks
from tests.page_words import words_of
from tests.planted_looks import enter_looks, household

Visit = Callable[[Context], TestClient]
CLAIMS = re.compile(r"\b(because|caused?|due to|leads? to|led to|made it)\b", re.IGNORECASE)


def looked(context: Context, lived: planted_weeks.Weeks, condition: Condition) -> int:
    """All looks of the weeks; the newest that shows the condition."""
    seen = planted_weeks.seen_of(lived.drivers[condition], np.random.default_rng(500))
    return enter_looks(context, lived, condition, seen, seen.size)


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Context, int]:
    """Caves in which dryness makes cracks likely, and the newest look with cracks."""
    lived = planted_weeks.weeks(500)
    folder = tmp_path_factory.mktemp("caves")
    context = household(folder, lived, every_min=15)
    return context, looked(context, lived, Condition.CRACKS)


def test_the_page_tells_the_window_and_what_differs_most(
    planted: tuple[Context, int], visit: Visit
) -> None:
    context, number = planted
    page = visit(context).get(f"/observations/{number}/lookback").text
    said = words_of(page)

    assert re.search(r"In the 7 days before: [\d.]+ h too dry", said)
    assert "What differs most: hours too dry, higher where “cracks” was seen" in said
    assert "it stands out" in said
    assert re.search(r"n = \d+", said)
    assert re.search(r"higher in \d+ of 100 pairs \(\d+–\d+\)", said)


def test_the_page_never_claims_a_cause(planted: tuple[Context, int], visit: Visit) -> None:
    context, number = planted
    said = words_of(visit(context).get(f"/observations/{number}/lookback").text)

    assert "does not say that one made the other" in said
    assert CLAIMS.findall(said) == []


def test_the_window_is_drawn_and_the_look_is_marked(
    planted: tuple[Context, int], visit: Visit
) -> None:
    context, number = planted
    client = visit(context)
    page = client.get(f"/observations/{number}/lookback?days=3").text
    chart: dict[str, Any] = client.get(f"/observations/{number}/lookback/figure.json?days=3").json()
    (window,) = [each for each in chart["layout"]["shapes"] if each.get("name") == "window"]
    marks = next(each for each in chart["data"] if each["name"] == "stages")

    assert page.count('class="window"') == 2
    assert window["x1"] - window["x0"] == 3 * 86_400_000
    assert window["x1"] in marks["x"]
    assert any(each.startswith("seen ") for each in marks["customdata"])


def test_a_wheel_s_page_leads_to_its_look_back(client: TestClient) -> None:
    made = client.post("/api/wheels/1/observations", json={"rind": "wet"}).json()["id"]

    assert f'href="/observations/{made}/lookback"' in client.get("/wheels/1").text


def test_other_windows_are_offered(client: TestClient) -> None:
    made = client.post("/api/wheels/1/observations", json={"rind": "wet"}).json()["id"]
    page = client.get(f"/observations/{made}/lookback?days=3").text

    for days in (3, 7, 14):
        assert f"lookback?days={days}&amp;condition=wet%20rind" in page
    assert re.search(r'days=3[^>]*aria-current="page"', page)


def test_too_few_looks_are_told_in_words(client: TestClient) -> None:
    made = client.post("/api/wheels/1/observations", json={"rind": "wet"}).json()["id"]
    said = words_of(client.get(f"/observations/{made}/lookback?days=3").text)

    assert "Too few to compare: at least 4 of each are needed." in said
    assert "When it was last turned is not recorded." in said


def test_a_look_without_anything_notable_is_not_compared(client: TestClient) -> None:
    made = client.post("/api/wheels/1/observations", json={"rind": "tacky"}).json()["id"]
    said = words_of(client.get(f"/observations/{made}/lookback?days=3").text)

    assert "Nothing was noted here that is compared" in said


def test_words_of_the_maker_stay_words(client: TestClient) -> None:
    seen = {"rind": "wet", "words": "<script>alert(1)</script> cracked"}
    made = client.post("/api/wheels/1/observations", json=seen).json()["id"]
    page = client.get(f"/observations/{made}/lookback?days=3").text

    assert "<script>alert" not in page
    assert "Cracks" in page


def test_fahrenheit_households_read_fahrenheit(tmp_path: Path, visit: Visit) -> None:
    client = visit(builders.larch_lane(tmp_path, fahrenheit=True))
    made = client.post("/api/wheels/1/observations", json={"rind": "wet"}).json()["id"]
    said = words_of(client.get(f"/observations/{made}/lookback?days=3").text)

    assert re.search(r"mean temperature 50\.\d °F", said)


def test_an_observation_that_is_not_there_has_no_look_back(client: TestClient) -> None:
    assert client.get("/observations/9/lookback").status_code == 404


def test_what_measures_the_same_and_lies_as_far_apart_is_told() -> None:
    """A week is as warm as its warm hours make it."""
    hours = np.array([30.0, 25.0, 20.0, 15.0, 2.0, 1.0, 0.0, 0.0])
    measured = {Feature.TOO_WARM: hours, Feature.TEMPERATURE: 10.0 + hours / 42.0}
    windows = [
        (
            Sight(at, at, at, 0, "tomme", "ripening", 30.0, {Condition.OOZY: at < 4}),
            {feature: Value(float(values[at]), 1.0) for feature, values in measured.items()},
        )
        for at in range(8)
    ]
    found = compare(Condition.OOZY, windows, builders.DAY_US, np.random.default_rng(1))
    said = words_of(" ".join(compared_words(found)))

    assert "What differs most: mean temperature, higher where" in said
    assert (
        "These looks do not tell it from what also measures temperature:"
        " hours too warm, higher in 100 of 100 pairs"
    ) in said
    assert CLAIMS.findall(said) == []
