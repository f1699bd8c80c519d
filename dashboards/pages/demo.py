"""The demo's levers: messages to the simulated cave, sent over the real broker."""

import threading
from typing import Any

import paho.mqtt.client as mqtt
from fastapi import APIRouter, Request, Response
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from dashboards.pages.rendering import see_other
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.errors import UnknownError
from service.settings import BrokerSettings
from service.store import places

router = APIRouter()

SAID = {
    "tray-empty": "The tray is dry. Humidity falls within about a minute here; then the verdict"
    " changes and the alarm comes.",
    "tray-leak": "The tray leaks, and humidity creeps down over hours of the cave's time. Look at"
    " the alarms in four to five minutes: first comes the early warning, and minutes later the"
    " alarm.",
    "tray-fill": "The tray is full again. Humidity rises within about a minute here.",
    "door-open": "The door stands open for a minute of the cave's time. Look for a short dip in"
    " the line of humidity.",
}
"""What the page says after a lever was pulled."""

_LEVERS = {
    ("tray", "empty"),
    ("tray", "leak"),
    ("tray", "fill"),
    ("door", "open"),
}
_WITHIN_S = 5.0
_QOS = 1


@router.post("/demo/{what}/{action}")
def pull(
    request: Request, context: WithContext, session: WithSession, what: str, action: str
) -> Response:
    """Pull one of the demo's levers."""
    del request
    site = places.the_site(session)
    if context.settings.demo is None or (what, action) not in _LEVERS or site is None:
        raise UnknownError("there is no such lever here")
    publish(context.settings.broker, f"demo/{site.slug}/{what}", action)
    return see_other(f"/?said={what}-{action}")


def publish(broker: BrokerSettings, topic: str, payload: str) -> None:
    """Publish one message and wait until the broker has taken it.

    Raises:
        RefusedError: The broker was not reached in time, or did not take it.
    """
    answered = threading.Event()
    codes: list[Any] = []
    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    if broker.username is not None:
        client.username_pw_set(
            broker.username, broker.password.get_secret_value() if broker.password else None
        )
    if broker.tls:
        client.tls_set()

    def connected(_client: mqtt.Client, _data: Any, _flags: Any, code: Any, _props: Any) -> None:
        if code.is_failure:
            codes.append(code)
            answered.set()
        else:
            client.publish(topic, payload, qos=_QOS)

    def published(_client: mqtt.Client, _data: Any, _id: int, code: Any, _props: Any) -> None:
        codes.append(code)
        answered.set()

    client.on_connect = connected
    client.on_publish = published
    try:
        client.connect(broker.host, broker.port)
    except OSError:
        raise RefusedError("the demo's broker cannot be reached; is the demo ending?") from None
    client.loop_start()
    in_time = answered.wait(_WITHIN_S)
    client.disconnect()
    client.loop_stop()
    if not in_time or codes[0].is_failure:
        why = str(codes[0]) if codes else "it did not answer"
        raise RefusedError(f"the demo's broker did not take the message: {why}")
