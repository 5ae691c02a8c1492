"""All routes of the app, as its own description has them.

Public: `CHANGING`, `READ`, `PAGES`, `UPLOADS`, `filled`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from reedwright.web.app import create_app


def _operations() -> Iterator[tuple[str, str, dict[str, object]]]:
    for path, methods in create_app().openapi()["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def _is_page(operation: dict[str, object]) -> bool:
    answers = operation["responses"]
    assert isinstance(answers, dict)
    return "text/html" in answers.get("200", {}).get("content", {})


CHANGING = [(method, path) for method, path, _ in _operations() if method not in ("GET", "HEAD")]
READ = [path for method, path, _ in _operations() if method == "GET"]
PAGES = [path for method, path, each in _operations() if method == "GET" and _is_page(each)]


UPLOADS = [
    path for _, path, each in _operations() if "multipart/form-data" in str(each.get("requestBody"))
]


def filled(path: str, value: Callable[[str], str] = lambda word: "1") -> str:
    """The path with something in the place of each word in brackets."""
    return re.sub(r"\{(\w+)[^}]*\}", lambda match: value(match[1]), path)
