"""The worker's connection to the broker: subscribe, receive, acknowledge, come back.

MQTT 5 with a fixed client id, clean start off and a long session expiry, so that the broker
keeps what is published while the worker is away. Nothing is acknowledged here before the
worker says that it is stored.
"""

import logging
import random
import threading
from collections.abc import Callable, Sequence
from hashlib import blake2b
from typing import Any, Final

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from service.clock import US_PER_S, Clock, WorldClock
from service.ingest.inbox import BATCH_MESSAGES, Inbox, Received
from service.ingest.messages import Message
from service.settings import BrokerSettings

READINGS_FILTER: Final = "caves/+/+/senml"
STATUS_FILTER: Final = "caves/+/+/status"

SESSION_EXPIRY_S: Final = 90 * 24 * 3600
"""How long the broker keeps the session of a worker that stays away. Our choice: longer than
any holiday, yet a worker that is gone for good does not fill the broker's disk for ever."""

RECEIVE_MAXIMUM: Final = 2 * BATCH_MESSAGES
"""Messages under way at once. Below the size of a batch, each batch would wait for its time
limit; at twice that, the next one comes in while this one is committed."""

KEEPALIVE_S: Final = 60

FIRST_PAUSE_S: Final = 0.5
LONGEST_PAUSE_S: Final = 30.0
"""Pauses between attempts to reconnect double from the first to the longest. Our choice."""

_STEADY_S: Final = 1.0
"""A connection that breaks sooner counts as one more failure: two workers with one client id
would else throw each other off without end."""

_log = logging.getLogger(__name__)

Acknowledge = Callable[[Client, Sequence[Received]], None]
"""Tells the broker that messages are stored."""


def acknowledge_batch(client: Client, batch: Sequence[Received]) -> None:
    """Queue the acknowledgements of a batch for sending."""
    for received in batch:
        client.ack(received.packet_id, received.qos)


class BrokerLink:
    """Feeds an inbox from the broker until it is closed, whatever happens to the connection.

    Attributes:
        is_listening: The broker has confirmed the subscriptions of this connection.
    """

    def __init__(
        self,
        broker: BrokerSettings,
        topic_filters: Sequence[str],
        inbox: Inbox,
        clock: Clock,
        acknowledge: Acknowledge = acknowledge_batch,
    ) -> None:
        self._broker = broker
        self._topic_filters = topic_filters
        self.is_listening = False
        self._inbox = inbox
        self._clock = clock
        self._acknowledge = acknowledge
        self._arrivals: dict[int, tuple[bytes, int]] = {}
        self._connection = 0
        self._connection_lock = threading.Lock()
        self._failures = 0
        self._connected_us = 0
        self._is_accepted = False
        self._said = self._session = ""
        self._client = self._make_client()

    def open(self) -> None:
        """Begin to connect, in a thread of its own; the broker need not be there yet."""
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # paho's own
        properties.SessionExpiryInterval = SESSION_EXPIRY_S
        properties.ReceiveMaximum = RECEIVE_MAXIMUM
        self._client.connect_async(
            self._broker.host,
            self._broker.port,
            KEEPALIVE_S,
            clean_start=False,
            properties=properties,
        )
        self._client.loop_start()

    def close(self) -> None:
        """Send what is queued, then leave; the broker keeps the session."""
        self._client.disconnect()
        self._client.loop_stop()

    def acknowledge(self, batch: Sequence[Received]) -> None:
        """Acknowledge messages that are stored.

        A packet id belongs to its connection: on a later one it may name a message that is
        not stored yet. What came on an earlier connection is left alone; the broker sends
        it again and the store knows it.
        """
        with self._connection_lock:
            current = [one for one in batch if one.connection == self._connection]
            if current:
                self._acknowledge(self._client, current)

    def _make_client(self) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._broker.client_id,
            protocol=MQTTProtocolVersion.MQTTv5,
            manual_ack=True,
        )
        if self._broker.username is not None:
            password = self._broker.password
            client.username_pw_set(
                self._broker.username, password.get_secret_value() if password else None
            )
        if self._broker.tls:
            client.tls_set()
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        return client

    def _on_connect(
        self,
        client: Client,
        _userdata: Any,
        flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._is_accepted = not reason.is_failure
        if reason.is_failure:
            self._say(f"the broker at {self._where} refuses the worker: {reason}")
            return
        self._connected_us = WorldClock().now_us()
        self._session = "kept the session" if flags.session_present else "starts a new session"
        # Kept readings are asked for only once: they would come again at each reconnection.
        # A status is wanted each time, for a sensor may have sent it with QoS 0.
        once = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
        always = SubscribeOptions(qos=1)
        client.subscribe(
            [(STATUS_FILTER, always), *((wanted, once) for wanted in self._topic_filters)]
        )

    def _on_connect_fail(self, _client: Client, _userdata: Any) -> None:
        self._say(f"cannot reach the broker at {self._where}; trying again")
        self._set_next_pause()

    def _on_disconnect(
        self,
        _client: Client,
        _userdata: Any,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._connection_lock:
            self._connection += 1
            self.is_listening = False
        if WorldClock().now_us() - self._connected_us > _STEADY_S * US_PER_S:
            self._failures = 0
        # A refusal ends the connection too, and has been told.
        if reason.is_failure and self._is_accepted:
            self._say(f"lost the broker at {self._where} ({reason}); trying again")
        self._set_next_pause()

    def _on_subscribe(
        self,
        _client: Client,
        _userdata: Any,
        _packet_id: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        filters = (STATUS_FILTER, *self._topic_filters)
        for wanted, reason in zip(filters, reasons, strict=True):
            if reason.is_failure:
                _log.error("the broker refuses the subscription to %s: %s", wanted, reason)
        # Not before: of what is published earlier a new session holds nothing.
        self.is_listening = True
        self._say(f"listening to the broker at {self._where}, which {self._session}")

    def _on_message(self, _client: Client, _userdata: Any, raw: MQTTMessage) -> None:
        """Hand a message to the inbox; holds the network back while the store is behind.

        Held back longer than one and a half keepalives, the broker ends the connection. It
        keeps what is not acknowledged and sends it again after the reconnection.
        """
        try:
            topic = raw.topic
        except UnicodeDecodeError:
            topic = "a topic that is not UTF-8"
        self._inbox.put(
            Received(
                Message(
                    topic=topic,
                    payload=bytes(raw.payload),
                    arrival_us=self._arrival_us(raw),
                    is_repeat=raw.dup or raw.retain,
                    is_kept=raw.retain,
                    delivery=f"{self._broker.client_id}/{raw.mid}" if raw.qos else None,
                ),
                packet_id=raw.mid,
                qos=raw.qos,
                connection=self._connection,
            )
        )

    def _arrival_us(self, raw: MQTTMessage) -> int:
        """When a message came the first time, as far as this process has seen it.

        A reading that has no time of its own takes this one; sent again it must not become
        a second reading.
        """
        digest = blake2b(raw.payload, digest_size=16).digest()
        before = self._arrivals.get(raw.mid)
        if raw.dup and before is not None and before[0] == digest:
            return before[1]
        now_us = self._clock.now_us()
        if raw.qos > 0:
            self._arrivals[raw.mid] = digest, now_us
        return now_us

    def _set_next_pause(self) -> None:
        """Choose how long paho waits before it tries again; it reads both just after this.

        The random part keeps several workers from coming back in step.
        """
        self._failures += 1
        pause_s: float = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** min(self._failures - 1, 10))
        pause_s *= random.uniform(0.5, 1.0)  # noqa: S311 (no secret)
        self._client.reconnect_delay_set(pause_s, pause_s)  # type: ignore[arg-type]  # a fraction serves as well

    def _say(self, state: str) -> None:
        """Log a change of state, once."""
        if state != self._said:
            self._said = state
            _log.info("%s", state)

    @property
    def _where(self) -> str:
        return f"{self._broker.host}:{self._broker.port}"
