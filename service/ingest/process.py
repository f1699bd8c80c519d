"""The ingest worker as a process: built from the settings, ended by an event."""

import threading

from service.clock import Clock, DemoClock, WorldClock
from service.ingest.worker import IngestWorker
from service.settings import Settings
from service.store.database import open_engine, session_maker


def run(settings: Settings, stop: threading.Event) -> None:
    """Ingest until `stop` is set. The tables must be there; `wheelward migrate` makes them."""
    engine = open_engine(settings.database)
    try:
        worker = IngestWorker(
            settings.broker,
            [mapping.mapping() for mapping in settings.mappings],
            session_maker(engine),
            _clock(settings),
        )
        worker.run(stop)
    finally:
        engine.dispose()


def _clock(settings: Settings) -> Clock:
    if settings.demo is None:
        return WorldClock()
    return DemoClock(settings.demo.started_us, settings.demo.speed)
