"""Output that several commands share: JSON lists written as they grow, a progress bar."""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType

PROGRESS_AFTER_SECONDS = 0.5  # shorter work needs no bar


def shows(signs: str) -> bool:
    """Whether what is printed can hold these signs: on some terminals it cannot."""
    try:
        signs.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError, AttributeError):  # the last where it was closed
        return False
    return True


def _json(value: object, indent: int | None = None) -> str:
    """JSON as it reads best; with escapes where the output could not hold all letters."""
    text = json.dumps(value, ensure_ascii=False, indent=indent)
    return text if shows(text) else json.dumps(value, indent=indent)


def print_json(value: object) -> None:
    print(_json(value, indent=2))


class JsonResults:
    """Results as JSON: one alone as it is, many as a list printed one at a time.

    So a long tunebook streams through, and is still one valid document.
    """

    def __init__(self, many: bool) -> None:
        self._many = many
        self.empty = True

    def add(self, item: object) -> None:
        if not self._many:
            print_json(item)
            return
        print("\n" if self.empty else ",\n", end="")
        print(_json(item), end="")
        self.empty = False


@contextmanager
def json_results(wanted: bool, many: bool) -> Iterator[JsonResults | None]:
    """Where results go while a command runs; None where JSON is not wanted."""
    if not wanted:
        yield None
        return
    results = JsonResults(many)
    if many:
        print("[", end="")
    try:
        yield results
    finally:
        if many:
            print("]" if results.empty else "\n]")


class Progress:
    """A bar on the terminal's error stream for work that takes a while; silent elsewhere.

    Call it with the share done (0 to 1) and what is being done.
    """

    def __init__(self) -> None:
        self._shown = False
        self._started = time.monotonic()

    def __enter__(self) -> Progress:
        return self

    def __call__(self, share: float, doing: str) -> None:
        if not sys.stderr.isatty() or time.monotonic() - self._started < PROGRESS_AFTER_SECONDS:
            return
        width = shutil.get_terminal_size().columns
        bar_width = max(10, min(30, width - 40))
        filled = round(bar_width * min(max(share, 0.0), 1.0))
        bar = "#" * filled + "." * (bar_width - filled)
        line = f"[{bar}] {share:4.0%} {doing}"[: width - 1]
        print("\r" + line.ljust(width - 1), end="", file=sys.stderr, flush=True)
        self._shown = True

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._shown:
            width = shutil.get_terminal_size().columns
            print("\r" + " " * (width - 1) + "\r", end="", file=sys.stderr, flush=True)
