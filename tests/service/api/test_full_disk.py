"""A full disk is answered as such, stores nothing by halves, and lets the keeper look."""

import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.context import Context
from service.app import create_app

ROOT = Path(__file__).parents[3]
OWN_FILE_SYSTEM = ["unshare", "--user", "--map-root-user", "--mount"]
MOUNTED = 'mount -t tmpfs -o size=16m tmpfs "$1" && exec "$0" -m tests.full_disk "$1"'
HALF_A_PHOTO = 2 * 1024 * 1024


@cache
def may_mount() -> bool:
    """Whether this machine lets a process have a file system of its own, as most do."""
    try:
        return subprocess.run([*OWN_FILE_SYSTEM, "true"], check=False).returncode == 0
    except FileNotFoundError:
        return False


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What a household on a full disk answers."""
    folder = str(tmp_path_factory.mktemp("full"))
    command = (
        [*OWN_FILE_SYSTEM, "sh", "-c", MOUNTED, sys.executable, folder]
        if may_mount()
        else [sys.executable, "-m", "tests.full_disk", folder]
    )
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=120)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_the_disk_of_these_tests_is_truly_full(told: dict[str, Any]) -> None:
    assert told["way"] == ("file system" if may_mount() else "pages")


def test_a_form_on_a_full_disk_gets_a_page_that_says_what_happened(told: dict[str, Any]) -> None:
    status, kind, page = told["page"]

    assert (status, kind) == (507, "text/html; charset=utf-8")
    assert "The disk is full: nothing of what you sent was stored" in page
    assert "make room on the machine that runs Wheelward, then send it again" in page


def test_the_api_on_a_full_disk_tells_it_as_a_problem(told: dict[str, Any]) -> None:
    status, kind, problem = told["api"]

    assert (status, kind) == (507, "application/problem+json")
    assert (problem["status"], problem["title"]) == (507, "Insufficient Storage")
    assert problem["detail"].startswith("the disk is full: nothing of what you sent was stored")


def test_such_an_answer_carries_what_every_answer_does(told: dict[str, Any]) -> None:
    assert told["policy"]


def test_nothing_of_the_touch_is_stored_and_the_same_touch_does_later(
    told: dict[str, Any],
) -> None:
    assert told["stored_full"] == 0

    assert (told["again"], told["stored_then"]) == (201, 4)


def test_who_is_to_stay_signed_in_for_longer_may_look_on_a_full_disk(
    told: dict[str, Any],
) -> None:
    assert told["look"] == 200


def test_a_photo_that_finds_no_room_on_its_way_in_is_told_the_same(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The framework puts a large file aside, and calls a failure there a body it cannot read."""
    seen = client.post("/api/wheels/1/observations", json={"words": "dry"}).json()["id"]
    # The system's own file on which every write finds no room.
    with Path("/dev/full").open("r+b", buffering=0) as full:
        monkeypatch.setattr("tempfile.TemporaryFile", lambda **_: full)
        answer = client.post(
            f"/api/wheels/1/observations/{seen}/photos", files={"photo": b"\xff" * HALF_A_PHOTO}
        )

    assert answer.status_code == 507
    assert answer.json()["detail"].startswith("the disk is full")


def test_another_failure_of_the_system_is_not_called_a_full_disk(
    context: Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("service.store.wheels.wheel", fails)
    with TestClient(
        create_app(context), base_url="http://127.0.0.1:8000", raise_server_exceptions=False
    ) as browser:
        answer = browser.get("/api/wheels/1")

    assert answer.status_code == 500
    assert "disk" not in answer.json()["detail"]
