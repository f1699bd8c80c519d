"""Keepers, their signed-in browsers, and the codes that sign a phone in.

Only digests of secrets come here; what makes and checks the secrets is `service.api.access`.
Expiries are times of the world's clock, also in a demo whose own clock runs faster.
"""

import unicodedata
from collections.abc import Sequence

from sqlalchemy import CursorResult, delete, update
from sqlmodel import Session, col, select

from service.errors import UnknownError
from service.store.tables import Person, PhoneCode, SignIn


def has_people(session: Session) -> bool:
    """Whether any keeper has been entered."""
    return session.exec(select(Person.id).limit(1)).first() is not None


def people(session: Session) -> Sequence[Person]:
    """All keepers, oldest first."""
    return session.exec(select(Person).order_by(col(Person.id))).all()


def person_by_name(session: Session, name: str) -> Person | None:
    """The keeper of that name; capitals do not count, for phones write them unasked."""
    wanted = _folded(name)
    # SQL folds capitals of ASCII only, and a household has few people.
    return next((person for person in people(session) if _folded(person.name) == wanted), None)


def add_person(session: Session, name: str, password_hash: str, now_us: int) -> Person:
    """Enter a keeper whose name is not taken; `service.api.access.add_keeper` sees to that."""
    person = Person(name=name, password_hash=password_hash, created_us=now_us)
    session.add(person)
    session.flush()
    return person


def set_password_hash(session: Session, person_id: int, password_hash: str) -> None:
    """Give a keeper another password hash.

    Raises:
        UnknownError: There is no such keeper.
    """
    person = session.get(Person, person_id)
    if person is None:
        raise UnknownError(f"there is no keeper {person_id}")
    person.password_hash = password_hash
    session.add(person)


def remove_person(session: Session, person_id: int) -> None:
    """Take a keeper out, and sign out all that was signed in for them."""
    for table in (SignIn, PhoneCode):
        session.execute(delete(table).where(col(table.person_id) == person_id))
    session.execute(delete(Person).where(col(Person.id) == person_id))


def add_sign_in(session: Session, sign_in: SignIn) -> SignIn:
    """Enter a browser that has signed in; those that have expired are cleared away."""
    session.execute(delete(SignIn).where(col(SignIn.expires_us) <= sign_in.created_us))
    session.add(sign_in)
    session.flush()
    return sign_in


def sign_in_with(session: Session, secret_digest: str, now_us: int) -> tuple[SignIn, Person] | None:
    """The browser whose secret has that digest and its keeper, if it has not expired."""
    return session.exec(
        select(SignIn, Person)
        .join(Person, col(SignIn.person_id) == col(Person.id))
        .where(col(SignIn.secret_digest) == secret_digest, col(SignIn.expires_us) > now_us)
    ).first()


def sign_ins_of(session: Session, person_id: int, now_us: int) -> Sequence[SignIn]:
    """The browsers that are signed in for a keeper, the newest first."""
    return session.exec(
        select(SignIn)
        .where(col(SignIn.person_id) == person_id, col(SignIn.expires_us) > now_us)
        .order_by(col(SignIn.id).desc())
    ).all()


def prolong(session: Session, sign_in_id: int, expires_us: int) -> None:
    """Let a browser stay signed in until then."""
    session.execute(
        update(SignIn).where(col(SignIn.id) == sign_in_id).values(expires_us=expires_us)
    )


def end_sign_in(session: Session, person_id: int, sign_in_id: int) -> None:
    """Sign one of a keeper's browsers out.

    Raises:
        UnknownError: The keeper has no such browser.
    """
    result = session.execute(
        delete(SignIn).where(col(SignIn.id) == sign_in_id, col(SignIn.person_id) == person_id)
    )
    assert isinstance(result, CursorResult)
    if result.rowcount != 1:
        raise UnknownError(f"no browser {sign_in_id} is signed in for you")


def end_sign_ins(session: Session, person_id: int) -> None:
    """Sign all of a keeper's browsers out, and let no code sign another in."""
    for table in (SignIn, PhoneCode):
        session.execute(delete(table).where(col(table.person_id) == person_id))


def add_phone_code(session: Session, code: PhoneCode, now_us: int) -> None:
    """Enter a code; those that have expired are cleared away."""
    session.execute(delete(PhoneCode).where(col(PhoneCode.expires_us) <= now_us))
    session.add(code)
    session.flush()


def phone_code_is_good(session: Session, code_digest: str, now_us: int) -> bool:
    """Whether a code would still sign a phone in; looking does not use it up."""
    found = session.exec(
        select(PhoneCode.id).where(
            col(PhoneCode.code_digest) == code_digest,
            col(PhoneCode.used_us).is_(None),
            col(PhoneCode.expires_us) > now_us,
        )
    ).first()
    return found is not None


def use_phone_code(session: Session, code_digest: str, now_us: int) -> Person | None:
    """Use a code up; its keeper, or None when it is unknown, expired or used already.

    A single statement decides, so that of two phones with one code only one gets in.
    """
    result = session.execute(
        update(PhoneCode)
        .where(
            col(PhoneCode.code_digest) == code_digest,
            col(PhoneCode.used_us).is_(None),
            col(PhoneCode.expires_us) > now_us,
        )
        .values(used_us=now_us)
    )
    assert isinstance(result, CursorResult)
    if result.rowcount != 1:
        return None
    return session.exec(
        select(Person)
        .join(PhoneCode, col(PhoneCode.person_id) == col(Person.id))
        .where(col(PhoneCode.code_digest) == code_digest)
    ).one()


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold().strip()
