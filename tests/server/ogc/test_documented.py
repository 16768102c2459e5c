"""Whatever is asked, the answer is one that the service's own OpenAPI document has."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.types import Receive, Scope, Send

from server.app import create_app
from server.settings import ServerSettings
from tests.server.conftest import ON

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
ENDS = ("", "/items", "/items/{featureId}", "/schema")
PATHS = [
    "/",
    "/api",
    "/conformance",
    "/collections",
    *(f"/collections/{name}{end}" for name in ("boxes", "visits", "nests") for end in ENDS),
]


@pytest.fixture(scope="module")
def schema(built: Path) -> Any:
    app = create_app(ServerSettings(trail=built, on=ON))

    async def on_loopback(scope: Scope, receive: Receive, send: Send) -> None:
        # The asker calls the server by a name of its own.
        if scope["type"] == "http":
            others = [pair for pair in scope["headers"] if pair[0] != b"host"]
            scope = {**scope, "headers": [*others, (b"host", b"127.0.0.1")]}
        await app(scope, receive, send)

    return schemathesis.openapi.from_asgi("/ogc/api", on_loopback)


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_is_documented(schema: Any, path: str) -> None:
    answered: set[int] = set()

    @settings(
        max_examples=25,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=schema[path]["GET"].as_strategy())
    def ask(case: Any) -> None:
        answer = case.call()
        case.validate_response(answer, checks=CHECKS)
        answered.add(answer.status_code)

    ask()
    assert answered <= {200, 400, 404}
    assert answered


@pytest.mark.parametrize("collection", ["boxes", "visits", "nests"])
def test_every_column_that_can_be_filtered_is_answered(client: TestClient, collection: str) -> None:
    address = f"/ogc/collections/{collection}/items"
    document = client.get("/ogc/api").json()
    items = document["paths"][f"/collections/{collection}/items"]["get"]["parameters"]
    columns = [each for each in items if each.get("in") == "query" and "schema" in each]
    assert len(columns) >= 5
    for column in columns:
        value = column["schema"].get("enum", ["1"])[0]
        answer = client.get(address, params={column["name"]: value, "f": "json"})
        assert answer.status_code in {200, 400}, (column["name"], answer.text)
