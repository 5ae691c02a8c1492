"""The routes that take or give JSON, asked by Schemathesis what their own description (OpenAPI)
allows and what it forbids; and every route that takes texts, with texts that break the careless.

Schemathesis 4 judges: no fault of the server; status, kind and shape of each answer as described.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from furnished import furnished
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.generation import GenerationMode
from schemathesis.python import asgi
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from webhouse import House, settings_in

from reedwright.web.app import create_app
from reedwright.web.jobs import keeping
from reedwright.web.jobs import routes as jobroutes

HERE = "http://127.0.0.1:8420"
SEED = 20261128
EXAMPLES = 2  # for each route, of what is allowed and of what is not
CHECKS: list[Callable[..., Any]] = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
OURS = ("tune", "number", "item")  # in paths: half the time something that is there
BREAKING = [
    "\x00",
    "\ud800",  # half of a pair: UTF-8 has no bytes for it
    "../../etc/passwd\x00.abc",
    "'; DROP TABLE item; --",
    '"><script>alert(1)</script>',
    "\u202e%00%s%n{0}{{7*7}}",
    "X:1\nK:C\n" + "[" * 300,
    "9" * 300,
]


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FastAPI:
    """A furnished app whose jobs are asked for, and not done."""

    def not_started(asked: object) -> None:
        raise OSError("no process")

    def not_opened(folder: object) -> None:
        pass

    monkeypatch.setattr(keeping, "_started", not_started)
    monkeypatch.setattr(jobroutes, "open_folder", not_opened)
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    house = House(HERE, settings_in(tmp_path))
    furnished(house)
    return create_app(house.settings)


def operations(app: FastAPI) -> list[Any]:
    schema = schemathesis.openapi.from_dict(app.openapi())
    schema.app = app
    return [each.ok() for each in schema.get_all_operations()]  # type: ignore[union-attr]


def speaks_json(operation: Any) -> bool:
    said = operation.definition.raw
    bodies = [said.get("requestBody", {}), said["responses"].get("200", {})]
    return any("application/json" in body.get("content", {}) for body in bodies)


def forbids_anything(operation: Any) -> bool:
    return bool(operation.definition.raw.get("parameters") or operation.body)


def asked(operation: Any, mode: GenerationMode, examples: int, do: Callable[[Any], None]) -> None:
    @seed(SEED)
    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        do(case)

    with suppress(Unsatisfiable):  # there is nothing that such a route forbids
        ask()


@pytest.mark.no_cover
def test_what_is_allowed_and_what_is_not_is_answered_as_described(app: FastAPI) -> None:
    wrong: dict[str, str] = {}
    chance = random.Random(SEED)

    def judge(case: Any) -> None:
        for name in case.path_parameters or {}:
            if name in OURS and chance.random() < 0.5:
                case.path_parameters[name] = 1
        answer = case.call(base_url=HERE, session=session, allow_redirects=False)
        try:
            case.validate_response(answer, checks=CHECKS)
        except FailureGroup as group:
            for failure in group.exceptions:
                label = f"{case.operation.label}: {type(failure).__name__}"
                wrong.setdefault(label, f"{failure} for {case.body!r:.200} {case.query!r:.100}")

    found = [each for each in operations(app) if speaks_json(each)]
    assert len(found) > 40
    with asgi.get_client(app) as session:
        for operation in found:
            asked(operation, GenerationMode.POSITIVE, EXAMPLES, judge)
            if forbids_anything(operation):
                asked(operation, GenerationMode.NEGATIVE, EXAMPLES, judge)
    assert not wrong, "\n".join(f"{what}: {why}" for what, why in wrong.items())


def with_text(value: Any, text: str) -> Any:
    """The same, with that text wherever a text stands."""
    if isinstance(value, str):
        return text
    if isinstance(value, list):
        return [with_text(each, text) for each in value]
    if isinstance(value, dict):
        return {name: with_text(each, text) for name, each in value.items()}
    return value


def fields_in_turn(body: dict[str, Any]) -> Iterator[list[str]]:
    """All that hold a text, then one of them, then all again, then the next."""
    holding = [name for name, value in body.items() if with_text(value, "\x01") != value]
    while holding:
        for name in holding:
            yield holding
            yield [name]


def posted(client: TestClient, path: str, media_type: str, body: dict[str, Any]) -> int:
    if media_type == "application/json":
        content = json.dumps(body)
    else:
        media_type = "application/x-www-form-urlencoded"
        plain = {name: str(value) for name, value in body.items()}
        content = urlencode(plain, errors="surrogatepass")
    kind = {"content-type": media_type}
    return client.post(path, content=content.encode(), headers=kind).status_code


@pytest.mark.no_cover
def test_no_text_breaks_a_route_wherever_a_text_stands(app: FastAPI) -> None:
    wrong: list[str] = []
    sent = 0
    found = [each for each in operations(app) if each.method == "post" and each.body]
    with TestClient(
        app, base_url=HERE, follow_redirects=False, raise_server_exceptions=False
    ) as client:
        for operation in found:
            cases: list[Any] = []
            asked(operation, GenerationMode.POSITIVE, 1, cases.append)
            body = cases[0].body
            if not isinstance(body, dict):
                continue
            path = re.sub(r"\{[^}]*\}", "1", operation.path)
            for text, names in zip(BREAKING * 2, fields_in_turn(body), strict=False):
                broken = body | {name: with_text(body[name], text) for name in names}
                status = posted(client, path, cases[0].media_type, broken)
                sent += 1
                if status >= 500:
                    wrong.append(f"{operation.label}: {status} for {broken!r:.300}")
    assert sent > 200
    assert not wrong, "\n".join(wrong)
