"""Which notices the watch puts into the outbox, and in which words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder, LarderMaker


def test_a_notice_says_what_where_how_much_since_when_and_which_wheels(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.steady(60, 120, humidity=70)
    larder.round_at(120)
    (notice,) = larder.notices()
    first = notice.body.splitlines()[0]

    assert "Larder cave" in notice.title
    assert "too dry" in notice.title
    for part in ("Larder cave", "%RH below 85 %RH", "since Wed 25 Nov 14:", "Tomme 1", "Try: "):
        assert part in first


def test_each_channel_gets_its_own_notice(make_larder: LarderMaker) -> None:
    larder = make_larder(channels=("1 mailto", "2 json"))
    larder.stand()
    larder.shelve()
    larder.steady(0, 60, humidity=70)
    larder.round_at(61)

    assert [notice.channel for notice in larder.notices()] == ["1 mailto", "2 json"]


def test_the_return_of_an_alarm_is_told(larder: Larder) -> None:
    larder.steady(0, 60, humidity=70)
    larder.round_at(60)
    larder.steady(60, 180)
    larder.round_at(181)
    _raised, returned = larder.notices()

    assert returned.title == "Larder cave: no longer too dry"


def test_what_was_over_an_hour_ago_is_kept_but_not_told(larder: Larder) -> None:
    larder.steady(0, 120, humidity=70)
    larder.steady(120, 600)
    larder.round_at(601)

    assert len(larder.alarms()) == 1
    assert larder.notices() == ()


def test_an_old_alarm_that_is_still_active_is_told(larder: Larder) -> None:
    larder.steady(0, 600, humidity=70)
    larder.round_at(601)

    assert len(larder.notices()) == 1


def test_an_alarm_at_the_end_of_an_old_history_is_not_told(larder: Larder) -> None:
    larder.steady(0, 120, humidity=70)
    larder.clock.time_us += 600 * 60_000_000
    larder.watch = larder.another_watch()  # It does not yet judge the silence.
    larder.round_at(600)

    assert len(larder.alarms()) == 1
    assert larder.notices() == ()


def test_a_return_long_ago_is_told_when_the_alarm_had_been_told(larder: Larder) -> None:
    """The maker who was sent to the cave by a notice hears that it is over, however late."""
    larder.steady(0, 60, humidity=70)
    larder.round_at(60)
    larder.steady(60, 600)
    larder.round_at(601)

    assert [notice.title for notice in larder.notices()][1:] == ["Larder cave: no longer too dry"]


def test_a_silent_sensor_is_told_and_so_is_its_return(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.round_at(80)
    larder.steady(80, 100)
    larder.round_at(100)

    assert [notice.title for notice in larder.notices()] == [
        "Larder cave: sensor cave-air is silent",
        "Larder cave: sensor cave-air reports again",
    ]
