"""Tables of cents that users write, the wishes that cannot be met, and what is shown of it all."""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.temperament import UnknownTemperament, all_temperaments
from reedwright.harp.tunings import SHIPPED_NAMES as TUNINGS
from reedwright.workshop.targets.beating import beat_answers
from reedwright.workshop.targets.beats import pair_beats
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.finding import (
    SHIPPED_NAMES,
    all_reed_temperaments,
    find_reed_temperament,
)
from reedwright.workshop.targets.making import reed_targets, slide_in
from reedwright.workshop.targets.model import TargetWishes
from reedwright.workshop.targets.reading import read_reed_temperament
from reedwright.workshop.targets.report import (
    answers_report,
    beats_report,
    targets_report,
    temperaments_report,
)
from reedwright.workshop.targets.temperaments import (
    ReedTemperament,
    TemperamentError,
    note_cents,
    reed_cents,
)
from reedwright.workshop.targets.text import (
    answers_text,
    beats_text,
    pair_text,
    targets_text,
    temperaments_text,
)

BLOW, DRAW = Breath.BLOW, Breath.DRAW
PER_REED = """title = "my own"
blow = "0 -14 +2  0 -14 2 0 −14 2 0"
draw = "4 2 -12 4 -29 6 -12 4 -29 6.5"
"""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """An empty folder of the user's own temperaments."""
    monkeypatch.setenv("REEDWRIGHT_TEMPERAMENTS", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_config_dir", lambda *_: str(tmp_path / "config"))
    return tmp_path


def written(folder: Path, text: str, name: str = "mine") -> Path:
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def cents(harp, temperament):
    return {each.reed: each.cents for each in reed_targets(harp, TargetWishes(temperament)).reeds}


def test_a_table_by_reed_is_taken_as_written(folder):
    found = cents(make_harp("G"), written(folder, PER_REED))
    assert [found[Reed(hole, BLOW)] for hole in (1, 2, 3, 8)] == [0, -14, 2, -14]
    assert [found[Reed(hole, DRAW)] for hole in (1, 5, 10)] == [4, -29, 6.5]


def test_a_table_by_reed_may_be_a_list(folder):
    path = written(folder, 'title = "list"\nblow = [0, -13.7]\ndraw = [4, 2]')
    assert read_reed_temperament(path).reeds == {BLOW: (0, -13.7), DRAW: (4, 2)}


def test_a_table_in_the_users_folder_goes_by_its_name(folder):
    written(folder, PER_REED)
    assert cents(make_harp("C"), "mine")[Reed(3, DRAW)] == -12
    assert [*all_reed_temperaments()] == [*all_temperaments(), *SHIPPED_NAMES, "mine"]
    assert "my own" in temperaments_text(all_reed_temperaments().values())


def test_a_table_by_role_reaches_every_reed_of_the_role(folder):
    path = written(
        folder,
        'title = "roles"\n[roles]\n"major third" = -9\nseventh = -5\n'
        "[draw_roles]\nMajor_Third = -7",
    )
    found = cents(make_harp("A"), path)
    assert [found[Reed(hole, BLOW)] for hole in (2, 5, 8)] == [-9] * 3
    assert [found[Reed(hole, DRAW)] for hole in (3, 7)] == [-7] * 2  # third of the draw chord
    assert [found[Reed(hole, DRAW)] for hole in (5, 9)] == [-5] * 2
    assert found[Reed(1, DRAW)] == found[Reed(1, BLOW)] == 0


def test_a_table_by_note_moves_with_the_key(folder):
    # Written for a harp in G: its B is the third of the home chord.
    path = written(folder, 'title = "notes"\nhome = "G"\n[notes]\nB = -13.7\n"F#" = -12')
    for key in ("G", "C", "Eb"):
        found = cents(make_harp(key), path)
        assert found[Reed(2, BLOW)] == found[Reed(8, BLOW)] == -13.7
        assert found[Reed(3, DRAW)] == -12  # leading note
        assert found[Reed(1, BLOW)] == 0


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ('blow = "0"\ndraw = "0"', None, "'title' is missing"),
        ('title = "x"', None, "no cents are given"),
        ('title = "x"\nlimit = 11', 2, "must be 5 or 7"),
        ('title = "x"\nlimit = true', 2, "must be 5 or 7"),
        ('title = "x"\nlimit = 5\nshare = 2', 3, "at most 1"),
        ('title = "x"\nlimit = 5\nblow = "0"\ndraw = "0"', 3, "one rule too many"),
        ('title = "x"\nblow = "0 0"\ndraw = "0"', 3, "'blow' has 2 numbers but 'draw' has 1"),
        ('title = "x"\nblow = "0 0"', None, "'draw' is missing"),
        ('title = "x"\nblow = "0 a"\ndraw = "0 0"', 2, "hole 2 blow: 'a' is no number"),
        ('title = "x"\nblow = "0 0"\ndraw = "0 90"', 3, "hole 2 draw: 90 cents is too far"),
        ('title = "x"\nblow = "0 nan"\ndraw = "0 0"', 2, "hole 2 blow: give a number"),
        ('title = "x"\nblow = [0, [1]]\ndraw = [0, 0]', 2, "hole 2 blow: give a number"),
        ('title = "x"\nblow = ""\ndraw = "0"', 2, "'blow' has 0 numbers"),
        ('title = "x"\nblow = 3\ndraw = "0"', 2, "must be text in quotation marks"),
        ('title = "x"\n[roles]\n"third" = 3', 3, "did you mean 'minor third'"),
        ('title = "x"\n[roles]\nfifth = "2"', 3, "fifth: give a number of cents"),
        ('title = "x"\n[blow_roles]\nfifth = 1\n[draw_roles]\nfifth = 99', 5, "too far"),
        ('title = "x"\nroles = 3', 2, r"a line \[roles\]"),
        ('title = "x"\n[notes]\nH = 3', 3, "'H' is no note name"),
        ('title = "x"\n[notes]\nBb = 3\n"A#" = 2', 4, "given twice"),
        ('title = "x"\nhome = "G"\nlimit = 5', 2, "belongs to 'notes'"),
        ('title = "x"\nhome = "K"\n[notes]\nG = 1', 2, "is not a key"),
        ('title = "x"\nlimit = 5\nshares = 1', 3, "did you mean 'share'"),
        ('title = "x', None, "not a valid TOML file"),
    ],
)
def test_a_mistake_in_a_table_is_told_with_its_line(folder, text, line, told):
    path = written(folder, text)
    with pytest.raises(TemperamentError, match=told) as caught:
        read_reed_temperament(path)
    assert str(path) in str(caught.value)
    if line:
        assert f"{path}, line {line}:" in str(caught.value)


def test_a_table_for_another_number_of_holes_is_told(folder):
    with pytest.raises(TemperamentError, match=r"for 10 holes, the C harp, .* has 12"):
        cents(make_harp("C", "slide-solo-12"), written(folder, PER_REED))


def test_a_name_twice_is_refused(folder):
    written(folder, PER_REED, "just")
    with pytest.raises(TemperamentError, match="already a temperament named 'just'"):
        all_reed_temperaments()


def test_an_unknown_name_is_told_with_those_there_are():
    with pytest.raises(UnknownTemperament, match=r"did you mean 'chords-seven'.*lowered-thirds"):
        find_reed_temperament("chord-seven")
    with pytest.raises(TemperamentError, match="no such temperament file"):
        find_reed_temperament("nowhere/mine.toml")


@given(st.text(max_size=60) | st.from_regex(r'title = "x"\n(blow|draw|limit|\[roles\]) ?= ?.{0,9}'))
@settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_whatever_stands_in_a_file_is_read_or_told(folder, text):
    path = folder / "any.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        reed_targets(make_harp("C"), TargetWishes(path))
    except ReedwrightError as error:
        assert str(path) in str(error)


@pytest.mark.parametrize(
    ("wishes", "told"),
    [
        (TargetWishes(a4=437.9), "outside 438 to 446 Hz, in which harps are tuned"),
        (TargetWishes(a4=446.1), "outside 438 to 446"),
        (TargetWishes(a4=float("nan")), "A4 of nan Hz"),
        (TargetWishes(pressure=-1), "an offset of -1 cents"),
        (TargetWishes(pressure=31), "2 to 6 is common"),
        (TargetWishes(pressure=float("inf")), "an offset of inf"),
        (TargetWishes(stretch=13), "a stretch of 13 cents an octave"),
        (TargetWishes(stretch=float("nan")), "a stretch of nan"),
    ],
)
def test_wishes_that_make_no_sense_are_told(wishes, told):
    with pytest.raises(TargetError, match=told):
        reed_targets(make_harp("C"), wishes)


def test_the_ends_of_the_range_are_in_it():
    for a4 in (438, 446):
        assert reed_targets(make_harp("C"), TargetWishes(a4=a4)).of(Reed(6, DRAW)).hz == (
            pytest.approx(2 * a4)
        )


def test_without_wishes_the_harps_own_pitch_counts():
    assert reed_targets(make_harp("C", a4=442)).of(Reed(6, DRAW)).hz == pytest.approx(884)


def test_pressure_moves_the_bench_and_not_the_music():
    plain, pressed = (
        reed_targets(make_harp("C"), TargetWishes("just", pressure=each)).reeds for each in (0, 5)
    )
    for one, other in zip(plain, pressed, strict=True):
        assert (other.hz, other.cents) == (one.hz, one.cents)
        assert other.bench_cents == pytest.approx(one.cents + 5)
        assert other.bench_hz / one.bench_hz == pytest.approx(2 ** (5 / 1200), rel=1e-12)


def test_stretch_counts_from_the_home_note_of_hole_four():
    targets = reed_targets(make_harp("G"), TargetWishes(stretch=2))
    found = [targets.of(Reed(hole, BLOW)).cents for hole in (1, 4, 7, 10)]
    assert found == pytest.approx([-2, 0, 2, 4])


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize("name", [*all_temperaments(), *SHIPPED_NAMES])
def test_everything_fits_a_terminal_and_json(tuning, name):
    harp = make_harp("Db", tuning, "low")
    targets = reed_targets(harp, TargetWishes(name, 442, 4.5, 1.25))
    pair = pair_beats(targets)[0]
    answers = beat_answers(targets, (pair.lower, pair.upper), 0.5, pair.upper)
    texts = (targets_text(targets), beats_text(targets), answers_text(targets, answers))
    for text in texts:
        assert max(len(line) for line in text.splitlines()) <= 80
    for report in (
        targets_report(targets),
        beats_report(targets),
        answers_report(targets, answers),
    ):
        assert json.loads(json.dumps(report)) == report


def test_the_table_shows_every_reed_with_both_pitches():
    text = targets_text(reed_targets(make_harp("C"), TargetWishes("chords-seven", pressure=4)))
    # 698.4565 x 2^(-29.219/1200) = 686.767; at the bench x 2^(4/1200) = 688.356.
    row = next(line for line in text.splitlines() if line.startswith("   5 draw"))
    assert " ".join(row.split()) == "5 draw F5 -29.2 686.77 -25.2 688.36 seventh, 7/4"
    assert "No offset" not in text
    assert "No offset for playing pressure" in targets_text(reed_targets(make_harp("C")))


def test_the_slides_other_reeds_are_shown_too():
    targets = reed_targets(make_harp("C", "slide-solo-12"))
    assert "With the slide in" in targets_text(targets)
    assert len(targets_report(targets)["slide_in"]) == 24
    with pytest.raises(TargetError, match="has no slide"):
        slide_in(make_harp("C"))


def test_what_else_changes_is_told():
    targets = reed_targets(make_harp("C"))
    octave = (Reed(1, BLOW), Reed(4, BLOW))
    text = answers_text(targets, beat_answers(targets, octave, 0.5, octave[1]))
    assert "4 blow (C5) 1.7 cents up: 523.75 Hz when played" in text
    # Octave 4 7: 1046.502 - 2 x 523.751 = -1.0.
    assert "blow 4 7   octave               0.00 -> 1.00" in text
    assert text.count("what else changes") == 2


def test_a_moved_reed_no_longer_claims_its_pure_ratio():
    targets = reed_targets(make_harp("C"), TargetWishes("chords-five"))
    third = (Reed(1, BLOW), Reed(2, BLOW))
    assert targets.of(third[1]).role == "major third of the blow chord, 5/4"
    _, sharper = beat_answers(targets, third, 1.0, third[1])
    assert sharper.target.role == "major third of the blow chord"


def test_wide_and_narrow_are_told_of_each_pair():
    # In equal temperament thirds are wide and fifths narrow (textbooks of piano tuning).
    targets = reed_targets(make_harp("C"))
    lines = beats_text(targets).splitlines()
    third = next(line for line in lines if line.startswith("blow 1 2 "))
    fifth = next(line for line in lines if line.startswith("blow 1 3 "))
    octave = next(line for line in lines if line.startswith("blow 1 4 "))
    assert " ".join(third.split()) == "blow 1 2 C4 E4 major third 5:4 400.0 10.38 wide"
    assert " ".join(fifth.split()) == "blow 1 3 C4 G4 fifth 3:2 700.0 0.89 narrow"
    assert octave.endswith("pure")
    reported = {
        (pair["lower"]["hole"], pair["upper"]["hole"]): pair["rate"]
        for pair in beats_report(targets)["pairs"]
        if pair["lower"]["breath"] == "blow"
    }
    assert (reported[1, 2], reported[1, 3]) == (10.382, -0.886)


def test_one_pair_is_told_in_a_sentence():
    targets = reed_targets(make_harp("C"), TargetWishes(pressure=12))
    said = " ".join(pair_text(targets, pair_beats(targets)[0]).split())
    assert said == (
        "blow 1 2 (C4 and E4, 261.63 and 329.63 Hz when played), a major third by 5:4, beats 10.38 "
        "times a second when played, 10.45 at the bench, wide."
    )


def test_every_temperament_says_where_it_comes_from():
    for each in temperaments_report(all_reed_temperaments().values()):
        assert each["title"]
        assert each["description"]
        assert each["source"]


def test_a_note_without_a_reed_meets_its_letter_in_other_octaves() -> None:
    """Richter in C: F5 and F6 are draw reeds, F4 a bend; B flat is on no reed at all."""
    harp = make_harp("C")
    chords = find_reed_temperament("chords-seven")
    by_note, by_reed = note_cents(chords, harp), reed_cents(chords, harp)
    f5 = by_reed[Reed(5, Breath.DRAW)]
    assert f5 == pytest.approx(by_reed[Reed(9, Breath.DRAW)]) and abs(f5) > 20
    assert by_note[65] == by_note[77] == pytest.approx(f5)
    assert by_note[70] == by_note[58] == 0.0
    # 2 draw and 3 blow are both G4: root of one chord, fifth of the other.
    pair = by_reed[Reed(2, Breath.DRAW)], by_reed[Reed(3, Breath.BLOW)]
    assert by_note[67] == pytest.approx(sum(pair) / 2)


def test_a_note_with_a_reed_of_its_own_lies_where_that_reed_is() -> None:
    """By hand: C4 is 10 cents sharp, C5 30 flat; C8, on no reed, meets the four Cs."""
    own = ReedTemperament(
        "own", "own", reeds={BLOW: (10.0, *[0.0] * 2, -30.0, *[0.0] * 6), DRAW: (0.0,) * 10}
    )
    by_note = note_cents(own, make_harp("C"))
    assert (by_note[60], by_note[72], by_note[108]) == (10.0, -30.0, -5.0)
