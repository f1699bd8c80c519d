"""What is thrown out of quarantine is gone, and one line keeps its number."""

from service.clock import HOUR_US, US_PER_S
from service.ingest.again import TriedAgain, try_again
from service.store import quarantine
from service.store.database import SessionMaker
from service.store.quarantine import Shelf
from service.store.thrown_away import Thrown, throw_away, thrown_away

NOW_US = 1_795_608_000 * US_PER_S
TOPIC = "caves/larch-lane/cave-air/senml"
NEWEST = 2**31 - 1


def keep(sessions: SessionMaker, *reasons: str) -> None:
    with sessions() as session:
        for reason in reasons:
            quarantine.keep(session, NOW_US, TOPIC, b"{}", reason)


def throw(sessions: SessionMaker, kind: str, up_to: int = NEWEST, now_us: int = NOW_US) -> int:
    with sessions() as session:
        return throw_away(session, kind, up_to, now_us)


def told(sessions: SessionMaker) -> tuple[Thrown, ...]:
    with sessions() as session:
        return thrown_away(session)


def left(sessions: SessionMaker) -> dict[str, int]:
    with sessions() as session:
        return {each.kind: each.messages for each in quarantine.kinds(session)}


def test_one_kind_goes_and_the_others_stay(sessions: SessionMaker) -> None:
    keep(sessions, "130 %RH is none", "131 %RH is none", "no pack")

    assert throw(sessions, "… %RH is none") == 2
    assert left(sessions) == {"no pack": 1}
    assert told(sessions) == (Thrown("… %RH is none", 2, NOW_US),)


def test_the_line_counts_those_that_were_only_counted(sessions: SessionMaker) -> None:
    with sessions() as session:
        shelf = Shelf(session, most_rows=1)
        for _ in range(1_000):
            shelf.keep(NOW_US, TOPIC, b"{}", "no pack")

    assert throw(sessions, "no pack") == 1_000
    assert told(sessions)[0].messages == 1_000


def test_later_ones_of_the_kind_are_counted_on_the_same_line(sessions: SessionMaker) -> None:
    for hour in range(3):
        keep(sessions, "no pack")
        throw(sessions, "no pack", now_us=NOW_US + hour * HOUR_US)

    assert told(sessions) == (Thrown("no pack", 3, NOW_US + 2 * HOUR_US),)


def test_what_came_after_the_maker_was_told_stays(sessions: SessionMaker) -> None:
    keep(sessions, "no pack")
    with sessions() as session:
        found = quarantine.one_kind(session, "no pack")
    assert found is not None
    keep(sessions, "no pack")

    assert throw(sessions, "no pack", found.newest_id) == 1
    assert left(sessions) == {"no pack": 1}


def test_thrown_twice_is_counted_once(sessions: SessionMaker) -> None:
    keep(sessions, "no pack")
    throw(sessions, "no pack")

    assert throw(sessions, "no pack") == 0
    assert told(sessions)[0].messages == 1


def test_the_line_is_no_message(sessions: SessionMaker) -> None:
    keep(sessions, "no pack")
    throw(sessions, "no pack")

    with sessions() as session:
        assert quarantine.count(session) == 0
        assert quarantine.kinds(session) == ()
        assert list(quarantine.newest(session, 10)) == []
        assert try_again(session, (), NOW_US) == TriedAgain(tried=0, taken_out=0, readings=0)


def test_the_line_itself_cannot_be_thrown_away(sessions: SessionMaker) -> None:
    keep(sessions, "no pack")
    throw(sessions, "no pack")

    assert throw(sessions, quarantine.THROWN_AWAY) == 0
    assert len(told(sessions)) == 1


def test_no_message_can_have_the_kind_of_the_line() -> None:
    assert quarantine.kind_of(quarantine.THROWN_AWAY) != quarantine.THROWN_AWAY
