"""What every request needs, built once by the composition root and carried by the app."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import Depends, Request

from service.behaving.behaviour import Behaviours
from service.clock import Clock
from service.judging import Plans
from service.living.memory import Memory
from service.settings import Settings
from service.store.database import Engine, Session, SessionMaker


@dataclass(frozen=True, slots=True)
class Context:
    """The object graph of one process.

    Attributes:
        settings: What the keeper has set.
        clock: The one clock.
        engine: The store's engine; closed by whoever built it.
        sessions: Opens a session on the store that commits at its end.
        plans: The ageing plans by slug.
        memory: Keeps what wheels live through while it holds; pages and the watch share it.
        behaviours: Keeps how spaces behave while it holds.
    """

    settings: Settings
    clock: Clock
    engine: Engine
    sessions: SessionMaker
    plans: Plans
    memory: Memory = field(default_factory=Memory)
    behaviours: Behaviours = field(default_factory=Behaviours)


def _context(request: Request) -> Context:
    context = request.app.state.context
    assert isinstance(context, Context)
    return context


WithContext = Annotated[Context, Depends(_context)]


def _session(context: WithContext) -> Iterator[Session]:
    with context.sessions() as session:
        yield session


# The session is committed before the answer goes out, so that a client that has its answer
# finds what it wrote.
WithSession = Annotated[Session, Depends(_session, scope="function")]
