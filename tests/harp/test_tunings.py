"""The shipped tunings, and a user's own files with what can be wrong in them."""

from pathlib import Path

import pytest

from reedwright.harp.layout import note_name
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Technique
from reedwright.harp.naming import parse_note
from reedwright.harp.position import position
from reedwright.harp.tunings import TuningError, all_tunings, find_tuning, read_tuning

C, D, G, A = 0, 2, 7, 9


@pytest.fixture(autouse=True)
def no_user_files(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("REEDWRIGHT_TUNINGS", str(tmp_path / "own"))
    monkeypatch.setattr("platformdirs.user_config_dir", lambda _name: str(tmp_path / "config"))


def names(harp: Harp, breath: Breath) -> str:
    holes = range(1, harp.tuning.holes + 1)
    return " ".join(note_name(harp.reed_midi(hole, breath), harp, False) for hole in holes)


def differences(name: str) -> dict[tuple[int, str], int]:
    """Reeds in which a tuning differs from Richter, and by how many semitones."""
    richter, other = find_tuning("richter"), find_tuning(name)
    found = {}
    for breath in ("blow", "draw"):
        pairs = zip(getattr(richter, breath), getattr(other, breath), strict=True)
        for hole, (plain, retuned) in enumerate(pairs, start=1):
            if plain != retuned:
                found[hole, breath] = retuned - plain
    return found


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # Common practice, as the names themselves say.
        ("richter-raised-3-blow", {(3, "blow"): 2}),
        ("richter-raised-5-draw", {(5, "draw"): 1}),
        ("richter-raised-3-blow-5-draw", {(3, "blow"): 2, (5, "draw"): 1}),
        ("richter-lowered-7-draw", {(7, "draw"): -1}),
    ],
)
def test_retunings_differ_from_richter_in_just_their_reeds(
    name: str, expected: dict[tuple[int, str], int]
) -> None:
    assert differences(name) == expected


def test_raised_three_blow_has_the_low_sixth_unbent() -> None:
    # Common practice: in C the reed goes from G to A and fills the missing sixth.
    harp = make_harp("C", "richter-raised-3-blow")
    plain = [s for s in harp.ways[parse_note("A4")] if s.technique is Technique.NATURAL]
    assert [(s.hole, s.breath) for s in plain] == [(3, Breath.BLOW)]


def test_solo_tuning_repeats_itself_every_four_holes() -> None:
    # Wikipedia, "Chromatic harmonica": solo tuning, C E G C blown and D F A B drawn.
    harp = make_harp("C", "solo")
    assert names(harp, Breath.BLOW) == "C E G C C E G C C E"
    assert names(harp, Breath.DRAW) == "D F A B D F A B D F"


def test_slide_harp_is_chromatic_by_its_slide_alone() -> None:
    # Wikipedia, as above: from middle C; the slide gives the same a semitone higher, and a D
    # as the last drawn note with the slide in is common.
    harp = make_harp("C", "slide-solo-12")
    plain = {s.midi for s in harp.soundings if s.technique is Technique.NATURAL}
    assert plain == set(range(parse_note("C4"), parse_note("D7") + 1))
    assert harp.reed_midi(12, Breath.DRAW, slide=True) == parse_note("D7")
    assert harp.reed_midi(12, Breath.BLOW, slide=True) == parse_note("C#7")


def test_slide_harp_is_made_with_all_reeds_valved() -> None:
    techniques = {s.technique for s in make_harp("C", "slide-solo-12").soundings}
    assert techniques == {Technique.NATURAL, Technique.VALVED_BEND}


def test_natural_minor_is_named_by_second_position() -> None:
    # Harp-L list, June 2006, "possible usefulness of natural minor harmonicas": the natural minor
    # scale starts in second position, 3 blow or 2 draw.
    harp = make_harp("A", "natural-minor")
    assert harp.reed_midi(2, Breath.DRAW) % 12 == A
    assert harp.reed_midi(3, Breath.BLOW) % 12 == A
    assert position(A, harp) == 2
    assert position(D, harp) == 1
    # All of A natural minor above 2 draw but its second, without a bend.
    plain = {s.midi for s in harp.soundings if s.technique is Technique.NATURAL}
    a = harp.reed_midi(2, Breath.DRAW)
    assert {a + step for step in (0, 3, 5, 7, 8, 10, 12)} <= plain


def test_harmonic_minor_is_named_by_first_position() -> None:
    # Common practice, from memory.
    harp = make_harp("A", "harmonic-minor")
    assert position(A, harp) == 1
    four = harp.reed_midi(4, Breath.BLOW)
    plain = {s.midi for s in harp.soundings if s.technique is Technique.NATURAL}
    assert four % 12 == A
    # The harmonic minor scale (any theory primer): 2 1 2 2 1 3 1 semitones.
    assert {four + step for step in (0, 2, 3, 5, 7, 8, 11, 12)} <= plain


def test_all_tunings_are_named_by_their_files_and_have_words() -> None:
    tunings = all_tunings()
    assert set(tunings) == {
        "richter",
        "richter-raised-3-blow",
        "richter-raised-5-draw",
        "richter-raised-3-blow-5-draw",
        "richter-lowered-7-draw",
        "natural-minor",
        "harmonic-minor",
        "solo",
        "slide-solo-12",
    }
    for name, tuning in tunings.items():
        assert tuning.name == name
        assert tuning.title and tuning.description and tuning.source


MINE = 'title = "mine"\nblow = "C4 E4 G4"\ndraw = "D4 G4 B4"\n'


def write(folder: Path, text: str, name: str = "mine.toml") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_user_tunings_stand_beside_the_shipped_ones(tmp_path: Path) -> None:
    write(tmp_path / "own", MINE)
    write(tmp_path / "config" / "tunings", MINE, "other.toml")
    assert find_tuning("mine").blow == (60, 64, 67)
    assert {"richter", "mine", "other"} <= set(all_tunings())


def test_a_tuning_may_be_a_file_anywhere(tmp_path: Path) -> None:
    path = write(tmp_path, MINE)
    assert make_harp("C", path).tuning.holes == 3
    assert make_harp("C", str(path)).tuning.title == "mine"


def test_a_changed_file_is_read_anew(tmp_path: Path) -> None:
    import os

    path = write(tmp_path / "own", MINE)
    assert find_tuning("mine").blow[0] == 60
    path.write_text(MINE.replace("C4", "B3"))
    os.utime(path, (1, 1))
    assert find_tuning("mine").blow[0] == 59


def test_notes_take_unicode_signs_and_flats(tmp_path: Path) -> None:
    path = write(tmp_path, 'title = "x"\nblow = "C4 E♭4 G4"\ndraw = "D4 F♯4 Bb4"\n')
    tuning = read_tuning(path)
    assert (tuning.blow, tuning.draw) == ((60, 63, 67), (62, 66, 70))


def test_a_layout_may_be_written_in_any_home_key(tmp_path: Path) -> None:
    in_g = 'title = "x"\nblow = "G3 B3 D4"\ndraw = "A3 D4 F#4"\nhome = "G"\nlabel = "D"\n'
    tuning = read_tuning(write(tmp_path, in_g))
    assert tuning.blow == (60, 64, 67)
    harp = make_harp("D", tuning)
    assert harp.reed_midi(1, Breath.BLOW) == parse_note("G3")
    assert position(G, harp) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "x"\nblow = "C4 E4"\n', ("'draw' is missing", "add it")),
        (MINE + 'colour = "red"\n', ("line 4", "unknown key 'colour'")),
        (
            MINE.replace("D4 G4 B4", "D4 G4"),
            ("line 3", "has 3 notes but 'draw' has 2", "each hole"),
        ),
        (MINE.replace("E4", "H4"), ("line 2", "hole 2 blow", "'H4' is not a note", "Bb3")),
        (MINE.replace("E4", "E"), ("line 2", "hole 2 blow", "octave")),
        (MINE.replace("E4", "E9"), ("line 2", "hole 2 blow", "no reed sounds E9", "C8")),
        (MINE.replace('"C4 E4 G4"', '""'), ("line 2", "has 0 notes")),
        (MINE.replace('"C4 E4 G4"', "[60, 64]"), ("line 2", "'blow' must be text")),
        (MINE + 'home = "H"\n', ("line 4", "'H' is not a key")),
        (MINE + "slide = 7\n", ("line 4", "'slide' must be a whole number")),
        (MINE + "slide = true\n", ("line 4", "'slide' must be a whole number")),
        (MINE + 'valves = "some"\n', ("line 4", "none, half, full")),
        (MINE + 'draw_slide = "D4 G4 B4"\n', ("line 4", "slide = 1")),
        (MINE + 'slide = 1\ndraw_slide = "D4 G4"\n', ("line 5", "'draw_slide' has 2")),
        ("title = \n", ("not a valid TOML file", "line 1")),
    ],
)
def test_a_faulty_file_is_refused_with_place_and_remedy(
    tmp_path: Path, text: str, said: tuple[str, ...]
) -> None:
    path = write(tmp_path, text)
    with pytest.raises(TuningError) as caught:
        read_tuning(path)
    assert str(path) in str(caught.value)
    for part in said:
        assert part in str(caught.value)


def test_a_missing_file_and_an_unknown_name_say_so(tmp_path: Path) -> None:
    with pytest.raises(TuningError, match="no such tuning file"):
        find_tuning(tmp_path / "none.toml")
    with pytest.raises(TuningError, match=r"no tuning named 'richer'.*richter"):
        find_tuning("richer")


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TuningError, match="cannot be read"):
        read_tuning(path)


def test_two_tunings_of_one_name_are_refused(tmp_path: Path) -> None:
    write(tmp_path / "own", MINE, "richter.toml")
    with pytest.raises(TuningError, match="already a tuning named 'richter'"):
        all_tunings()
