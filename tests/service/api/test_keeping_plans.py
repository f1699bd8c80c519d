"""A maker's plan is kept in every version; batches keep theirs until they are moved."""

import json
from collections.abc import Iterator
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from service.ageing.plans import shipped_plans, shipped_texts
from service.api import actions, plan_actions
from service.api.context import Context
from service.api.plan_actions import PlanRefusedError
from service.api.refusals import RefusedError
from service.clock import DAY_US
from service.errors import UnknownError
from service.judging import judge_wheel, plan_for, stage_spans
from service.store import plans as plan_store
from service.store import wheels
from service.store.ageing_tables import PlanEdition
from service.store.database import Session
from service.store.tables import Batch

BLUE = shipped_texts()["blue"]
SHIPPED = shipped_plans()["blue"].version
WARMER = BLUE.replace("low = 8, high = 12,", "low = 9, high = 13,")
"""The same with other ranges in three of its stages."""
NOW_US = 1_795_608_000_000_000


@pytest.fixture
def session(context: Context) -> Iterator[Session]:
    """A session on the store, in which batch 1 ages by the shipped blue."""
    with context.sessions() as opened:
        yield opened


def save(session: Session, context: Context, text: str, at_us: int = NOW_US) -> int:
    return plan_actions.save_plan(session, context.plans, text, "Anna", at_us).version


def test_an_edited_plan_becomes_the_next_version_whatever_its_text_says(
    session: Session, context: Context
) -> None:
    first = save(session, context, WARMER)
    second = save(session, context, WARMER.replace("version = 3", "version = 77") + "# again\n")

    assert (first, second) == (SHIPPED + 1, SHIPPED + 2)
    kept = [each.version for each in plan_store.editions(session, "blue")]
    assert kept == [SHIPPED, SHIPPED + 1, SHIPPED + 2]


def test_a_plan_that_is_sent_twice_is_kept_once(session: Session, context: Context) -> None:
    first = save(session, context, WARMER)
    again = save(session, context, WARMER.replace("\n", "\r\n"))

    assert first == again
    assert len(plan_store.editions(session, "blue")) == 2


def test_a_shipped_plan_that_nobody_changed_gets_no_new_version(
    session: Session, context: Context
) -> None:
    assert save(session, context, BLUE) == SHIPPED


def test_no_version_is_overwritten(session: Session, context: Context) -> None:
    save(session, context, WARMER)
    before = [each.text for each in plan_store.editions(session, "blue")]

    save(session, context, WARMER.replace("low = 9", "low = 7"))

    assert [each.text for each in plan_store.editions(session, "blue")][:2] == before


def test_a_text_that_is_no_plan_is_refused_with_its_line(
    session: Session, context: Context
) -> None:
    with pytest.raises(PlanRefusedError, match=r"line \d+: latest 1 is less") as caught:
        save(session, context, BLUE.replace("latest = 12,", "latest = 1,", 1))

    line = BLUE[: BLUE.index("latest = 12,")].count("\n") + 1
    assert caught.value.line == line
    assert len(plan_store.editions(session, "blue")) == 1


@pytest.mark.parametrize("text", ["\ud800" + BLUE, "# " + "x" * 40_000, "x" * 40_001])
def test_what_no_store_could_hold_is_refused(session: Session, context: Context, text: str) -> None:
    with pytest.raises(RefusedError):
        save(session, context, text)


def test_a_copy_gets_a_name_a_short_name_and_version_1(session: Session, context: Context) -> None:
    copy = plan_actions.copy_plan(
        session, context.plans, BLUE, "Blue of the Larch № 2", "Anna", NOW_US
    )

    assert (copy.slug, copy.name, copy.version) == (
        "blue_of_the_larch_no_2",
        "Blue of the Larch № 2",
        1,
    )
    assert copy.kind == shipped_plans()["blue"].kind
    assert [stage.slug for stage in copy.stages] == [
        stage.slug for stage in shipped_plans()["blue"].stages
    ]


def test_two_copies_of_one_name_are_refused_and_short_names_never_meet(
    session: Session, context: Context
) -> None:
    first = plan_actions.copy_plan(session, context.plans, BLUE, "Blau!", "Anna", NOW_US)
    second = plan_actions.copy_plan(session, context.plans, BLUE, "Blau?", "Anna", NOW_US)
    with pytest.raises(RefusedError, match="there is a plan blau! already"):
        plan_actions.copy_plan(session, context.plans, BLUE, "blau!", "Anna", NOW_US)

    assert (first.slug, second.slug) == ("blau", "blau_2")


@pytest.mark.parametrize("name", ["", '"', "a\\b", "two\nlines", "x" * 81])
def test_a_name_that_cannot_stand_in_a_plan_is_refused(
    session: Session, context: Context, name: str
) -> None:
    with pytest.raises(RefusedError, match="name of a plan"):
        plan_actions.copy_plan(session, context.plans, BLUE, name, "Anna", NOW_US)


@pytest.mark.parametrize("name", ["Кладовая", "12 weeks", "漢字"])
def test_any_name_of_a_copy_has_a_short_name(session: Session, context: Context, name: str) -> None:
    copy = plan_actions.copy_plan(session, context.plans, BLUE, name, "Anna", NOW_US)

    assert plan_actions.version_of(session, context.plans, copy.slug).plan.name == name


def test_a_batch_keeps_the_text_of_its_shipped_plan(session: Session) -> None:
    edition = plan_store.find(session, "blue", SHIPPED)

    assert edition is not None
    assert edition.text == BLUE
    assert edition.made_by is None


def test_a_batch_runs_on_under_its_version_when_the_service_brings_another(
    session: Session, context: Context
) -> None:
    batch = wheels.batch(session, 1)
    later = dict(context.plans) | {"blue": context.plans["tomme"]}

    plan = plan_for(session, later, batch)

    assert plan is not None
    assert (plan.slug, plan.version) == ("blue", SHIPPED)


def test_a_batch_without_a_kept_plan_takes_the_shipped_one(
    session: Session, context: Context
) -> None:
    old = Batch(site_id=1, name="Old", plan="tomme", plan_version=1, made_us=NOW_US)
    wheels.add_batch(session, old, [])

    assert plan_for(session, context.plans, old) == context.plans["tomme"]


def test_start_up_keeps_the_plans_of_batches_that_came_before(
    session: Session, context: Context
) -> None:
    now = context.plans["tomme"].version
    for name, version in (("Now", now), ("Long ago", 1)):
        wheels.add_batch(
            session,
            Batch(site_id=1, name=name, plan="tomme", plan_version=version, made_us=NOW_US),
            [],
        )

    plan_store.keep_running(session, NOW_US)
    plan_store.keep_running(session, NOW_US)

    assert [each.version for each in plan_store.editions(session, "tomme")] == [now]


def test_a_shipped_plan_whose_number_the_makers_own_has_taken_is_listed_beside_it(
    session: Session, context: Context
) -> None:
    number = context.plans["tomme"].version
    own = shipped_texts()["tomme"].replace('name = "Tomme', 'name = "Our tomme')
    plan_store.add(
        session,
        PlanEdition(slug="tomme", version=number, text=own, made_us=1, made_by="Anna"),
    )

    plan_store.keep_running(session, NOW_US)
    plan_store.keep_running(session, NOW_US)

    known = plan_actions.versions(session, context.plans, "tomme")
    assert [(each.plan.version, each.made_by) for each in known] == [
        (number, "Anna"),
        (number + 1, None),
    ]
    assert known[1].plan == replace(context.plans["tomme"], version=number + 1)
    assert plan_actions.newest_plans(session, context.plans)["tomme"] == known[0].plan


def test_a_batch_can_follow_a_shipped_plan_whose_number_was_taken(
    session: Session, context: Context
) -> None:
    taken = plan_store.find(session, "blue", SHIPPED)
    assert taken is not None
    taken.text, taken.made_by = WARMER, "Anna"
    session.add(taken)
    session.flush()
    plan_store.keep_running(session, NOW_US)

    batch = plan_actions.change_plan(session, context.plans, 1, "blue", "Anna", NOW_US, SHIPPED + 1)

    plan = plan_for(session, context.plans, batch)
    assert plan == replace(context.plans["blue"], version=SHIPPED + 1)


def test_an_edition_that_cannot_be_read_breaks_nothing(session: Session, context: Context) -> None:
    plan_store.add(
        session,
        PlanEdition(slug="blue", version=99, text="format = 9", made_us=1, made_by="Anna"),
    )
    batch = wheels.batch(session, 1)
    batch.plan_version = 99
    session.add(batch)
    session.flush()

    assert judge_wheel(session, context.plans, 1, NOW_US).edition is None
    assert plan_actions.newest_plans(session, context.plans)["blue"].version == SHIPPED


def test_a_new_batch_runs_under_the_makers_newest_version(
    session: Session, context: Context
) -> None:
    save(session, context, WARMER)

    batch_id, (wheel_id,) = actions.add_batch(
        session,
        context.plans,
        "Blue 16",
        "blue",
        NOW_US,
        [actions.EnteredWheel(90.0, 70.0, 430.0)],
        2,
        "ripening",
        NOW_US,
    )

    assert wheels.batch(session, batch_id).plan_version == SHIPPED + 1
    stage = judge_wheel(session, context.plans, wheel_id, NOW_US).stage
    assert stage is not None
    assert stage.target.temperature_c is not None
    assert stage.target.temperature_c.low == 9.0


def test_the_makers_version_goes_before_a_shipped_one_of_a_higher_number(
    session: Session, context: Context
) -> None:
    old = shipped_plans()["blue"]
    save(session, context, WARMER)
    later = dict(context.plans) | {"blue": context.plans["blue_wrapped"]}

    newest = plan_actions.newest_plans(session, later)["blue"]

    assert newest.version == old.version + 1
    assert newest.stage("ripening").target.temperature_c is not None


def test_a_moved_batch_keeps_the_ranges_of_stages_that_are_over(
    session: Session, context: Context
) -> None:
    made_us = wheels.batch(session, 1).made_us
    wheels.begin_stage(session, 1, "first_growth", made_us + DAY_US // 4)
    wheels.begin_stage(session, 1, "ripening", made_us + DAY_US // 2)
    save(session, context, WARMER)

    plan_actions.change_plan(session, context.plans, 1, "blue", "Anna", made_us + DAY_US)

    spans = {span.stage.slug: span for span in stage_spans(session, context.plans, 1)}
    over, now = (spans[slug].stage.target.temperature_c for slug in ("first_growth", "ripening"))
    assert over is not None
    assert now is not None
    assert (over.low, now.low) == (8.0, 9.0)


def test_a_change_of_plan_is_kept_with_who_and_when(session: Session, context: Context) -> None:
    save(session, context, WARMER)
    for _ in range(2):
        plan_actions.change_plan(session, context.plans, 1, "blue", "Anna", NOW_US)

    (change,) = plan_store.changes(session, 1)
    assert (change.from_plan, change.from_version) == ("blue", SHIPPED)
    assert (change.to_plan, change.to_version) == ("blue", SHIPPED + 1)
    assert (change.made_by, change.time_us) == ("Anna", NOW_US)


def test_a_plan_without_a_stage_that_was_lived_is_refused_with_the_stage(
    session: Session, context: Context
) -> None:
    wheels.begin_stage(session, 1, "piercing", NOW_US)

    with pytest.raises(RefusedError, match="has no stage piercing, and wheels of Blue of Novem"):
        plan_actions.change_plan(session, context.plans, 1, "tomme", "Anna", NOW_US)

    assert wheels.batch(session, 1).plan == "blue"
    assert list(plan_store.changes(session, 1)) == []


def test_a_batch_goes_over_to_another_plan(session: Session, context: Context) -> None:
    plan_actions.change_plan(session, context.plans, 1, "tomme", "Anna", NOW_US)

    assert wheels.batch(session, 1).plan == "tomme"
    assert plan_store.find(session, "tomme", context.plans["tomme"].version) is not None


def test_unknown_plans_and_versions_are_unknown(session: Session, context: Context) -> None:
    for slug, version in (("brie", None), ("blue", 99), ("../../blue", None)):
        with pytest.raises(UnknownError):
            plan_actions.version_of(session, context.plans, slug, version)


def test_the_api_keeps_reads_and_lists_plans(client: TestClient) -> None:
    made = client.post("/api/plans", json={"text": WARMER})
    newest = client.get("/api/plans/blue").json()
    old = client.get("/api/plans/blue", params={"version": SHIPPED}).json()
    listed = {each["slug"]: each["version"] for each in client.get("/api/plans").json()}

    assert (made.status_code, made.json()["version"]) == (201, SHIPPED + 1)
    assert (newest["version"], newest["versions"]) == (SHIPPED + 1, [SHIPPED + 1, SHIPPED])
    assert (newest["made_by"], old["made_by"], old["text"]) == ("the keeper", None, BLUE)
    assert listed["blue"] == SHIPPED + 1
    assert len(listed) == 7


def test_the_api_tells_gates_care_and_readiness_with_their_sources(client: TestClient) -> None:
    plan = client.get("/api/plans/blue").json()

    growth = next(stage for stage in plan["stages"] if stage["slug"] == "first_growth")
    assert growth["gate"]["rind"] == ["dry"]
    assert growth["gate"]["days"]["counted"] == "make"
    assert {"turn", "pat dry"} <= {rule["work"] for rule in growth["care"]}
    assert plan["readiness"]["from_stage"] == "first_growth"
    assert plan["readiness"]["days"][0][0] == "firm"
    assert (plan["kind"], plan["smell"]) == ("blue", "strong")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "line 1: format is missing here"),
        (BLUE.replace("latest = 12,", "latest = 1,", 1), "latest 1 is less than expected 5"),
        ("x" * 40_001, "text: String should have at most 40000 characters"),
        ("a = " + "[" * 9_000, "nested too deep"),
        ("\ud800" + BLUE, "unable to parse raw data as a unicode string"),
    ],
)
def test_the_api_refuses_what_is_no_plan_and_says_why(
    client: TestClient, text: str, told: str
) -> None:
    answer = client.post(
        "/api/plans",
        content=json.dumps({"text": text}),
        headers={"content-type": "application/json"},
    )

    assert answer.status_code == 422
    assert told in answer.json()["detail"]


def test_the_api_moves_a_batch(client: TestClient) -> None:
    client.post("/api/plans", json={"text": WARMER})

    moved = client.post("/api/batches/1/plan", json={"plan": "blue"})
    back = client.post("/api/batches/1/plan", json={"plan": "blue", "version": SHIPPED})
    wheel = client.get("/api/wheels/1").json()

    assert moved.json() == {"batch_id": 1, "plan": "blue", "version": SHIPPED + 1}
    assert back.json()["version"] == SHIPPED
    assert (wheel["plan"], wheel["plan_version"]) == ("blue", SHIPPED)


def test_strangers_learn_nothing_of_plans(stranger: TestClient) -> None:
    answers = [
        stranger.get("/api/plans/blue"),
        stranger.post("/api/plans", json={"text": BLUE}),
        stranger.post("/api/batches/1/plan", json={"plan": "tomme"}),
    ]

    assert {answer.status_code for answer in answers} == {401}
