"""A job as the pages know it.

Public: `Job`, `Progress`, `Outcome`, `Work`, `JobState`, `TooManyJobs`, `NoSuchJob`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from reedwright.errors import ReedwrightError

Progress = Callable[[float, str], None]
"""Told the share done (0 to 1) and what is being done, in words."""


class TooManyJobs(ReedwrightError):
    """As many jobs as are allowed are waiting already."""


class NoSuchJob(ReedwrightError):
    """No job of that name; the server may have been started anew since."""


class JobState(StrEnum):
    WAITING = "waiting"
    WORKING = "working"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a job. `facts` is JSON-ready, for the page that shows it. `files`: what may be
    downloaded, by the name that the browser gives it; `folder`: what "open folder" opens. `go`:
    the page to show it on, such as `/tunes/3/pack`; "" for the job's own. `passing`: a folder made
    for this outcome alone, which goes when the job is forgotten or the server ends."""

    facts: Mapping[str, Any] = field(default_factory=dict)
    files: Mapping[str, Path] = field(default_factory=dict)
    folder: Path | None = None
    notices: tuple[str, ...] = ()
    go: str = ""
    passing: Path | None = None


Work = Callable[[Any, Progress], Outcome]
"""A function at the top of a module, so that another process can call it: `work(task, progress)`.
The task must be picklable. It raises `ReedwrightError` for what the user can put right."""


@dataclass(frozen=True, slots=True)
class Job:
    """`kind`: a word of the part that began it. `page`: where the user began it. `share` 0 to 1.
    `version` grows with every change, and `moment` is that of its last change among those of all
    jobs. `message` says why it failed."""

    name: str
    kind: str
    title: str
    page: str
    begun: datetime
    standing: JobState = JobState.WAITING
    share: float = 0.0
    doing: str = ""
    message: str = ""
    outcome: Outcome = field(default_factory=Outcome)
    version: int = 0
    moment: int = 0

    @property
    def over(self) -> bool:
        return self.standing not in (JobState.WAITING, JobState.WORKING)

    def report(self) -> dict[str, Any]:
        """JSON-ready, for the pages. Folders are not named: no path leaves the server."""
        return {
            "name": self.name,
            "kind": self.kind,
            "title": self.title,
            "page": self.page,
            "standing": self.standing.value,
            "share": round(self.share, 4),
            "doing": self.doing,
            "message": self.message,
            "facts": dict(self.outcome.facts),
            "files": list(self.outcome.files),
            "has_folder": self.outcome.folder is not None,
            "notices": list(self.outcome.notices),
            "go": self.outcome.go,
            "version": self.version,
        }
