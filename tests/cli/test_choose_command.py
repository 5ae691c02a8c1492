"""`reedwright choose` as a teacher meets it."""

from __future__ import annotations

import argparse
import json
import shutil
from pathlib import Path

import pytest

from reedwright.cli import choosing, honouring
from reedwright.cli.main import main
from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.tab.choices import read_choices

DEMO = Path(__file__).parents[2] / "examples" / "tunes.abc"


@pytest.fixture
def tunes(tmp_path: Path) -> Path:
    return Path(shutil.copy(DEMO, tmp_path / "tunes.abc"))


def choose(capsys: pytest.CaptureFixture[str], tunes: Path, *options: str) -> str:
    status = main(["choose", str(tunes), "--tune", "4", *options])
    printed = capsys.readouterr()
    assert status == 0, printed.err
    return printed.out


def refused(capsys: pytest.CaptureFixture[str], tunes: Path, *options: str) -> str:
    assert main(["choose", str(tunes), "--tune", "4", *options]) == 1
    message = capsys.readouterr().err
    assert message.startswith("reedwright: ") and message.count("\n") == 1
    return message


def kept(tunes: Path) -> str:
    return tunes.with_name("tunes.arrangement.toml").read_text()


def test_listing_makes_no_file(tunes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "nothing is chosen yet" in choose(capsys, tunes)
    assert not tunes.with_name("tunes.arrangement.toml").exists()


def test_choices_are_kept_and_listed(tunes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = choose(capsys, tunes, "--harp", "D", "--at", "2:1", "--play", "3 blow")
    assert "play 3 blow" in said and "Made " in said and "tunes.arrangement.toml" in said
    said = choose(capsys, tunes, "--at", "A2:2.5", "--never", "2 draw", "--weight", "leap=2")
    assert "never 2 draw" in said and "Written to" in said
    choose(capsys, tunes, "--at", "8:2", "--breath", "yes", "--ornament", "none")
    listed = choose(capsys, tunes)
    for words in (
        "harp D",
        "weight leap = 2",
        "bar 2 beat 1, A4 (A2): play 3 blow",
        "bar 2 beat 2.5, A4 (A2): never 2 draw",
        "bar 8 beat 2, D5 (A8): a breath after it",
        "bar 8 beat 2, D5 (A8): no ornament",
    ):
        assert words in listed
    (tune,) = read_choices(tunes.with_name("tunes.arrangement.toml")).tunes
    assert (tune.title, tune.number, len(tune.choices)) == ("The Paper Sail", "4", 4)


def test_settings_of_the_tune_are_kept_and_forgotten(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--amount", "written", "--second-time", "yes", "--octave", "-1", "--semitones", "2")
    choose(capsys, tunes, "--harp", "low D", "--valves", "half", "--player", "first-year", *options)
    for line in (
        'harp = "low D::half"',
        'player = "first-year"',
        'amount = "as written"',
        "second_time = true",
        "octaves = -1",
        "semitones = 2",
    ):
        assert line in kept(tunes)
    choose(capsys, tunes, "--forget", "octaves", "--forget", "amount", "--second-time", "no")
    for word in ("octaves", "amount", "second_time"):
        assert word not in kept(tunes)


def test_clearing_takes_out_what_is_on_the_note(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D", "--at", "2:1", "--play", "3 blow", "--breath", "no")
    assert "Taken out" in choose(capsys, tunes, "--at", "2:1", "--clear")
    assert read_choices(tunes.with_name("tunes.arrangement.toml")).tunes[0].choices == ()
    assert "nothing is chosen for that note" in refused(capsys, tunes, "--at", "2:1", "--clear")
    choose(capsys, tunes, "--at", "2:1", "--ornament", "cut")
    choose(capsys, tunes, "--at", "2:1", "--ornament", "as-written", "--forget", "harp")
    assert "harp" not in kept(tunes) and "ornament" not in kept(tunes).split("[[tune]]")[1]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--at", "2:1", "--play", "3 blow"], "Name it with --harp"),
        (["--harp", "D", "--at", "2:1", "--play", "4 draw"], "A4 is 2 draw"),
        (["--harp", "D", "--at", "2:1", "--play", "99 draw"], "no hole 99"),
        (["--harp", "D", "--at", "99:1", "--play", "2 draw"], "no note stands in bar 99"),
        (["--harp", "H"], "not a key"),
        (["--play", "2 draw"], "say which with --at"),
        (["--at", "2:1"], "say also what"),
        (["--at", "2:1", "--clear", "--breath", "yes"], "give it alone"),
        (["--at", "2:1", "--ornament", "cot"], "did you mean 'cut'"),
        (["--at", "2:1", "--ornament", "cut", "--time", "2"], "--second-time yes"),
        (["--weight", "leep=2"], "did you mean 'leap'"),
        (["--weight", "leap=x"], "not a number"),
        (["--weight", "leap"], "NAME=VALUE"),
        (["--player", "plyer"], "did you mean 'player'"),
        (["--voice", "3"], "no voice 3"),
        (["--tuning", "solo"], "--harp"),
        (["--take", "2"], "--fingerings"),
        (["--fingerings", "x"], "printed bar"),
        (["--harp", "D", "--fingerings", "99"], "no note stands in"),
        (["--harp", "D", "--fingerings", "2", "--take", "50"], "there is no fingering 50"),
    ],
)
def test_a_mistake_is_one_clear_line_and_nothing_is_written(
    tunes: Path, capsys: pytest.CaptureFixture[str], options: list[str], says: str
) -> None:
    assert says in refused(capsys, tunes, *options)
    assert not tunes.with_name("tunes.arrangement.toml").exists()


def test_fingerings_are_shown_side_by_side_and_one_is_taken(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D")
    shown = choose(capsys, tunes, "--fingerings", "3")
    assert "the least effort" in shown and "A4 as" in shown and "--take N" in shown
    assert "[[tune.notes]]" not in kept(tunes) and "notes" not in kept(tunes)
    taken = choose(capsys, tunes, "--fingerings", "3", "--take", "2")
    assert "Effort" in taken
    # The pins of the bar do not narrow what is shown next time.
    again = choose(capsys, tunes, "--fingerings", "3")
    assert again == shown
    report = json.loads(choose(capsys, tunes, "--fingerings", "3", "--json"))
    pinned = {each.place.beat for each in read_choices(Path(report["file"])).tunes[0].choices}
    assert len(pinned) == 4  # the notes of the bar for which the harp leaves a choice
    assert "beyond" not in choose(capsys, tunes, "--fingerings", "all", "--most", "2")


def test_what_no_longer_fits_is_told_and_put_aside_when_something_is_written(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D", "--at", "2:1", "--play", "3 blow")
    before = kept(tunes)
    tunes.write_text(DEMO.read_text().replace("A>fe>d c>BA>G", "f>fe>d c>Be>G"))
    listed = choose(capsys, tunes)
    assert "Fits no note now" in listed and "F#5" in listed
    assert kept(tunes) == before  # reading changes nothing
    said = choose(capsys, tunes, "--weight", "leap=2")
    assert "play 3 blow" in said and "kept" in said
    assert "aside" in kept(tunes) and "reason" in kept(tunes)
    tunes.write_text(DEMO.read_text())
    assert "fits again" in choose(capsys, tunes, "--weight", "leap=3")
    assert "aside" not in kept(tunes).split("[[tune]]")[1]
    assert 'play = "3 blow"' in kept(tunes)


def test_what_fits_no_more_can_be_taken_out(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D", "--at", "2:1", "--play", "3 blow")
    tunes.write_text(DEMO.read_text().replace("A>fe>d c>BA>G", "f>fe>d c>Be>G"))
    choose(capsys, tunes, "--clear-aside")
    assert "3 blow" not in kept(tunes)


def test_all_tunes_are_listed_and_a_table_that_no_tune_claims_is_told(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D")
    path = tunes.with_name("tunes.arrangement.toml")
    path.write_text(path.read_text() + '\n[[tune]]\ntitle = "Long Gone"\nharp = "C"\n')
    assert main(["choose", str(tunes), "--tune", "all"]) == 0
    printed = capsys.readouterr()
    assert "The Paper Sail\n  harp D" in printed.out
    assert "'Long Gone'" in printed.err and "kept" in printed.err
    assert main(["choose", str(tunes), "--tune", "all", "--harp", "C"]) == 1
    assert "name the tune" in capsys.readouterr().err


def test_json_lists_settings_choices_and_where_they_were_found(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choose(capsys, tunes, "--harp", "D", "--at", "B1:1", "--breath", "no")
    report = json.loads(choose(capsys, tunes, "--json"))
    assert report["harp"] == "D" and report["aside"] == []
    (entry,) = report["choices"]
    assert entry["breathe"] is False
    assert entry["found_at"]["printed_bar"] > entry["found_at"]["bar"] == 1


def test_another_file_of_choices_may_be_named(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tunes.with_name("tuesday.toml")
    choose(capsys, tunes, "--choices", str(other), "--harp", "D")
    assert other.exists() and not tunes.with_name("tunes.arrangement.toml").exists()


def test_standard_input_has_no_place_for_choices(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["choose", "-"]) == 1
    assert "give a file" in capsys.readouterr().err


# What other commands take from the file.


def honoured(tunes: Path, *options: str):
    command = argparse.ArgumentParser()
    choosing.add_tune_options(command)
    choosing.add_harp_options(command)
    choosing.add_player_option(command)
    honouring.add_choices_options(command)
    args = command.parse_args([str(tunes), "--tune", "4", *options])
    (tune,) = choosing.chosen_tunes(args)
    return honouring.chosen(args, tune)


FILE = """\
[[tune]]
title = "The Paper Sail"
harp = "D:richter-raised-3-blow:half"
octaves = -1
semitones = 2
player = "first-year"
notes = [{ part = "A", bar = 2, beat = 1, pitch = "A4", play = "2 draw" }]
[tune.weights]
leap = 3
"""


def test_other_commands_honour_the_file_beside_the_tunes(tunes: Path) -> None:
    assert honoured(tunes).harp is None and honoured(tunes).path is None
    tunes.with_name("tunes.arrangement.toml").write_text(FILE)
    found = honoured(tunes)
    assert found.harp == parse_harp("D:richter-raised-3-blow:half")
    assert (found.octaves, found.semitones, found.voice) == (-1, 2, 0)
    assert (found.profile.name, found.profile.weights.leap) == ("first-year", 3.0)
    # A4 a tone up is B4, which 2 draw of the E harp sounds.
    (pinned,) = found.wishes(parse_harp("E"), octaves=0).fixed.values()
    assert (pinned.hole, pinned.midi) == (2, 71)


def test_options_go_before_the_file(tunes: Path) -> None:
    tunes.with_name("tunes.arrangement.toml").write_text(FILE)
    found = honoured(tunes, "--harp", "A", "--octave", "0", "--player", "all-techniques")
    assert (found.harp, found.octaves) == (parse_harp("A"), 0)
    assert found.profile.name == "all-techniques"
    same_key = honoured(tunes, "--valves", "none").harp
    assert same_key == parse_harp("D:richter-raised-3-blow:none")
    nothing = honoured(tunes, "--no-choices")
    assert nothing.harp is None and nothing.choices.empty and nothing.profile.name == "player"


def test_what_cannot_be_honoured_is_told_once_with_the_tune(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tunes.with_name("tunes.arrangement.toml").write_text(FILE)
    found = honoured(tunes)
    wishes = found.wishes(parse_harp("G"), octaves=0)
    assert wishes.fixed == {}
    told = capsys.readouterr().err
    assert told.count("The Paper Sail") == 1 and "made for another harp" in told


def test_a_file_of_choices_that_is_not_there_or_cannot_be_read_is_an_error(tunes: Path) -> None:
    with pytest.raises(ReedwrightError, match="no such file of choices"):
        honoured(tunes, "--choices", "none.toml")
    tunes.with_name("tunes.arrangement.toml").write_text("[[tune]]\nharp = 3\n")
    with pytest.raises(ReedwrightError, match=r"line 2: 'harp' must be text"):
        honoured(tunes)
