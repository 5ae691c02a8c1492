"""The arrangement file: what is read, what is refused, and that writing leaves all else alone."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import parse_harp
from reedwright.harp.model import Breath
from reedwright.tab.choices import (
    Aside,
    Breathe,
    Choice,
    ChoiceBook,
    ChoicesError,
    Never,
    NotePlace,
    Ornamented,
    Play,
    TuneChoices,
    Way,
    choices_path,
    read_choices,
    resolve,
    write_choices,
)
from reedwright.tab.choices.entries import KEYS, ORNAMENT_WORDS
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tab.choices.writing import written_choices
from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tune.reading import read_tunes

ROOT = Path(__file__).parents[2]

BOOK = """\
# Notes for my Tuesday class.
form = 1

[[tune]]  # the reel
title = "The Reel"
number = 3
harp = "G:richter-raised-3-blow:half"
octaves = -1
semitones = 2
player = "first-year"
amount = "light"
second_time = true
voice = 1
notes = [
    # they all miss this one
    { part = "A", bar = 3, beat = 2.5, pitch = "B4", play = "2 draw", between = "A4 C5" }, # easy
    { part = "A", bar = 4, beat = 1.33, pitch = "F#4", never = ["3 blow", "3 draw bent 1"] },
    { part = "B", bar = 0, beat = 4, pitch = "Bb3", play = "3↓''", time = 2 }   # hard
]
ornaments = [{ part = "A", bar = 1, beat = 1, pitch = "G4", ornament = "cut" },
             { part = "A", bar = 1, beat = 2, pitch = "G4", ornament = "none" }]
breaths = [{ part = "A", bar = 8, beat = 2, pitch = "G4", breathe = true }]

[tune.weights]
leap = 2   # leaps frighten them
bend_by_hole = [1, 1, 1, 1, 1, 1, 1, 1, 1, 1.5]

[[tune]]
title = "Another"
"""


def book() -> ChoiceBook:
    return parsed_choices(BOOK, Path("tunes.arrangement.toml"))


def test_the_file_stands_beside_the_tunes() -> None:
    assert choices_path(Path("a/tunes.abc")) == Path("a/tunes.arrangement.toml")
    assert choices_path(Path("air.musicxml")) == Path("air.arrangement.toml")


def test_everything_in_the_file_is_read() -> None:
    reel, another = book().tunes
    assert (reel.title, reel.number, reel.harp) == (
        "The Reel",
        "3",
        "G:richter-raised-3-blow:half",
    )
    assert (reel.octaves, reel.semitones, reel.player) == (-1, 2, "first-year")
    assert (reel.amount, reel.second_time, reel.voice) == (Amount.LIGHT, True, 1)
    assert reel.weights == {"leap": 2.0, "bend_by_hole": (1.0,) * 9 + (1.5,)}
    pin, never, hard, cut, none, breath = reel.choices
    assert pin == Choice(
        NotePlace("A", 3, Fraction(5, 2), "B4", "A4 C5"), Play(Way(2, Breath.DRAW))
    )
    assert never.place.beat == Fraction(4, 3)  # a third of a beat, as people write it
    assert never.says == Never((Way(3, Breath.BLOW), Way(3, Breath.DRAW, 1)))
    assert (hard.place.bar, hard.place.time) == (0, 2)
    assert hard.says == Play(Way(3, Breath.DRAW, 2))
    assert cut.says == Ornamented(OrnamentKind.CUT)
    assert none.says == Ornamented(None)
    assert breath.says == Breathe(True)
    assert another.empty and not reel.empty


def test_writing_what_was_read_changes_no_letter() -> None:
    assert written_choices(book()) == BOOK


def test_a_file_that_is_not_there_is_an_empty_book(tmp_path: Path) -> None:
    assert read_choices(tmp_path / "none.arrangement.toml").tunes == ()


def test_only_what_changed_is_written_and_comments_stay(tmp_path: Path) -> None:
    path = tmp_path / "tunes.arrangement.toml"
    path.write_text(BOOK)
    read = read_choices(path)
    reel = read.tunes[0]
    gone = reel.choices[0]
    changed = replace(
        reel,
        octaves=0,
        player="",
        weights={"leap": 3.0},
        choices=(*reel.choices[1:], Choice(NotePlace("B", 2, Fraction(1), "D5"), Breathe(False))),
        aside=(Aside(gone, "the note there is C5 now"),),
    )
    write_choices(path, read.changed(changed))
    text = path.read_text()
    for comment in (
        "# Notes for my Tuesday class.",
        "[[tune]]  # the reel",
        "# they all miss this one",
        "# hard",
        "# leaps frighten them",
    ):
        assert comment in text
    # The comment behind an entry goes aside with it.
    (line,) = (line for line in text.splitlines() if "reason" in line)
    assert line.endswith("# easy") and "2 draw" in line and "C5 now" in line
    assert "player" not in text and "bend_by_hole" not in text
    again = read_choices(path).tunes[0]
    assert set(again.choices) == set(changed.choices)
    assert replace(again, choices=()) == replace(changed, choices=())
    # And back again.
    write_choices(path, read_choices(path).changed(replace(again, choices=reel.choices, aside=())))
    (line,) = (line for line in path.read_text().splitlines() if "A4 C5" in line)
    assert line.endswith("# easy") and "reason" not in line


def test_a_new_tune_is_added_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "tunes.arrangement.toml"
    choices = TuneChoices("A New One", "12b", harp="C", amount=Amount.WRITTEN)
    write_choices(path, read_choices(path).changed(choices))
    assert read_choices(path).tunes == (replace(choices, table=0),)
    path.write_text(BOOK.rstrip("\n"))
    write_choices(path, read_choices(path).changed(choices))
    assert path.read_text().startswith(BOOK.rstrip("\n"))
    assert read_choices(path).tunes[2] == replace(choices, table=2)


def test_line_ends_stay_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "tunes.arrangement.toml"
    path.write_bytes(BOOK.replace("\n", "\r\n").encode())
    read = read_choices(path)
    write_choices(path, read.changed(replace(read.tunes[1], harp="D")))
    written = path.read_bytes().decode()
    assert written.count("\n") == written.count("\r\n")
    assert written.replace("\r\n", "\n") == BOOK + 'harp = "D"\n'


def test_the_example_of_the_docs_is_read_and_fits_its_tune() -> None:
    text = (ROOT / "docs" / "choices.md").read_text()
    (example,) = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    (tune,) = (t for t in read_tunes(ROOT / "examples" / "tunes.abc") if t.number == "4")
    choices = parsed_choices(example).of(tune)
    resolved = resolve(choices, tune, parse_harp(choices.harp), octaves=choices.octaves or 0)
    assert len(resolved.found) == 5 and resolved.notices == ()
    told = set(re.findall(r"`\[?(?:tune\.)?(\w+)\]?`", text))
    assert set(KEYS) <= told and set(ORNAMENT_WORDS) <= set(re.findall(r"`([a-z ]+)`", text))


def test_entries_as_tables_of_their_own_are_read_and_kept() -> None:
    text = '[[tune]]\ntitle = "T"\n\n[[tune.notes]]\npart = "A"\nbar = 1\nbeat = 1\npitch = "G4"\n'
    book = parsed_choices(text + 'play = "2 draw"\n')
    (tune,) = book.tunes
    more = Choice(NotePlace("A", 2, Fraction(1), "G4"), Play(Way(3, Breath.BLOW)))
    changed = book.changed(replace(tune, choices=(*tune.choices, more)))
    assert parsed_choices(written_choices(changed)).tunes == changed.tunes


def test_a_file_that_somebody_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "tunes.arrangement.toml"
    path.write_text(BOOK)
    read = read_choices(path)
    path.write_text(BOOK + "# more\n")
    with pytest.raises(ChoicesError, match="changed while"):
        write_choices(path, read.changed(replace(read.tunes[0], harp="D")))
    assert path.read_text() == BOOK + "# more\n"


def test_a_file_of_a_newer_form_is_refused_and_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "tunes.arrangement.toml"
    path.write_text("form = 2\n")
    with pytest.raises(ChoicesError, match=r"line 1: .*form 2.*newer version"):
        read_choices(path)
    with pytest.raises(ChoicesError):
        write_choices(path, ChoiceBook(path=path).changed(TuneChoices("T")))
    assert path.read_text() == "form = 2\n"


ENTRY = 'part = "A", bar = 3, beat = 1, pitch = "G4"'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("notes = [\n", r"not a valid TOML file: .*line"),
        ("[[tunes]]\n", r"line 1: unknown key 'tunes', did you mean 'tune'"),
        ("[tune]\n", r"line 1: write \[\[tune\]\] with two brackets"),
        ("[[tune]]\ntitle = 3\n", r"line 2: 'title' must be text"),
        ("[[tune]]\n\nnote = []\n", r"line 3: unknown key 'note', did you mean 'notes'"),
        ("[[tune]]\nharp = 'H'\n", r"line 2: 'harp': 'H' is not a key"),
        ("[[tune]]\namount = 'ligt'\n", r"line 2: .*did you mean 'light'"),
        ("[[tune]]\noctaves = 1.5\n", r"line 2: 'octaves' must be a whole number"),
        ("[[tune]]\nsecond_time = 'yes'\n", r"line 2: 'second_time' must be true or false"),
        (
            "[[tune]]\n[tune.weights]\n\nleep = 1\n",
            r"line 4: unknown weight 'leep', did you mean 'leap'",
        ),
        ("[[tune]]\n[tune.weights]\nleap = 'x'\n", r"line 3: weight 'leap' must be a number"),
        ("[[tune]]\n[tune.weights]\nleap = -1\n", r"line 3: weight 'leap' is -1"),
        (
            f'[[tune]]\nnotes = [\n  {{ {ENTRY}, play = "2 draw" }},\n'
            f'  {{ {ENTRY}, play = "2" }},\n]\n',
            r"line 4, entry 2 of 'notes': '2' does not say blow or draw",
        ),
        (
            f'[[tune]]\n[[tune]]\nnotes = [{{ {ENTRY}, ply = "2 draw" }}]\n',
            r"line 3, entry 1 of 'notes': unknown key 'ply', did you mean 'play'",
        ),
        (f"[[tune]]\nnotes = [{{ {ENTRY} }}]\n", r"must say 'play' or 'never'"),
        (
            '[[tune]]\nnotes = [{ part = "A", bar = 1, beat = 1, play = "2 draw" }]\n',
            r"lacks 'pitch'",
        ),
        (f"[[tune]]\nnotes = [{{ {ENTRY}, never = [] }}]\n", r"names no way"),
        (
            f'[[tune]]\nornaments = [{{ {ENTRY}, ornament = "cot" }}]\n',
            r"no ornament 'cot', did you mean 'cut'",
        ),
        (f'[[tune]]\nbreaths = [{{ {ENTRY}, breathe = "yes" }}]\n', r"true or false"),
        (
            f'[[tune]]\nbreaths = [{{ {ENTRY}, breathe = true, between = "A4" }}]\n',
            r"'between' must name",
        ),
        (
            f"[[tune]]\nbreaths = [{{ {ENTRY.replace('1', '0.5', 1)}, breathe = true }}]\n",
            r"'beat' must be a number from 1",
        ),
        (f"[[tune]]\nbreaths = [{{ {ENTRY}, breathe = true, time = 3 }}]\n", r"must be 1 or 2"),
    ],
)
def test_a_slip_is_told_with_its_line_and_what_to_do(text: str, says: str) -> None:
    with pytest.raises(ChoicesError, match=says) as told:
        parsed_choices(text, Path("my.toml"))
    assert str(told.value).startswith("my.toml")
    assert "\n" not in str(told.value)


# Whatever is decided comes back from the file as it was.

PLACED = [kind for kind in OrnamentKind if kind is not OrnamentKind.GRACES]

beats = st.builds(
    lambda whole, part: 1 + whole + part,
    st.integers(0, 12),
    st.fractions(0, 1, max_denominator=48),
)
pitches = st.builds(
    "{}{}{}".format, st.sampled_from("ABCDEFG"), st.sampled_from(["", "#", "b"]), st.integers(2, 7)
)
ends = st.one_of(pitches, st.just("-"))
places = st.builds(
    NotePlace,
    st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=3),
    st.integers(0, 40),
    beats,
    pitches,
    st.one_of(st.just(""), st.builds("{} {}".format, ends, ends)),
    st.sampled_from([0, 1, 2]),
)
ways = st.one_of(
    st.builds(
        Way,
        st.integers(1, 16),
        st.sampled_from(Breath),
        st.integers(0, 4),
        st.just(False),
        st.booleans(),
    ),
    st.builds(Way, st.integers(1, 16), st.sampled_from(Breath), st.just(0), st.just(True)),
)
says = st.one_of(
    st.builds(Play, ways),
    st.builds(Never, st.lists(ways, min_size=1, max_size=3).map(tuple)),
    st.builds(
        Ornamented,
        st.one_of(
            st.none(),
            st.sampled_from([kind for kind in OrnamentKind if kind is not OrnamentKind.GRACES]),
        ),
    ),
    st.builds(Breathe, st.booleans()),
)
choices = st.builds(Choice, places, says)
titles = st.text(max_size=20)
tunes = st.builds(
    TuneChoices,
    title=titles,
    number=st.one_of(st.integers(0, 999).map(str), st.text(max_size=4), st.just("007")),
    harp=st.sampled_from(["", "G", "low D:richter:half"]),
    octaves=st.one_of(st.none(), st.integers(-2, 2)),
    second_time=st.booleans(),
    weights=st.dictionaries(st.sampled_from(["leap", "step"]), st.floats(0, 900), max_size=2),
    choices=st.lists(choices, max_size=6).map(tuple),
    aside=st.lists(st.builds(Aside, choices, st.text(max_size=20)), max_size=3).map(tuple),
)


def in_file_order(choices: TuneChoices) -> TuneChoices:
    order = {Play: 0, Never: 0, Ornamented: 1, Breathe: 2}
    return replace(
        choices, choices=tuple(sorted(choices.choices, key=lambda each: order[type(each.says)]))
    )


@pytest.mark.no_cover
@settings(max_examples=40, deadline=None)
@given(st.lists(tunes, min_size=1, max_size=3), st.lists(tunes, min_size=3, max_size=3))
def test_any_choices_come_back_also_over_others(
    first: list[TuneChoices], then: list[TuneChoices]
) -> None:
    book = ChoiceBook()
    for each in first:
        book = book.changed(each)
    again = parsed_choices(written_choices(book))
    assert again.tunes == tuple(
        replace(in_file_order(each), table=at) for at, each in enumerate(first)
    )
    over = replace(again, tunes=tuple(replace(then[at], table=at) for at in range(len(first))))
    last = parsed_choices(written_choices(over))
    for one, two in zip(last.tunes, over.tunes, strict=True):
        assert sorted(map(repr, one.choices)) == sorted(map(repr, two.choices))
        assert sorted(map(repr, one.aside)) == sorted(map(repr, two.aside))
        assert replace(one, choices=(), aside=()) == replace(two, choices=(), aside=())
