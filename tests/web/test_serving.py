"""`reedwright serve` as a program: its address, its token, its end, and its sudden end."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from webhouse import KETTLE

from reedwright.cli.main import main
from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune


class Served:
    """The program, and what it has told so far."""

    def __init__(self, shelf: Path, *options: str) -> None:
        command = [sys.executable, "-m", "reedwright", "serve", "--no-browser"]
        self.program = subprocess.Popen(
            [*command, "--shelf", str(shelf), "--made", str(shelf.parent / "made"), *options],
            stderr=subprocess.PIPE,
            text=True,
        )
        self.told = ""
        assert self.program.stderr is not None
        while "Ctrl-C" not in self.told:
            line = self.program.stderr.readline()
            assert line, self.told
            self.told += line
        found = re.search(r"at (http://\S+)", self.told)
        assert found
        self.url = found[1]

    def ended(self, by: signal.Signals) -> str:
        """End it by that signal; what it told after."""
        self.program.send_signal(by)
        _, told = self.program.communicate(timeout=20)
        return told


@contextlib.contextmanager
def serving(shelf: Path, *options: str) -> Iterator[Served]:
    served = Served(shelf, *options)
    try:
        yield served
    finally:
        if served.program.poll() is None:
            served.ended(signal.SIGKILL)


def _get(url: str) -> tuple[int, str]:
    """Status and text, tried until the server answers."""
    for _ in range(200):
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                return int(answer.status), answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()
        except OSError:
            time.sleep(0.05)
    raise AssertionError("the server never answered")


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def test_it_listens_on_this_machine_alone_and_ends_by_ctrl_c_with_a_word(tmp_path: Path) -> None:
    with serving(tmp_path / "shelf", "--port", "0") as served:
        assert served.url.startswith("http://127.0.0.1:")
        assert "token" not in served.url
        assert _get(served.url)[0] == 200
        told = served.ended(signal.SIGINT)
        assert "Traceback" not in told
        assert served.program.returncode == 130


def test_a_port_that_was_named_and_is_taken_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        arguments = ["serve", "--no-browser", "--shelf", str(tmp_path), "--port", port]
        assert main(arguments) == 1
    told = capsys.readouterr().err
    assert port in told
    assert "--port" in told


def test_a_shelf_that_can_not_be_opened_is_told_before_anything_is_served(tmp_path: Path) -> None:
    (tmp_path / DATABASE).write_bytes(b"no database at all" * 100)
    command = [sys.executable, "-m", "reedwright", "serve", "--no-browser", "--port", "0"]
    ended = subprocess.run(  # a server that began would go on
        [*command, "--shelf", str(tmp_path)], capture_output=True, text=True, timeout=20
    )
    assert ended.returncode == 1
    assert str(tmp_path) in ended.stderr


def test_others_on_the_network_need_the_token_and_are_warned_of(tmp_path: Path) -> None:
    with serving(tmp_path / "shelf", "--port", "0", "--listen", "0.0.0.0") as served:
        assert "Others on the network" in served.told
        token = served.url.partition("?token=")[2]
        assert len(token) >= 32
        port = served.url.split(":")[2].split("/")[0]
        assert _get(f"http://127.0.0.1:{port}/touch")[0] == 401
        request = urllib.request.Request(
            f"http://127.0.0.1:{port}/touch", headers={"cookie": f"reedwright={token}"}
        )
        with urllib.request.urlopen(request) as answer:
            assert "running" in json.load(answer)


def test_a_killed_server_loses_nothing_saved_and_its_page_goes_on_when_it_is_back(
    browser: Browser, tmp_path: Path
) -> None:
    shelf = tmp_path / "shelf"
    (tune,) = read_abc(KETTLE)
    assert isinstance(tune, Tune)
    with open_shelf(shelf) as opened:
        number = add_tune(opened, tune).id
    port = str(_free_port())
    context = browser.new_context()
    page = context.new_page()
    with serving(shelf, "--port", port) as served:
        _get(served.url)
        page.goto(f"{served.url}tunes/{number}")
        text = page.locator("textarea").first
        with page.expect_response(lambda answer: answer.url.endswith("/text")):
            text.fill(KETTLE.replace("Kettle", "Saucepan"))
        os.kill(served.program.pid, signal.SIGKILL)
        served.program.wait()
        text.fill(KETTLE.replace("Kettle", "Colander"))
        expect(page.locator("#touch")).to_be_visible(timeout=10_000)
        with open_shelf(shelf) as opened:
            assert "Saucepan" in opened.item(number).state.text  # what was saved is there
        with serving(shelf, "--port", port):
            expect(page.locator("#touch")).to_be_hidden(timeout=15_000)
            for _ in range(100):
                with open_shelf(shelf) as opened:
                    if "Colander" in opened.item(number).state.text:
                        break
                page.wait_for_timeout(100)
            else:
                raise AssertionError("what was typed while the server was gone is not saved")
            assert text.input_value() == KETTLE.replace("Kettle", "Colander")
    context.close()
