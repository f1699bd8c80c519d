"""Passwords: what is asked of one, and Argon2 to keep and check it.

One hash is worked out at a time: each takes 64 MiB, and a small board has little more.
"""

import threading
import unicodedata
from typing import Final

from argon2 import PasswordHasher, profiles
from argon2.exceptions import InvalidHashError, VerificationError

from service.api.refusals import BusyError, RefusedError

SHORTEST: Final = 10
"""Our choice, with no rule on the kinds of signs: length is what counts."""
_LONGEST: Final = 1_000

# RFC 9106, section 4, second recommended option: Argon2id with 3 passes over 64 MiB, for where
# memory is short. The first option wants 2 GiB, more than most of the boards have that this
# service runs on.
_HASHER: Final = PasswordHasher.from_parameters(profiles.RFC_9106_LOW_MEMORY)

# What an unknown name is checked against, so that it takes as long as a known one. It is the
# hash of 32 random bytes that nobody kept, made with the parameters above.
_NOBODY: Final = (
    "$argon2id$v=19$m=65536,t=3,p=4$XLpVDYJHXzVmDiy+53thng"
    "$1etNOx2RgdWJTVPGYWMThgBZDu04SuyO9FiFGNQVR8c"
)

_ONE_AT_A_TIME: Final = threading.Lock()
_LONGEST_WAIT_S: Final = 10.0


def hash_password(password: str) -> str:
    """The hash to keep of a new password.

    Raises:
        RefusedError: The password is too short, or far too long.
    """
    if len(password) < SHORTEST:
        raise RefusedError(f"a password needs {SHORTEST} signs or more; a few words will do")
    if len(password) > _LONGEST:
        raise RefusedError(f"a password may have {_LONGEST} signs at most")
    with _ONE_AT_A_TIME:
        return _HASHER.hash(_normal(password))


def is_right(password_hash: str | None, password: str) -> bool:
    """Whether the password is the one that was hashed; with None never, but no sooner.

    Raises:
        BusyError: So many sign-ins wait that this one is better tried again.
    """
    if len(password) > _LONGEST:
        return False
    if not _ONE_AT_A_TIME.acquire(timeout=_LONGEST_WAIT_S):
        raise BusyError("many sign-ins are waiting; try again in a moment", round(_LONGEST_WAIT_S))
    try:
        _HASHER.verify(password_hash or _NOBODY, _normal(password))
    except (VerificationError, InvalidHashError):
        return False
    finally:
        _ONE_AT_A_TIME.release()
    return password_hash is not None


def is_outdated(password_hash: str) -> bool:
    """Whether a hash was made with other parameters than today's."""
    return _HASHER.check_needs_rehash(password_hash)


def _normal(password: str) -> bytes:
    # One phone writes an é as one sign, another as two; RFC 8265 asks for this form. A lone
    # half of a surrogate pair has no UTF-8, but must not stop the check either.
    return unicodedata.normalize("NFC", password).encode("utf-8", "surrogatepass")
