"""The search on a Dask cluster: the same answer as on one machine, also when a worker dies."""

import os
import signal
import sys
from pathlib import Path

import numpy as np
import pytest

from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.workshop.search.cluster import ClusterError, cluster
from reedwright.workshop.search.engine import prepare, solve
from reedwright.workshop.search.layouts import all_layouts
from reedwright.workshop.search.model import SearchWishes

EXAMPLES = Path(__file__).resolve().parents[2] / "examples" / "tunes.abc"


def problem():
    tunes = [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]
    wishes = SearchWishes(find_tuning("richter"), reeds=1, keys=("G", "D", "A"))
    return prepare(tunes * 2, load_profile("player"), wishes)


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
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as machines,
        cluster(machines.scheduler_address) as working,
    ):
        workers = list(working.client.run(os.getpid).values())
        assert len(set(workers)) == 2 and os.getpid() not in workers

        def kill_one(share: float, doing: str) -> None:
            if not killed and share < 1:
                killed.append(workers[0])
                os.kill(workers[0], signal.SIGKILL)

        together = working.solve(search, layouts, kill_one)
        # The worker is really gone: what runs now (restarted or not) is another process.
        assert workers[0] not in working.client.run(os.getpid).values()

    assert killed
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
