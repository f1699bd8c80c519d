"""The simulated sensors, live: the caves of a history go on, and publish over MQTT.

The demo's clock and the broker's address come as arguments; the service is not imported.
"""

import json
import queue
import signal
import threading
import time
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from sensors.errors import BadFileError, SendError
from sensors.payloads import Sample, encode
from sensors.sender import Broker, Sender
from sensors.simulation import larch_lane as lane
from sensors.simulation.history import STATE_FILE
from sensors.simulation.household import (
    READ_EVERY_US,
    Happening,
    Household,
    Kind,
    restore,
)

DOOR_S = 60.0
"""How long the door stays open when the demo opens it. [s]"""

LEAK_LEFT_KG, LEAK_KG_PER_H = 0.040, 0.002
"""What is left in the tray when the demo lets it leak, and what it then loses. [kg, kg/h] Found by
running the model: from any hour of the day on humidity creeps below the limit in 7 to 10 h, slowly
enough to be foretold, and at the demo's speed within minutes."""

_LONGEST_WAIT_S = 1.0
_SUBSCRIBED_WITHIN_S = 5.0
_QOS = 1
_COMMANDS = {
    ("tray", b"empty"): Happening(0, Kind.EMPTY_TRAY, lane.CAVE),
    ("tray", b"fill"): Happening(0, Kind.FILL_TRAY, lane.CAVE),
    ("tray", b"leak"): Happening(0, Kind.LEAK_TRAY, lane.CAVE, LEAK_LEFT_KG, LEAK_KG_PER_H),
    ("door", b"open"): Happening(0, Kind.OPEN_DOOR, lane.CAVE, DOOR_S),
}


@dataclass(frozen=True, slots=True)
class Clock:
    """The demo's clock: it left the world's time at `started_us` and runs `speed` times as fast."""

    started_us: int
    speed: float

    def now_us(self) -> int:
        """The time now. [µs since 1970, UTC]"""
        world_us = time.time_ns() // 1_000
        return self.started_us + round((world_us - self.started_us) * self.speed)


def household_at(folder: Path, time_us: int) -> Household:
    """The household of a history as it is at an instant of its own time.

    Args:
        folder: Where the history was written.
        time_us: An instant from the start of its last day on. [µs UTC]

    Raises:
        BadFileError: The history's state is missing or is of another household.
    """
    path = folder / STATE_FILE
    household = lane.larch_lane()
    try:
        restore(household, json.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise BadFileError(f"{path} cannot be read: {error.strerror}; run make readings") from None
    except (ValueError, KeyError, TypeError):
        raise BadFileError(
            f"{path} is not the state of this household; run make readings"
        ) from None
    household.live_until(time_us)
    return household


class Live:
    """A household that publishes, minute by minute of the demo's clock, until told to stop."""

    def __init__(self, household: Household, shift_us: int, clock: Clock, broker: Broker) -> None:
        self._household = household
        self._shift_us = shift_us
        self._clock = clock
        self._broker = broker
        self._commands: queue.SimpleQueue[Happening | None] = queue.SimpleQueue()
        self._subscribed = threading.Event()

    def stop(self) -> None:
        """Come to a clean end soon; may be called from a signal or another thread."""
        self._commands.put(None)

    def run(self) -> None:
        """Publish until `stop`; every minute is sent, late ones too.

        Raises:
            SendError: The broker cannot be reached, refuses, or stops answering.
        """
        with ExitStack() as stack:
            senders = {
                name: stack.enter_context(Sender(self._broker, lane.SITE, name))
                for name in self._household.sensors
            }
            stack.callback(self._end_listening, self._listen())
            while True:
                until_us = self._clock.now_us() - self._shift_us
                for reading in self._household.readings_until(until_us):
                    sample = Sample(
                        f"{lane.SITE}/{reading.sensor}",
                        reading.time_us + self._shift_us,
                        reading.temperature_c,
                        reading.humidity_pct,
                    )
                    senders[reading.sensor].send(encode("", [sample]))
                if not self._wait():
                    break
            # A demo that is killed ends the broker too: then nobody is left to wait for.
            for sender in senders.values():
                sender.hurry()
            for sender in senders.values():
                sender.finish()

    def _wait(self) -> bool:
        """Wait for a command or the next minute; False when it is time to stop."""
        due_us = self._household.time_us + READ_EVERY_US + self._shift_us
        wait_s = (due_us - self._clock.now_us()) / 1e6 / self._clock.speed
        try:
            event = self._commands.get(timeout=min(_LONGEST_WAIT_S, max(0.0, wait_s)))
        except queue.Empty:
            return True
        if event is None:
            return False
        self._household.apply(event)
        return True

    def _listen(self) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTv5)
        if self._broker.user is not None:
            client.username_pw_set(self._broker.user, self._broker.password)
        if self._broker.is_tls:
            client.tls_set()
        client.reconnect_delay_set(min_delay=1, max_delay=5)
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        client.on_subscribe = self._on_subscribe
        try:
            client.connect(self._broker.host, self._broker.port, keepalive=30)
        except OSError as error:
            raise SendError(f"the broker cannot be reached: {error}; is it running?") from None
        client.loop_start()
        # A command that comes before the broker knows of us would be lost; so nothing is
        # published, by which others see that the cave lives, until it does.
        self._subscribed.wait(_SUBSCRIBED_WITHIN_S)
        return client

    @staticmethod
    def _end_listening(client: Client) -> None:
        client.disconnect()
        client.loop_stop()

    # The signatures of the callbacks are paho's.

    def _on_connect(
        self,
        client: Client,
        _userdata: Any,
        _flags: ConnectFlags,
        _reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        # Subscribed at each connection, for the broker may have forgotten it.
        client.subscribe([(f"demo/{lane.SITE}/{what}", _QOS) for what in ("tray", "door")])

    def _on_subscribe(self, *_told: Any) -> None:
        self._subscribed.set()

    def _on_message(self, _client: Client, _userdata: Any, message: MQTTMessage) -> None:
        event = _COMMANDS.get((message.topic.rpartition("/")[2], bytes(message.payload)))
        if event is not None:
            self._commands.put(event)


def run_live(folder: Path, broker: Broker, clock: Clock) -> None:
    """Go on from a history at the moment the clock was started, until SIGTERM or Ctrl-C.

    Raises:
        BadFileError: The history cannot be used.
        SendError: The broker cannot be reached, refuses, or stops answering.
    """
    shift_us = lane.shift_us(clock.started_us)
    live = Live(household_at(folder, clock.started_us - shift_us), shift_us, clock, broker)

    def stop(_number: int, _frame: FrameType | None) -> None:
        live.stop()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    live.run()
