"""Observations in the store: entered once, read back as seen, taken back with their weighing."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import Session

from service.ageing.seen import CoatColour, Look, Scent, doubts
from service.ageing.work import Firmness, Rind
from service.errors import OutOfRangeError, UnknownError
from service.store import observations, weighings
from service.store.ageing_tables import Observation
from service.store.observations import NewObservation
from tests import builders

NOW_US = builders.NOW_US
LOOK = Look(
    rind=Rind.TACKY,
    firmness=Firmness.GIVING,
    smell=Scent.MUSHROOM,
    coat={CoatColour.WHITE: 50.0, CoatColour.PINK: 0.0},
    slimy=True,
)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A store with one tomme, which is wheel 1, and one blue, which is wheel 2."""
    context = builders.empty_home(tmp_path)
    with context.sessions() as opened:
        builders.add_one_wheel(opened, builders.steady(88.0), hours=1.0)
        builders.add_batch(opened, 1, "Blue", "blue", 12, [(90, 70, 430)], 1, "ripening")
        yield opened


def new(touch: str = "touch-one", wheel_id: int = 1, ago_us: int = 0) -> NewObservation:
    return NewObservation(touch, wheel_id, NOW_US - ago_us, LOOK, entered_us=NOW_US, words="fine")


def number_of(row: Observation) -> int:
    assert row.id is not None
    return row.id


def test_what_was_seen_is_read_back_as_it_was(session: Session) -> None:
    row = observations.enter(session, new())
    session.expire_all()
    (read,) = observations.of_wheel(session, 1)

    assert read.id == row.id
    assert observations.look_of(read) == LOOK
    assert (read.words, read.time_us) == ("fine", NOW_US)


def test_a_touch_enters_a_wheel_once_and_other_wheels_too(session: Session) -> None:
    first = observations.enter(session, new())
    again = observations.enter(session, new())
    other = observations.enter(session, new(wheel_id=2))

    assert first.id == again.id != other.id
    assert [row.wheel_id for row in observations.of_touch(session, "touch-one")] == [1, 2]


def test_what_was_taken_back_stays_so_when_it_is_sent_again(session: Session) -> None:
    observations.withdraw(session, observations.enter(session, new()))
    again = observations.enter(session, new())

    assert again.withdrawn
    assert observations.of_wheel(session, 1) == []


def test_observations_come_oldest_first(session: Session) -> None:
    late = observations.enter(session, new("touch-one"))
    early = observations.enter(session, new("touch-two", ago_us=builders.DAY_US))

    assert [row.id for row in observations.of_wheels(session, (1, 2))] == [early.id, late.id]


def test_a_touch_is_taken_back_with_its_weighing(session: Session) -> None:
    weighing = weighings.enter(session, 1, NOW_US, 1_900.0)
    other = weighings.enter(session, 1, NOW_US - builders.DAY_US, 1_910.0)
    made = NewObservation("touch-one", 1, NOW_US, LOOK, entered_us=NOW_US, weighing_id=weighing.id)
    row = observations.enter(session, made)
    observations.enter(session, new(wheel_id=2))
    assert observations.weighing_of(session, row) == weighing
    taken = observations.withdraw_touch(session, "touch-one")

    assert taken == 2
    assert observations.of_wheels(session, (1, 2)) == []
    assert weighings.weighings(session, 1) == [other]
    assert observations.weighing_of(session, row) is None
    assert observations.withdraw_touch(session, "touch-one") == 0


def test_a_weighing_on_which_another_observation_rests_stays(session: Session) -> None:
    weighing = weighings.enter(session, 1, NOW_US, 1_900.0)
    rows = [
        observations.enter(
            session,
            NewObservation(touch, 1, NOW_US, LOOK, entered_us=NOW_US, weighing_id=weighing.id),
        )
        for touch in ("touch-one", "touch-two")
    ]
    observations.withdraw(session, rows[0])
    assert weighings.weighings(session, 1) == [weighing]
    observations.withdraw(session, rows[1])

    assert weighings.weighings(session, 1) == []


def test_photos_are_kept_once_and_listed_without_their_bytes(session: Session) -> None:
    number = number_of(observations.enter(session, new()))
    first = observations.add_photo(session, number, (4, 3), b"image", b"small")
    again = observations.add_photo(session, number, (4, 3), b"image", b"small")
    other = observations.add_photo(session, number, (3, 4), b"other", b"tiny")
    listed = observations.photos_of(session, [number, 99])

    assert first == again != other
    assert {key: [each.id for each in value] for key, value in listed.items()} == {
        number: [first, other]
    }
    assert observations.count_photos(session, number) == 2
    assert observations.photo(session, first).image == b"image"
    assert observations.thumbnail(session, other) == b"tiny"


def test_photos_of_what_was_taken_back_are_shown_no_more(session: Session) -> None:
    row = observations.enter(session, new())
    photo = observations.add_photo(session, number_of(row), (4, 3), b"image", b"small")
    observations.withdraw(session, row)

    for ask in (observations.photo, observations.thumbnail):
        with pytest.raises(UnknownError):
            ask(session, photo)
        with pytest.raises(UnknownError):
            ask(session, photo + 1)
    with pytest.raises(UnknownError):
        observations.add_photo(session, number_of(row), (4, 3), b"more", b"small")


def test_an_observation_belongs_to_its_wheel(session: Session) -> None:
    number = number_of(observations.enter(session, new()))

    assert observations.stored(session, 1, number).id == number
    with pytest.raises(UnknownError):
        observations.stored(session, 2, number)
    with pytest.raises(UnknownError):
        observations.enter(session, new(wheel_id=77))


@pytest.mark.parametrize(
    "coat",
    [
        {CoatColour.WHITE: -1.0},
        {CoatColour.WHITE: 100.5},
        {CoatColour.WHITE: float("nan")},
        {CoatColour.WHITE: 60.0, CoatColour.BLUE: 50.0},
    ],
)
def test_no_coat_covers_less_than_nothing_or_more_than_the_rind(
    coat: dict[CoatColour, float],
) -> None:
    with pytest.raises(OutOfRangeError, match=r"enter (0 to|no more than) 100 %"):
        Look(coat=coat)


def test_a_coat_that_was_not_looked_at_is_not_a_bare_rind() -> None:
    assert Look().coat_pct is None
    assert Look().says_nothing
    assert Look(coat={CoatColour.WHITE: 0.0}).coat_pct == 0.0
    assert not Look(coat={CoatColour.WHITE: 0.0}).says_nothing
    assert LOOK.coat_pct == 50.0


@pytest.mark.parametrize(
    ("look", "signs"),
    [
        (LOOK, ("slime",)),
        (Look(coat={CoatColour.PINK: 1.0, CoatColour.BLACK: 2.0}), ("pink growth", "black growth")),
        (Look(smell=Scent.FOUL), ("a foul smell",)),
        (Look(coat={CoatColour.BLUE: 90.0}, smell=Scent.AMMONIA, rind=Rind.WET), ()),
    ],
)
def test_signs_of_spoilage_are_named(look: Look, signs: tuple[str, ...]) -> None:
    assert doubts(look) == signs
