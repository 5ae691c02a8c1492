"""A search that is stopped goes on where it was, and never with what is not its own."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from search_tunes import made_tune

from reedwright.errors import ReedwrightError
from reedwright.files import NotWritten
from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.workshop.search import checkpoint, crew, engine, filling
from reedwright.workshop.search.checkpoint import Checkpoint, DamagedCheckpoint, NotThisSearch
from reedwright.workshop.search.crew import WorkersLost
from reedwright.workshop.search.layouts import all_layouts
from reedwright.workshop.search.model import SearchWishes
from reedwright.workshop.search.problem import digest
from reedwright.workshop.search.rows import Table

TUNES = [made_tune(random.Random(seed), bars=3) for seed in range(9)]
WISHES = SearchWishes(find_tuning("richter"), reeds=1, keys=("G", "C", "D"))
LAYOUTS = all_layouts(WISHES)


@pytest.fixture(scope="module")
def problem():
    return engine.prepare(TUNES, load_profile("first-year"), WISHES)


@pytest.fixture(scope="module")
def whole(problem):
    return engine.solve(problem, LAYOUTS, workers=1)


def same(one, two) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(two, name))
        for name in ("missing", "units", "plain", "played")
    )


def counted(monkeypatch) -> list[object]:
    """Tunes that are worked out from now on."""
    worked: list[object] = []
    real = crew.solved

    def watched(tune, bench):
        worked.append(tune)
        return real(tune, bench)

    monkeypatch.setattr(crew, "solved", watched)
    return worked


def stop_at(share: float):
    def told(done: float, words: str) -> None:
        if done >= share:
            raise KeyboardInterrupt

    return told


def test_the_whole_is_its_tunes(problem, whole) -> None:
    for index in range(len(TUNES)):
        row = engine.solve_tune(problem, index, LAYOUTS)
        assert np.array_equal(whole.units[index], row.units)
        assert np.array_equal(whole.missing[index], row.missing)
        assert np.array_equal(whole.plain[index], row.plain)
    assert whole.played.tolist() == [tune.chain.played for tune in problem.tunes]
    assert whole.units.all()


def test_progress_grows_to_the_whole(problem) -> None:
    told: list[tuple[float, str]] = []
    engine.solve(problem, LAYOUTS[:3], lambda share, words: told.append((share, words)), workers=1)
    shares = [share for share, _ in told]
    assert shares == sorted(shares) and shares[0] == 0.0 and shares[-1] == 1.0
    assert told[-1][1] == "9 of 9 tunes"


def test_stopped_half_way_it_goes_on(problem, whole, tmp_path: Path, monkeypatch) -> None:
    saved = tmp_path / "search"
    with pytest.raises(KeyboardInterrupt):
        engine.solve(problem, LAYOUTS, stop_at(0.5), 1, saved)
    worked = counted(monkeypatch)
    assert same(engine.solve(problem, LAYOUTS, None, 1, saved), whole)
    assert len(worked) == 4
    assert same(engine.solve(problem, LAYOUTS, None, 1, saved), whole)
    assert len(worked) == 4
    assert [path.name for path in tmp_path.iterdir()] == ["search"]


def test_killed_in_the_writing_the_earlier_state_is_whole(
    problem, whole, tmp_path: Path, monkeypatch
) -> None:
    saved = tmp_path / "search"
    with pytest.raises(KeyboardInterrupt):
        engine.solve(problem, LAYOUTS, stop_at(0.5), 1, saved)
    before = saved.read_bytes()
    real = np.savez

    def half(file, **values) -> None:
        real(file, **values)
        file.truncate(file.tell() // 2)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(checkpoint.np, "savez", half)
        patch.setattr(filling, "SAVED_EVERY", 0.0)
        with pytest.raises(KeyboardInterrupt):
            engine.solve(problem, LAYOUTS, None, 1, saved)
    assert saved.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["search"]
    worked = counted(monkeypatch)
    assert same(engine.solve(problem, LAYOUTS, None, 1, saved), whole)
    assert len(worked) == 4


@pytest.mark.no_cover
def test_processes_side_by_side_and_one_of_them_killed(problem, whole, tmp_path: Path) -> None:
    saved = tmp_path / "search"
    told: list[float] = []

    def kill(share: float, words: str) -> None:
        told.append(share)
        if 0.0 < share < 1.0:
            for process in multiprocessing.active_children():
                process.kill()

    with pytest.raises(WorkersLost, match="Run the search again"):
        engine.solve(problem, LAYOUTS, kill, 2, saved)
    assert 0.0 < told[-1] < 1.0
    assert same(engine.solve(problem, LAYOUTS, None, 2, saved), whole)
    assert not multiprocessing.active_children()


SCRIPT = """
import random, sys
from pathlib import Path
from test_search_stopping import LAYOUTS, TUNES, WISHES
from reedwright.player.loading import load_profile
from reedwright.workshop.search import engine

if __name__ == "__main__":
    problem = engine.prepare(TUNES, load_profile("first-year"), WISHES)
    engine.solve(
        problem, LAYOUTS, lambda share, words: print(words, flush=True), 2, Path(sys.argv[1])
    )
    sys.stdin.read()
"""


@pytest.mark.no_cover
@pytest.mark.skipif(not hasattr(os, "killpg"), reason="the system has no groups of processes")
@pytest.mark.parametrize("presses", [1, 2])
def test_ctrl_c_ends_all_processes_and_keeps_what_is_done(
    problem, whole, tmp_path: Path, presses: int
) -> None:
    """Pressed twice, too: the second press once left everything waiting for ever."""
    saved, script = tmp_path / "search", tmp_path / "script.py"
    script.write_text(SCRIPT)
    process = subprocess.Popen(
        [sys.executable, str(script), str(saved)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(Path(__file__).parent), *sys.path])},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        # A shell that runs tests in the background has them deaf to it.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert process.stdout is not None
    for line in process.stdout:
        if not line.startswith("0 of"):
            break
    for _ in range(presses):
        os.killpg(process.pid, signal.SIGINT)
        time.sleep(0.001)
    _, errors = process.communicate("", timeout=60)
    assert errors.count("Traceback") == 1 and errors.rstrip().endswith("KeyboardInterrupt")
    done = Checkpoint(saved, {**problem.fingerprints, "layouts": digest(LAYOUTS)}).load(
        replace(whole, units=whole.units.copy())
    )
    assert done.any()
    assert same(engine.solve(problem, LAYOUTS, None, 1, saved), whole)


OTHERS = {
    "other tunes": lambda: (TUNES[1:], "first-year", WISHES, LAYOUTS),
    "another player": lambda: (TUNES, "player", WISHES, LAYOUTS),
    "another base tuning": lambda: (TUNES, "first-year", replace(WISHES, keys=("G",)), LAYOUTS),
    "other layouts": lambda: (TUNES, "first-year", WISHES, LAYOUTS[:-1]),
}


@pytest.mark.parametrize("what", OTHERS)
def test_the_state_of_another_search_is_refused(problem, tmp_path: Path, what: str) -> None:
    saved = tmp_path / "search"
    engine.solve(problem, LAYOUTS, None, 1, saved)
    before = saved.read_bytes()
    tunes, player, wishes, layouts = OTHERS[what]()
    other = engine.prepare(tunes, load_profile(player), wishes)
    with pytest.raises(NotThisSearch) as told:
        engine.solve(other, layouts, None, 1, saved)
    said = str(told.value)
    assert [each for each in OTHERS if each in said] == [what]
    assert str(saved) in said and "delete this one" in said
    assert saved.read_bytes() == before


def test_a_changed_weight_is_another_player(problem, tmp_path: Path) -> None:
    saved = tmp_path / "search"
    engine.solve(problem, LAYOUTS[:2], None, 1, saved)
    profile = load_profile("first-year")
    profile = replace(profile, weights=replace(profile.weights, leap=0.36))
    with pytest.raises(NotThisSearch, match="another player"):
        engine.solve(engine.prepare(TUNES, profile, WISHES), LAYOUTS[:2], None, 1, saved)


@pytest.mark.parametrize(
    "damage", ["half", "nothing", "a byte", "text", "another archive", "array"]
)
def test_a_damaged_state_is_refused(problem, tmp_path: Path, damage: str) -> None:
    saved = tmp_path / "search"
    engine.solve(problem, LAYOUTS, None, 1, saved)
    content = saved.read_bytes()
    if damage == "half":
        saved.write_bytes(content[: len(content) // 2])
    elif damage == "nothing":
        saved.write_bytes(b"")
    elif damage == "a byte":
        place = content.index(b"\x93NUMPY", content.index(b"units")) + 200
        saved.write_bytes(content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :])
    elif damage == "text":
        saved.write_text("X:1\n")
    else:
        with saved.open("wb") as file:
            if damage == "array":
                np.save(file, np.arange(3))
            else:
                np.savez(file, units=np.arange(3))
    before = saved.read_bytes()
    with pytest.raises(DamagedCheckpoint, match="damaged") as told:
        engine.solve(problem, LAYOUTS, None, 1, saved)
    assert isinstance(told.value, ReedwrightError)
    assert saved.read_bytes() == before


def test_no_flipped_bit_is_taken_for_an_answer(problem, tmp_path: Path) -> None:
    saved = tmp_path / "search"
    whole = engine.solve(problem, LAYOUTS[:6], None, 1, saved)
    content = saved.read_bytes()
    keep = Checkpoint(saved, {**problem.fingerprints, "layouts": digest(LAYOUTS[:6])})
    rng = random.Random(4)
    refused = 0
    for place in rng.sample(range(len(content)), 150):
        flipped = content[place] ^ (1 << rng.randrange(8))
        saved.write_bytes(content[:place] + bytes([flipped]) + content[place + 1 :])
        found = Table(
            *(np.zeros_like(each) for each in (whole.missing, whole.units, whole.plain)),
            whole.played,
        )
        try:
            done = keep.load(found)
        except (DamagedCheckpoint, NotThisSearch):
            refused += 1
        else:
            assert done.all() and same(found, whole)
    assert refused > 75


def test_a_place_that_cannot_be_written_to_is_said_before_the_work(
    problem, tmp_path: Path, monkeypatch
) -> None:
    worked = counted(monkeypatch)
    with pytest.raises(NotWritten, match="Make the folder first"):
        engine.solve(problem, LAYOUTS, None, 1, tmp_path / "nowhere" / "search")
    assert not worked
