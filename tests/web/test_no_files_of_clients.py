"""No path that a browser sends reaches the file system, in whatever field it stands.

Python's own audit events (PEP 578) tell of every file that is opened; the test sends the path of a
real tuning, and of a real profile, in every text field of every route.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from approutes import filled
from fastapi.testclient import TestClient
from furnished import furnished
from webhouse import asked

import reedwright.harp
import reedwright.player

_watched: set[str] = set()
_seen: list[str] = []
_hooked = False


def _hook(event: str, values: tuple[Any, ...]) -> None:
    if event == "open" and _watched and str(values[0]) in _watched:
        _seen.append(str(values[0]))


@contextmanager
def watching(*paths: Path) -> Iterator[list[str]]:
    """The paths of these that were opened meanwhile. Audit hooks can't be taken out again."""
    global _hooked
    if not _hooked:
        sys.addaudithook(_hook)
        _hooked = True
    _seen.clear()
    _watched.update(map(str, paths))
    yield _seen
    _watched.clear()


class Fields:
    """Bodies that a route takes, by the app's description, with the path of a tuning or, where a
    player is meant, of a profile in them."""

    def __init__(self, description: dict[str, Any], tuning: str, profile: str) -> None:
        self._named = description["components"]["schemas"]
        self._tuning, self._profile = tuning, profile

    def _whole(self, schema: dict[str, Any]) -> dict[str, Any]:
        if "$ref" in schema:
            return self._whole(self._named[schema["$ref"].rpartition("/")[2]])
        for several in ("anyOf", "allOf", "oneOf"):
            if several in schema:
                return self._whole(schema[several][0])
        return schema

    def usual(self, name: str, schema: dict[str, Any]) -> Any:
        """Something that such a field takes."""
        if name == "made_from":
            return {"tune": 1, "choices": 0} if "$ref" in str(schema) else 1
        whole = self._whole(schema)
        if whole.get("type") == "object":
            return {
                key: self.usual(key, whole["properties"][key]) for key in whole.get("required", ())
            }
        if "enum" in whole or "const" in whole:
            return whole.get("const", whole.get("enum", [""])[0])
        kind = whole.get("type")
        if kind in ("integer", "number"):
            return max(1, whole.get("minimum", 1))
        return {"boolean": False, "array": []}.get(str(kind), "1")

    def bodies(self, schema: dict[str, Any], name: str, depth: int = 0) -> Iterator[Any]:
        """A body for each text that may stand in it, with a path there and little else; once for
        each thing that the body may ask to be done. `name`: of the field that it is."""
        whole = self._whole(schema)
        kind = whole.get("type")
        if kind == "string" and "enum" not in whole and "const" not in whole:
            yield self._profile if "player" in name else self._tuning
        elif kind == "array" and depth < DEEPEST:
            for each in self.bodies(whole.get("items", {"type": "string"}), name, depth + 1):
                yield [each]
        elif kind == "object" and depth < DEEPEST:
            base = self.usual("", whole)
            doings = [
                (name, value)
                for name, each in whole.get("properties", {}).items()
                for value in self._whole(each).get("enum", ())
            ] or [("", "")]
            for field, each in whole.get("properties", {}).items():
                for part in self.bodies(each, field, depth + 1):
                    for doing, value in doings if depth == 0 else [("", "")]:
                        yield base | ({doing: value} if doing else {}) | {field: part}


DEEPEST = 4
# Streams; what would take away or spoil the things that the others ask for.
LEFT_OUT = ("/events", "/remove", "/off", "/text", "/undo", "/redo")


@pytest.mark.no_cover
def test_a_path_in_any_field_of_any_route_opens_no_file(tmp_path: Path) -> None:
    tuning, profile = tmp_path / "stolen.toml", tmp_path / "player.toml"
    for target, of in ((tuning, reedwright.harp), (profile, reedwright.player)):
        name = "richter.toml" if target is tuning else "player.toml"
        shipped = next(iter(Path(str(of.__file__)).parent.rglob(name)))
        target.write_bytes(shipped.read_bytes())
    tried = 0
    with asked(tmp_path / "house") as (client, house):
        there = furnished(house)
        description = client.get("/openapi.json").json()
        fields = Fields(description, f"C:{tuning}", str(profile))
        with watching(tuning, profile) as opened:
            for path, methods in description["paths"].items():
                if path.endswith(LEFT_OUT):
                    continue
                address = filled(path, lambda word, path=path: there.value_for(path, word))
                for method, operation in methods.items():
                    for sent in _sent(fields, operation):
                        if "made_from" in sent.get("json", {}):
                            sent["json"]["made_from"] = _state(client, address, sent["json"])
                        client.request(method, address, **sent)
                        tried += 1
                    assert not opened, (method, path)
    assert tried > 300


def _state(client: TestClient, address: str, sent: dict[str, Any]) -> Any:
    """The present state of what is changed, so that it is changed."""
    if isinstance(sent["made_from"], dict):
        return client.get("/tunes/1/version").json()
    kept = client.get(f"{address.rpartition('/')[0]}/kept")
    return kept.json().get("state", 1) if kept.status_code == 200 else 1


def _sent(fields: Fields, operation: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """What to ask with: a path in one place of question or body at a time."""
    question = [each for each in operation.get("parameters", ()) if each["in"] == "query"]
    for each in question:
        for value in fields.bodies(each["schema"], each["name"]):
            yield {"params": {each["name"]: value}}
    for kind, body in operation.get("requestBody", {}).get("content", {}).items():
        for whole in fields.bodies(body["schema"], ""):
            if kind == "application/json":
                yield {"json": whole}
            elif kind == "multipart/form-data":
                yield {"files": {"sound": ("x.wav", b"x")}, "data": whole}
            else:
                yield {"data": whole}
