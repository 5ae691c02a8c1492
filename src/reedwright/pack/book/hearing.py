"""Long work of others' libraries during which Ctrl-C is heard at once.

Public: `heard`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, TypeVar

Result = TypeVar("Result")

_LOOK_SECONDS = 0.1


def heard(work: Callable[[], Result]) -> Result:
    """What `work` gives or raises.

    It runs in a thread of its own. Where Ctrl-C is pressed meanwhile that thread is left behind,
    and ends with the process: Typst would hear of it only when it is done.
    """
    found: dict[str, Any] = {}

    def run() -> None:
        try:
            found["result"] = work()
        except BaseException as error:  # it is raised again where it is waited for
            found["error"] = error

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(_LOOK_SECONDS)
    if "error" in found:
        raise found["error"]
    result: Result = found["result"]
    return result
