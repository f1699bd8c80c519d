"""Every route that the API tells of, asked with what its own schema allows and with what not."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.api.context import Context
from service.app import create_app

Schema = Mapping[str, Any]

ODD_TEXTS = (
    *("", " ", "\x00", "\r\nX: y", "__proto__", "../../etc", "NaN", "-0", "1e400", "🧀" * 40),
    *("\u202eeulb", "a\u0300" * 30, "blue", "cave", "coat", "larch lane", "x" * 3_000),
)
ODD_DAYS = ("2026-11-25", "2026-11-26", "2027-01-01", "0001-01-01", "9999-12-31", "2026-02-30")
ODD_TIMES = (
    *("2026-11-25T11:00:00Z", "2026-11-24T12:00:00Z", "2026-10-25T02:30:00+02:00"),
    *("1970-01-01T00:00:00Z", "9999-12-31T23:59:59-23:59", "2026-11-25T25:00:00Z"),
)
ODD_NUMBERS = (-1, 0, 1, 2, 3, 2**31, 2**63, 10**400, -0.0, 0.5, 1e-320, 1e308, 5.0, 400.0)

JSON = st.recursive(
    st.none() | st.booleans() | st.sampled_from([*ODD_TEXTS, *ODD_DAYS, *ODD_TIMES, *ODD_NUMBERS]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


@dataclass(frozen=True)
class Route:
    """One operation of the API."""

    method: str
    path: str
    parameters: tuple[Schema, ...]
    body: Schema | None


@pytest.fixture
def hostile(context: Context) -> Iterator[TestClient]:
    """A browser to which our own failures come as answers, as they would in the world."""
    with TestClient(
        create_app(context), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as browser:
        yield browser


def test_no_request_can_make_any_route_fail(hostile: TestClient) -> None:
    told = hostile.get("/api/openapi.json").json()
    routes = _routes(told)
    assert len(routes) > 50  # so that an empty schema is no pass

    @given(data=st.data())
    @settings(max_examples=1_000, deadline=None, suppress_health_check=list(HealthCheck))
    def ask(data: st.DataObject) -> None:
        route = data.draw(st.sampled_from(routes))
        path = route.path
        query: dict[str, str] = {}
        for each in route.parameters:
            value = data.draw(_value(each["schema"], told))
            if each["in"] == "path":
                written = quote(_written(value), safe="") or "-"
                path = path.replace("{" + each["name"] + "}", written)
            elif each.get("required") or data.draw(st.booleans()):
                query[each["name"]] = _written(value)
        content = None
        if route.body is not None:
            content = json.dumps(data.draw(_value(route.body, told))).encode()

        answer = hostile.request(
            route.method,
            path,
            params=query,
            content=content,
            headers={"content-type": "application/json"},
        )

        assert answer.status_code < 500, (route.method, path, query, content)

    ask()


def _routes(told: Schema) -> list[Route]:
    found = []
    for path, methods in told["paths"].items():
        for method, operation in methods.items():
            kinds = operation.get("requestBody", {}).get("content", {})
            found.append(
                Route(
                    method.upper(),
                    path,
                    tuple(operation.get("parameters", ())),
                    kinds.get("application/json", {}).get("schema"),
                )
            )
    return found


def _written(value: object) -> str:
    text = value if isinstance(value, str) else json.dumps(value)
    return text[:4_000]


@st.composite
def _value(draw: st.DrawFn, schema: Schema, told: Schema) -> Any:
    """A value as the schema asks for it, or now and then anything else."""
    if draw(st.integers(0, 11)) == 0:
        return draw(JSON)
    if "$ref" in schema:
        schema = told["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    for several in ("anyOf", "oneOf", "allOf"):
        if several in schema:
            return draw(_value(draw(st.sampled_from(schema[several])), told))
    if "enum" in schema:
        return draw(st.sampled_from(schema["enum"]))
    return draw(_of_type(schema, told))


def _of_type(schema: Schema, told: Schema) -> st.SearchStrategy[Any]:
    plain = {
        "integer": st.sampled_from((1, 2, 1, 2, 3, 7, 0, -1, 2**31 - 1, 2**31)),
        "number": st.sampled_from((90.0, 70.0, 430.0, 2.5, 36, *ODD_NUMBERS)),
        "boolean": st.booleans(),
        "null": st.none(),
        "string": _text(schema),
    }
    kind = schema.get("type", "anything")
    if kind == "object":
        return _object(schema, told)
    if kind == "array":
        return st.lists(_value(schema.get("items", {}), told), max_size=3)
    return plain.get(kind, JSON)


@st.composite
def _object(draw: st.DrawFn, schema: Schema, told: Schema) -> dict[str, Any]:
    needed = schema.get("required", ())
    return {
        name: draw(_value(part, told))
        for name, part in schema.get("properties", {}).items()
        if name in needed or draw(st.booleans())
    }


def _text(schema: Schema) -> st.SearchStrategy[str]:
    match schema.get("format"):
        case "date":
            return st.sampled_from(ODD_DAYS)
        case "date-time":
            return st.sampled_from(ODD_TIMES)
    if "pattern" in schema:
        return st.sampled_from(("touch-one", "touch-two", "touch-three", "touch four"))
    return st.sampled_from(ODD_TEXTS) | st.text(max_size=20)
