"""What Plotly is given: small, honest about gaps, with the band and what happened."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from dashboards.charts import Boundary, Chart, Mark
from dashboards.drawings.air import Band, Panel
from dashboards.figures import figure
from dashboards.words import Words
from service.ageing.values import Quantity
from service.api.context import Context
from service.clock import US_PER_S
from tests import builders

Visit = Callable[[Context], TestClient]


def chart_of(client: TestClient, path: str) -> dict[str, Any]:
    answer = client.get(path)
    assert answer.status_code == 200
    chart: dict[str, Any] = answer.json()
    return chart


def line(chart: dict[str, Any], name: str) -> dict[str, Any]:
    return next(trace for trace in chart["data"] if trace["name"] == name)


def test_two_panels_share_one_time_axis(client: TestClient) -> None:
    chart = chart_of(client, "/spaces/1/figure.json?span=day")

    upper, lower = chart["layout"]["yaxis"]["domain"], chart["layout"]["yaxis2"]["domain"]
    assert upper[0] > lower[1]
    assert {trace["yaxis"] for trace in chart["data"]} == {"y", "y2"}


def test_a_long_line_stays_small_and_keeps_its_peaks(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(
            session,
            humidity=lambda ago: 99.0 if 300.0 < ago < 300.1 else 88.0,
            hours=24 * 56,
        )

    humidity = line(chart_of(visit(context), "/spaces/1/figure.json?span=all"), "humidity")

    assert 100 < len(humidity["x"]) <= 1_500
    assert max(v for v in humidity["y"] if v is not None) == 99.0


def test_a_silence_is_left_open(tmp_path: Path, visit: Visit) -> None:
    context = builders.empty_home(tmp_path)
    with context.sessions() as session:
        builders.add_one_wheel(
            session,
            humidity=builders.steady(88.0),
            hours=2,
            until_us=builders.NOW_US - 8 * builders.HOUR_US,
        )
        builders.report(session, 1, hours=2)

    humidity = line(chart_of(visit(context), "/spaces/1/figure.json?span=day"), "humidity")

    assert None in humidity["y"]
    assert humidity["connectgaps"] is False


def test_alarms_are_marked_by_shape_and_words(lane: Context, client: TestClient) -> None:
    with lane.sessions() as session:
        builders.add_alarm(session, 1)

    marks = line(chart_of(client, "/spaces/1/figure.json?span=day"), "alarms")

    assert marks["marker"]["symbol"] == ["triangle-down"]
    assert marks["customdata"] == ["raised: Cave: too dry, 80.4 %RH"]
    assert marks["x"] == [(builders.NOW_US - builders.HOUR_US) // 1_000]


def test_a_wheel_s_chart_names_its_stages(lane: Context, client: TestClient) -> None:
    del lane

    chart = chart_of(client, "/wheels/1/figure.json")

    assert "Ripening" in [each["text"] for each in chart["layout"]["annotations"]]


def test_a_stage_s_line_stays_within_its_panel(client: TestClient) -> None:
    """It would else cross the title of the lower panel."""
    chart = chart_of(client, "/wheels/1/figure.json")
    lines = [each for each in chart["layout"]["shapes"] if each["type"] == "line"]

    assert {each["yref"] for each in lines} == {"y domain", "y2 domain"}


def test_values_and_band_come_in_the_household_s_unit(tmp_path: Path, visit: Visit) -> None:
    client = visit(builders.larch_lane(tmp_path, fahrenheit=True))

    chart = chart_of(client, "/spaces/1/figure.json?span=day")

    assert line(chart, "temperature")["y"][0] == pytest.approx(50.72, abs=0.005)  # two decimals
    assert "°F" in line(chart, "temperature")["hovertemplate"]
    bands = [s for s in chart["layout"]["shapes"] if s["type"] == "rect" and s["yref"] == "y2"]
    assert [(s["y0"], s["y1"]) for s in bands] == [(46.4, 55.4)]


def test_a_figure_is_json_whatever_is_missing() -> None:
    nan = float("nan")
    times = np.array([0, US_PER_S, 2 * US_PER_S])
    panels = (
        Panel("", "humidity", "%RH", times, np.array([nan, 80.0, nan]), (Band(0, 9, 80, 90),)),
        Panel("", "temperature", "°C", times[:0], np.array([])),
    )
    marks = (Mark(0, Quantity.HUMIDITY, 80.0, "</script>", below=True, back=True),)
    chart = Chart(0, 3 * US_PER_S, panels, marks, (Boundary(0, "Ripening"),))

    written = json.dumps(figure(chart, Words()), allow_nan=False)

    assert json.loads(written)["data"][0]["y"] == [None, 80.0, None]


def test_a_figure_of_what_is_not_there_is_refused(client: TestClient) -> None:
    assert client.get("/spaces/99/figure.json").status_code == 404
    assert client.get("/wheels/99/figure.json").status_code == 404
