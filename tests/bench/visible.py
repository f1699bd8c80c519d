"""From publish to the verdict that a person sees: broker, worker, store, page, Chromium."""

import re
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from playwright.sync_api import Browser, sync_playwright

from sensors.payloads import Sample, encode, topic_of
from service.broker import PrivateBroker, Role
from service.ingest.worker import IngestWorker
from service.settings import BrokerSettings
from tests import builders
from tests.browser.conftest import ARGUMENTS, served_site

TIMES = 5
TOPIC = topic_of("larch-lane", "blue-box-air")
WAIT_S = 30.0
DRY_BLUE = re.compile(r"Blue.*too dry", re.DOTALL)


def rows() -> Iterator[tuple[str, str]]:
    """What was measured, and the figure in words."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=list(ARGUMENTS)
        )
        with PrivateBroker(Path(folder) / "broker") as broker:
            bare_s = statistics.median(bare_round_trips_s(broker))
            for demo, every_s, where in ((True, 2.0, "in the demo"), (False, 5.0, "at home")):
                # Published at moments spread over the time between two looks.
                seen = [
                    seen_after_s(
                        broker,
                        browser,
                        Path(folder) / f"{where}{number}",
                        demo=demo,
                        pause_s=every_s * number / TIMES,
                    )
                    for number in range(TIMES)
                ]
                middle_s = statistics.median(seen)
                yield (
                    f"publish to visible verdict {where} / bare broker round trip",
                    (
                        f"{middle_s / bare_s:,.0f} (the page looks every {every_s:g} s: median "
                        f"{middle_s:.1f} s, longest {max(seen):.1f} s of {TIMES}; "
                        f"round trip {bare_s * 1000:.1f} ms)"
                    ),
                )
        browser.close()


def bare_round_trips_s(broker: PrivateBroker) -> list[float]:
    """From publish to a subscriber that only notes it, through the same broker."""
    heard, subscribed = threading.Event(), threading.Event()
    ear = connected(broker.settings(Role.WORKER))
    ear.on_message = lambda *_: heard.set()
    ear.on_subscribe = lambda *_: subscribed.set()
    ear.subscribe("caves/#", qos=1)
    assert subscribed.wait(WAIT_S)
    mouth = connected(broker.settings(Role.SENSOR))
    took = []
    for _ in range(50):
        heard.clear()
        began_s = time.perf_counter()
        mouth.publish("caves/bench/bare/senml", b"[]", qos=1)
        assert heard.wait(WAIT_S)
        took.append(time.perf_counter() - began_s)
    for client in (ear, mouth):
        client.disconnect()
        client.loop_stop()
    return took


def seen_after_s(
    broker: PrivateBroker, browser: Browser, folder: Path, *, demo: bool, pause_s: float
) -> float:
    """From publishing an hour of dry air until the phone's page says "too dry" of the blue."""
    context = builders.larch_lane(folder, demo=demo)
    assert isinstance(context.clock, builders.FixedClock)
    context.clock.time_us += builders.HOUR_US
    worker = IngestWorker(broker.settings(Role.WORKER), (), context.sessions, context.clock)
    stop = threading.Event()
    work = threading.Thread(target=worker.run, args=(stop,))
    work.start()
    mouth = connected(broker.settings(Role.SENSOR))
    try:
        with served_site(context) as address:
            page = browser.new_page(viewport={"width": 390, "height": 844})
            page.goto(address)
            while not worker.is_listening:
                time.sleep(0.01)
            time.sleep(pause_s)
            began_s = time.perf_counter()
            mouth.publish(TOPIC, dry_hour(context.clock.time_us), qos=1)
            told = page.locator("a[href^='/wheels/']").filter(has_text=DRY_BLUE)
            told.first.wait_for(timeout=WAIT_S * 1000)
            took_s = time.perf_counter() - began_s
            page.close()
    finally:
        mouth.disconnect()
        mouth.loop_stop()
        stop.set()
        work.join(WAIT_S)
    return took_s


def dry_hour(now_us: int) -> bytes:
    """A pack of an hour of readings at 75 %RH, one a minute."""
    first_us = now_us - 59 * builders.MINUTE_US
    return encode(
        "",
        [Sample("", first_us + minute * builders.MINUTE_US, 10.0, 75.0) for minute in range(59)],
    )


def connected(settings: BrokerSettings) -> Client:
    """A client in that role."""
    assert settings.password is not None
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.username_pw_set(settings.username, settings.password.get_secret_value())
    client.connect(settings.host, settings.port)
    client.loop_start()
    return client
