"""A few results that cost something, remembered by what they were made from.

Public: `Remembered`.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Remembered(Generic[Result]):
    """The last `most` of them; the one that was not asked for the longest goes first. Safe to use
    from several threads, of which two may make the same thing at once."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._found: OrderedDict[str, Result] = OrderedDict()

    def get(self, made_from: str, make: Callable[[], Result]) -> Result:
        """What `make` gives, or gave before for the same text."""
        key = hashlib.sha256(made_from.encode("utf-8", "surrogatepass")).hexdigest()
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return self._found[key]
        result = make()
        with self._lock:
            self._found[key] = result
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return result
