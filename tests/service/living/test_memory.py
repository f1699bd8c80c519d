"""The memory works each thing out once, also when two ask for it at the same time."""

import threading
from functools import partial

import pytest

from service.living.memory import Memory

WAIT_S = 10.0


def test_who_asks_while_it_is_worked_out_waits_for_it() -> None:
    memory, begun, go_on = Memory(), threading.Event(), threading.Event()
    made: list[object] = []

    def slow() -> object:
        begun.set()
        assert go_on.wait(WAIT_S)
        made.append(object())
        return made[-1]

    found: list[object] = []
    threads = [
        threading.Thread(target=lambda: found.append(memory.recall("plan", "key", slow)))
        for _ in range(3)
    ]
    threads[0].start()
    assert begun.wait(WAIT_S)
    for thread in threads[1:]:
        thread.start()
    go_on.set()
    for thread in threads:
        thread.join(WAIT_S)

    assert len(made) == 1
    assert found == made * 3


def test_another_key_does_not_wait() -> None:
    memory = Memory()

    assert memory.recall("plan", 1, lambda: memory.recall("plan", 2, lambda: "inner")) == "inner"


def test_when_one_fails_the_next_works_it_out() -> None:
    memory = Memory()

    def fail() -> str:
        raise ValueError("planted")

    with pytest.raises(ValueError, match="planted"):
        memory.recall("plan", "key", fail)

    assert memory.recall("plan", "key", lambda: "found") == "found"


def test_the_one_asked_for_longest_ago_goes_first() -> None:
    memory = Memory()
    for number in range(9):
        memory.recall("now", number, partial(int, number))
        memory.recall("now", 0, lambda: -1)

    assert memory.count() == 8
    assert memory.recall("now", 0, lambda: -1) == 0
    assert memory.recall("now", 1, lambda: -1) == -1
