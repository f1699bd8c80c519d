"""A process of its own whose household lies on a full disk: what its site answers, as JSON.

Run as `python -m tests.full_disk FOLDER`. Where FOLDER is a file system of its own it is filled to
the last byte, so that the system itself refuses; elsewhere SQLite is allowed no further page,
which is its own error for the same.
"""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient
from sqlalchemy import event

from dashboards.site import site
from service.api import people
from service.api.context import Context
from service.clock import DAY_US
from service.store import observations
from tests import builders

PASSWORD = "twelve wheels of blue"
SEEN = {"touch": "touch-on-a-full-disk", "also": [6, 7, 8]}
"""Of wheel 5 and the others of its batch, with words that need more room than one page has."""
WORDS = "w" * 1_900
A_BLOCK = 64 * 1024


def main(folder: Path) -> None:
    """Fill the disk, ask the site, make room, ask again; print what was answered."""
    lane = builders.larch_lane(folder)
    world = builders.FixedClock()
    with lane.sessions() as session:
        people.add_keeper(session, "Ada", PASSWORD, world.now_us())
    with TestClient(
        site(lane, world=world),
        base_url="http://localhost",
        client=("127.0.0.1", 50_000),
        follow_redirects=False,
    ) as browser:
        browser.post("/sign-in", data={"name": "Ada", "password": PASSWORD})
        # By then the browser is to stay signed in for longer, which would have to be stored.
        world.time_us += 2 * DAY_US
        is_mounted = folder.is_mount()
        make_room = _fill(lane, folder) if is_mounted else _allow_no_page(lane)
        said: dict[str, Any] = {
            "way": "file system" if is_mounted else "pages",
            "look": browser.get("/alarms").status_code,
        }
        page = browser.post("/wheels/5/look", data={**SEEN, "own_words": WORDS})
        answer = browser.post("/api/wheels/5/observations", json={**SEEN, "words": WORDS})
        said["page"] = [page.status_code, page.headers["content-type"], page.text]
        said["api"] = [answer.status_code, answer.headers["content-type"], answer.json()]
        said["policy"] = "content-security-policy" in answer.headers
        said["stored_full"] = _stored(lane)
        make_room()
        said["again"] = browser.post(
            "/api/wheels/5/observations", json={**SEEN, "words": WORDS}
        ).status_code
        said["stored_then"] = _stored(lane)
    sys.stdout.write(json.dumps(said))


def _fill(lane: Context, folder: Path) -> Callable[[], None]:
    with lane.engine.connect() as connection:
        # The log is empty then, and each write needs room anew.
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    ballast = folder / "ballast"
    with ballast.open("wb", buffering=0) as file:
        size = A_BLOCK
        while size:
            try:
                while file.write(b"\x01" * size):
                    pass
            except OSError:
                size //= 2
    return ballast.unlink


def _allow_no_page(lane: Context) -> Callable[[], None]:
    lane.engine.dispose()

    def bound(connection: Any, _record: Any) -> None:
        used = connection.execute("PRAGMA page_count").fetchone()[0]
        free = connection.execute("PRAGMA freelist_count").fetchone()[0]
        assert free == 0
        connection.execute(f"PRAGMA max_page_count = {used}")

    event.listen(lane.engine, "connect", bound)

    def make_room() -> None:
        event.remove(lane.engine, "connect", bound)
        lane.engine.dispose()

    return make_room


def _stored(lane: Context) -> int:
    with lane.sessions() as session:
        return len(observations.of_wheels(session, (5, 6, 7, 8)))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
