"""How soon a page follows its settings in the browser's pages, and what a job costs to begin.

Previews are asked for as the browser does, without a network. The reference in the same run is the
lesson's PDF alone, from an arrangement that is there: what no preview can go below. For a book it
is the PDF of the same tunes, engraved already; for a job a bare Python process. A job's process
reads this file again: so what is heavy is imported where it is used, as where the server starts.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.settings import Settings

if TYPE_CHECKING:
    from fastapi.testclient import TestClient

    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item

ROUNDS = 7
BOOK_TUNES = 40
HEAD = "X:{number}\nT:{title}\nR:reel\nM:4/4\nL:1/8\nK:G\n"
FOUR = "G2BG dGBG|c2ec BGAF|G2BG dGBd|cAFA G4"
TEMPI = count(60)  # a setting that is new each time, so that nothing is remembered


def reel(bars: int, number: int = 1) -> str:
    """So many written bars, in parts of eight."""
    part = f"|:{FOUR}|{FOUR}:|\n"
    return HEAD.format(number=number, title=f"Reel of {bars}, {number}") + part * (bars // 8)


def fastest(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def nothing(task: object, progress: Progress) -> Outcome:
    return Outcome()


def shelved(shelf: Shelf, text: str) -> Item:
    from reedwright.shelf.facts.tunes import add_tune
    from reedwright.tune.abc import read_abc
    from reedwright.tune.model import Tune

    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return add_tune(shelf, tune)


def pack_lines(client: TestClient, settings: Settings) -> None:
    from reedwright.page.lesson import lesson_pdf
    from reedwright.shelf.keeping.opening import open_shelf
    from reedwright.web.music.opening import opened
    from reedwright.web.pack.asked import PageAsked, wanted_arrangement

    print("preview of a lesson's page (goal: about 0.5 s with the pause of 0.12 s)")
    for bars in (16, 32, 64):
        with open_shelf(settings.shelf) as shelf:
            item = shelved(shelf, reel(bars))
            arrangement = wanted_arrangement(shelf, opened(shelf, item.id), PageAsked())
        address = f"/tunes/{item.id}/pack/preview"
        pages = client.post(address, json={}).json()["pages"]
        ours = fastest(lambda: client.post(address, json={"tempo": next(TEMPI)}))  # noqa: B023
        again = fastest(lambda: client.post(address, json={}))  # noqa: B023
        floor = fastest(lambda: lesson_pdf(arrangement))  # noqa: B023
        print(
            f"  {bars} bars, {pages} page(s): {ours:.3f} s; PDF alone {floor:.3f} s, ratio "
            f"{ours / floor:.2f}; leafed to again {again:.3f} s"
        )


def book_lines(client: TestClient, settings: Settings) -> None:
    from reedwright.pack.book.making import make_book
    from reedwright.shelf.keeping.opening import open_shelf
    from reedwright.web.book.asked import BookAsked
    from reedwright.web.book.planning import planned

    with open_shelf(settings.shelf) as shelf:
        for number in range(BOOK_TUNES):
            shelved(shelf, reel(16, number))
    words = {"title": "Measured", "source": "search", "words": "Reel of 16"}
    book = client.post("/books", data=words, follow_redirects=False).headers["location"]
    plan = client.get(f"{book}/kept").json()["book"]
    started = time.perf_counter()
    client.post(f"{book}/preview", json={"book": plan})
    print(f"a book of {len(plan['parts'])} tunes")
    print(f"  first preview, with nothing engraved {time.perf_counter() - started:.2f} s")
    while client.post(f"{book}/engrave", json={"book": plan}).json()["to_come"]:
        pass
    print(f"  all engraved while one looks, after {time.perf_counter() - started:.1f} s")

    def changed() -> None:
        client.post(f"{book}/preview", json={"book": plan | {"maker": str(next(TEMPI))}})

    asked = BookAsked.model_validate(plan)
    with open_shelf(settings.shelf) as shelf:
        whole = planned(shelf, asked).plan
    pdf = settings.made / "measured.pdf"
    settings.made.mkdir()
    ours = fastest(changed)
    again = fastest(lambda: client.post(f"{book}/preview", json={"book": plan, "page": 5}))
    floor = fastest(lambda: make_book(whole, pdf, workers=0))
    print(
        f"  preview after a change {ours:.3f} s; PDF alone {floor:.3f} s, ratio "
        f"{ours / floor:.2f}; leafed to {again:.3f} s"
    )


def job_lines() -> None:
    jobs = Jobs(2, 2)

    def one() -> None:
        job = jobs.begin("measured", "measured", "", nothing, None)
        while not job.over:
            job = jobs.wait(job.name, job.version, 10.0)

    ours = fastest(one)
    bare = fastest(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True))
    print(
        f"a job that does nothing {ours:.3f} s; bare Python {bare:.3f} s, ratio {ours / bare:.1f}"
    )
    jobs.close()


def main() -> None:
    from fastapi.testclient import TestClient

    from reedwright.web.app import create_app

    with tempfile.TemporaryDirectory() as place:
        os.environ["REEDWRIGHT_STOCK"] = str(Path(place) / "stock")
        settings = Settings(shelf=Path(place) / "shelf", made=Path(place) / "made")
        with TestClient(create_app(settings), base_url="http://127.0.0.1:8420") as client:
            pack_lines(client, settings)
            book_lines(client, settings)
    job_lines()


if __name__ == "__main__":
    main()
