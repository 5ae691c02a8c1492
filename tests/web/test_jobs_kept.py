"""Jobs: each in a process of its own, which can be stopped at any time and may come to any end."""

from __future__ import annotations

import os
import pickle
import select
import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import ClassVar

import joblike
import pytest

from reedwright.web.jobs import keeping, process
from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.model import Job, JobState, NoSuchJob, TooManyJobs

LONGEST = 30.0  # seconds until a test gives up


@pytest.fixture
def jobs() -> Iterator[Jobs]:
    jobs = Jobs(2, 2)
    yield jobs
    jobs.close()


def ended(jobs: Jobs, job: Job) -> Job:
    return until(jobs, job, lambda now: now.over)


def until(jobs: Jobs, job: Job, holds: Callable[[Job], bool]) -> Job:
    now = jobs.job(job.name)
    end = time.monotonic() + LONGEST
    while not holds(now):
        assert time.monotonic() < end, now
        now = jobs.wait(job.name, now.version, 1.0)
    return now


def begun(jobs: Jobs, work: Callable[..., object], task: object = None) -> Job:
    return jobs.begin("test", work.__name__, "/here", work, task)  # type: ignore[arg-type]


def test_what_becomes_of_jobs_is_told_in_the_users_words(jobs: Jobs) -> None:
    four = [begun(jobs, work) for work in (joblike.at_once, joblike.refused)]
    four += [begun(jobs, work) for work in (joblike.faulty, joblike.killed)]
    done, refused, faulty, killed = (ended(jobs, job) for job in four)
    assert (done.standing, done.share, done.outcome.facts) == (JobState.DONE, 1.0, {"task": None})
    assert (refused.standing, refused.message) == (
        JobState.FAILED,
        "The kettle is empty: fill it.",
    )
    assert faulty.standing is JobState.FAILED
    assert "KeyError" not in faulty.message and "fault" not in faulty.message
    assert (killed.standing, killed.message) == (JobState.FAILED, keeping.ENDED)
    assert [job.title for job in jobs.all()] == ["killed", "faulty", "refused", "at_once"]
    assert not jobs.all(kind="other") and len(jobs.all(page="/here")) == 4


def test_more_than_a_pipe_holds_can_be_told(jobs: Jobs) -> None:
    job = ended(jobs, begun(jobs, joblike.talkative, 2000))  # half a megabyte
    assert job.outcome.facts == {"told": 2000}
    assert job.version > 1000


def test_a_job_that_is_stopped_leaves_nothing_half_made(jobs: Jobs, tmp_path: Path) -> None:
    job = until(jobs, begun(jobs, joblike.long, tmp_path), lambda job: job.doing == "building")
    assert any(tmp_path.iterdir())
    jobs.stop(job.name)
    assert ended(jobs, job).standing is JobState.STOPPED
    assert not any(tmp_path.iterdir())


def test_stopping_it_again_and_again_does_not_break_into_its_clearing_up(
    jobs: Jobs, tmp_path: Path
) -> None:
    job = begun(jobs, joblike.slow_to_clear_up, tmp_path)
    job = until(jobs, job, lambda job: job.doing == "at it")
    pid = jobs._workers[job.name].process.pid
    assert pid is not None
    jobs.stop(job.name)
    share = until(jobs, job, lambda job: job.share == 0.2)
    assert share.doing == "being stopped"
    os.kill(pid, signal.SIGINT)  # as the terminal's Ctrl-C reaches it, too
    jobs.stop(job.name)
    assert ended(jobs, job).standing is JobState.STOPPED
    assert (tmp_path / "cleared.txt").read_text() == "all of it"


def test_it_can_be_stopped_while_it_starts_and_while_it_waits(tmp_path: Path) -> None:
    jobs = Jobs(1, 1)
    first, second = begun(jobs, joblike.long, tmp_path), begun(jobs, joblike.at_once)
    with pytest.raises(TooManyJobs, match="2 jobs"):
        begun(jobs, joblike.at_once)
    assert jobs.stop(second.name).standing is JobState.STOPPED
    jobs.stop(first.name)
    assert ended(jobs, first).standing is JobState.STOPPED
    assert not any(tmp_path.iterdir())
    assert ended(jobs, begun(jobs, joblike.at_once)).standing is JobState.DONE
    assert jobs.job(second.name).standing is JobState.STOPPED
    jobs.close()


def test_one_that_does_not_heed_is_ended_and_the_next_begins(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeping, "PATIENCE", 0.2)
    jobs = Jobs(1, 1)
    job = until(jobs, begun(jobs, joblike.deaf), lambda job: job.doing == "deaf")
    after = begun(jobs, joblike.at_once)
    jobs.stop(job.name)
    assert ended(jobs, job).standing is JobState.STOPPED
    assert ended(jobs, after).standing is JobState.DONE
    jobs.close()


def test_closing_stops_all_and_begins_nothing_new(tmp_path: Path) -> None:
    jobs = Jobs(1, 2)
    first, waiting = begun(jobs, joblike.long, tmp_path), begun(jobs, joblike.at_once)
    until(jobs, first, lambda job: job.doing == "building")
    jobs.close()
    assert jobs.job(first.name).standing is JobState.STOPPED
    assert jobs.job(waiting.name).standing is JobState.STOPPED
    assert not any(tmp_path.iterdir())
    with pytest.raises(TooManyJobs):
        begun(jobs, joblike.at_once)


def test_what_was_made_for_a_job_alone_goes_when_it_is_forgotten(
    jobs: Jobs, tmp_path: Path
) -> None:
    job = ended(jobs, begun(jobs, joblike.making, tmp_path / "passing"))
    assert (tmp_path / "passing/a.txt").exists()
    jobs.forget(job.name)
    assert not (tmp_path / "passing").exists()
    with pytest.raises(NoSuchJob):
        jobs.job(job.name)


def test_what_was_made_for_a_job_alone_goes_with_the_server(jobs: Jobs, tmp_path: Path) -> None:
    ended(jobs, begun(jobs, joblike.making, tmp_path / "passing"))
    jobs.close()
    assert not (tmp_path / "passing").exists()


def test_a_task_that_cannot_be_handed_over_is_told(jobs: Jobs) -> None:
    job = ended(jobs, begun(jobs, joblike.at_once, threading.Lock()))
    assert (job.standing, job.message) == (JobState.FAILED, keeping.NOT_STARTED)


def test_when_the_server_is_gone_however_it_went_the_work_clears_up(tmp_path: Path) -> None:
    worker = keeping._started(keeping._Asked("name", joblike.long, tmp_path))  # type: ignore[arg-type]
    while worker.said.recv() != ("progress", 0.25, "building"):
        pass
    assert any(tmp_path.iterdir())
    worker.tell.close()  # all that is left of a server that was killed
    assert worker.said.recv() == ("stopped",)
    assert not any(tmp_path.iterdir())
    worker.process.join(LONGEST)
    assert worker.process.exitcode == 0


def test_progress_is_told_in_one_piece_and_only_where_something_changed() -> None:
    class Pipe:
        told: ClassVar[list[tuple[str, float, str]]] = []

        def send(self, message: tuple[str, float, str]) -> None:
            # What a pipe takes without tearing it, PIPE_BUF, is 512 bytes at least (POSIX).
            assert len(pickle.dumps(message)) < select.PIPE_BUF
            self.told.append(message)

    tell = process._Teller(Pipe())  # type: ignore[arg-type]
    for share, doing in ((-1, "a"), (0.0001, "a"), (0.2, "a"), (0.2, "b"), (7, "ü" * 9000)):
        tell(share, doing)
    assert [(share, doing[:1]) for _, share, doing in Pipe.told] == [
        (0.0, "a"),
        (0.2, "a"),
        (0.2, "b"),
        (1.0, "ü"),
    ]


def test_what_was_brought_for_a_job_is_gone_however_the_job_ends(tmp_path: Path) -> None:
    """Done, failed, killed, stopped at work, stopped while it waits, not begun."""

    def brought(name: str) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "take.wav").write_bytes(b"sound")
        return folder

    def given(name: str, work: Callable[..., object]) -> Job:
        return jobs.begin("test", name, "/", work, None, [brought(name)])  # type: ignore[arg-type]

    jobs = Jobs(1, 1)
    try:
        for work in (joblike.at_once, joblike.refused, joblike.killed):
            ended(jobs, given(work.__name__, work))
            assert not any(tmp_path.iterdir()), work
        begun_one = until(jobs, given("long", joblike.deaf), lambda job: job.doing == "deaf")
        waiting = given("waiting", joblike.at_once)
        with pytest.raises(TooManyJobs):
            given("one too many", joblike.at_once)
        assert {each.name for each in tmp_path.iterdir()} == {"long", "waiting"}
        jobs.stop(waiting.name)
        assert {each.name for each in tmp_path.iterdir()} == {"long"}
        jobs._workers[begun_one.name].process.kill()
        ended(jobs, begun_one)
        assert not any(tmp_path.iterdir())
    finally:
        jobs.close()
