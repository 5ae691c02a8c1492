"""What belongs to tunes and to their player, kept on the shelf and found again."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from reedwright.player.loading import SHIPPED, load_profile
from reedwright.shelf.belongings.arrangements import (
    USUAL,
    arrangement_from_file,
    arrangements_of,
    choices_on,
    keep_choices,
    take_in_arrangements,
)
from reedwright.shelf.belongings.files import keep_pack, keep_take
from reedwright.shelf.belongings.from_bench import take_in_bench
from reedwright.shelf.belongings.harps import (
    harps_on,
    history_on,
    keep_harp,
    lay_out_for_bench,
)
from reedwright.shelf.belongings.lessons import add_lesson, lessons_of, tunes_of
from reedwright.shelf.belongings.lists import BOOK, WHAT, keep_list
from reedwright.shelf.belongings.naming import named_item, named_tunes
from reedwright.shelf.belongings.profiles import keep_profile, profile_on
from reedwright.shelf.changing import change_from_file, redo, rename, undo
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf, Role, ShelfError
from reedwright.tab.choices.model import TuneChoices
from reedwright.workshop.history.keeping import add_conversion, add_note, start_history
from reedwright.workshop.history.writing import entry_text

TUNE = """X:1
T:{title}
M:6/8
K:G
GAB d2B|AGA B2G|
"""


@pytest.fixture
def shelf(tmp_path: Path):  # type: ignore[no-untyped-def]
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


def tune(shelf: Shelf, title: str) -> Item:
    return shelf.add(Kind.TUNE, title, Form.ABC, TUNE.format(title=title))


def test_tunes_are_named_by_number_by_title_and_by_part_of_it(shelf: Shelf) -> None:
    first, second = tune(shelf, "The Reedmaker’s Latch"), tune(shelf, "Café at Dún Alltán")
    assert named_item(shelf, str(second.id), Kind.TUNE) == second
    assert named_item(shelf, f"#{first.id}", Kind.TUNE) == first
    assert named_item(shelf, "the reedmaker's latch", Kind.TUNE) == first
    assert named_item(shelf, "cafe at dun", Kind.TUNE) == second
    assert named_tunes(shelf, ["dun alltan", "latch"]) == (second, first)


def test_a_name_that_fits_several_is_asked_about_and_one_that_fits_whole_wins(shelf: Shelf) -> None:
    one, other = tune(shelf, "Latch"), tune(shelf, "Latch and Key")
    tune(shelf, "Key")
    assert named_item(shelf, "latch", Kind.TUNE) == one
    with pytest.raises(ShelfError, match=rf"{one.id} \(Latch\), {other.id} \(Latch and Key\)"):
        named_item(shelf, "lat", Kind.TUNE)
    with pytest.raises(NotOnShelf, match="did you mean 'Latch'"):
        named_item(shelf, "Lacth", Kind.TUNE)


def test_a_number_of_another_kind_is_told(shelf: Shelf) -> None:
    keep_list(shelf, "Tuesday", [tune(shelf, "Latch")])
    with pytest.raises(NotOnShelf, match="Number 2 on the shelf is a list"):
        named_item(shelf, "2", Kind.TUNE)


def test_a_profile_comes_back_as_it_was_and_its_changes_can_be_undone(
    shelf: Shelf, tmp_path: Path
) -> None:
    path = tmp_path / "mira.toml"
    path.write_text((SHIPPED / "first-year.toml").read_text("utf-8"), "utf-8")
    kept = keep_profile(shelf, path)
    assert profile_on(shelf, kept.id).weights == load_profile("first-year").weights
    before = path.read_text("utf-8")
    path.write_text(before + "\n# a note of hers\n", "utf-8")
    assert keep_profile(shelf, path).state.number == 2
    assert keep_profile(shelf, path).state.number == 2  # nothing new, no new state
    assert undo(shelf, kept.id).state.text == before
    assert redo(shelf, kept.id).state.text.endswith("# a note of hers\n")


def test_a_harp_keeps_what_the_bench_measured_and_did(shelf: Shelf, tmp_path: Path) -> None:
    bench = tmp_path / "bench"
    history = start_history("red G", "G", bench)
    assert [item.name for item in take_in_bench(shelf, bench)] == ["red G"]
    assert take_in_bench(shelf, bench) == ()
    history = add_note(history, "draw 5 is slow")
    add_conversion(history, "G:richter-raised-3-blow")
    (item,) = take_in_bench(shelf, bench)
    assert item.state.number == 2
    assert len(history_on(shelf, item.id).entries) == 2
    ((_, harp),) = harps_on(shelf)
    assert harp.tuning.name == "richter-raised-3-blow"
    undo(shelf, item.id)
    assert take_in_bench(shelf, bench) == ()  # the bench has nothing new to tell
    ((_, harp),) = harps_on(shelf)
    assert harp.tuning.name == "richter"
    shelf.remove(item.id)
    assert take_in_bench(shelf, bench) == () and harps_on(shelf) == ()


def test_what_was_kept_on_the_shelf_stays_when_the_bench_tells_more(
    shelf: Shelf, tmp_path: Path
) -> None:
    """By hand: one entry of the bench's, one of the shelf's, then another of the bench's: three."""
    bench = tmp_path / "bench"
    history = add_note(start_history("red G", "G", bench), "draw 5 is slow")
    (item,) = take_in_bench(shelf, bench)
    mine = start_history("other", "G", tmp_path / "mine")
    own = entry_text(add_note(mine, "found on the shelf").entries[-1])
    shelf.revise(item.id, shelf.item(item.id).state.text + own, said="a note")
    assert take_in_bench(shelf, bench) == ()
    add_note(history, "blow 1 is new")
    take_in_bench(shelf, bench)
    notes = [str(entry) for entry in history_on(shelf, item.id).entries]
    assert len(notes) == 3
    for words in ("draw 5 is slow", "found on the shelf", "blow 1 is new"):
        assert any(words in note for note in notes)


def test_a_list_does_not_take_a_books_place(shelf: Shelf) -> None:
    plan = "form = 1\n"
    shelf.add(Kind.LIST, "Winter", Form.TOML, plan, about={"what": "book"})
    with pytest.raises(ShelfError, match="book"):
        keep_list(shelf, "Winter", [tune(shelf, "Latch")])


def test_a_text_with_the_line_ends_of_another_system_reads_as_it_is_meant(shelf: Shelf) -> None:
    """RFC 2046, 4.1.1, and what Windows writes: lines end with a carriage return as well."""
    text = "X:1\r\nT:Latch\r\nM:4/4\r\nL:1/8\r\nK:G\r\nG2BG dGBG|]\r\n"
    item = shelf.add(Kind.TUNE, "Latch", Form.ABC, text)
    assert tune_of(shelf, item).problems == ()


def test_a_harp_is_called_as_its_file_says(shelf: Shelf, tmp_path: Path) -> None:
    item = keep_harp(shelf, "red G", "G")
    path = tmp_path / "blue.toml"
    path.write_text(item.state.text.replace("red G", "blue G"), "utf-8")
    assert change_from_file(shelf, item.id, path).name == "blue G"


def test_histories_that_the_bench_lost_are_laid_out_again_to_the_byte(
    shelf: Shelf, tmp_path: Path
) -> None:
    bench, empty = tmp_path / "bench", tmp_path / "new bench"
    add_note(start_history("red G", "G:richter:half", bench), "a note")
    take_in_bench(shelf, bench)
    keep_harp(shelf, "old C", "C")
    written = lay_out_for_bench(shelf, empty)
    assert len(written) == 2
    assert written[0].read_bytes() == next(bench.glob("*.toml")).read_bytes()
    assert lay_out_for_bench(shelf, empty) == ()


def test_a_harp_is_kept_once_and_must_be_one(shelf: Shelf) -> None:
    keep_harp(shelf, "old C", "C")
    with pytest.raises(ShelfError, match="on the shelf already"):
        keep_harp(shelf, "old  C", "low D")
    with pytest.raises(Exception, match="H"):
        keep_harp(shelf, "odd", "H")
    assert [item.name for item, _ in harps_on(shelf)] == ["old C"]


def test_every_choice_for_a_tune_is_a_state_that_can_be_undone(shelf: Shelf) -> None:
    item = tune(shelf, "Latch")
    keep_choices(shelf, item.id, TuneChoices("Latch", "1", harp="G"), "on G")
    kept = keep_choices(shelf, item.id, TuneChoices("Latch", "1", harp="low D"), "on low D")
    assert kept.state.number == 2
    now = choices_on(shelf, item.id)
    assert now is not None and now.harp == "low D"
    undo(shelf, kept.id)
    before = choices_on(shelf, item.id)
    assert before is not None and before.harp == "G"
    assert [each.name for each in arrangements_of(shelf, item.id)] == [USUAL]


def test_a_tune_may_have_several_arrangements(shelf: Shelf) -> None:
    item = tune(shelf, "Latch")
    keep_choices(shelf, item.id, TuneChoices("Latch", "1", harp="G"), name="for beginners")
    assert choices_on(shelf, item.id) is None
    named = choices_on(shelf, item.id, "for beginners")
    assert named is not None and named.harp == "G"
    with pytest.raises(NotOnShelf, match="it has: for beginners"):
        choices_on(shelf, item.id, "for children")


def test_an_arrangement_file_is_kept_for_the_tune_that_it_speaks_of(
    shelf: Shelf, tmp_path: Path
) -> None:
    item = tune(shelf, "Latch")
    path = tmp_path / "tunes.arrangement.toml"
    path.write_text('form = 1\n[[tune]]\ntitle = "Latch"\nnumber = "1"\nharp = "A"\n', "utf-8")
    arrangement_from_file(shelf, item.id, path)
    kept = choices_on(shelf, item.id)
    assert kept is not None and kept.harp == "A"
    other = shelf.add(Kind.TUNE, "Key", Form.ABC, TUNE.format(title="Key").replace("X:1", "X:2"))
    with pytest.raises(ShelfError, match="says nothing of 'Key'"):
        arrangement_from_file(shelf, other.id, path)


def test_arrangements_beside_a_tunebook_come_in_with_it_and_once(
    shelf: Shelf, tmp_path: Path
) -> None:
    from reedwright.shelf.filling.importing import import_tunes

    book = tmp_path / "tunes.abc"
    book.write_text(TUNE.format(title="Latch"), "utf-8")
    beside = tmp_path / "tunes.arrangement.toml"
    beside.write_text('form = 1\n[[tune]]\ntitle = "Latch"\nnumber = "1"\nharp = "A"\n', "utf-8")
    import_tunes(shelf, [tmp_path])
    (item,) = shelf.items(Kind.TUNE)
    (kept,) = take_in_arrangements(shelf, [tmp_path])
    choices = choices_on(shelf, item.id)
    assert choices is not None and choices.harp == "A"
    keep_choices(shelf, item.id, TuneChoices("Latch", "1", harp="G"))
    assert take_in_arrangements(shelf, [tmp_path]) == ()  # what was decided since stays
    choices = choices_on(shelf, item.id)
    assert choices is not None and choices.harp == "G"
    assert undo(shelf, kept.id).state.number == 1


def test_takes_and_packs_are_kept_to_the_byte_with_their_tune(shelf: Shelf, tmp_path: Path) -> None:
    item = tune(shelf, "Latch")
    sound, zip_ = tmp_path / "latch.wav", tmp_path / "latch.zip"
    sound.write_bytes(b"RIFF" + bytes(range(256)))
    zip_.write_bytes(b"PK\x05\x06" + bytes(18))
    take, pack = keep_take(shelf, item.id, sound, "Mira"), keep_pack(shelf, item.id, zip_)
    assert shelf.attachments.read(take.state.attachment) == sound.read_bytes()
    assert take.state.about == {"file": "latch.wav", "played by": "Mira"}
    assert {link.item for link in shelf.linked_to(item.id, Role.OF)} == {take.id, pack.id}
    with pytest.raises(ShelfError, match="as the zip"):
        keep_pack(shelf, item.id, sound)
    with pytest.raises(ShelfError, match="cannot be read"):
        keep_take(shelf, item.id, tmp_path / "none.wav")


def test_lessons_say_to_whom_and_what(shelf: Shelf) -> None:
    first, second = tune(shelf, "Latch"), tune(shelf, "Key")
    lesson = add_lesson(
        shelf, "Tuesday  group", [second.id, first.id], "slow, with breath marks", date(2026, 3, 1)
    )
    assert (lesson.name, lesson.state.text) == ("Tuesday group", "slow, with breath marks")
    assert lesson.state.about["date"] == "2026-03-01"
    assert tunes_of(shelf, lesson.id) == (second, first)
    assert lessons_of(shelf, first.id) == (lesson,)
    shelf.remove(lesson.id)
    assert lessons_of(shelf, first.id) == ()


def test_a_list_keeps_its_order_through_undo_and_redo(shelf: Shelf) -> None:
    tunes = [tune(shelf, name) for name in ("Latch", "Key", "Hinge")]
    kept = keep_list(shelf, "Tuesday", tunes)
    keep_list(shelf, "Tuesday", tunes[::-1])
    assert tunes_of(shelf, kept.id) == tuple(tunes[::-1])
    undo(shelf, kept.id)
    assert tunes_of(shelf, kept.id) == tuple(tunes)
    redo(shelf, kept.id)
    assert tunes_of(shelf, kept.id) == tuple(tunes[::-1])
    rename(shelf, kept.id, "Wednesday")
    assert named_item(shelf, "Wednesday", Kind.LIST).id == kept.id
    assert tunes_of(shelf, kept.id) == tuple(tunes[::-1])


def test_a_list_that_was_edited_by_hand_has_the_tunes_that_it_names(
    shelf: Shelf, tmp_path: Path
) -> None:
    tunes = [tune(shelf, name) for name in ("Latch", "Key")]
    kept = keep_list(shelf, "Tuesday", tunes)
    path = tmp_path / "list.toml"
    path.write_text(f'title = "Tuesday"\n[[tune]]\nuid = "{tunes[1].uid}"\n', "utf-8")
    change_from_file(shelf, kept.id, path)
    assert tunes_of(shelf, kept.id) == (tunes[1],)
    path.write_text("title = \n", "utf-8")
    with pytest.raises(ShelfError, match="not a valid TOML file"):
        change_from_file(shelf, kept.id, path)
    assert tunes_of(shelf, kept.id) == (tunes[1],)


def test_a_book_keeps_its_tunes_through_undo_and_redo_and_when_its_plan_is_edited(
    shelf: Shelf, tmp_path: Path
) -> None:
    latch, key = tune(shelf, "Latch").id, tune(shelf, "Key").id

    def plan(*tunes: int) -> str:
        named = ", ".join(f'{{tune = "shelf:{number}"}}' for number in tunes)
        return f'form = 1\ntitle = "Winter"\ntunes = [{named}]\n'

    book = shelf.add(Kind.LIST, "Winter", Form.TOML, plan(latch), about={WHAT: BOOK}).id
    shelf.link(book, Role.ON, [latch])
    shelf.revise(book, plan(key, latch))
    shelf.link(book, Role.ON, [key, latch])

    def tunes() -> list[int]:
        return [link.to for link in shelf.links(book, Role.ON)]

    undo(shelf, book)
    assert tunes() == [latch]
    redo(shelf, book)
    assert tunes() == [key, latch]
    path = tmp_path / "book.toml"
    chapter = (
        f'[[chapter]]\ntitle = "Reels"\ntunes = ["shelf:{latch}", "shelf:{key}", "shelf:99"]\n'
    )
    path.write_text(f'form = 1\ntitle = "Winter"\n{chapter}', "utf-8")
    change_from_file(shelf, book, path)
    assert tunes() == [latch, key]


def test_tunes_profiles_and_harps_are_named_by_what_they_say(shelf: Shelf) -> None:
    with pytest.raises(ShelfError, match="stands in what it says"):
        rename(shelf, tune(shelf, "Latch").id, "Key")


def test_a_tune_is_changed_by_a_file_with_one_tune_and_its_facts_follow(
    shelf: Shelf, tmp_path: Path
) -> None:
    from reedwright.shelf.facts.keeping import facts_on
    from reedwright.shelf.facts.tunes import add_tune
    from reedwright.tune.abc import read_abc
    from reedwright.tune.refused import Refused

    (read,) = read_abc(TUNE.format(title="Latch"))
    assert not isinstance(read, Refused)
    item = add_tune(shelf, read)
    path = tmp_path / "one.abc"
    path.write_text(TUNE.format(title="Bolt").replace("K:G", "K:D"), "utf-8")
    changed = change_from_file(shelf, item.id, path)
    facts = facts_on(shelf, item.id)
    assert (changed.name, facts and facts.title, facts and facts.key) == ("Bolt", "Bolt", "D major")
    undo(shelf, item.id)
    facts = facts_on(shelf, item.id)
    assert facts is not None and (facts.title, facts.key) == ("Latch", "G major")
    path.write_text(2 * TUNE.format(title="Bolt"), "utf-8")
    with pytest.raises(ShelfError, match="2 tunes"):
        change_from_file(shelf, item.id, path)
