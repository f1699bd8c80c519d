"""What a maker does who looks at wheels: enter what is seen, add photos, take it back.

As all actions, each may be sent twice, as a phone with a poor link does, without harm: what one
touch has entered it does not enter again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service import photos
from service.ageing.seen import Look
from service.api import weighing_actions
from service.api.care_actions import check_holds, checked_touch
from service.api.lifetime import check_lives
from service.api.naming import checked_words
from service.api.refusals import RefusedError
from service.clock import US_PER_S
from service.errors import PhotoError
from service.store import observations, wheels
from service.store.ageing_tables import Observation
from service.store.database import Session
from service.store.observations import NewObservation
from service.store.turns import take_turn

MOST_PHOTOS: Final = 4
"""Our choice: so many photos of one observation, both faces and the side twice."""
LONGEST_WORDS: Final = 2_000
"""Our choice: a long paragraph."""
MOST_WHEELS: Final = 50
"""Our choice: so many wheels are looked at in one touch."""
MOST_WEIGHED: Final = 200
"""As many as a batch may have."""
_AHEAD_US: Final = 600 * US_PER_S
"""Our choice, as for weighings: a browser's clock may be so far ahead."""


@dataclass(frozen=True, slots=True)
class Entered:
    """What the maker enters in one touch.

    Attributes:
        touch: Made by the page, so that sending it twice enters it once.
        look: What was seen.
        words: The maker's own words.
        grams: What the wheel weighs, wiped dry. [g]
        at_us: When it was seen; None for now. [µs UTC]
        photos: The files of photos, as sent.
    """

    touch: str
    look: Look
    words: str = ""
    grams: float | None = None
    at_us: int | None = None
    photos: Sequence[bytes] = ()


def enter_observation(
    session: Session, wheel_ids: Sequence[int], entered: Entered, by: str, now_us: int
) -> list[Observation]:
    """The same was seen of one or more wheels.

    Returns:
        One observation for each wheel, in their order.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: Nothing was entered, or something that cannot be.
    """
    words = checked_words(entered.words, LONGEST_WORDS)
    wheel_ids = list(dict.fromkeys(wheel_ids))
    _check(entered, words, wheel_ids, now_us)
    # Before the turn, for nobody else can write while it lasts.
    drawn = [_drawn(sent) for sent in entered.photos]
    take_turn(session)
    rows = []
    for wheel_id in wheel_ids:
        row = _enter_once(session, wheel_id, entered, words, by, now_us)
        if not row.withdrawn:
            for each in drawn:
                _add(session, row, each)
        rows.append(row)
    return rows


def enter_weights(
    session: Session,
    weights: Mapping[int, float],
    touch: str,
    at_us: int | None,
    by: str,
    now_us: int,
) -> list[Observation]:
    """Several wheels were weighed, one after the other, and are entered in one touch.

    Args:
        session: The store.
        weights: What each wheel weighs, wiped dry, by its number. [g]
        touch: Made by the page, so that sending it twice enters it once.
        at_us: When they were weighed; None for now. [µs UTC]
        by: Who weighed.
        now_us: The time. [µs UTC]

    Returns:
        One observation for each wheel, in their order, of which nothing but the weight is told.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: A weight or the time cannot be; the message names the wheel.
    """
    checked_touch(touch)
    if not weights or len(weights) > MOST_WEIGHED:
        raise RefusedError(f"enter the weights of 1 to {MOST_WEIGHED} wheels")
    _check_has_come(at_us, now_us)
    take_turn(session)
    rows = []
    for wheel_id, grams in weights.items():
        entered = Entered(touch, Look(), grams=grams, at_us=at_us)
        batch, wheel = wheels.batch_of(session, wheel_id), wheels.wheel(session, wheel_id)
        if observations.entered_before(session, touch, wheel_id) is None:
            check_holds(session, touch)
        try:
            rows.append(_enter_once(session, wheel_id, entered, "", by, now_us))
        except RefusedError as error:
            raise RefusedError(f"{batch.name} {wheel.label}: {error}") from None
    return rows


def add_photo(session: Session, wheel_id: int, observation_id: int, sent: bytes) -> int:
    """Add a photo to an observation; its number. The same photo is added once.

    Raises:
        UnknownError: The wheel has no such observation that holds.
        RefusedError: It is no photo, or there are enough.
    """
    drawn = _drawn(sent)
    take_turn(session)
    row = observations.stored(session, wheel_id, observation_id)
    return _add(session, row, drawn)


def withdraw_observation(session: Session, wheel_id: int, observation_id: int) -> None:
    """Take an observation back with its weighing; taking it back again changes nothing.

    Raises:
        UnknownError: The wheel has no such observation.
    """
    take_turn(session)
    row = observations.stored(session, wheel_id, observation_id)
    if not row.withdrawn:
        observations.withdraw(session, row)


def _check(entered: Entered, words: str, wheel_ids: Sequence[int], now_us: int) -> None:
    checked_touch(entered.touch)
    if not wheel_ids or len(wheel_ids) > MOST_WHEELS:
        raise RefusedError(f"name 1 to {MOST_WHEELS} wheels that were looked at")
    weighed = entered.grams is not None
    if entered.look.says_nothing and not words and not weighed and not entered.photos:
        raise RefusedError("nothing was entered; touch at least one thing that you see")
    if weighed and len(wheel_ids) > 1:
        raise RefusedError("each wheel has its own weight; enter it for one wheel at a time")
    if len(entered.photos) > MOST_PHOTOS:
        raise RefusedError(f"send no more than {MOST_PHOTOS} photos at once")
    _check_has_come(entered.at_us, now_us)


def _check_has_come(at_us: int | None, now_us: int) -> None:
    if at_us is not None and at_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; enter what has happened")


def _enter_once(
    session: Session, wheel_id: int, entered: Entered, words: str, by: str, now_us: int
) -> Observation:
    """What the touch has entered of the wheel before, or else enter it."""
    known = observations.entered_before(session, entered.touch, wheel_id)
    if known is None:
        return _enter(session, wheel_id, entered, words, by, now_us)
    _check_same(session, known, entered, words)
    return known


def _enter(
    session: Session, wheel_id: int, entered: Entered, words: str, by: str, now_us: int
) -> Observation:
    at_us = now_us if entered.at_us is None else entered.at_us
    check_lives(session, wheel_id, at_us)
    weighing_id = None
    if entered.grams is not None:
        weighing_id = weighing_actions.enter_weighing(
            session, wheel_id, entered.grams, at_us, now_us
        ).id
    return observations.enter(
        session,
        NewObservation(
            touch=entered.touch,
            wheel_id=wheel_id,
            time_us=at_us,
            look=entered.look,
            words=words,
            weighing_id=weighing_id,
            made_by=by,
            entered_us=now_us,
        ),
    )


def _check_same(session: Session, known: Observation, entered: Entered, words: str) -> None:
    """Whoever goes back in the browser and enters something else must not believe it stored."""
    weighing = observations.weighing_entered(session, known)
    if (
        observations.look_of(known) != entered.look
        or known.words != words
        or (weighing.mass_g if weighing else None) != entered.grams
    ):
        raise RefusedError("that form was sent before with something else in it; open it anew")


def _drawn(sent: bytes) -> photos.Photo:
    try:
        return photos.photo(sent)
    except PhotoError as error:
        raise RefusedError(str(error)) from None


def _add(session: Session, row: Observation, drawn: photos.Photo) -> int:
    assert row.id is not None  # it was stored
    known = observations.photo_like(session, row.id, drawn.image)
    if known is None and observations.count_photos(session, row.id) >= MOST_PHOTOS:
        raise RefusedError(f"an observation has no more than {MOST_PHOTOS} photos")
    size = (drawn.width, drawn.height)
    return observations.add_photo(session, row.id, size, drawn.image, drawn.thumbnail)
