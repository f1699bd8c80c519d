"""How often a sign-in may be tried: per name and per address, in memory, bounded.

A restart forgets; a guesser who could restart the service needs no password.
"""

import threading
from collections import OrderedDict, deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address
from typing import Final

from service.api.refusals import BusyError
from service.clock import US_PER_S

WINDOW_S: Final = 900
"""Our choice: attempts older than a quarter of an hour are forgotten."""
PER_ADDRESS: Final = 10
"""Our choice: enough for a family with thick fingers behind one address."""
PER_NAME: Final = 30
"""Our choice. More than per address, so that one stranger cannot easily lock the keeper out;
at 30 in a quarter of an hour a guesser tries some 2,900 passwords a day."""
_MOST_KEYS: Final = 4_096
_IPV6_HOME_BITS: Final = 64
"""A home is given at least so many leading bits; within them it may change address at will."""


@dataclass(slots=True)
class Attempts:
    """Remembers who has tried to sign in lately."""

    _tried_us: OrderedDict[str, deque[int]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, name: str, address: str, now_us: int) -> None:
        """Count an attempt, before its password is looked at.

        Raises:
            BusyError: There were too many of that name or from that address.
        """
        with self._lock:
            for key, most in _keys(name, address):
                tried = self._tried_us.setdefault(key, deque(maxlen=PER_NAME))
                self._tried_us.move_to_end(key)
                # One of a clock that has been set back since would else count until it comes by.
                while tried and abs(tried[0] - now_us) >= WINDOW_S * US_PER_S:
                    tried.popleft()
                if len(tried) >= most:
                    wait_us = tried[-most] + WINDOW_S * US_PER_S - now_us
                    raise BusyError(
                        "there were too many attempts to sign in; wait some minutes",
                        max(1, -(-wait_us // US_PER_S)),
                    )
            for key, _ in _keys(name, address):
                self._tried_us[key].append(now_us)
            # Those who tried longest ago are forgotten first.
            while len(self._tried_us) > _MOST_KEYS:
                self._tried_us.popitem(last=False)

    def forgive(self, name: str, address: str) -> None:
        """Forget the attempts of one who has signed in."""
        with self._lock:
            for key, _ in _keys(name, address):
                self._tried_us.pop(key, None)


def _keys(name: str, address: str) -> Iterable[tuple[str, int]]:
    # The address comes first: once it has used up its attempts, it cannot use up a name's. A
    # name may be as long as a body; its beginning tells names apart well enough.
    return (f"from {_home(address)}", PER_ADDRESS), (f"name {name.casefold()[:100]}", PER_NAME)


def _home(address: str) -> str:
    try:
        parsed = ip_address(address)
    except ValueError:
        return address[:100]
    if isinstance(parsed, IPv6Address) and parsed.ipv4_mapped is None:
        return str(int(parsed) >> _IPV6_HOME_BITS)
    return str(parsed)
