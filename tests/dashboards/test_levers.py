import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from fastapi.testclient import TestClient
from paho.mqtt.enums import CallbackAPIVersion

from service.api.context import Context
from tests import builders
from tests.conftest import Listener


@pytest.mark.broker
@pytest.mark.parametrize(
    "lever", [("tray", "empty"), ("tray", "leak"), ("tray", "fill"), ("door", "open")]
)
def test_a_lever_reaches_the_simulated_cave_over_the_broker(
    tmp_path: Path,
    mosquitto: Listener,
    visit: Callable[[Context], TestClient],
    lever: tuple[str, str],
) -> None:
    heard: list[tuple[str, bytes]] = []
    came, ready = threading.Event(), threading.Event()

    def on_message(_client: mqtt.Client, _data: Any, message: mqtt.MQTTMessage) -> None:
        heard.append((message.topic, bytes(message.payload)))
        came.set()

    cave = mqtt.Client(CallbackAPIVersion.VERSION2)
    cave.on_message = on_message
    cave.on_subscribe = lambda *_: ready.set()
    cave.connect(mosquitto.host, mosquitto.port)
    cave.loop_start()
    cave.subscribe("demo/#", qos=1)
    assert ready.wait(10)
    context = builders.larch_lane(tmp_path, demo=True, broker_port=mosquitto.port)

    answer = visit(context).post(f"/demo/{lever[0]}/{lever[1]}")

    assert (answer.status_code, answer.headers["location"]) == (303, f"/?said={'-'.join(lever)}")
    assert came.wait(10)
    cave.disconnect()
    cave.loop_stop()
    assert heard == [(f"demo/larch-lane/{lever[0]}", lever[1].encode())]
