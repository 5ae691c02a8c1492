"""What the pages share of a tune: drawn alike by many at once, remembered within bounds."""

from __future__ import annotations

import re
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient
from webhouse import KETTLE, House

from reedwright.page.engraving import _toolkit
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.unfold import unfold
from reedwright.web.music import drawing, opening
from reedwright.web.music.arranging import arranged, settled
from reedwright.web.music.crew import Crew
from reedwright.web.music.drawing import NARROW, WIDE, Sheet, _sheet, sheet
from reedwright.web.music.opening import read_text
from reedwright.web.remembering import Remembered


def arrangement(k: int = 0, harp: str = "G") -> Arrangement:
    text = KETTLE.replace("Landing", f"Landing {k}").replace("c2ec", f"c2e{'abcdefga'[k % 8]}")
    tune = read_text(text).tune
    assert tune is not None
    return arranged(tune, TuneChoices(harp=harp), None)


def drawn(made: Arrangement) -> Sheet:
    return _sheet(made, WIDE, "arrows", "")


def test_many_threads_draw_different_tunes_as_one_alone_does() -> None:
    tunes = [arrangement(k) for k in range(8)]
    alone = [drawn(tune) for tune in tunes]
    assert len({each.systems for each in alone}) == 8
    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(drawn, tunes)) == alone


def test_whichever_thread_draws_first_the_engraver_finds_its_fonts() -> None:
    import verovio  # in this thread; drawing goes on in others

    assert verovio.toolkit
    with ThreadPoolExecutor(1) as pool:
        toolkit = pool.submit(_toolkit.__wrapped__).result()
        assert toolkit.loadData(write_musicxml(arrangement().tune))


@pytest.mark.no_cover
def test_another_process_draws_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    crew = Crew(1, drawing._prepare)
    made = arrangement()
    here = crew.do(drawn, made)
    with crew._here:  # somebody is at work in this process
        others = crew._others()
        while others is None:
            assert crew._ready is not None
            crew._ready.result(60)
            others = crew._others()
        assert crew.do(_pid) != _pid()
        assert crew.do(_sheet, made, WIDE, "arrows", "") == here
    assert crew.do(_pid) != _pid()  # it is there now, and this process answers everybody
    for process in others._processes.values():
        process.kill()
    # A process that was ended from outside is no reason to draw nothing.
    assert crew.do(_sheet, made, WIDE, "arrows", "") == here
    crew.close()
    assert crew.do(_pid) == _pid()


def _pid() -> int:
    import os

    return os.getpid()


def test_ids_of_two_sheets_on_one_page_are_their_own() -> None:
    one = sheet(arrangement(), NARROW, prefix="a-")
    two = sheet(arrangement(harp="C"), NARROW, prefix="b-")
    both = [re.findall(r'\bid="([^"]+)"', "".join((*s.systems, s.chart))) for s in (one, two)]
    everything = both[0] + both[1]
    assert len(set(everything)) == len(everything) > 100
    for svg in (*one.systems, *two.systems):
        links = set(re.findall(r'href="#([^"]+)"', svg))
        assert links <= set(re.findall(r'\bid="([^"]+)"', svg))
        assert "<style" not in svg
        assert "<script" not in svg


def test_a_chord_is_one_note_and_has_its_tab_in_its_group() -> None:
    tune = read_text("X:1\nT:Two at Once\nM:2/4\nL:1/4\nK:C\n[CE] {d}c|c2|]\n").tune
    assert tune is not None
    (svg,) = sheet(arranged(tune, TuneChoices(harp="C"), None)).systems
    from lxml import etree

    root = etree.fromstring(svg.encode())
    groups = {g.get("data-note"): g for g in root.iter() if g.get("data-note")}
    assert list(groups) == ["n1", "n2g1", "n2", "n3"]
    assert groups["n1"].get("class") == "chord"
    for group in groups.values():
        texts = ["".join(text.itertext()) for text in group.iter("{*}text")]
        assert any(re.match(r"\d+", text) for text in texts), texts
    assert [g.get("data-bar") for g in root.iter() if g.get("data-bar")] == ["0", "1"]


def test_the_easiest_harp_is_worked_out_anew_when_the_music_changes_and_not_the_title(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from reedwright.web.music import arranging

    asked: list[str] = []
    real = arranging.easiest

    def easiest(tune: Any, *values: Any, **named: Any) -> Any:
        asked.append(tune.title)
        return real(tune, *values, **named)

    monkeypatch.setattr(arranging, "easiest", easiest)

    def harp(text: str) -> str:
        tune = read_text(text).tune
        assert tune is not None
        return settled(tune, TuneChoices(), None).choices.harp

    text = KETTLE.replace("c2ec", "c2ee")  # no other test's
    assert harp(text) == harp(text.replace("Kettle", "Pot")) == "G"
    assert len(asked) == 1
    assert harp(text.replace("K:G", "K:A")).startswith("A")
    harp(text.replace("G2BG", "{c}G2BG", 1))
    harp(text.replace("G2BG", "(G2BG)", 1))
    assert len(asked) == 4


def test_a_tune_played_out_lately_is_not_taken_for_the_same_bars_in_another_order() -> None:
    tune = read_text("X:1\nT:Parts\nP:ABA\nL:1/4\nM:4/4\nK:C\nP:A\nCDEF|\nP:B\nGABc|\n").tune
    assert tune is not None
    other = replace(tune, part_order=("B", "A"))
    for _ in range(2):
        assert [each.bar.index for each in unfold(tune).bars] == [0, 1, 0]
        assert [each.bar.index for each in unfold(other).bars] == [1, 0]


def test_what_is_remembered_has_bounds_and_the_latest_stay() -> None:
    kept: Remembered[str] = Remembered(10, len)
    for key in "abc":
        assert kept.get(key, lambda key=key: key * 4) == key * 4  # type: ignore[misc]
    assert [kept.there(key) is not None for key in "abc"] == [False, True, True]
    kept.get("b", lambda: pytest.fail("it was there"))
    kept.get("d", lambda: "dddd")
    assert [kept.there(key) is not None for key in "bcd"] == [True, False, True]
    assert kept.get("e", lambda: "e" * 11) == "e" * 11  # more than all the room
    assert [kept.there(key) is not None for key in "bde"] == [True, True, False]


def test_what_several_ask_for_at_once_is_worked_out_once_and_errors_are_not_kept() -> None:
    kept: Remembered[int] = Remembered(10)
    begun, go = threading.Event(), threading.Event()
    count = []

    def work() -> int:
        count.append(1)
        begun.set()
        go.wait(10)
        if len(count) == 1:
            raise ValueError("no")
        return 7

    with ThreadPoolExecutor(3) as pool:
        first = pool.submit(kept.get, "x", work)
        begun.wait(10)
        second = pool.submit(kept.get, "x", work)
        while not kept._coming["x"]._condition._waiters and not second.done():  # type: ignore[attr-defined]
            pass
        go.set()
        for each in (first, second):
            with pytest.raises(ValueError, match="no"):
                each.result(10)
    assert len(count) == 1
    assert kept.get("x", work) == 7


def test_a_text_that_the_reader_fails_at_is_kept_and_told(
    client: tuple[TestClient, House], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No fault is known; the reader is made to have one."""
    tune = client[1].shelve()

    def broken(*_: object) -> None:
        raise ValueError("a fault")

    monkeypatch.setattr(opening, "read_tune", broken)
    monkeypatch.setattr(opening, "_READ", Remembered(4))  # what it fails at is forgotten again
    text = "X:1\nT:Never read\nK:G\nG4|\n"
    sent = {"text": text, "made_from": {"tune": 1, "choices": 0}}
    answer = client[0].post(f"/tunes/{tune.id}/text", json=sent)
    assert answer.status_code == 200
    assert answer.json()["text"] == text
    assert not answer.json()["readable"]
    assert "fault" in answer.json()["problems"][0]["message"]
