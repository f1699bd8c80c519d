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
    # About 2 MB each for eight weeks of minutes.
    "air": 16,
    # About 1 MB each.
    "fit": 12,
    # About 9 MB each for eight weeks of minutes.
    "climate": 3,
    # About 1 MB each for eight weeks.
    "bands": 12,
    # About half a MB each for eight weeks.
    "tracks": 32,
    # These are small.
    "doors": 64,
    "dries": 64,
    "now": 8,
    # At most half a megabyte each, for a year.
    "plan": 96,
}
"""How many results of each kind are kept. Our choice: some 80 MB at most on a small board."""


class Memory:
    """Results by kind and key; the one that was asked for longest ago goes first.

    Threads may share it. Two that ask for the same new result both work it out.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[str, OrderedDict[Hashable, Any]] = {kind: OrderedDict() for kind in _MOST}

    def recall(self, kind: str, key: Hashable, work_out: Callable[[], Kept]) -> Kept:
        """The result kept under that key, or a new one, which is then kept."""
        kept = self._kept[kind]
        with self._lock:
            if key in kept:
                kept.move_to_end(key)
                found: Kept = kept[key]
                return found
        made = work_out()
        with self._lock:
            kept[key] = made
            kept.move_to_end(key)
            while len(kept) > _MOST[kind]:
                kept.popitem(last=False)
        return made

    def count(self) -> int:
        """How many results are kept in all."""
        with self._lock:
            return sum(len(kept) for kept in self._kept.values())
