"""The other end of a job: what runs in its process.

Public: `run`.
"""

from __future__ import annotations

import logging
from multiprocessing.connection import Connection
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.web.jobs.model import Work


def run(said: Connection, work: Work, task: Any) -> None:
    """Do the work and tell of it: `("progress", share, doing)` while it goes on, and at the end
    one of `("done", outcome)`, `("failed", message)` and `("stopped",)`."""
    try:
        outcome = work(task, lambda share, doing: said.send(("progress", share, doing)))
        said.send(("done", outcome))
    except KeyboardInterrupt:
        said.send(("stopped",))
    except ReedwrightError as error:
        said.send(("failed", str(error)))
    except Exception:
        logging.getLogger("reedwright.web").exception("A job failed")
        said.send(("failed", "Something went wrong in Reedwright itself; the terminal says more."))
