"""The routes of a tune as the tests of them use them."""

from __future__ import annotations

from typing import Any

from fastapi.testclient import TestClient
from webhouse import KETTLE, House

from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

Asked = tuple[TestClient, House]
JUMP = '</script><img src=x onerror="alert(1)">'


def kettle() -> Tune:
    (tune,) = read_abc(KETTLE)
    assert isinstance(tune, Tune)
    return tune


def view_of(client: TestClient, tune: int, **query: str) -> dict[str, Any]:
    answer = client.get(f"/tunes/{tune}/view", params=query)
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


def write(client: TestClient, view: dict[str, Any], text: str) -> Any:
    body = {"text": text, "made_from": view["version"]}
    return client.post(f"/tunes/{view['tune']}/text", json=body)


def choose(client: TestClient, view: dict[str, Any], **step: object) -> Any:
    body = {"made_from": view["version"], **step}
    return client.post(f"/tunes/{view['tune']}/choices", json=body)
