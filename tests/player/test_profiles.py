"""Profiles from files: the shipped ones, the user's own, and what can be wrong in one."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from reedwright.player.loading import ProfileError, all_profiles, load_profile
from reedwright.player.lungs import Lungs
from reedwright.player.profile import TECHNIQUES, Weights


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("REEDWRIGHT_PROFILES", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_config_dir", lambda name: str(tmp_path / "none"))
    return tmp_path


def test_shipped_profiles_and_their_techniques() -> None:
    assert load_profile("first-year").techniques == frozenset()
    assert load_profile("player").techniques == {"draw bend", "blow bend", "valved bend"}
    assert load_profile("all-techniques").techniques == set(TECHNIQUES)
    assert list(all_profiles())[:3] == ["first-year", "player", "all-techniques"]


def test_own_profile_changes_a_few_weights_of_another(folder: Path) -> None:
    path = folder / "mine.toml"
    path.write_text('base = "player"\n[weights]\nbreath_change = 2\n', encoding="utf-8")
    mine, player = load_profile("mine"), load_profile("player")
    assert (mine.name, mine.title) == ("mine", "mine")
    assert mine.weights.breath_change == 2.0
    assert mine.techniques == player.techniques
    for each in fields(Weights):
        if each.name != "breath_change":
            assert getattr(mine.weights, each.name) == getattr(player.weights, each.name)
    assert load_profile(path) == mine
    assert "mine" in all_profiles()


def test_harps_and_lungs_are_inherited_and_changed(folder: Path) -> None:
    (folder / "one.toml").write_text(
        'description = "me"\nharps = ["C", "low  D", "C"]\n[lungs]\nblow_rate = 0.3\n',
        encoding="utf-8",
    )
    (folder / "two.toml").write_text('base = "one"\n[lungs]\ndraw_rate = 1\n', encoding="utf-8")
    (folder / "three.toml").write_text('base = "one"\nharps = []\n', encoding="utf-8")
    two, three = load_profile("two"), load_profile("three")
    assert two.harps == ("C", "low D") and three.harps == ()
    assert (two.lungs.blow_rate, two.lungs.draw_rate) == (0.3, 1.0)
    assert two.lungs.most_litres == Lungs().most_litres
    assert two.description == "", "the base's description is of another player"


def test_every_figure_of_the_lungs_can_be_said(folder: Path) -> None:
    said = "".join(f"{each.name} = 0.5\n" for each in fields(Lungs))
    (folder / "all.toml").write_text(f"[lungs]\n{said}", encoding="utf-8")
    assert set(vars_of(load_profile("all").lungs).values()) == {0.5}


def vars_of(lungs: Lungs) -> dict[str, float]:
    return {each.name: getattr(lungs, each.name) for each in fields(Lungs)}


def test_a_profile_is_based_on_a_file_beside_it(folder: Path) -> None:
    (folder / "one.toml").write_text("[weights]\nleap = 3\n", encoding="utf-8")
    (folder / "two.toml").write_text('base = "./one.toml"\n', encoding="utf-8")
    assert load_profile("two").weights.leap == 3.0


def test_an_edited_profile_is_read_anew(folder: Path) -> None:
    import os

    path = folder / "mine.toml"
    path.write_text("[weights]\nleap = 3\n", encoding="utf-8")
    assert load_profile("mine").weights.leap == 3.0
    path.write_text("[weights]\nleap = 4\n", encoding="utf-8")
    os.utime(path, ns=(1, 1))
    assert load_profile("mine").weights.leap == 4.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "[weights]\nbreth_change = 1\n",
            "unknown weight 'breth_change', did you mean 'breath_change'?",
        ),
        ("[weights]\nzzz = 1\n", "unknown weight 'zzz'; docs/effort.md lists"),
        ("[weights]\nleap = 'much'\n", "weight 'leap' must be a number, not 'much'"),
        ("[weights]\nleap = true\n", "weight 'leap' must be a number"),
        ("[weights]\nleap = nan\n", "weight 'leap' must be a number"),
        ("[weights]\nleap = -1\n", "weight 'leap' is -1; it must be 0 to 1000"),
        ("[weights]\nmissing_note = 0\n", "must be more than 0"),
        ("[weights]\nafter_rest = 2\n", "a share, 0 to 1"),
        ("[weights]\nbend_by_hole = [1, 2]\n", "'bend_by_hole' must be a list of 10 numbers"),
        ("[weights]\nbend_by_hole = 3\n", "'bend_by_hole' must be a list of 10 numbers"),
        ("leap = 1\n", "unknown key 'leap'; weights stand under the line [weights]"),
        ("titel = 'x'\n", "unknown key 'titel', did you mean 'title'?"),
        ("title = 3\n", "'title' must be text"),
        ("weights = 3\n", "'weights' must be a table"),
        ("techniques = ['drawbend']\n", "'techniques' has 'drawbend', did you mean 'draw bend'?"),
        ("techniques = 'draw bend'\n", "'techniques' must be a list"),
        ("base = 3\n", "'base' must be the name of a profile"),
        ("base = 'plyer'\n", "no player profile named 'plyer', did you mean 'player'?"),
        ("base = 'bad'\n", "leads back to this file"),
        ("[weights\n", "not a valid TOML file"),
        ("harps = 'C'\n", "'harps' must be a list such as"),
        ("harps = [1]\n", "'harps' must be a list such as"),
        ("harps = ['C', ' ']\n", "'harps' has an empty entry"),
        ("lungs = 3\n", "'lungs' must be a table"),
        ("[lungs]\nblow_rat = 1\n", "'blow_rat' of the lungs, did you mean 'blow_rate'?"),
        ("[lungs]\nleap = 1\n", "weights stand under the line [weights]"),
        ("[weights]\nblow_rate = 1\n", "figures of the lungs stand under the line [lungs]"),
        ("blow_rate = 1\n", "figures of the lungs stand under the line [lungs]"),
        ("[lungs]\nblow_rate = 0\n", "'blow_rate' is 0; it must be more than 0"),
        ("[lungs]\nblow_rate = 101\n", "at most 100"),
        ("[lungs]\nblow_rate = inf\n", "'blow_rate' must be a number"),
        ("[lungs]\nblow_rate = true\n", "'blow_rate' must be a number"),
        ("[lungs]\ncomfortable_litres = 2\n", "(2) is more than 'most_litres' (1.6)"),
    ],
)
def test_what_is_wrong_is_said_with_the_file(folder: Path, text: str, said: str) -> None:
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load_profile("bad")
    assert said in str(caught.value)
    if "plyer" not in said:
        assert str(path) in str(caught.value)


def test_no_such_profile(folder: Path) -> None:
    with pytest.raises(ProfileError, match="did you mean 'first-year'"):
        load_profile("firstyear")
    with pytest.raises(ProfileError, match="there is no such profile file"):
        load_profile(folder / "nowhere.toml")
    (folder / "latin.toml").write_bytes(b"title = '\xe9'\n")
    with pytest.raises(ProfileError, match="cannot be read"):
        load_profile("latin")


def test_two_profiles_of_one_name_are_refused(folder: Path) -> None:
    """Else a `player.toml` of one's own would be passed over in silence."""
    (folder / "player.toml").write_text("[weights]\nleap = 3\n", encoding="utf-8")
    with pytest.raises(ProfileError, match="already a player profile named 'player'"):
        load_profile("player")
