"""What was worked out lately, kept so that it need not be worked out again: bounded, for threads.

Public: `Remembered`.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Remembered(Generic[Value]):
    """The values of the keys asked for last, as many as have room.

    `most`: room; `size` says how much of it a value takes (each one, if it is not given). Several
    threads that ask for one key wait for one of them to work it out. An error is given to all who
    wait, and not kept.
    """

    def __init__(self, most: int, size: Callable[[Value], int] = lambda value: 1) -> None:
        self._most = most
        self._size = size
        self._kept: OrderedDict[Hashable, tuple[Value, int]] = OrderedDict()
        self._coming: dict[Hashable, Future[Value]] = {}
        self._taken = 0
        self._lock = threading.Lock()

    def get(self, key: Hashable, work: Callable[[], Value]) -> Value:
        """The value of a key, by `work` where it is not kept. Raises what `work` raises."""
        with self._lock:
            there = self._kept.get(key)
            if there is not None:
                self._kept.move_to_end(key)
                return there[0]
            coming = self._coming.get(key)
            mine: Future[Value] | None = None
            if coming is None:
                mine = self._coming[key] = Future()
        if mine is None:
            assert coming is not None
            return coming.result()
        try:
            value = work()
        except BaseException as error:
            with self._lock:
                del self._coming[key]
            mine.set_exception(error)
            raise
        with self._lock:
            del self._coming[key]
            self._keep(key, value)
        mine.set_result(value)
        return value

    def there(self, key: Hashable) -> Value | None:
        """The value of a key where it is kept."""
        with self._lock:
            found = self._kept.get(key)
            return None if found is None else found[0]

    def _keep(self, key: Hashable, value: Value) -> None:
        size = self._size(value)
        if size > self._most:
            return
        self._kept[key] = value, size
        self._taken += size
        while self._taken > self._most:
            _, (_, freed) = self._kept.popitem(last=False)
            self._taken -= freed
