"""What the maker saw of wheels: entering it once, taking it back, and its photos.

Photos are asked for without their bytes unless one of them is to be sent.
"""

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from service.ageing.seen import CoatColour, Look, Scent
from service.ageing.work import Firmness, Rind
from service.errors import UnknownError
from service.store import weighings, wheels
from service.store.ageing_tables import Observation, Photo
from service.store.tables import Weighing

_SLIMY = "slimy"
"""Stands beside the colours in `coat_json`; a colour has a number there, this has true."""


@dataclass(frozen=True, slots=True)
class NewObservation:
    """What was seen of one wheel, on its way into the store.

    Attributes:
        touch: Shared by all that was entered in one touch.
        wheel_id: The wheel.
        time_us: When it was seen. [µs UTC]
        look: What was seen.
        words: The maker's own words.
        weighing_id: The weighing that belongs to it.
        made_by: Who saw it.
        entered_us: When it was entered. [µs UTC]
    """

    touch: str
    wheel_id: int
    time_us: int
    look: Look
    entered_us: int
    words: str = ""
    weighing_id: int | None = None
    made_by: str | None = None


@dataclass(frozen=True, slots=True)
class PhotoFacts:
    """A photo without its bytes.

    Attributes:
        id: Its number.
        observation_id: The observation to which it belongs.
        width: Of the image. [px]
        height: Of the image. [px]
        entered_us: When the observation was entered. [µs UTC]
    """

    id: int
    observation_id: int
    width: int
    height: int
    entered_us: int


def enter(session: Session, new: NewObservation) -> Observation:
    """Enter what was seen. The same touch of the same wheel is entered once.

    One that has been taken back stays so, though it is sent again.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheels.wheel(session, new.wheel_id)
    known = entered_before(session, new.touch, new.wheel_id)
    if known is not None:
        return known
    coat: dict[str, float | bool] = {str(colour): part for colour, part in new.look.coat.items()}
    if new.look.slimy:
        coat[_SLIMY] = True
    row = Observation(
        touch=new.touch,
        wheel_id=new.wheel_id,
        time_us=new.time_us,
        rind=new.look.rind,
        firmness=new.look.firmness,
        smell=new.look.smell,
        coat_json=json.dumps(coat),
        words=new.words,
        weighing_id=new.weighing_id,
        made_by=new.made_by,
        entered_us=new.entered_us,
    )
    session.add(row)
    session.flush()
    return row


def entered_before(session: Session, touch: str, wheel_id: int) -> Observation | None:
    """What that touch has entered of that wheel, whether it holds or not."""
    return session.exec(
        select(Observation)
        .where(col(Observation.touch) == touch, col(Observation.wheel_id) == wheel_id)
        .order_by(col(Observation.id))
    ).first()


def look_of(row: Observation) -> Look:
    """What a stored observation says, as a value."""
    coat = json.loads(row.coat_json)
    slimy = bool(coat.pop(_SLIMY, False))
    return Look(
        rind=Rind(row.rind) if row.rind is not None else None,
        firmness=Firmness(row.firmness) if row.firmness is not None else None,
        smell=Scent(row.smell) if row.smell is not None else None,
        coat={CoatColour(colour): float(part) for colour, part in coat.items()},
        slimy=slimy,
    )


def observation(session: Session, observation_id: int) -> Observation:
    """One observation that holds.

    Raises:
        UnknownError: There is none with that number, or it was taken back.
    """
    row = session.get(Observation, observation_id)
    if row is None or row.withdrawn:
        raise UnknownError(f"there is no observation {observation_id}")
    return row


def stored(session: Session, wheel_id: int, observation_id: int) -> Observation:
    """An observation of a wheel, whether it holds or was taken back.

    Raises:
        UnknownError: The wheel has no such observation.
    """
    row = session.get(Observation, observation_id)
    if row is None or row.wheel_id != wheel_id:
        raise UnknownError(f"wheel {wheel_id} has no observation {observation_id}")
    return row


def weighing_of(session: Session, row: Observation) -> Weighing | None:
    """The weighing that was entered with an observation, if it holds."""
    found = weighing_entered(session, row)
    return None if found is None or found.withdrawn else found


def weighing_entered(session: Session, row: Observation) -> Weighing | None:
    """The weighing that was entered with an observation, taken back or not."""
    return session.get(Weighing, row.weighing_id) if row.weighing_id is not None else None


def of_wheel(session: Session, wheel_id: int) -> Sequence[Observation]:
    """The observations of a wheel that hold, oldest first."""
    return of_wheels(session, (wheel_id,))


def of_wheels(session: Session, wheel_ids: Collection[int]) -> Sequence[Observation]:
    """The observations of wheels that hold, oldest first."""
    return session.exec(
        select(Observation)
        .where(col(Observation.wheel_id).in_(wheel_ids), col(Observation.withdrawn).is_(False))
        .order_by(col(Observation.time_us), col(Observation.id))
    ).all()


def of_touch(session: Session, touch: str) -> Sequence[Observation]:
    """The observations that one touch entered, withdrawn or not, in the order of entering."""
    return session.exec(
        select(Observation).where(col(Observation.touch) == touch).order_by(col(Observation.id))
    ).all()


def only_weighed(session: Session, rows: Iterable[Observation]) -> set[int]:
    """The numbers of those that hold a weight and nothing else: no look, no words, no photo."""
    bare = {
        row.id
        for row in rows
        if row.id is not None
        and row.weighing_id is not None
        and not row.words
        and look_of(row).says_nothing
    }
    return bare - photos_of(session, bare).keys()


def resting_on(session: Session, weighing_id: int) -> Sequence[Observation]:
    """The observations that hold and with which a weighing was entered."""
    return session.exec(
        select(Observation)
        .where(col(Observation.weighing_id) == weighing_id, col(Observation.withdrawn).is_(False))
        .order_by(col(Observation.id))
    ).all()


def withdraw(session: Session, row: Observation) -> None:
    """Take an observation back, and the weighing that was entered with it.

    Both are kept in the store and count for nothing. Taking back again changes nothing. A
    weighing that another observation rests on too stays.
    """
    row.withdrawn = True
    session.add(row)
    session.flush()
    if row.weighing_id is not None and not resting_on(session, row.weighing_id):
        weighings.withdraw(session, row.wheel_id, row.weighing_id)


def withdraw_touch(session: Session, touch: str) -> int:
    """Take back all observations that one touch entered; how many there were."""
    rows = [row for row in of_touch(session, touch) if not row.withdrawn]
    for row in rows:
        withdraw(session, row)
    return len(rows)


def add_photo(
    session: Session, observation_id: int, size: tuple[int, int], image: bytes, thumbnail: bytes
) -> int:
    """Keep a photo, width and height in pixels; its number. The same image is kept once.

    Raises:
        UnknownError: There is no such observation that holds.
    """
    observation(session, observation_id)
    known = photo_like(session, observation_id, image)
    if known is not None:
        return known
    width, height = size
    row = Photo(
        observation_id=observation_id,
        width=width,
        height=height,
        image=image,
        thumbnail=thumbnail,
    )
    session.add(row)
    session.flush()
    assert row.id is not None  # it was flushed
    return row.id


def photo_like(session: Session, observation_id: int, image: bytes) -> int | None:
    """The number of the photo of an observation that is the same image, if there is one."""
    return session.exec(
        select(Photo.id).where(
            col(Photo.observation_id) == observation_id, col(Photo.image) == image
        )
    ).first()


def photos_of(session: Session, observation_ids: Collection[int]) -> dict[int, list[PhotoFacts]]:
    """The photos of observations in the order of entering; an observation without is not there."""
    found: dict[int, list[PhotoFacts]] = {}
    rows = session.exec(
        select(Observation, Photo.id, Photo.width, Photo.height)
        .join(Photo, col(Photo.observation_id) == col(Observation.id))
        .where(col(Photo.observation_id).in_(observation_ids))
        .order_by(col(Photo.id))
    ).all()
    for of, number, width, height in rows:
        assert of.id is not None  # both are rows' keys
        assert number is not None
        facts = PhotoFacts(number, of.id, width, height, of.entered_us)
        found.setdefault(of.id, []).append(facts)
    return found


def photo(session: Session, photo_id: int) -> Photo:
    """A photo with its bytes.

    Raises:
        UnknownError: There is none with that number, or its observation was taken back.
    """
    row = session.get(Photo, photo_id)
    if row is None:
        raise UnknownError(f"there is no photo {photo_id}")
    observation(session, row.observation_id)
    return row


def thumbnail(session: Session, photo_id: int) -> bytes:
    """The small version of a photo, without reading the large one.

    Raises:
        UnknownError: There is none with that number, or its observation was taken back.
    """
    row = session.exec(
        select(Photo.observation_id, Photo.thumbnail).where(col(Photo.id) == photo_id)
    ).first()
    if row is None:
        raise UnknownError(f"there is no photo {photo_id}")
    observation(session, row[0])
    return row[1]


def count_photos(session: Session, observation_id: int) -> int:
    """How many photos an observation has."""
    return session.exec(
        select(func.count()).select_from(Photo).where(col(Photo.observation_id) == observation_id)
    ).one()
