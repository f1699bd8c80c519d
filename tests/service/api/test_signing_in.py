"""Keepers sign in with a password or a phone's code, stay so a season, and sign out."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from service.api import passwords
from service.api.access import COOKIE, cookie_header
from service.api.attempts import PER_ADDRESS, PER_NAME, WINDOW_S, Attempts
from service.api.context import Context
from service.api.people import (
    PHONE_CODE_S,
    SIGNED_IN_S,
    Caller,
    add_keeper,
    asker_with,
    change_password,
    make_phone_code,
    phone_code_is_good,
    redeem_phone_code,
    remove_keeper,
    sign_in,
    sign_out,
)
from service.api.refusals import BusyError, RefusedError, SignInError
from service.app import create_app
from service.clock import US_PER_S
from service.errors import UnknownError
from service.store.tables import PhoneCode, SignIn

NOW_US = 1_795_608_000_000_000
PHONE = Caller("192.0.2.7", "A phone")


@dataclass
class SetClock:
    """A clock that a test sets."""

    time_us: int = NOW_US
    speed: float = 1.0

    def now_us(self) -> int:
        return self.time_us


@pytest.fixture
def session(guarded: Context) -> Iterator[Session]:
    """A session on the store that has Anna as keeper 1."""
    with guarded.sessions() as opened:
        yield opened


def test_the_right_password_signs_in(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    asker = asker_with(session, secret, NOW_US)

    assert asker is not None
    assert (asker.name, asker.person_id) == ("Anna", 1)


def test_capitals_of_a_name_do_not_count(session: Session) -> None:
    assert sign_in(session, Attempts(), " anna", "rind and paste", PHONE, NOW_US)


@pytest.mark.parametrize(
    ("name", "password"),
    [("Anna", "rind and past"), ("Anna", ""), ("Bert", "rind and paste"), ("\ud800", "\ud800" * 9)],
)
def test_anything_else_does_not(session: Session, name: str, password: str) -> None:
    with pytest.raises(SignInError, match="do not go together"):
        sign_in(session, Attempts(), name, password, PHONE, NOW_US)


def test_an_unknown_name_is_hashed_like_a_known_one(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked: list[str] = []
    real = passwords.is_right

    def noting(password_hash: str | None, password: str) -> bool:
        checked.append(password_hash or passwords._NOBODY)
        return real(password_hash, password)

    monkeypatch.setattr(passwords, "is_right", noting)
    for name in ("Anna", "Bert"):
        with pytest.raises(SignInError):
            sign_in(session, Attempts(), name, "not the password", PHONE, NOW_US)

    # The part before the salt names the function and its costs.
    assert len({each.rpartition("p=4$")[0] for each in checked}) == 1
    assert len(checked) == 2


def test_hashes_have_the_parameters_of_rfc_9106_for_little_memory() -> None:
    """RFC 9106 (2021), section 4: Argon2id with t = 3, p = 4, m = 2^16 KiB.

    The salt has 128 bits and the tag 256.
    """
    hashed = passwords.hash_password("rind and paste")
    kind, version, costs, salt, tag = hashed.split("$")[1:]

    assert (kind, version, costs) == ("argon2id", "v=19", "m=65536,t=3,p=4")
    # Base64 without padding: 22 signs are 16 bytes, 43 signs are 32 bytes.
    assert (len(salt), len(tag)) == (22, 43)


def test_an_accent_typed_in_two_ways_is_one_password() -> None:
    assert passwords.is_right(passwords.hash_password("caf\u00e9 au lait"), "cafe\u0301 au lait")


@pytest.mark.parametrize("password", ["", "nine sign", "x" * 1_001])
def test_a_password_too_short_or_far_too_long_is_refused(session: Session, password: str) -> None:
    with pytest.raises(RefusedError):
        add_keeper(session, "Bert", password, NOW_US)


@pytest.mark.parametrize("name", ["", " ", "a\nb", "x" * 61, "anna", "ANNA "])
def test_a_name_that_is_none_or_is_taken_is_refused(session: Session, name: str) -> None:
    with pytest.raises(RefusedError):
        add_keeper(session, name, "another password", NOW_US)


def test_the_store_holds_no_secret(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    code = make_phone_code(session, 1, NOW_US)
    kept = session.get(SignIn, 1), session.get(PhoneCode, 1)

    assert kept[0] is not None
    assert kept[1] is not None
    assert secret not in kept[0].model_dump_json()
    assert code not in kept[1].model_dump_json()
    # 32 random bytes are 43 signs of base64.
    assert len(secret) == len(code) == 43


def test_a_browser_that_is_not_used_for_a_season_is_signed_out(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    end_us = NOW_US + SIGNED_IN_S * US_PER_S

    assert asker_with(session, secret, end_us) is None


def test_a_browser_that_is_used_stays_signed_in(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    end_us = NOW_US + SIGNED_IN_S * US_PER_S
    last = asker_with(session, secret, end_us - 1)

    assert last is not None
    assert last.prolonged
    assert asker_with(session, secret, end_us + 1) is not None


def test_signing_out_ends_only_that_browser(session: Session) -> None:
    here, there = (
        sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US) for _ in range(2)
    )
    asker = asker_with(session, here, NOW_US)
    assert asker is not None
    sign_out(session, asker)

    assert asker_with(session, here, NOW_US) is None
    assert asker_with(session, there, NOW_US) is not None


@pytest.mark.parametrize("secret", [None, "", "x", "x" * 43, "x" * 10_000, "\ud800"])
def test_a_made_up_secret_is_nobody(session: Session, secret: str | None) -> None:
    assert asker_with(session, secret, NOW_US) is None


def test_another_password_signs_every_browser_out(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    code = make_phone_code(session, 1, NOW_US)
    change_password(session, "anna", "paste and rind")

    assert asker_with(session, secret, NOW_US) is None
    assert not phone_code_is_good(session, code, NOW_US)
    assert sign_in(session, Attempts(), "Anna", "paste and rind", PHONE, NOW_US)


def test_a_keeper_who_is_taken_out_is_signed_out(session: Session) -> None:
    secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    make_phone_code(session, 1, NOW_US)
    remove_keeper(session, "Anna")

    assert asker_with(session, secret, NOW_US) is None
    with pytest.raises(UnknownError):
        remove_keeper(session, "Anna")


def test_a_code_signs_one_phone_in(session: Session) -> None:
    code = make_phone_code(session, 1, NOW_US)
    asker = asker_with(session, redeem_phone_code(session, code, PHONE, NOW_US), NOW_US)

    assert asker is not None
    assert asker.name == "Anna"
    with pytest.raises(SignInError, match="has been used or has expired"):
        redeem_phone_code(session, code, PHONE, NOW_US)


def test_looking_at_a_code_does_not_use_it_up(session: Session) -> None:
    code = make_phone_code(session, 1, NOW_US)
    looked = [phone_code_is_good(session, code, NOW_US) for _ in range(3)]

    assert looked == [True] * 3
    assert redeem_phone_code(session, code, PHONE, NOW_US)


def test_a_code_expires(session: Session) -> None:
    code = make_phone_code(session, 1, NOW_US)
    end_us = NOW_US + PHONE_CODE_S * US_PER_S

    assert phone_code_is_good(session, code, end_us - 1)
    assert not phone_code_is_good(session, code, end_us)
    with pytest.raises(SignInError):
        redeem_phone_code(session, code, PHONE, end_us)


def test_of_many_phones_with_one_code_one_gets_in(guarded: Context) -> None:
    with guarded.sessions() as session:
        code = make_phone_code(session, 1, NOW_US)
    gate = threading.Barrier(8)
    got_in: list[str] = []

    def redeem() -> None:
        gate.wait()
        try:
            with guarded.sessions() as session:
                got_in.append(redeem_phone_code(session, code, PHONE, NOW_US))
        except SignInError:
            pass

    threads = [threading.Thread(target=redeem) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(got_in) == 1


def test_an_address_may_try_only_so_often() -> None:
    attempts = Attempts()
    for number in range(PER_ADDRESS):
        attempts.note(f"name {number}", "192.0.2.7", NOW_US)
    with pytest.raises(BusyError) as busy:
        attempts.note("Anna", "192.0.2.7", NOW_US + US_PER_S)

    assert busy.value.retry_after_s == WINDOW_S - 1
    attempts.note("Anna", "192.0.2.8", NOW_US)
    attempts.note("Anna", "192.0.2.7", NOW_US + WINDOW_S * US_PER_S)


def test_attempts_under_a_clock_that_was_set_back_since_do_not_lock_the_keeper_out() -> None:
    attempts = Attempts()
    for _ in range(PER_ADDRESS):
        attempts.note("Anna", "192.0.2.7", NOW_US + 3 * 86_400 * US_PER_S)

    for _ in range(PER_ADDRESS):
        attempts.note("Anna", "192.0.2.7", NOW_US)

    with pytest.raises(BusyError):
        attempts.note("Anna", "192.0.2.7", NOW_US)


def test_a_name_may_be_tried_only_so_often() -> None:
    attempts = Attempts()
    for number in range(PER_NAME):
        attempts.note("Anna", f"192.0.2.{number}", NOW_US)

    with pytest.raises(BusyError):
        attempts.note("ANNA", "198.51.100.1", NOW_US)


def test_one_address_cannot_use_up_the_attempts_of_a_name() -> None:
    attempts = Attempts()
    for _ in range(PER_NAME + 5):
        try:
            attempts.note("Anna", "192.0.2.7", NOW_US)
        except BusyError:
            continue

    attempts.note("Anna", "198.51.100.1", NOW_US)


def test_a_home_with_ipv6_counts_as_one_address() -> None:
    attempts = Attempts()
    for number in range(PER_ADDRESS):
        attempts.note(f"name {number}", f"2001:db8:0:1::{number:x}", NOW_US)

    with pytest.raises(BusyError):
        attempts.note("Anna", "2001:db8:0:1:ffff::1", NOW_US)


def test_who_signs_in_is_forgiven_earlier_slips(session: Session) -> None:
    attempts = Attempts()
    for number in range(PER_ADDRESS - 1):
        attempts.note("Anna", "192.0.2.7", NOW_US + number)
    sign_in(session, attempts, "Anna", "rind and paste", PHONE, NOW_US)

    for _ in range(PER_ADDRESS):
        attempts.note("Anna", "192.0.2.7", NOW_US)


def test_what_is_remembered_of_attempts_is_bounded() -> None:
    attempts = Attempts()
    for number in range(10_000):
        attempts.note(f"{number}" * 500, f"10.0.{number >> 8}.{number & 255}", NOW_US)

    assert len(attempts._tried_us) <= 4_096
    assert max(map(len, attempts._tried_us)) <= 110


def test_a_browser_with_the_cookie_is_let_in_and_its_cookie_prolonged(guarded: Context) -> None:
    world = SetClock()
    with guarded.sessions() as session:
        secret = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
    app = create_app(guarded, world=world)
    cookie = {"cookie": f"{COOKIE}={secret}"}
    with TestClient(app, base_url="https://cave.example") as browser:
        first = browser.get("/api/wheels", headers=cookie)
        world.time_us += 2 * 86_400 * US_PER_S
        later = browser.get("/api/wheels", headers=cookie)
        world.time_us += (SIGNED_IN_S + 1) * US_PER_S
        too_late = browser.get("/api/wheels", headers=cookie)

    assert [first.status_code, later.status_code, too_late.status_code] == [200, 200, 401]
    assert "set-cookie" not in first.headers
    assert later.headers["set-cookie"] == cookie_header(secret, is_secure=True)


def test_the_cookie_cannot_be_read_by_scripts_or_sent_by_other_sites() -> None:
    header = cookie_header("secret", is_secure=True)

    assert header.startswith("wheelward=secret; ")
    assert {"HttpOnly", "SameSite=Lax", "Secure", "Path=/"} <= set(header.split("; "))
    assert "Secure" not in cookie_header("secret", is_secure=False)


def test_a_keeper_sees_the_browsers_and_signs_one_out(guarded: Context) -> None:
    with guarded.sessions() as session:
        phone, laptop = (
            sign_in(session, Attempts(), "Anna", "rind and paste", Caller("", name), NOW_US)
            for name in ("A phone", "A laptop\n")
        )
    with TestClient(create_app(guarded, world=SetClock()), base_url="http://cave") as browser:
        headers = {"cookie": f"{COOKIE}={laptop}"}
        listed = browser.get("/api/browsers", headers=headers).json()
        gone = browser.delete(f"/api/browsers/{listed[1]['id']}", headers=headers)
        after = browser.get("/api/wheels", headers={"cookie": f"{COOKIE}={phone}"})

    assert [(each["device"], each["this_one"]) for each in listed] == [
        ("A laptop", True),
        ("A phone", False),
    ]
    assert (gone.status_code, after.status_code) == (204, 401)


def test_nobody_signs_out_the_browser_of_another_keeper(guarded: Context) -> None:
    with guarded.sessions() as session:
        add_keeper(session, "Bert", "another password", NOW_US)
        anna = sign_in(session, Attempts(), "Anna", "rind and paste", PHONE, NOW_US)
        bert = sign_in(session, Attempts(), "Bert", "another password", PHONE, NOW_US)
    with TestClient(create_app(guarded, world=SetClock()), base_url="http://cave") as browser:
        answer = browser.delete("/api/browsers/1", headers={"cookie": f"{COOKIE}={bert}"})

    assert answer.status_code == 404
    with guarded.sessions() as session:
        assert asker_with(session, anna, NOW_US) is not None
