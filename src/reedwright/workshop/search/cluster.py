"""The same search on a cluster: a Dask scheduler hands the tunes out to workers, in chunks.

Each chunk travels with its task, so that the scheduler can give it to another worker when one
dies; nothing lies with one worker alone. The rows come back as whole numbers and are put in the
order of the tunes, so the answer is the same to the last bit as on one machine. `distributed` is
the library (the extra `cluster`); every worker needs Reedwright in the same version.

Public: `cluster`, `Cluster`, `ClusterError`.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, NamedTuple

from reedwright import __version__
from reedwright.errors import ReedwrightError
from reedwright.workshop.search.filling import Chunk, Progress, filled
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import PreparedTune, Problem
from reedwright.workshop.search.rows import Table, TuneRow
from reedwright.workshop.search.tunesolving import Bench, solved

CHUNK = 8
"""Tunes of one task at most: seconds of work, so that little is lost with a worker."""

CHUNKS_EACH = 4
"""Tasks for each thread of the cluster at least, so that none waits long for the last."""

CONNECT_SECONDS = 10.0
NO_WORKER_SECONDS = 60.0
"""For how long the work waits where the last worker has gone: time to start another."""

RETRIES = 3
"""How often a task that failed is tried again elsewhere."""

_POLL_SECONDS = 0.5
_RESULT_SECONDS = 5.0


class ClusterError(ReedwrightError):
    """The cluster cannot be reached or used, or it gave up."""


class Cluster:
    """A connection to a scheduler. Made by `cluster`. `client` is that of the library."""

    def __init__(self, client: Any, address: str) -> None:
        self.client, self._address = client, address

    def solve(
        self,
        problem: Problem,
        layouts: Sequence[Layout],
        progress: Progress | None = None,
        saved: Path | None = None,
    ) -> Table:
        """As `engine.solve`, and raises as that does; also `ClusterError`.

        `saved` is a file on this machine; a search may be begun here and gone on with on a
        cluster, or the other way about.
        """
        layouts = tuple(layouts)
        return filled(
            problem, layouts, lambda left: self._solved(problem, layouts, left), progress, saved
        )

    def _solved(
        self, problem: Problem, layouts: tuple[Layout, ...], left: list[int]
    ) -> Generator[Chunk, None, None]:
        # Held by a task and not scattered: what a task gave can be worked out anew elsewhere.
        bare = replace(problem, tunes=())
        shared = self.client.submit(_Shared, bare, layouts, pure=False)
        tasks = {
            self.client.submit(
                _solve_chunk,
                shared,
                [problem.tunes[index] for index in chunk],
                retries=RETRIES,
                pure=False,
            ): chunk
            for chunk in self._chunks(left)
        }
        try:
            for task in self._finished(list(tasks)):
                yield tasks[task], self._result(task)
        finally:
            self.client.cancel([shared, *tasks])

    def _chunks(self, indexes: Sequence[int]) -> list[list[int]]:
        threads = sum(self.client.nthreads().values())
        size = max(1, min(CHUNK, len(indexes) // max(1, CHUNKS_EACH * threads)))
        return [list(indexes[at : at + size]) for at in range(0, len(indexes), size)]

    def _finished(self, tasks: list[Any]) -> Iterator[Any]:
        """The tasks as they come to an end. Raises `ClusterError` where nobody works any more."""
        ended: SimpleQueue[Any] = SimpleQueue()
        for task in tasks:
            task.add_done_callback(ended.put)
        left = len(tasks)
        watch = self._watch()
        while left:
            try:
                task = ended.get(timeout=_POLL_SECONDS)
            except Empty:
                watch()
                continue
            left -= 1
            watch = self._watch()
            yield task

    def _watch(self) -> Callable[[], None]:
        """To be called now and then while waiting. Raises `ClusterError` where that is in vain."""
        alone_since: float | None = None

        def watch() -> None:
            nonlocal alone_since
            if self._anybody():
                alone_since = None
                return
            alone_since = alone_since or time.monotonic()
            if time.monotonic() - alone_since > NO_WORKER_SECONDS:
                raise ClusterError(
                    f"{self._address}: no worker is left on the cluster. Start workers with "
                    f"`dask worker {self._address}`, and give the same command again."
                )

        return watch

    def _anybody(self) -> bool:
        if self.client.status != "running":
            raise self._lost()
        return bool(self.client.nthreads())

    def _lost(self) -> ClusterError:
        return ClusterError(
            f"{self._address}: the connection to the scheduler is lost. Check that it still "
            "runs, and give the same command again."
        )

    def _result(self, task: Any) -> list[TuneRow]:
        watch = self._watch()
        try:
            while True:
                try:
                    rows: list[TuneRow] = task.result(timeout=_RESULT_SECONDS)
                    return rows
                except TimeoutError:  # its worker died before it was fetched, say
                    watch()
        except ReedwrightError:
            raise
        except (CancelledError, OSError):  # what the library gives where the line is cut
            raise self._lost() from None
        except Exception as error:
            raise ClusterError(
                f"{self._address}: the cluster gave a chunk up after several tries "
                f"({type(error).__name__}: {str(error).splitlines()[0] if str(error) else ''}). "
                "Look into the workers' logs: they may lack memory, or have another version of "
                "Reedwright or its libraries."
            ) from None


@contextmanager
def cluster(address: str) -> Iterator[Cluster]:
    """A connection to the scheduler at `address` (`tcp://host:8786`). Raises `ClusterError`."""
    try:
        from distributed import Client
    except ImportError:
        raise ClusterError(
            "--cluster needs the library distributed; install it with "
            "`pip install 'reedwright[cluster]'`, here and on the workers."
        ) from None
    _quiet()
    try:
        client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"{address}: no scheduler answers there ({error}). Check the address and the port, "
            "that `dask scheduler` runs, and that no firewall lies between; it is written as "
            "tcp://192.168.1.10:8786."
        ) from None
    try:
        _check_workers(client, address)
        yield Cluster(client, address)
    finally:
        client.close(timeout=CONNECT_SECONDS)


def _quiet() -> None:
    """What matters we tell ourselves; the library logs whole tracebacks where a line is cut."""
    for name in list(logging.root.manager.loggerDict):
        if name.split(".")[0] == "distributed":
            logging.getLogger(name).setLevel(logging.CRITICAL)


def _check_workers(client: Any, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
    except TimeoutError:
        raise ClusterError(
            f"{address}: the scheduler has no workers. Start some with `dask worker {address}`."
        ) from None
    try:
        # As `client.run`, which has no limit of time of its own.
        versions = client.sync(client._run, _version, callback_timeout=CONNECT_SECONDS)
    except TimeoutError:
        raise ClusterError(
            f"{address}: the workers do not answer within {CONNECT_SECONDS:.0f} seconds. "
            "Restart them, and give the same command again."
        ) from None
    except Exception as error:
        raise ClusterError(
            f"{address}: the workers cannot run Reedwright ({type(error).__name__}). Install "
            f"version {__version__} on each of them, with the same Python."
        ) from None
    for worker, version in versions.items():
        if version != __version__:
            raise ClusterError(
                f"{address}: the worker {worker} has Reedwright {version}, not {__version__}. "
                "Install the same version everywhere."
            )


def _version() -> str:
    from reedwright import __version__

    return __version__


class _Shared(NamedTuple):
    """What all chunks need: the problem without its tunes, and the layouts."""

    problem: Problem
    layouts: tuple[Layout, ...]


_mine = threading.local()
"""What serves all chunks of one search, for each thread of a worker: it is slow in making."""


def _solve_chunk(shared: _Shared, tunes: Sequence[PreparedTune]) -> list[TuneRow]:
    """Some tunes on all layouts; runs on a worker."""
    if getattr(_mine, "shared", None) is not shared:
        _mine.shared, _mine.bench = shared, Bench(shared.problem, shared.layouts)
    return [solved(tune, _mine.bench) for tune in tunes]
