"""The search on a Dask cluster: the same answer as on one machine, also when a worker dies."""

import os
import signal
import subprocess
import sys
from concurrent.futures import CancelledError
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.workshop.search.cluster import Cluster, ClusterError, cluster
from reedwright.workshop.search.engine import prepare, solve
from reedwright.workshop.search.layouts import all_layouts
from reedwright.workshop.search.model import SearchWishes

EXAMPLES = Path(__file__).resolve().parents[2] / "examples" / "tunes.abc"


def problem():
    tunes = [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]
    wishes = SearchWishes(find_tuning("richter"), reeds=1, keys=("G", "D", "A"))
    return prepare(tunes * 2, load_profile("player"), wishes)


@contextmanager
def workers_of_their_own(address: str, count: int):
    """Worker processes without a nanny, which would start a killed one again."""
    command = [sys.executable, "-m", "distributed.cli.dask_worker", address]
    command += ["--no-nanny", "--nthreads", "1", "--no-dashboard"]
    started = [
        subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for _ in range(count)
    ]
    try:
        yield
    finally:
        for each in started:
            each.kill()
            each.wait()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
@pytest.mark.no_cover
def test_a_worker_killed_half_way_changes_nothing_in_the_answer(monkeypatch) -> None:
    from distributed import LocalCluster

    monkeypatch.setattr("reedwright.workshop.search.cluster.CHUNKS_EACH", 2)  # three tunes each
    search = problem()
    layouts = all_layouts(search.wishes)
    alone = solve(search, layouts, workers=1)
    killed = []

    with (
        LocalCluster(
            n_workers=0, processes=False, protocol="tcp", dashboard_address=None
        ) as machines,
        workers_of_their_own(machines.scheduler_address, 2),
        cluster(machines.scheduler_address) as working,
    ):
        working.client.wait_for_workers(2, timeout=30)
        workers = list(working.client.run(os.getpid).values())
        assert len(set(workers)) == 2 and os.getpid() not in workers

        def kill_one(share: float, doing: str) -> None:
            if killed or share == 1:
                return
            pids = working.client.run(os.getpid)
            held = working.client.processing()
            busy = next((each for each in pids if held.get(each)), None)
            if busy is not None:
                killed.append(pids[busy])
                os.kill(pids[busy], signal.SIGKILL)

        together = working.solve(search, layouts, kill_one)
        left = list(working.client.run(os.getpid).values())

    assert killed, "no worker held work while it could be killed"
    assert left == [each for each in workers if each not in killed] and len(left) == 1
    for one, other in ((alone.missing, together.missing), (alone.units, together.units)):
        assert one.dtype == other.dtype and np.array_equal(one, other)
    assert np.array_equal(alone.plain, together.plain)
    assert np.array_equal(alone.played, together.played)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nowhere at all", "tcp://"])
def test_an_address_where_nobody_answers_is_told(address: str, monkeypatch) -> None:
    monkeypatch.setattr("reedwright.workshop.search.cluster.CONNECT_SECONDS", 0.3)
    with pytest.raises(ClusterError, match="dask scheduler"), cluster(address):
        pass


def test_without_the_library_it_is_told_what_to_install(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(ClusterError, match=r"pip install 'reedwright\[cluster\]'"),
        cluster("tcp://127.0.0.1:8786"),
    ):
        pass


class Task:
    """A task that ends as it is told to."""

    def __init__(self, error: Exception | None) -> None:
        self.error = error

    def add_done_callback(self, told) -> None:
        if self.error is not None:
            told(self)

    def result(self, timeout=None):
        raise self.error


class Client:
    """Stands in for the library's client where the cluster goes wrong."""

    status = "running"

    def __init__(self, error: Exception | None, workers: int = 1) -> None:
        self.error, self.workers = error, workers

    def submit(self, *_, **__) -> Task:
        return Task(self.error)

    def nthreads(self) -> dict[str, int]:
        return dict.fromkeys(map(str, range(self.workers)), 1)

    def cancel(self, tasks) -> None:
        pass


@pytest.mark.parametrize(
    ("client", "said"),
    [
        (
            Client(CancelledError("scheduler-connection-lost")),
            "connection to the scheduler is lost",
        ),
        (Client(OSError("stream is closed")), "connection to the scheduler is lost"),
        (Client(MemoryError("full")), r"several tries \(MemoryError: full\)"),
        (Client(None, workers=0), "no worker is left"),
    ],
)
def test_what_goes_wrong_on_the_cluster_is_told_and_what_is_done_is_kept(
    client: Client, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reedwright.workshop.search.cluster.NO_WORKER_SECONDS", 0.0)
    monkeypatch.setattr("reedwright.workshop.search.cluster._POLL_SECONDS", 0.01)
    search = problem()
    layouts = all_layouts(search.wishes)[:3]
    saved = tmp_path / "saved"
    with pytest.raises(ClusterError, match=said):
        Cluster(client, "tcp://somewhere:1").solve(search, layouts, saved=saved)
    assert saved.exists()
    # Gone on with on this machine.
    assert np.array_equal(
        solve(search, layouts, workers=1, saved=saved).units,
        solve(search, layouts, workers=1).units,
    )


def test_a_lost_connection_is_seen_while_waiting() -> None:
    client = Client(None)
    client.status = "closed"
    with pytest.raises(ClusterError, match="connection to the scheduler is lost"):
        Cluster(client, "tcp://somewhere:1").solve(problem(), [()])
