"""Plans are read, edited and copied on plain pages; cautions go with a copy, whatever its name."""

import re
from collections.abc import Callable
from html import unescape

import pytest
from fastapi.testclient import TestClient

from dashboards.cautions import cautions_for
from dashboards.drawings.wheels import style_of
from service.ageing.plans import parse_plan, shipped_plans, shipped_texts
from service.api import plan_actions
from service.api.context import Context
from service.store import wheels
from tests import builders

BLUE = shipped_texts()["blue"]
SHIPPED = shipped_plans()
VERSION = SHIPPED["blue"].version
WARMER = BLUE.replace("low = 8, high = 12,", "low = 9, high = 13,")


def text_of(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def textarea_of(page: str) -> str:
    found = re.search(r"<textarea[^>]*>\n(.*?)</textarea>", page, re.DOTALL)
    assert found is not None
    return unescape(found.group(1))


def test_all_plans_are_listed_with_family_version_and_batches(client: TestClient) -> None:
    page = client.get("/plans").text

    told = text_of(page)
    for plan in SHIPPED.values():
        assert f"{plan.name} · version {plan.version} {plan.family}" in told
    assert f"October blue ages by version {VERSION}." not in told  # entered by hand, version 1
    assert "October blue ages by version 1." in told


@pytest.mark.parametrize("slug", SHIPPED)
def test_a_plan_reads_with_its_ranges_gates_care_and_sources(client: TestClient, slug: str) -> None:
    told = text_of(client.get(f"/plans/{slug}").text)

    for stage in SHIPPED[slug].stages:
        assert stage.name in told
        assert stage.gate.words in told
        assert stage.length_days.source in told
        for rule in stage.care:
            assert rule.words in told
            assert rule.source in told
    for _, days in SHIPPED[slug].readiness.days:
        assert days.source in told


def test_a_plan_reads_with_its_wrap_and_its_kitchen_fridge(client: TestClient) -> None:
    told = text_of(client.get("/plans/blue").text)

    assert told.count("It is wrapped. Temperature:") == 1
    assert told.count("It is wrapped, and in the kitchen fridge. Temperature:") == 1
    assert "in_kitchen_fridge = true" in text_of(client.get("/plans/blue/edit").text)


def test_an_old_plan_comes_into_the_form_with_its_meaning_in_lines(
    lane: Context, client: TestClient
) -> None:
    """So its stages may be renamed; saved as it came it makes no new version."""
    old = BLUE.replace("wrapped = true\n", "").replace("in_kitchen_fridge = true\n", "")
    with lane.sessions() as session:
        plan_actions.copy_plan(session, lane.plans, old, "Old blue", "Anna", builders.NOW_US)

    given = textarea_of(client.get("/plans/old_blue/edit").text)
    saved = client.post("/plans/old_blue/edit", data={"text": given})
    again = text_of(client.get("/plans/old_blue").text)
    renamed = given.replace('slug = "wrapped"', 'slug = "foil"', 1)
    client.post("/plans/old_blue/edit", data={"text": renamed})

    assert given.count("wrapped = true\n") == 2
    assert saved.status_code == 303
    assert "Version 2" not in again
    with lane.sessions() as session:
        newest = plan_actions.newest_plans(session, lane.plans)["old_blue"]
    assert newest.version == 2
    assert newest.stage("foil").wrapped


def test_the_piercing_gate_reads_in_plain_words(client: TestClient) -> None:
    told = text_of(client.get("/plans/blue").text)

    assert "The coat covers 10 % of the rind or more." in told
    assert "The rind is dry." in told
    assert (
        "Asked for from day 7, usually about day 10, late after day 14;"
        " counted from the day of making." in told
    )


def test_a_household_in_fahrenheit_reads_plans_so(
    visit: Callable[[Context], TestClient], tmp_path_factory: pytest.TempPathFactory
) -> None:
    lane = builders.larch_lane(tmp_path_factory.mktemp("lane"), fahrenheit=True)

    told = text_of(visit(lane).get("/plans/blue").text).replace("\N{WORD JOINER}", "")

    assert "46.4\N{EN DASH}53.6 °F" in told  # 8 to 12 °C


def test_an_edit_is_kept_as_the_next_version_and_the_old_one_stays_readable(
    client: TestClient,
) -> None:
    form = textarea_of(client.get("/plans/blue/edit").text)
    saved = client.post("/plans/blue/edit", data={"text": WARMER, "keep": "version"})
    newest = text_of(client.get("/plans/blue?said=saved").text)
    old = text_of(client.get(f"/plans/blue?version={VERSION}").text)

    assert form == BLUE
    assert (saved.status_code, saved.headers["location"]) == (303, "/plans/blue?said=saved")
    assert f"Version {VERSION + 1} · saved by the keeper on Wed 25 Nov 2026" in newest
    assert f"Version {VERSION} of 2; the newest is {VERSION + 1} · came with the service" in old
    assert textarea_of(client.get(f"/plans/blue/edit?version={VERSION}").text) == BLUE


def test_a_mistake_is_told_above_the_text_with_its_line_and_the_text_is_kept(
    client: TestClient,
) -> None:
    wrong = BLUE.replace("latest = 12,", "latest = 1,", 1)

    answer = client.post("/plans/blue/edit", data={"text": wrong.replace("\n", "\r\n")})

    line = wrong[: wrong.index("latest = 1,")].count("\n") + 1
    told = text_of(answer.text)
    assert answer.status_code == 422
    assert f"line {line}: latest 1 is less than expected 5; put the smaller number first" in told
    assert textarea_of(answer.text).replace("\r\n", "\n") == wrong
    assert answer.text.index('role="alert"') < answer.text.index("<textarea")
    assert "<pre>length_days = { earliest = 4, expected = 5, latest = 1," in answer.text


def test_a_short_name_that_was_changed_is_pointed_out(client: TestClient) -> None:
    answer = client.post(
        "/plans/blue/edit", data={"text": BLUE.replace('slug = "blue"', 'slug = "azure"', 1)}
    )

    assert answer.status_code == 422
    assert 'write slug = "blue", or save it as a copy' in text_of(answer.text)


def test_a_copy_is_a_plan_of_its_own_that_a_batch_may_follow(
    client: TestClient, lane: Context
) -> None:
    saved = client.post(
        "/plans/blue/edit", data={"text": WARMER, "keep": "copy", "name": "Dorset night"}
    )
    household = client.get("/household").text
    client.post(
        "/household/batches",
        data={
            "name": "Night 1",
            "plan": "dorset_night",
            "made": "2026-11-20T10:00",
            "count": 1,
            "diameter_mm": 90,
            "height_mm": 70,
            "mass_g": 430,
            "space_id": 1,
        },
    )

    with lane.sessions() as session:
        (number,) = [w.id for w, batch in wheels.wheels(session) if batch.name == "Night 1"]
    assert saved.headers["location"] == "/plans/dorset_night?said=saved"
    assert '<option value="dorset_night">Dorset night</option>' in household
    page = client.get(f"/wheels/{number}").text
    assert '<a class="in" href="/plans/dorset_night?version=1">Dorset night</a>' in page
    assert "soft blue cheese" in text_of(page)


def test_a_copy_without_a_name_is_refused_and_its_text_kept(client: TestClient) -> None:
    answer = client.post("/plans/blue/edit", data={"text": WARMER, "keep": "copy", "name": " "})

    assert answer.status_code == 422
    assert "The name of a plan has 1 to 80 signs" in text_of(answer.text)
    assert textarea_of(answer.text) == WARMER


def test_a_batch_is_moved_to_the_newest_version_by_a_button(
    client: TestClient, lane: Context
) -> None:
    client.post("/plans/blue/edit", data={"text": WARMER})
    before = client.get("/plans/blue").text

    moved = client.post("/plans/blue/batches", data={"batch_id": 2})

    assert f"Move Blue to version {VERSION + 1}" in text_of(before)
    assert moved.status_code == 303
    told = text_of(client.get(moved.headers["location"]).text)
    assert "The batch now ages by this plan." in told
    assert f"Blue ages by version {VERSION + 1}." in told
    with lane.sessions() as session:
        assert wheels.batch(session, 2).plan_version == VERSION + 1


def test_a_move_that_would_lose_a_stage_is_refused_with_the_reason(client: TestClient) -> None:
    answer = client.post("/plans/washed_rind/batches", data={"batch_id": 3})

    assert answer.status_code == 422
    assert "has no stage coat, and wheels of White mould have lived it" in text_of(answer.text)


def test_words_of_a_plan_cannot_break_its_page(client: TestClient) -> None:
    hostile = BLUE.replace(
        'advice = "Turn several',
        'advice = "</textarea><script>alert(1)</script> Turn several',
    )

    saved = client.post(
        "/plans/blue/edit", data={"text": hostile, "keep": "copy", "name": "<b>bold</b>"}
    )

    for path in (saved.headers["location"], "/plans", "/plans/b_bold_b/edit", "/household"):
        page = client.get(path).text
        assert "<script>alert" not in page
        assert "<b>bold" not in page


def test_unknown_plans_have_no_page(client: TestClient) -> None:
    for path in ("/plans/brie", "/plans/blue?version=99", "/plans/brie/edit"):
        assert client.get(path).status_code == 404


def test_cautions_and_looks_go_with_a_copy_whatever_its_name() -> None:
    for slug, text in shipped_texts().items():
        named = text.replace(f'slug = "{slug}"', 'slug = "night"', 1)
        copy = parse_plan(re.sub(r'(?m)^(name|family) = ".*"$', r'\1 = "Night"', named), "t")

        assert copy.slug == "night"
        for stage in copy.stages:
            assert cautions_for(copy, stage) == cautions_for(
                SHIPPED[slug], SHIPPED[slug].stage(stage.slug)
            )
        assert style_of(copy) == style_of(SHIPPED[slug])


@pytest.mark.parametrize(
    ("slug", "at_risk"),
    [
        ("blue", True),
        ("blue_wrapped", True),
        ("white_mould", True),
        ("washed_rind", True),
        ("tomme", False),
        ("coated", False),
        ("hard", False),
    ],
)
def test_soft_and_blue_cheese_is_cautioned_for_people_at_risk(slug: str, at_risk: bool) -> None:  # noqa: FBT001 - a column of the table
    told = " ".join(caution.words for caution in cautions_for(SHIPPED[slug], None))

    assert ("soft blue cheese" in told) == at_risk


def test_a_blue_that_its_maker_calls_hard_is_cautioned_still() -> None:
    plan = parse_plan(BLUE.replace('kind = "blue"', 'kind = "hard"', 1), "t")

    assert cautions_for(plan, None) == cautions_for(SHIPPED["blue"], None)


def test_a_plan_that_is_not_here_has_all_cautions() -> None:
    blue = SHIPPED["blue"]

    assert cautions_for(None, None) == cautions_for(blue, blue.stage("cold"))


def test_the_longest_plan_comes_through_the_form_as_browsers_send_it(client: TestClient) -> None:
    form = client.get("/plans/blue/edit").text
    spare = plan_actions.LONGEST_TEXT - len(BLUE)
    longest = f"{BLUE}# {'%' * (spare - 3)}\n"

    saved = client.post("/plans/blue/edit", files={"text": (None, longest.replace("\n", "\r\n"))})

    assert 'enctype="multipart/form-data"' in form
    assert saved.status_code == 303
    assert "%%%" in textarea_of(client.get("/plans/blue/edit").text)


def test_a_text_that_is_far_too_long_is_refused_with_its_limit(client: TestClient) -> None:
    answer = client.post("/plans/blue/edit", files={"text": (None, "#" * 41_000)})

    assert answer.status_code == 422
    assert f"at most {plan_actions.LONGEST_TEXT:,} signs" in text_of(answer.text)
