"""Nothing that the house says claims that a cheese may be eaten; cautions stand where they belong.

Read are all pages of the demo's Larch Lane with a make day and looks, and all sentences in the
house's own files, shown there or not. A sentence that speaks of safety and claims nothing stands
below, word by word.
"""

import importlib
import itertools
import pkgutil
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlmodel import Session

import dashboards.pages
from dashboards.site import site
from service.api.context import Context
from service.app import build
from service.clock import DemoClock
from service.demo.run import fill
from service.settings import DemoSettings, Settings
from service.store import observations, places, quarantine, wheels
from tests import builders
from tests.prose import ROOT, data_sentences, house_sentences, page_sentences

CLAIMS = re.compile(
    r"\bsafe(ty|ly|r)?\b"
    r"|\bedible\b|\beatable\b|\bwholesome\b|\bharmless\b|\bnot (harmful|dangerous|poisonous)\b"
    r"|\bfit (to eat|to be eaten|for (eating|food|consumption|humans?))\b"
    r"|\b(fine|good|ok|okay|all right|alright) (to eat|to be eaten|for eating)\b"
    r"|\b(can|may|could) (\w+ ){0,2}(be )?eaten?\b"
    r"|\b(no|without|free (of|from)) (any )?(\w+ )?(risk|danger|harm|germs?|pathogens?|listeria)\b"
    r"|\bnothing to (fear|worry about)\b|\bworry[- ]free\b",
    re.IGNORECASE,
)
CLAIM_NOTHING: frozenset[str] = frozenset(
    {
        "The days alone make no cheese safe.",
        "MAFF booklet Food Safety (United Kingdom): 5 °C.",
        "at or below 5 °C: MAFF booklet Food Safety;",
        "whether a cheese may be eaten they do not say.",
        "This tells of firmness, not of whether it may be eaten.",
        "this notice cannot judge what may be eaten.",
        "Nothing here says that a cheese may be eaten.",
    }
)
AT_RISK = "pregnant, old, very young or of weakened immunity"
THROW_AWAY = "throw the cheese away"
RAW = "unpasteurised milk"
LOCAL = "Local food rules come first"
A_DAY_OF_READINGS = 1_500
"""Lines kept of each sensor's eight weeks: the pages say the same of one day, and sooner."""
KINDS_AT_RISK = {"blue", "blue_wrapped", "white_mould", "washed_rind"}


@pytest.fixture(scope="module")
def lane(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Context]:
    """The demo's own Larch Lane with the last day of its readings, a make day and bad messages."""
    readings, data = tmp_path_factory.mktemp("readings"), tmp_path_factory.mktemp("data")
    shutil.copy(ROOT / "sample_readings" / "larch_lane.json", readings)
    for file in (ROOT / "sample_readings").glob("*.csv"):
        lines = file.read_text().splitlines(keepends=True)
        (readings / file.name).write_text("".join([lines[0], *lines[-A_DAY_OF_READINGS:]]))
    settings = Settings(
        data_folder=data, demo=DemoSettings(started_us=builders.NOW_US, speed=1e-15)
    )
    said: list[str] = []
    fill(readings, settings.database, DemoClock(builders.NOW_US, 1e-15), said.append)
    context = build(settings)
    with context.sessions() as session:
        quarantine.keep(session, builders.NOW_US, "caves/x/y/senml", b"{}", "no pack")
    yield context
    context.engine.dispose()


@pytest.fixture(scope="module")
def client(lane: Context) -> Iterator[TestClient]:
    with TestClient(
        site(lane), base_url="http://localhost", client=("127.0.0.1", 50_000)
    ) as browser:
        for milk in ("raw", "pasteurised"):
            browser.post("/makes", data={"name": f"Of {milk}", "plan": "blue", "raw_milk": milk})
        yield browser


def test_no_sentence_of_the_house_says_that_a_cheese_may_be_eaten() -> None:
    claims = {
        (file, said)
        for file, said in house_sentences()
        if CLAIMS.search(said) and said not in CLAIM_NOTHING
    }

    assert claims == set()


def test_the_walk_reads_words_tables_plans_templates_and_scripts() -> None:
    """Else the rule above would hold of nothing: one sentence of each, as it stands in its file."""
    told: dict[str, list[str]] = {}
    for file, said in house_sentences():
        told.setdefault(file, []).append(said)
    words = {Path(file).name for file in told}

    assert {file.name for file in (ROOT / "dashboards").glob("*words.py")} <= words
    assert {file.name for file in (ROOT / "service/ageing/plans").glob("*.toml")} <= words
    assert {file.name for file in (ROOT / "service/ageing").glob("*notices.py")} <= words
    assert {file.name for file in (ROOT / "dashboards/templates").glob("*.html")} <= words
    assert sum(len(each) for each in told.values()) > 5_000


@pytest.mark.parametrize(
    "claim",
    [
        "This blue is safe to eat.",
        "It may now be eaten.",
        "The rind is edible",
        "Fit to eat from Thu 3 Dec",
        "ready; no risk of listeria",
    ],
)
def test_a_claim_is_known_for_one(claim: str) -> None:
    assert CLAIMS.search(claim)


def test_no_page_says_that_a_cheese_may_be_eaten(lane: Context, client: TestClient) -> None:
    claims, seen = set(), 0
    for path in pages(lane):
        answer = client.get(path)
        assert answer.status_code in {200, 422}, path
        seen += 1
        claims |= {
            (path, said)
            for said in said_by(answer)
            if CLAIMS.search(said) and said not in CLAIM_NOTHING
        }

    assert seen >= len(routes())
    assert claims == set()


def test_each_wheel_s_page_carries_the_cautions_of_its_style(
    lane: Context, client: TestClient
) -> None:
    with lane.sessions() as session:
        told = [(wheel.id, batch.plan) for wheel, batch in wheels.wheels(session)]

    assert {plan for _, plan in told} >= {"blue", "tomme", "white_mould"}
    for number, plan in told:
        said = client.get(f"/wheels/{number}").text
        assert THROW_AWAY in said, number
        assert LOCAL in said, number
        # Of its milk nothing is said, so that it may be raw.
        assert RAW in said, number
        assert (said.count(AT_RISK) > 1) is (plan in KINDS_AT_RISK), (number, plan)


def test_each_plan_s_page_carries_the_cautions_of_its_kind(
    lane: Context, client: TestClient
) -> None:
    for slug in lane.plans:
        said = client.get(f"/plans/{slug}").text
        assert (said.count(AT_RISK) > 1) is (slug in KINDS_AT_RISK), slug
        assert THROW_AWAY in said, slug


def test_where_a_maker_looks_tastes_or_plans_to_eat_the_cautions_stand(
    client: TestClient,
) -> None:
    assert THROW_AWAY in client.get("/wheels/1/look").text
    planner = client.get("/planner").text
    assert THROW_AWAY in planner
    assert AT_RISK in planner
    assert LOCAL in planner


def test_a_make_day_of_raw_milk_says_what_that_means_and_one_of_pasteurised_does_not(
    client: TestClient,
) -> None:
    raw, pasteurised = (client.get(f"/makes/{number}").text for number in (1, 2))

    assert RAW in raw
    assert "60 days" in raw
    assert RAW not in pasteurised
    assert LOCAL in pasteurised


def routes() -> list[str]:
    """The paths of all pages, from the routers of their modules."""
    found = []
    for module in pkgutil.iter_modules(dashboards.pages.__path__):
        page = importlib.import_module(f"dashboards.pages.{module.name}")
        router = getattr(page, "router", None)
        if router is not None:
            found += [
                route.path
                for route in router.routes
                if isinstance(route, APIRoute) and "GET" in (route.methods or ())
            ]
    return found


def said_by(answer: Response) -> Iterator[str]:
    """The sentences of an answer, a page or data."""
    if "json" in answer.headers["content-type"]:
        return data_sentences(answer.json())
    return page_sentences(answer.text)


def pages(lane: Context) -> list[str]:
    """Every page and every drawing's data, of everything that the household holds."""
    with lane.sessions() as session:
        numbers = _numbers(session)
    found = ["/api/openapi.json"]
    for route in routes():
        names = re.findall(r"\{(\w+)\}", route)
        values: dict[str, list[Any]] = {
            **numbers,
            "slug": list(lane.plans),
            "code": ["no-such-code"],
        }
        found += [
            route.format(**dict(zip(names, chosen, strict=True))) + _query(route)
            for chosen in itertools.product(*(values[name] for name in names))
        ]
    return found


def _numbers(session: Session) -> dict[str, list[int]]:
    held = wheels.wheels(session)
    wheel_ids = [wheel.id for wheel, _ in held if wheel.id is not None]
    seen = observations.of_wheels(session, wheel_ids)
    return {
        "wheel_id": wheel_ids,
        "batch_id": sorted({batch.id for _, batch in held if batch.id is not None}),
        "space_id": [space.id for space in places.spaces(session) if space.id is not None],
        "sensor_id": [sensor.id for sensor in places.sensors(session) if sensor.id is not None],
        # What follows a look is worked out anew for each: the last of each wheel serves.
        "observation_id": sorted({each.wheel_id: each.id or 0 for each in seen}.values()),
        "make_id": [1, 2],
    }


def _query(route: str) -> str:
    return "?kind=no%20pack" if route == "/quarantine/away" else ""
