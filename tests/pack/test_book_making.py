"""A book made: cold, warm and after a change; what goes wrong with a tune; on the fewest harps."""

import json
import os
import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from pypdf import PdfReader

from reedwright.harp.making import make_harp, parse_harps
from reedwright.harp.model import Breath
from reedwright.pack.book import fewest as fewest_module
from reedwright.pack.book import making
from reedwright.pack.book.arranging import arranged, arranged_and_told
from reedwright.pack.book.fewest import on_fewest_harps
from reedwright.pack.book.making import Book, NoTunes, make_book
from reedwright.pack.book.model import BookPlan, FewestHarps, PlannedChapter, PlannedTune
from reedwright.pack.book.plan import plan_of
from reedwright.pack.book.report import book_report, book_text, harp_lists
from reedwright.pack.book.settling import Usual
from reedwright.pack.book.stock import Stock
from reedwright.page.book.model import BookLook
from reedwright.player.loading import load_profile
from reedwright.tab.choices import Choice, NotePlace, Play, TuneChoices, Way
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.ranking import rank_harps
from reedwright.tab.sets.wishes import Limit
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

PLAYER = load_profile("player")
EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
SHORT = {
    "Latch": ("reel", "4/4", "G", "GABc d2B2|c2A2 G4|]"),
    "Ferry": ("jig", "6/8", "D", "DFA dAF|G3 FED|]"),
    "Lamp": ("waltz", "3/4", "A", "A2 ce a2|e2 cA c2|A6|]"),
}


def abc(title: str, music: str = "") -> str:
    kind, metre, key, own = SHORT[title]
    rights = "Z:abc-copyright Free to copy\n" if title == "Ferry" else ""
    return f"X:1\nT:{title}\nR:{kind}\n{rights}M:{metre}\nL:1/8\nK:{key}\n{music or own}\n"


def read(text: str) -> Tune:
    (tune,) = (each for each in read_abc(text) if isinstance(each, Tune))
    return tune


def plan(*texts: str, harps: str = "C, G, D, A") -> BookPlan:
    tunes = [read(text) for text in texts or map(abc, SHORT)]
    usual = Usual(PLAYER, parse_harps(harps))
    look = BookLook(full_notes=False)
    return plan_of(tunes, "Three Tunes", usual, by="type", look=look, maker="Ada Fenwick")


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("stock")


@pytest.fixture(scope="module")
def cold(stock: Path) -> Book:
    return make_book(plan(), stock / "cold.pdf", keep=stock, workers=0)


def test_the_file_has_every_tune_and_as_many_pages_as_are_told(cold: Book) -> None:
    pdf = PdfReader(cold.path)  # pypdf, another's reader
    assert len(pdf.pages) == cold.pages
    text = "".join(page.extract_text() for page in pdf.pages)
    assert all(title in text for title in SHORT)
    assert [chapter.title for chapter in cold.content.chapters] == ["Reels", "Jigs", "Waltzes"]
    assert cold.anew == 3 and not cold.left_out


def test_from_the_stock_the_same_bytes_and_nothing_is_engraved(
    cold: Book, stock: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "made_tune", None)  # would fail if it were called
    warm = make_book(plan(), tmp_path / "warm.pdf", keep=stock, workers=0)
    assert warm.anew == 0
    assert warm.path.read_bytes() == cold.path.read_bytes()
    assert replace(warm, path=cold.path, anew=3) == cold


def test_one_tune_changed_is_the_only_one_made_anew_and_the_bytes_are_those_of_a_fresh_start(
    cold: Book, stock: Path, tmp_path: Path
) -> None:
    changed = plan(abc("Latch"), abc("Ferry", "DFA d2A|G3 FED|]"), abc("Lamp"))
    warm = make_book(changed, tmp_path / "warm.pdf", keep=stock, workers=0)
    assert warm.anew == 1
    fresh = make_book(changed, tmp_path / "fresh.pdf", keep=tmp_path / "new", workers=0)
    assert fresh.anew == 3
    assert fresh.path.read_bytes() == warm.path.read_bytes() != cold.path.read_bytes()


def test_a_damaged_stock_costs_time_and_nothing_else(
    cold: Book, tmp_path: Path, stock: Path
) -> None:
    import shutil

    copy = tmp_path / "stock"
    shutil.copytree(stock, copy)
    for entry in copy.rglob("*.entry"):
        entry.write_bytes(entry.read_bytes()[:-10])
    again = make_book(plan(), tmp_path / "again.pdf", keep=copy, workers=0)
    assert again.anew == 3
    assert again.path.read_bytes() == cold.path.read_bytes()


def test_bleed_and_sides_need_no_new_engraving(cold: Book, stock: Path, tmp_path: Path) -> None:
    for_printer = replace(
        plan(), look=BookLook(full_notes=False, bleed=3.0, crop_marks=True, two_sided=False)
    )
    assert make_book(for_printer, tmp_path / "print.pdf", keep=stock, workers=0).anew == 0


def test_a_tune_that_cannot_be_made_is_told_and_the_book_goes_on(
    stock: Path, tmp_path: Path
) -> None:
    asked = plan()
    (chapter,) = asked.chapters
    no_harp = PlannedTune("no-harp", read(abc("Lamp")), PLAYER, harps=())
    tunes = (no_harp, *chapter.tunes)
    book = make_book(
        replace(asked, chapters=(replace(chapter, tunes=tunes),)),
        tmp_path / "book.pdf",
        keep=stock,
        workers=0,
    )
    ((title, reason),) = book.left_out
    assert title == "Lamp" and "no harp to choose from" in reason
    assert [each.entry.title for each in book.tunes] == ["Latch", "Ferry", "Lamp"]
    assert "Left out:\n  Lamp: " in book_text(book)


def test_a_fault_of_the_program_in_one_tune_is_said_to_be_one(
    stock: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def faulty(planned: PlannedTune, look: BookLook) -> None:
        raise IndexError("out of range")

    monkeypatch.setattr(making, "made_tune", faulty)
    asked = plan(*map(abc, SHORT), abc("Ferry", "DDD|]"))
    book = make_book(asked, tmp_path / "book.pdf", keep=stock, workers=0)
    ((_, reason),) = book.left_out
    assert "IndexError: out of range" in reason and "fault of the program" in reason


def test_no_tunes_at_all_is_an_error_and_leaves_the_earlier_book(tmp_path: Path) -> None:
    out = tmp_path / "book.pdf"
    out.write_bytes(b"the earlier one")
    empty = replace(plan(), chapters=(PlannedChapter("", ()),))
    with pytest.raises(NoTunes, match="no tunes"):
        make_book(empty, out, keep=tmp_path / "stock", workers=0)
    assert out.read_bytes() == b"the earlier one"


def test_the_report_tells_harps_rights_and_what_is_missing(cold: Book) -> None:
    report = json.loads(json.dumps(book_report(cold)))
    assert report["pages"] == cold.pages and report["title"] == "Three Tunes"
    assert report["rights_not_stated"] == ["latch", "lamp"]
    lists = {each["harp"]: each["tunes"] for each in report["harps"]}
    assert sorted(name for names in lists.values() for name in names) == ["ferry", "lamp", "latch"]
    assert {each["harp"] for chapter in report["chapters"] for each in chapter["tunes"]} == set(
        lists
    )
    text = book_text(cold)
    assert "Rights were not stated for 2 tunes: Latch; Lamp." in text
    assert all(harp in text for harp, _ in harp_lists(cold.tunes))


def test_without_a_harp_named_the_best_ranked_is_taken_else_the_one_named() -> None:
    tune = read(abc("Lamp"))
    harps = parse_harps("C, G, D, A, E")
    best = rank_harps(tune, PLAYER, harps)[0]
    found = arranged(PlannedTune("x", tune, PLAYER, harps=harps))
    assert (found.harp, found.octaves, found.effort) == (best.harp, best.octaves, best.effort)
    low = read(abc("Lamp", "A,2 C2 E2|A,6|]"))  # begins a fourth below the D harp
    lifted = arranged(PlannedTune("x", low, PLAYER, harps=parse_harps("D")))
    assert lifted.octaves == 1 and lifted.complete
    named = arranged(PlannedTune("x", tune, PLAYER, harp=make_harp("G"), octaves=1))
    assert (named.harp, named.octaves) == (make_harp("G"), 1)
    every = arranged(PlannedTune("x", tune, PLAYER))
    assert every.effort_per_note <= found.effort_per_note


def test_choices_find_their_notes_on_the_harp_that_was_found() -> None:
    tune = read(abc("Latch"))  # its last G is G5 on the G harp: 6 blow, or 4 blow an octave lower
    place = NotePlace("A", 1, Fraction(1), "G4")
    lost = NotePlace("C", 1, Fraction(1), "G4")
    way = Way(4, Breath.BLOW)
    choices = TuneChoices("Latch", choices=(Choice(place, Play(way)), Choice(lost, Play(way))))
    wishes = Wishes(amount=Amount.NONE)
    asked = PlannedTune("x", tune, PLAYER, harps=parse_harps("G"), wishes=wishes, choices=choices)
    found, notices = arranged_and_told(asked)
    first = next(iter(found.plain.voices[0].notes))
    assert found.wishes.amount is Amount.NONE
    assert len(notices) >= 1 and "no part C" in " ".join(notices)
    if first.id in found.wishes.fixed:
        assert Way.of(found.soundings[first.id]) == way
    else:
        assert any("Part A bar 1" in notice for notice in notices)


def test_fewest_harps_are_as_few_as_trying_every_choice_finds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tunes = list(read_abc(EXAMPLES.read_text(encoding="utf-8")))[:5]
    harps = parse_harps("C, G, D, A, low D, G:richter-raised-3-blow")
    read_tunes = [each for each in tunes if isinstance(each, Tune)]
    limit = Limit(per_note=1.25)
    asked = plan_of(read_tunes, "T", Usual(PLAYER))
    asked = replace(asked, fewest=FewestHarps(limit, harps=harps))
    found, notices = on_fewest_harps(asked, Stock(tmp_path), 0)

    can = [
        {
            ranked.harp
            for ranked in rank_harps(tune, PLAYER, harps)
            if ranked.complete and round(1000 * ranked.effort_per_note) <= 1250
        }
        for tune in read_tunes
    ]
    playable = [each for each in can if each]
    fewest = next(
        number
        for number in range(1, len(harps) + 1)
        if any(
            all(each & set(chosen) for each in playable) for chosen in combinations(harps, number)
        )
    )
    on = [tune.harp for tune in found.tunes if tune.harp is not None]
    assert len(on) == len(playable)
    assert len(set(on)) == fewest
    assert notices[0].startswith(f"{fewest} harp")
    for tune, mine in zip(found.tunes, can, strict=True):
        assert tune.harp in mine or (tune.harp is None and not mine)
    # Kept: neither words nor name have the harps tried again.
    reworded = replace(
        asked,
        chapters=tuple(
            replace(each, tunes=tuple(replace(tune, words="New.") for tune in each.tunes))
            for each in asked.chapters
        ),
    )
    monkeypatch.setattr(fewest_module, "_worked", None)  # would fail if it were called
    again, told = on_fewest_harps(reworded, Stock(tmp_path), 0)
    assert not any("NoneType" in notice for notice in told)
    assert [tune.harp for tune in again.tunes] == [tune.harp for tune in found.tunes]


@pytest.mark.no_cover
@pytest.mark.skipif(os.name != "posix", reason="needs signals as Unix has them")
def test_an_interrupt_leaves_the_earlier_book_and_no_half_of_anything(tmp_path: Path) -> None:
    program = tmp_path / "program.py"
    program.write_text(
        textwrap.dedent(
            f"""
            import sys
            from pathlib import Path
            from reedwright.pack.book.making import make_book
            from reedwright.pack.book.plan import plan_of
            from reedwright.pack.book.settling import Usual
            from reedwright.player.loading import load_profile
            from reedwright.tune.reading import read_tunes
            if __name__ == "__main__":
                tunes = list(read_tunes(Path({str(EXAMPLES)!r}))) * 40
                plan = plan_of(tunes, "T", Usual(load_profile("player")))
                def progress(share, doing):
                    print(doing, flush=True)
                make_book(plan, Path("book.pdf"), progress, Path("stock"), 1)
            """
        )
    )
    (tmp_path / "book.pdf").write_bytes(b"the earlier one")
    running = subprocess.Popen(
        [sys.executable, str(program)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    assert running.stdout is not None
    while not (line := running.stdout.readline()).startswith("engraving, 2 of"):
        assert line
    running.send_signal(signal.SIGINT)
    assert running.wait(timeout=60) != 0
    assert sorted(os.listdir(tmp_path)) == ["book.pdf", "program.py", "stock"]
    assert (tmp_path / "book.pdf").read_bytes() == b"the earlier one"
    kept = list((tmp_path / "stock").rglob("*"))
    assert kept and all(each.is_dir() or each.suffix == ".entry" for each in kept)
