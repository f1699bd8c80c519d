"""Keepers and their browsers: who is entered, who signs in, and the code for a phone.

Knows no HTTP; `service.api.access` has the cookies and the rule of who may ask what. Secrets
are 256 random bits, of which the store holds only SHA-256 digests: a secret that long needs no
slow hash. All times are the world's, for an expiry in demo time would come 60 times too soon.
"""

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from typing import Final

from service.api import passwords
from service.api.attempts import Attempts
from service.api.refusals import RefusedError, SignInError
from service.clock import US_PER_S
from service.errors import UnknownError
from service.store import people
from service.store.database import Session
from service.store.tables import Person, PhoneCode, SignIn
from service.store.turns import take_turn

SIGNED_IN_S: Final = 90 * 86_400
"""Our choice: a phone that is not used for a season signs in again."""
_PROLONG_AFTER_S: Final = 86_400
"""Our choice: one write a day and browser keeps the expiry moving."""
PHONE_CODE_S: Final = 300
"""Our choice: time enough to find the phone, too short to find the picture of the code."""
_SECRET_BYTES: Final = 32
_LONGEST_SECRET: Final = 64
_LONGEST_NAME: Final = 60
_LONGEST_DEVICE: Final = 160


@dataclass(frozen=True, slots=True)
class Caller:
    """Where a request comes from.

    Attributes:
        address: The network address of the other end.
        device: What the browser says that it is.
    """

    address: str
    device: str


@dataclass(frozen=True, slots=True)
class Asker:
    """Who asks.

    Attributes:
        name: The keeper's name, for the record of who did what.
        person_id: The keeper's number; None where no sign-in is needed.
        sign_in_id: The number of the browser's sign-in; None where none is needed.
        prolonged: Whether this request has moved the expiry, so that the cookie's must follow.
    """

    name: str
    person_id: int | None = None
    sign_in_id: int | None = None
    prolonged: bool = False


ANYONE_HERE: Final = Asker(name="the keeper")
"""Whoever asks on this machine while no keeper has been entered."""


def add_keeper(session: Session, name: str, password: str, now_us: int) -> Person:
    """Enter a keeper.

    Raises:
        RefusedError: The name is taken or no name, or the password too short.
    """
    name = unicodedata.normalize("NFC", name).strip()
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise RefusedError(f"a name has 1 to {_LONGEST_NAME} signs that can be printed")
    password_hash = passwords.hash_password(password)
    take_turn(session)
    if people.person_by_name(session, name) is not None:
        raise RefusedError(f"there is a keeper {name} already")
    return people.add_person(session, name, password_hash, now_us)


def change_password(session: Session, name: str, password: str) -> None:
    """Give a keeper another password, and sign all their browsers out.

    Raises:
        UnknownError: There is no such keeper.
        RefusedError: The password is too short.
    """
    person = _keeper(session, name)
    people.set_password_hash(session, _id(person), passwords.hash_password(password))
    people.end_sign_ins(session, _id(person))


def remove_keeper(session: Session, name: str) -> None:
    """Take a keeper out and sign all their browsers out.

    Raises:
        UnknownError: There is no such keeper.
    """
    people.remove_person(session, _id(_keeper(session, name)))


def sign_in(
    session: Session, attempts: Attempts, name: str, password: str, caller: Caller, now_us: int
) -> str:
    """Check name and password; the secret for the browser's cookie.

    Raises:
        SignInError: One of them is wrong.
        BusyError: There were too many attempts.
    """
    attempts.note(name, caller.address, now_us)
    person = people.person_by_name(session, name)
    if not passwords.is_right(person.password_hash if person else None, password) or not person:
        raise SignInError("that name and password do not go together")
    attempts.forgive(name, caller.address)
    if passwords.is_outdated(person.password_hash):
        people.set_password_hash(session, _id(person), passwords.hash_password(password))
    return _begin(session, person, caller.device, now_us)


def asker_with(
    session: Session, secret: str | None, now_us: int, *, may_prolong: bool = True
) -> Asker | None:
    """The keeper whose browser holds that secret; None when it is unknown or has expired.

    Who comes often stays signed in, where `may_prolong` lets that be stored.
    """
    if not secret or len(secret) > _LONGEST_SECRET:
        return None
    found = people.sign_in_with(session, _digest(secret), now_us)
    if found is None:
        return None
    browser, person = found
    assert browser.id is not None
    until_us = now_us + SIGNED_IN_S * US_PER_S
    prolonged = may_prolong and until_us - browser.expires_us >= _PROLONG_AFTER_S * US_PER_S
    if prolonged:
        people.prolong(session, browser.id, until_us)
    return Asker(person.name, person.id, browser.id, prolonged)


def sign_out(session: Session, asker: Asker) -> None:
    """Sign out the browser that asks; nothing to do where no sign-in is needed."""
    if asker.person_id is not None and asker.sign_in_id is not None:
        people.end_sign_in(session, asker.person_id, asker.sign_in_id)


def make_phone_code(session: Session, person_id: int, now_us: int) -> str:
    """A code that signs one phone in for that keeper, once, within five minutes."""
    code = secrets.token_urlsafe(_SECRET_BYTES)
    people.add_phone_code(
        session,
        PhoneCode(
            person_id=person_id,
            code_digest=_digest(code),
            expires_us=now_us + PHONE_CODE_S * US_PER_S,
        ),
        now_us,
    )
    return code


def phone_code_is_good(session: Session, code: str, now_us: int) -> bool:
    """Whether a code would still sign a phone in; asking does not use it up."""
    return people.phone_code_is_good(session, _digest(code), now_us)


def redeem_phone_code(session: Session, code: str, caller: Caller, now_us: int) -> str:
    """Use a code up; the secret for the phone's cookie.

    Raises:
        SignInError: The code is unknown, has expired or was used already.
    """
    person = people.use_phone_code(session, _digest(code), now_us)
    if person is None:
        raise SignInError("that code has been used or has expired; make another one")
    return _begin(session, person, caller.device, now_us)


def _begin(session: Session, person: Person, device: str, now_us: int) -> str:
    secret = secrets.token_urlsafe(_SECRET_BYTES)
    words = "".join(sign for sign in device if sign.isprintable())[:_LONGEST_DEVICE]
    people.add_sign_in(
        session,
        SignIn(
            person_id=_id(person),
            secret_digest=_digest(secret),
            device=words or "a browser that does not say what it is",
            created_us=now_us,
            expires_us=now_us + SIGNED_IN_S * US_PER_S,
        ),
    )
    return secret


def _keeper(session: Session, name: str) -> Person:
    person = people.person_by_name(session, name)
    if person is None:
        raise UnknownError(f"there is no keeper {name}")
    return person


def _id(person: Person) -> int:
    assert person.id is not None  # it came from the store
    return person.id


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
