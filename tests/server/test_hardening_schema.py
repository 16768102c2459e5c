"""Everything that the OpenAPI document promises, asked in the ways it allows and in others.

The calls are made up by schemathesis from the document, the same ones at each run.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.authentication.limits import Buckets
from tests.server.conftest import HOST, ON
from tests.server.team import make_team

CALLS = 20
"""For each operation: that many that the document allows, and that many that it does not."""

CHECKS: list[Any] = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


def operations() -> list[Any]:
    app = create_app(ServerSettings(trail=Path("none.gpkg")))
    schema = schemathesis.openapi.from_dict(app.openapi())
    found: Iterator[Any] = schema.get_all_operations()
    return [each.ok() for each in found]


@pytest.fixture(scope="module")
def keeper(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A keeper's client on one trail for all calls; what they save stays in it."""
    path = tmp_path_factory.mktemp("schema") / "trail.gpkg"
    path.write_bytes(built.read_bytes())
    mark, tokens = make_team(path)
    app = create_app(ServerSettings(trail=path, on=ON))
    sent = {"Cookie": f"{cookie_name(mark, secure=False)}={tokens['Wren']}", "Origin": HOST}
    with TestClient(app, raise_server_exceptions=False, base_url=HOST, headers=sent) as opened:
        yield opened


@pytest.mark.parametrize("operation", operations(), ids=lambda one: one.label)
@pytest.mark.parametrize("mode", tuple(GenerationMode), ids=lambda mode: mode.value)
def test_no_call_fails_or_is_answered_by_what_the_document_does_not_say(
    keeper: TestClient, monkeypatch: pytest.MonkeyPatch, operation: Any, mode: GenerationMode
) -> None:
    monkeypatch.setattr(Buckets, "take", lambda *_, **__: 0)
    asked = 0

    @settings(
        max_examples=CALLS,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        nonlocal asked
        sent = case.as_transport_kwargs(base_url=HOST)
        answer = keeper.request(
            sent["method"],
            sent["url"],
            params=sent.get("params"),
            json=sent.get("json"),
            content=sent.get("data"),
            headers={name: str(value) for name, value in (sent.get("headers") or {}).items()},
        )
        case.validate_response(answer, checks=CHECKS)
        asked += 1

    try:
        ask()
    except Unsatisfiable:
        # An operation without parameters cannot be asked wrongly.
        assert mode is GenerationMode.NEGATIVE
        return
    assert asked > 0
