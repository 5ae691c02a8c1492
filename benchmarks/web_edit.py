"""How long an edit takes in the tune page's server, beside plain engraving of the same music.

A 32-bar tune is changed note by note through the app, without a network. Beside it, in the same
run, Verovio alone loads the MusicXML of the same states and draws every page: what any engraver of
this music has to do. Then twenty people edit tunes of their own over real connections, each after a
pause of some seconds as people type, while two of them listen.

    .venv/bin/python benchmarks/web_edit.py [--people 20] [--seconds 20]
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/web"))
warnings.simplefilter("ignore")

import httpx  # noqa: E402
from webhouse import asked, served  # noqa: E402

from chance_reels import changed, reel  # noqa: E402
from reedwright.tune.musicxml import write_musicxml  # noqa: E402
from reedwright.web.music.opening import read_text  # noqa: E402

EDITS = 24
PAUSE = (1.5, 3.5)  # seconds between one person's edits


class Spent(NamedTuple):
    """Seconds by the clock, and seconds of this process's work, which others on the machine
    lengthen less."""

    clock: float
    work: float


def timed(work: Callable[[], Any]) -> tuple[Spent, Any]:
    clock, begun = time.perf_counter(), time.process_time()
    found = work()
    return Spent(time.perf_counter() - clock, time.process_time() - begun), found


def plainly(text: str) -> Spent:
    """The time in which Verovio alone draws the tune, its MusicXML being there."""
    import verovio

    tune = read_text(text).tune
    assert tune is not None
    source = write_musicxml(tune)
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    toolkit.setOptions({"svgViewBox": True, "adjustPageHeight": True, "pageWidth": 2100})

    def draw() -> None:
        assert toolkit.loadData(source)
        for page in range(1, toolkit.getPageCount() + 1):
            toolkit.renderToSVG(page)

    draw()
    return timed(draw)[0]


def alone(seed: int) -> None:
    chance = random.Random(seed)
    edits: list[Spent] = []
    plain: list[Spent] = []
    notes: list[Spent] = []
    with tempfile.TemporaryDirectory() as folder, asked(Path(folder)) as (client, house):
        text = reel(chance)
        tune = house.shelve(text).id
        view = client.get(f"/tunes/{tune}/view").json()
        for named in (False, True):
            edits.clear()
            if named:
                body = {"made_from": view["version"], "do": "set", "settings": {"harp": "G"}}
                view = client.post(f"/tunes/{tune}/choices", json=body).json()
            for _ in range(EDITS):
                text = changed(text, chance)
                body = {"text": text, "made_from": view["version"]}
                took, answer = timed(lambda: client.post(f"/tunes/{tune}/text", json=body))  # noqa: B023
                view = answer.json()
                edits.append(took)
                plain.append(plainly(text))
            print(told("edit, harp chosen" if named else "edit, easiest harp", edits))
        print(told("Verovio alone", plain))
        ratio = statistics.median(each.work for each in edits)
        ratio /= statistics.median(each.work for each in plain)
        print(f"an edit takes {ratio:.1f} times as long as plain engraving")
        for _ in range(EDITS):
            note = chance.choice(view["notes"])["id"]
            notes.append(timed(lambda: client.get(f"/tunes/{tune}/notes/{note}"))[0])  # noqa: B023
        print(told("what could play a note", notes))
        for speed in (1.0, 0.5):
            address = f"/tunes/{tune}/sound?speed={speed}"
            took, answer = timed(lambda: client.get(address))  # noqa: B023
            again, _ = timed(lambda: client.get(address))  # noqa: B023
            size, at_once = len(answer.content) / 1e6, 1000 * again.clock
            print(f"sound at {speed}: {took.clock:.2f} s ({size:.0f} MB), again {at_once:.0f} ms")


def together(people: int, seconds: float, seed: int) -> None:
    took: list[Spent] = []
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as house:
        ends = time.perf_counter() + seconds

        def one(number: int) -> None:
            chance = random.Random(seed + number)
            text = reel(chance)
            tune = house.shelve(text).id
            with httpx.Client(base_url=house.url, timeout=60) as client:
                view = client.get(f"/tunes/{tune}/view").json()
                while time.perf_counter() < ends:
                    time.sleep(chance.uniform(*PAUSE))
                    text = changed(text, chance)
                    body = {"text": text, "made_from": view["version"]}
                    spent, answer = timed(lambda: client.post(f"/tunes/{tune}/text", json=body))  # noqa: B023
                    if answer.status_code != 200:
                        wrong.append(answer.text[:200])
                        return
                    view = answer.json()
                    took.append(spent)
                    if number < 2:
                        client.get(f"/tunes/{tune}/sound?speed=1")

        threads = [threading.Thread(target=one, args=(number,)) for number in range(people)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    print(f"{people} people, {len(took)} edits in {seconds:.0f} s, {len(wrong)} errors {wrong[:1]}")
    print(told("an edit among them", took[people:] or took))


def told(name: str, took: Sequence[Spent]) -> str:
    ordered = sorted(1000 * each.clock for each in took)
    middle = statistics.median(ordered)
    late = ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]
    work = statistics.median(1000 * each.work for each in took)
    return (
        f"{name}: median {middle:.0f} ms, 95 of 100 within {late:.0f} ms, most {ordered[-1]:.0f}; "
        f"work {work:.0f} ms"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=1)
    asked_for = parser.parse_args()
    alone(asked_for.seed)
    together(asked_for.people, asked_for.seconds, asked_for.seed + 1)


if __name__ == "__main__":
    main()
