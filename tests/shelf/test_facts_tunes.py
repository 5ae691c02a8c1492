"""Tunes on the shelf with their facts: added, changed, undone, and read as in their book."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.shelf.facts import keeping
from reedwright.shelf.facts.keeping import facts_on, put_facts, refresh
from reedwright.shelf.facts.reading import header_of, raw_tune, text_alone, tune_of
from reedwright.shelf.facts.tunes import add_tune, revise_tune
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Form, Kind, ShelfError
from reedwright.tune.abc import normal_form, read_abc, same_music, write_abc
from reedwright.tune.abc.splitting import split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.model import Tune
from reedwright.tune.musicxml.score import write_musicxml
from reedwright.tune.reading import read_tunes
from reedwright.tune.refused import UnreadableTune
from reedwright.tune.transpose import transposed

TUNE = "X:3\nT:The Salt Quay\nM:6/8\nL:1/8\nK:G\nGAB d2B | AGA B2G |]\n"
CHANGED = TUNE.replace("K:G", "K:D")
BOOK = """% a book with fields at its head
M:6/8
L:1/16
R:jig
U:W=!accent!
C:Nobody

X:1
T:One
K:G
G2A2B2 Wd4B2 | A2G2A2 B4G2 |]

X:2
T:Two
L:1/8
K:D
DFA d2A | FED A3 |]
"""


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


def tune_in(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return tune


def test_the_text_is_kept_to_the_letter(shelf: Shelf) -> None:
    odd = TUNE.replace("GAB d2B", 'GAB  d2B % the tune "as is"')
    item = add_tune(shelf, tune_in(odd))
    assert item.state.text == odd
    assert item.name == "The Salt Quay"
    assert same_music(tune_of(shelf, item), tune_in(odd))
    assert facts_on(shelf, item.id) == facts_of(tune_in(odd))


def test_facts_go_with_the_state_in_one_transaction(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    revise_tune(shelf, item.id, tune_in(CHANGED))
    facts = facts_on(shelf, item.id)
    assert facts is not None and facts.key == "D major"

    def fails(*_: object) -> None:
        raise OSError

    monkeypatch.setattr("reedwright.shelf.facts.tunes.put_facts", fails)
    with pytest.raises(OSError):
        revise_tune(shelf, item.id, tune_in(TUNE))
    with pytest.raises(OSError):
        add_tune(shelf, tune_in(TUNE))
    assert shelf.item(item.id).state.text == CHANGED
    assert len(list(shelf.items())) == 1


def test_what_is_undone_is_worked_out_anew(shelf: Shelf) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    revise_tune(shelf, item.id, tune_in(CHANGED))
    shelf.undo(item.id)
    assert refresh(shelf) == 1
    facts = facts_on(shelf, item.id)
    assert facts is not None and facts.key == "G major"
    assert refresh(shelf) == 0


def test_facts_by_older_rules_and_missing_ones_are_worked_out(shelf: Shelf) -> None:
    one = add_tune(shelf, tune_in(TUNE))
    two = add_tune(shelf, tune_in(CHANGED))
    shelf.db.execute("UPDATE fact SET rules = 0, title = '' WHERE item = ?", (one.id,))
    shelf.db.execute("DELETE FROM fact WHERE item = ?", (two.id,))
    assert refresh(shelf) == 2
    assert facts_on(shelf, one.id) == facts_of(tune_in(TUNE))
    assert facts_on(shelf, two.id) == facts_of(tune_in(CHANGED))


def test_other_processes_work_out_the_same(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    items = [add_tune(shelf, tune_in(TUNE.replace("X:3", f"X:{n}"))) for n in range(5)]
    before = [facts_on(shelf, item.id) for item in items]
    shelf.db.execute("DELETE FROM fact")
    monkeypatch.setattr(keeping, "MANY", 2)
    monkeypatch.setattr(keeping, "CHUNK", 2)
    monkeypatch.setattr(keeping, "cores", lambda: 2)
    shares: list[float] = []
    assert refresh(shelf, lambda share, _: shares.append(share)) == 5
    assert [facts_on(shelf, item.id) for item in items] == before
    assert shares == [0.4, 0.8, 1.0]


def test_a_tune_that_is_changed_meanwhile_gets_no_facts_of_what_it_was(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    shelf.db.execute("DELETE FROM fact")
    work = keeping.rows_of

    def changed_while_working(asked):  # type: ignore[no-untyped-def]
        rows = work(asked)
        shelf.revise(item.id, CHANGED)
        return rows

    monkeypatch.setattr(keeping, "rows_of", changed_while_working)
    assert refresh(shelf) == 0
    assert facts_on(shelf, item.id) is None


def test_a_tune_that_cannot_be_read_has_no_facts_and_says_so(shelf: Shelf) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    shelf.revise(item.id, TUNE.replace("K:G", "K:nonsense"))
    assert refresh(shelf) == 0
    assert facts_on(shelf, item.id) is None
    with pytest.raises(ShelfError, match=r"The Salt Quay: can't be read.*line 5.*no key"):
        tune_of(shelf, shelf.item(item.id))
    lesson = shelf.add(Kind.LESSON, "one", Form.TEXT, "no tune")
    with pytest.raises(ShelfError, match="no tune in it"):
        tune_of(shelf, lesson)


def test_a_change_made_from_an_older_state_is_refused(shelf: Shelf) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    revise_tune(shelf, item.id, tune_in(CHANGED))
    with pytest.raises(ChangedMeanwhile):
        revise_tune(shelf, item.id, tune_in(TUNE), made_from=1)
    facts = facts_on(shelf, item.id)
    assert facts is not None and facts.key == "D major"


def test_a_tune_moved_by_the_program_is_written_as_it_is_now(shelf: Shelf) -> None:
    moved = transposed(tune_in(TUNE), 2)
    item = add_tune(shelf, moved)
    assert item.state.text == write_abc(moved)
    assert same_music(tune_of(shelf, item), moved)


def test_fields_at_the_head_of_a_book_go_with_each_tune(shelf: Shelf, tmp_path: Path) -> None:
    path = tmp_path / "book.abc"
    path.write_text(BOOK)
    one, two = (tune for tune in read_tunes(path) if isinstance(tune, Tune))
    for tune in (one, two):
        item = add_tune(shelf, tune)
        assert item.state.text == tune.text
        again = tune_of(shelf, item)
        assert same_music(again, tune)
        assert again.type == "jig" and again.field_texts("C") == ("Nobody",)
        (alone,) = read_abc(text_alone(item.state))
        assert isinstance(alone, Tune) and same_music(alone, tune)
        # Without the book's fields it would be another tune.
        assert not same_music(tune_in(tune.text), tune)


def test_a_tune_read_alone_is_the_tune_of_its_book() -> None:
    """Every twentieth tune of the collections that music21 ships (all of them agree)."""
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    chosen = random.Random(3).sample(sorted(corpus.rglob("*.abc")), 60)
    seen = 0
    for path in chosen:
        raws = list(split_tunebook(path.read_text("utf-8", "replace").splitlines(keepends=True)))
        for raw in raws[::20]:
            try:
                in_book = read_tune(raw)
            except UnreadableTune:
                continue
            alone = read_tune(raw_tune(raw.text, header_of(raw)))
            assert normal_form(alone) == normal_form(in_book)
            assert alone.text == in_book.text
            seen += 1
    assert seen > 60


def test_a_score_is_kept_as_its_file(shelf: Shelf, tmp_path: Path) -> None:
    path = tmp_path / "quay.musicxml"
    path.write_text(write_musicxml(tune_in(TUNE)), "utf-8")
    (tune,) = read_tunes(path)
    assert isinstance(tune, Tune)
    item = add_tune(shelf, tune)
    assert item.state.form is Form.MUSICXML
    assert shelf.attachments.read(item.state.attachment) == path.read_bytes()
    path.unlink()
    assert same_music(tune_of(shelf, item), tune)
    assert facts_on(shelf, item.id) == facts_of(tune)


def test_facts_of_any_pitches_come_back(shelf: Shelf) -> None:
    item = add_tune(shelf, tune_in(TUNE))
    facts = facts_of(tune_in(TUNE))
    for pitches in ((), (0,), (62,), (63,), (125,), (0, 62, 63, 125)):
        put_facts(shelf, item.id, 1, replace(facts, pitches=pitches))
        found = facts_on(shelf, item.id)
        assert found is not None and found.pitches == pitches
