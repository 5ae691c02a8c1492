"""Tunes on the shelf are found by words, by what they are, by how they go."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.shelf.belongings.lessons import add_lesson
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.facts.keeping import refresh
from reedwright.shelf.facts.tunes import add_tune, revise_tune
from reedwright.shelf.finding.asking import wanted_from
from reedwright.shelf.finding.folding import fold
from reedwright.shelf.finding.forgiving import Vocabulary, allowed, nearest
from reedwright.shelf.finding.melodies import CACHE, prepare
from reedwright.shelf.finding.model import Answer, Wanted
from reedwright.shelf.finding.searching import search
from reedwright.shelf.finding.text import answer_report, answer_text
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import NotOnShelf, ShelfError
from reedwright.tab.ranking import rank_harps
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.refused import Refused
from reedwright.tune.transpose import transposed

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"


def tune(title: str, kind: str = "reel", key: str = "G", more: str = "", notes: str = "") -> Tune:
    text = f"X:1\nT:{title}\n{more}R:{kind}\nM:4/4\nL:1/8\nK:{key}\n{notes or 'GABc dBGB|G8|]'}\n"
    (read,) = read_abc(text)
    assert not isinstance(read, Refused)
    return read


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


@pytest.fixture
def demo(shelf: Shelf) -> Shelf:
    for each in read_tunes(EXAMPLES):
        assert not isinstance(each, Refused)
        add_tune(shelf, each)
    return shelf


def titles(answer: Answer) -> list[str]:
    return [hit.title for hit in answer.hits]


def found(shelf: Shelf, **wanted: object) -> list[str]:
    return titles(search(shelf, Wanted(**wanted)))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "typed",
    [
        "reedmaker's latch",
        "The Reedmakers Latch",
        "latch, the reedmaker’s",
        "REEDMAKER",
        "reedm",  # still being typed
        "redmaker",  # a letter left out
        "reedmakre",  # two changed places
        "lacth",
    ],
)
def test_a_title_is_found_however_it_is_typed(demo: Shelf, typed: str) -> None:
    assert found(demo, words=typed)[:1] == ["The Reedmaker's Latch"]


def test_accents_articles_and_names_do_not_matter(shelf: Shelf) -> None:
    for title in ("Føroya Café", "An Maidin Bhán", "O'Tarn's Fancy", "MacUrn of the Hill"):
        add_tune(shelf, tune(title))
    assert found(shelf, words="foroya cafe") == ["Føroya Café"]
    assert found(shelf, words="maidin bhan") == ["An Maidin Bhán"]
    assert found(shelf, words="o tarn") == found(shelf, words="otarns") == ["O'Tarn's Fancy"]
    assert found(shelf, words="mcurn") == found(shelf, words="mac urn") == ["MacUrn of the Hill"]


def test_what_is_taken_for_what_is_told(demo: Shelf) -> None:
    answer = search(demo, Wanted(words="lacth"))
    assert answer.guessed == {"lacth": "latch"}
    assert "'lacth' is taken for latch" in answer_text(answer)
    assert search(demo, Wanted(words="latch")).guessed == {}


def test_phrases_and_words_that_must_not_be_there(shelf: Shelf) -> None:
    for title in ("Mill of the Door", "Door of the Mill", "Mill Wheel"):
        add_tune(shelf, tune(title))
    assert found(shelf, words='"mill of the door"') == ["Mill of the Door"]
    assert sorted(found(shelf, words="mill -wheel")) == ["Door of the Mill", "Mill of the Door"]
    assert found(shelf, words="-door") == ["Mill Wheel"]


def test_titles_go_before_other_fields_and_any_field_is_found(shelf: Shelf) -> None:
    add_tune(shelf, tune("Something Else", more="C:Nan Orchard\nN:learnt at the weir\n"))
    add_tune(shelf, tune("Orchard", more="C:Somebody\n"))
    assert found(shelf, words="orchard") == ["Orchard", "Something Else"]
    assert found(shelf, words="weir") == ["Something Else"]
    assert found(shelf, fields={"C": "orchard"}) == ["Something Else"]
    with pytest.raises(ShelfError, match="'X' is not a field"):
        found(shelf, fields={"X": "1"})


@given(text=st.text(max_size=30))
@settings(max_examples=150, deadline=None)
def test_whatever_is_typed_is_only_looked_for(text: str, one_shelf: Shelf) -> None:
    search(one_shelf, Wanted(words=text))


@pytest.fixture(scope="module")
def one_shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shelf]:
    with open_shelf(tmp_path_factory.mktemp("shelf")) as opened:
        add_tune(opened, tune("The Latch AND the NEAR Door"))
        yield opened


@pytest.mark.parametrize("typed", ['"', "AND", "NEAR(", "*", "latch OR", "{titles}: x", "'; --"])
def test_signs_of_the_index_mean_nothing(one_shelf: Shelf, typed: str) -> None:
    search(one_shelf, Wanted(words=typed))
    assert found(one_shelf, words="latch AND door") == ["The Latch AND the NEAR Door"]


@given(word=st.text("abcdefgh", min_size=4, max_size=9), at=st.integers(0, 7))
@settings(max_examples=60, deadline=None)
def test_a_slip_is_forgiven_by_the_length_of_the_word(word: str, at: int) -> None:
    """One slip from four letters on, two from six on; neighbours that changed places are one."""
    at %= len(word) - 1
    swapped = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    words = Vocabulary([word, "zzzzzzzzzzzz"], [1, 1])
    if swapped != word:
        assert nearest(swapped, words) == (word,)
    assert [allowed("x" * n) for n in (3, 4, 5, 6, 9)] == [0, 1, 1, 2, 2]


def test_what_a_tune_is(demo: Shelf) -> None:
    assert found(demo, types=("reels",)) == ["The Reedmaker's Latch"]
    assert found(demo, types=("Slip-Jig",)) == ["The Ferry at Nether Coll"]
    assert set(found(demo, keys=("D",))) == {"Two Loaves and a Lantern", "The Paper Sail"}
    assert (
        found(demo, keys=("E dorian",))
        == found(demo, keys=("Edor",))
        == ["The Ferry at Nether Coll"]
    )
    assert found(demo, keys=("E minor",)) == []
    assert found(demo, modes=("mixolydian",)) == ["Lantern on the Causeway"]
    assert found(demo, metres=("9/8",)) == ["The Ferry at Nether Coll"]
    assert "The Reedmaker's Latch" in found(demo, metres=("C|",))
    with pytest.raises(ShelfError, match="not a key"):
        found(demo, keys=("H",))


def test_the_range_is_that_of_the_melody(demo: Shelf) -> None:
    for hit in search(demo, Wanted(lowest=62, highest=79)).hits:
        low, high = demo.db.execute(
            "SELECT lowest, highest FROM fact WHERE item = ?", (hit.item,)
        ).fetchone()
        assert low >= 62 and high <= 79
    everything = {hit.item for hit in search(demo, Wanted()).hits}
    outside = everything - {hit.item for hit in search(demo, Wanted(lowest=62, highest=79)).hits}
    assert outside


@pytest.mark.parametrize("harp", ["G", "D", "low D", "G:richter-raised-3-blow", "A:natural-minor"])
def test_no_bends_means_what_the_ranking_says(demo: Shelf, harp: str) -> None:
    """Judged by `rank_harps`, which works out every way to play: no bends, nothing missing."""
    from reedwright.harp.making import parse_harp

    one = parse_harp(harp)
    player = load_profile("all-techniques")
    plain = set()
    for each in read_tunes(EXAMPLES):
        assert not isinstance(each, Refused)
        ranked = rank_harps(each, player, (one,))
        bare = [r for r in ranked if not r.missing and not _bent(each, one, r.octaves)]
        if bare:
            plain.add(each.title)
    assert set(found(demo, plain_on=(one,), octaves=(-1, 0, 1))) == plain


def _bent(each: Tune, harp: object, octaves: int) -> bool:
    """Whether some note of the tune needs more than a plain blow or draw."""
    from reedwright.harp.model import Harp, Technique

    assert isinstance(harp, Harp)
    bare = {s.midi for s in harp.soundings if s.technique is Technique.NATURAL}
    notes = transposed(each, octaves=octaves).voices[0].notes
    return any(note.pitch.midi not in bare for note in notes)


def test_grades_lessons_and_lists(demo: Shelf) -> None:
    from reedwright.shelf.facts.grades import grade_tunes

    with pytest.raises(ShelfError, match="shelf grade"):
        found(demo, grades=(1.0, 3.0))
    grade_tunes(demo, load_profile("player"), workers=1)
    for hit in search(demo, Wanted(grades=(1.0, 3.0))).hits:
        assert hit.grade is not None and 1.0 <= hit.grade <= 3.0
    items = {hit.title: hit.item for hit in search(demo, Wanted()).hits}
    add_lesson(demo, "Tuesday group", [items["The Paper Sail"]])
    assert found(demo, taught=True) == ["The Paper Sail"]
    assert "The Paper Sail" not in found(demo, taught=False)
    assert found(demo, taught_to="tuesday") == ["The Paper Sail"]
    assert found(demo, taught_to="wednesday") == []
    keep_list(demo, "Course", [demo.item(items["Marl Street Polka"])])
    assert found(demo, in_list="course") == ["Marl Street Polka"]
    with pytest.raises(NotOnShelf, match="did you mean"):
        found(demo, in_list="Cuorse")


def test_notes_ups_and_downs_and_likeness(demo: Shelf) -> None:
    assert found(demo, notes="G2BG DGBd|g2fg")[:1] == ["The Reedmaker's Latch"]
    assert found(demo, notes="A2cA EAce|a2^ga")[:1] == ["The Reedmaker's Latch"]  # a tone higher
    assert found(demo, notes="GBGD GBDg", notes_key="G", words="polka") != ["The Reedmaker's Latch"]
    assert found(demo, contour="*udduuuududdDUDUD")[:1] == ["The Reedmaker's Latch"]
    latch = search(demo, Wanted(words="latch")).hits[0].item
    higher = add_tune(demo, transposed(next(iter(read_tunes(EXAMPLES))), semitones=5))
    like = search(demo, Wanted(like=latch)).hits
    assert like[0].item == higher.id and latch not in [hit.item for hit in like]
    assert like[0].score is not None and like[0].score > 0.9
    with pytest.raises(ShelfError, match="not for two at once"):
        found(demo, notes="GABc", contour="*UUD")


def test_what_changes_is_found_at_once_and_what_is_gone_no_more(shelf: Shelf) -> None:
    item = add_tune(shelf, tune("Latch"))
    assert found(shelf, words="latch") == ["Latch"]
    revise_tune(shelf, item.id, tune("Bolt", notes="gfed cBAG|c8|]"))
    assert found(shelf, words="latch") == [] and found(shelf, words="bolt") == ["Bolt"]
    assert found(shelf, notes="gfedcBAG")[:1] == ["Bolt"]
    shelf.undo(item.id)
    refresh(shelf)
    assert found(shelf, words="latch") == ["Latch"]
    assert found(shelf, notes="GABcdBGB")[:1] == ["Latch"]
    shelf.remove(item.id)
    assert found(shelf, words="latch") == [] == found(shelf, notes="GABcdBGB")
    shelf.put_back(item.id)
    assert found(shelf, words="latch") == ["Latch"]


def test_another_process_is_seen(shelf: Shelf) -> None:
    add_tune(shelf, tune("Latch"))
    assert found(shelf, notes="GABcdBGB") == ["Latch"]
    with open_shelf(shelf.folder) as other:
        add_tune(other, tune("Bolt", notes="gfed cBAG|c8|]"))
    assert found(shelf, words="bolt") == ["Bolt"]
    assert found(shelf, notes="gfedcBAG")[:1] == ["Bolt"]


def test_the_kept_index_of_melodies_may_be_spoilt_or_gone(demo: Shelf, tmp_path: Path) -> None:
    prepare(demo)
    path = demo.folder / CACHE
    assert path.exists()
    for spoilt in (b"", b"reedwright melodies 1\n", path.read_bytes()[:-9], bytes(500)):
        path.write_bytes(spoilt)
        with open_shelf(demo.folder) as again:
            add_tune(again, tune("Bolt", notes="gfed cBAG|c8|]"))  # so that nothing is remembered
            assert found(again, notes="G2BG DGBd|g2fg")[:1] == ["The Reedmaker's Latch"]
    path.unlink()
    assert found(demo, notes="G2BG DGBd|g2fg")[:1] == ["The Reedmaker's Latch"]


def test_pages_of_an_answer_follow_one_another(demo: Shelf) -> None:
    everything = search(demo, Wanted(limit=100))
    assert everything.count == 7
    pages = [search(demo, Wanted(limit=3, offset=at)) for at in (0, 3, 6)]
    assert [hit for page in pages for hit in page.hits] == list(everything.hits)
    assert {page.count for page in pages} == {7}


def test_what_is_asked_in_plain_keys() -> None:
    wanted = wanted_from(
        {"type": "reel, jigs", "key": ["G", "D"], "range": "D4-B5", "grade": "2-4", "harp": "G"}
    )
    assert wanted.types == ("reel", "jigs") and wanted.keys == ("G", "D")
    assert (wanted.lowest, wanted.highest) == (62, 83)  # MIDI notes of D4 and B5
    assert wanted.grades is not None and wanted.grades[0] == 2.0
    assert wanted.plain_on == (make_harp("G"),)
    with pytest.raises(ShelfError, match="did you mean"):
        wanted_from({"tpye": "reel"})


def test_answers_are_told_in_text_and_as_json(demo: Shelf) -> None:
    answer = search(demo, Wanted(words="latch"))
    assert "1 tune" in answer_text(answer) and "The Reedmaker's Latch" in answer_text(answer)
    (told,) = answer_report(answer)["tunes"]  # type: ignore[misc]
    assert told["title"] == "The Reedmaker's Latch" and told["score"] is None
    assert answer_text(search(demo, Wanted(words="xyzzy"))) == "Nothing is found."


def test_words_are_folded_as_the_index_folds_them() -> None:
    assert fold("Ó Néill’s Føsszick") == "o neills fosszick"


def test_a_tune_may_be_moved_by_octaves_to_be_played_with_no_bends(shelf: Shelf) -> None:
    """A G harp has G4, B4, D5 and G5 in its middle octave, whose notes are all there."""
    add_tune(shelf, tune("Low", notes="G,,B,,D,G, G,D,B,,G,,|G,,8|]"))
    low = {"plain_on": (make_harp("G"),)}
    add_tune(shelf, tune("High", notes="g'd'g'b' g'd'g'b'|g'8|]"))
    assert found(shelf, **low, octaves=(0,)) == []
    assert found(shelf, **low, octaves=(2,)) == ["Low"]
    assert found(shelf, **low, octaves=(-1,)) == ["High"]


def test_a_grade_of_an_earlier_state_does_not_count(demo: Shelf) -> None:
    from reedwright.shelf.facts.grades import grade_tunes

    grade_tunes(demo, load_profile("player"), workers=1)
    (latch,) = search(demo, Wanted(words="latch", grades=(1.0, 10.0))).hits
    revise_tune(demo, latch.item, tune("The Reedmaker's Latch", notes="G8|G8|]"))
    assert found(demo, words="latch", grades=(1.0, 10.0)) == []
    grade_tunes(demo, load_profile("player"), workers=1)
    assert found(demo, words="latch", grades=(1.0, 10.0)) == ["The Reedmaker's Latch"]


def test_the_title_that_was_typed_goes_before_longer_ones(shelf: Shelf) -> None:
    for title in ("Mill Mill Mill", "Round the Mill", "The Mill", "Mill Race"):
        add_tune(shelf, tune(title, more="C:Mill\n" if title != "The Mill" else ""))
    assert found(shelf, words="mill")[0] == "The Mill"
    assert set(found(shelf, words="mill")[1:3]) == {"Mill Race", "Mill Mill Mill"}


def test_notes_are_taken_for_a_beginning_in_the_key_that_is_typed(shelf: Shelf) -> None:
    """All three have the eight notes; one in another key, one in the midst of a bar."""
    add_tune(shelf, tune("In D", key="D", notes="defg afdf|d8|]"))
    add_tune(shelf, tune("In the midst", notes="BdGA Bcd_B|Gcg2 e4|fafd fafd|e2ce e2ce|d8|]"))
    add_tune(shelf, tune("Begins so", notes="GABc d_BGc|g8|fafd fafd|e2ce e2ce|d8|]"))
    assert found(shelf, notes="GABcd_BGc", notes_key="G")[0] == "Begins so"


def test_likeness_looks_past_tunes_that_are_gone_or_not_wanted(shelf: Shelf) -> None:
    music = "GABc dBGB|cedc BAGF|GABc dBgB|cAFA G4|]"
    items = [add_tune(shelf, tune(f"Setting {number}", notes=music)) for number in range(7)]
    prepare(shelf)
    for item in items[1:5]:
        shelf.remove(item.id)
    like = search(shelf, Wanted(like=items[0].id, limit=3)).hits
    assert [hit.item for hit in like] == [items[5].id, items[6].id]
    keep_list(shelf, "Last", [items[6]])
    only = search(shelf, Wanted(like=items[0].id, in_list="Last", limit=1)).hits
    assert [hit.item for hit in only] == [items[6].id]


@pytest.mark.parametrize("grade", ["nan", "inf", "1-inf", "nan-3"])
def test_a_grade_is_a_number(grade: str) -> None:
    with pytest.raises(ShelfError, match="no span of grades"):
        wanted_from({"grade": grade})
