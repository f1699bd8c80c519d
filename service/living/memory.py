"""What was worked out before, kept while it holds; bounded, and owned by whoever built it.

Nothing here knows when a result stops to hold: that is in its key, which names all that the
result rests on.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, Final, TypeVar

Kept = TypeVar("Kept")

_MOST: Final = {
    # A quarter of a MB each at a reading a minute.
    "air": 64,
    # Half of that.
    "latest": 12,
    # About 1 MB each.
    "fit": 12,
    # About 7 MB each for eight weeks of minutes.
    "climate": 4,
    # About 0.6 MB each for eight weeks.
    "bands": 16,
    # About half a MB each for eight weeks.
    "tracks": 24,
    # These are small.
    "counted": 24,
    "doors": 64,
    "dries": 64,
    "now": 8,
    # At most half a megabyte each, for a year.
    "plan": 96,
}
"""How many results of each kind are kept. Our choice: some 85 MB when all is full with eight
weeks of minutes, as measured on the demo's household kind by kind; there it holds 35 MB."""


class Memory:
    """Results by kind and key; the one that was asked for longest ago goes first.

    Threads may share it. Of two that ask for the same new result at once, the second waits for
    the first. That cannot lock up while a kind asks only for kinds that never ask for it.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[str, OrderedDict[Hashable, Any]] = {kind: OrderedDict() for kind in _MOST}
        self._under_way: dict[tuple[str, Hashable], threading.Event] = {}

    def recall(self, kind: str, key: Hashable, work_out: Callable[[], Kept]) -> Kept:
        """The result kept under that key, or a new one, which is then kept."""
        kept, whole_key = self._kept[kind], (kind, key)
        while True:
            with self._lock:
                if key in kept:
                    kept.move_to_end(key)
                    found: Kept = kept[key]
                    return found
                other = self._under_way.get(whole_key)
                if other is None:
                    done = self._under_way[whole_key] = threading.Event()
                    break
            # If the other one fails, this one tries.
            other.wait()
        try:
            made = work_out()
            with self._lock:
                kept[key] = made
                while len(kept) > _MOST[kind]:
                    kept.popitem(last=False)
        finally:
            with self._lock:
                del self._under_way[whole_key]
            done.set()
        return made

    def count(self) -> int:
        """How many results are kept in all."""
        with self._lock:
            return sum(len(kept) for kept in self._kept.values())
