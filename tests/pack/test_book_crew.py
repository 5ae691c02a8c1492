"""Processes side by side: what goes wrong in one costs no more than its task."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from reedwright.pack.book.crew import Failed, worked_out

TASKS = ["6 * 7", "__import__('os')._exit(9)", "1 / 0", "'x' * 3", "sum(range(5))"]


@pytest.mark.no_cover
def test_results_errors_and_a_process_that_dies_each_at_their_place() -> None:
    found = dict(worked_out(eval, TASKS, 2))
    assert sorted(found) == [0, 1, 2, 3, 4]
    assert (found[0], found[3], found[4]) == (42, "xxx", 10)
    died, error = found[1], found[2]
    assert isinstance(died, Failed) and died.fault and "(9)" in died.message
    assert error == Failed("ZeroDivisionError: division by zero", True)


def test_in_this_process_the_same_but_for_dying() -> None:
    tasks = [task for task in TASKS if "_exit" not in task]
    assert [result for _, result in worked_out(eval, tasks, 0)] == [
        42, Failed("ZeroDivisionError: division by zero", True), "xxx", 10,
    ]  # fmt: skip


def test_what_the_user_can_put_right_is_told_in_the_words_of_the_error() -> None:
    tasks = ["__import__('reedwright.harp.making').harp.making.make_harp('H')"]
    ((_, failed),) = worked_out(eval, tasks, 0)
    assert isinstance(failed, Failed) and not failed.fault and "'H'" in failed.message


@pytest.mark.no_cover
@pytest.mark.skipif(os.name != "posix", reason="needs signals as Unix has them")
def test_an_interrupt_ends_all_processes_at_once(tmp_path: Path) -> None:
    program = tmp_path / "program.py"
    program.write_text(
        textwrap.dedent(
            """
            from reedwright.pack.book.crew import worked_out
            if __name__ == "__main__":
                begun = "(os := __import__('os')).write(1, (str(os.getpid()) + chr(10)).encode())"
                task = begun + " and __import__('time').sleep(60)"
                for _ in worked_out(eval, [task] * 3, 2):
                    pass
            """
        )
    )
    running = subprocess.Popen(
        [sys.executable, str(program)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert running.stdout is not None
    workers = [int(running.stdout.readline()) for _ in range(2)]
    running.send_signal(signal.SIGINT)
    assert running.wait(timeout=30) != 0  # and not after the minute that the tasks take
    for worker in workers:
        for _ in range(100):
            if not _lives(worker):
                break
            time.sleep(0.05)
        assert not _lives(worker)


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True
