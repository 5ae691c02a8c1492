"""The app's description of itself (OpenAPI 3.1), true of what guards and troubles answer, too.

A route tells what it gives itself; what any route may answer, since the guards stand before it
and `troubles` behind it, is written in here once.

Public: `describe`.
"""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI

from reedwright.web.troubles import Trouble

_TEXT = {"type": "string"}
_SHAPE = {"$ref": "#/components/schemas/Trouble"}
_ALWAYS = {
    "403": "Another site's page asked for it.",
    "421": "Reedwright is not called so.",
    "422": "Not understood, or not possible.",
    "503": "The shelf is busy.",
}
_OF_SOMETHING = {"404": "There is no such thing."}
_WITH_A_BODY = {"400": "The body can't be read.", "413": "Too much at once."}
_CHANGING = {
    "409": "It was changed meanwhile.",
    "429": "Too much is at work.",
}
_WITH_A_TOKEN = {"401": "The token is missing."}
_FASTAPIS = ("HTTPValidationError", "ValidationError")  # a 422 is told in our own shape


def describe(app: FastAPI, token: bool) -> None:
    """Have the app's `/openapi.json` say so. `token`: whether a token is asked for."""
    plain = app.openapi

    def whole() -> dict[str, Any]:
        if app.openapi_schema is None:
            _complete(plain(), token)
        assert app.openapi_schema is not None
        return app.openapi_schema

    app.openapi = whole  # type: ignore[method-assign]


def _complete(schema: dict[str, Any], token: bool) -> None:
    shapes = schema.setdefault("components", {}).setdefault("schemas", {})
    shapes["Trouble"] = Trouble.model_json_schema()
    for path, ways in schema["paths"].items():
        for way, operation in ways.items():
            told = dict(_ALWAYS)
            if "{" in path or operation.get("parameters") or way != "get":
                told |= _OF_SOMETHING
            if way != "get":
                told |= _WITH_A_BODY | _CHANGING
            if token:
                told |= _WITH_A_TOKEN
            answers = operation.setdefault("responses", {})
            for status, words in told.items():
                if "HTTPValidationError" in str(answers.get(status, "HTTPValidationError")):
                    answers[status] = {"description": words}
            for status, answer in answers.items():
                if status >= "400":
                    content = answer.setdefault("content", {})
                    content.setdefault("application/json", {"schema": _SHAPE})
                    content.setdefault("text/html", {"schema": _TEXT})
    for name in _FASTAPIS:
        shapes.pop(name, None)
