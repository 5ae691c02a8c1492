"""Profile files made, copied and changed: whole or not at all, with the user's comments."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.errors import ReedwrightError
from reedwright.files import NotWritten
from reedwright.player.loading import ProfileError, load_profile
from reedwright.player.writing import (
    Changes,
    change_profile,
    new_class,
    new_profile,
    parse_setting,
)

ANNA = """\
# Anna plays on Tuesdays.
title = "Anna"   # second year
base = "first-year"
harps = [
    "C",      # from her uncle
    "low D",
]

[weights]
leap_hole = 0.6  # she is quick
low_draw = 0.3
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    mine = tmp_path / "mine"
    monkeypatch.setenv("REEDWRIGHT_PROFILES", str(mine))
    monkeypatch.setattr("platformdirs.user_config_dir", lambda name: str(tmp_path / "none"))
    return mine


@pytest.fixture
def anna(folder: Path) -> Path:
    folder.mkdir()
    path = folder / "anna.toml"
    path.write_text(ANNA, encoding="utf-8")
    return path


def test_a_new_profile_is_its_source_but_for_the_name(folder: Path) -> None:
    for source in ("first-year", "player", "all-techniques"):
        path = new_profile(f"my-{source}", source, Changes())
        assert path == folder / f"my-{source}.toml"
        made, theirs = load_profile(f"my-{source}"), load_profile(source)
        assert made.title == f"my {source}".replace("-", " ")
        assert replace(made, name="", title="", description="") == replace(
            theirs, name="", title="", description=""
        )


def test_what_is_said_goes_into_the_file(folder: Path) -> None:
    changes = Changes(
        title='Anna "the Reed"',
        description="Second year.",
        techniques=("draw bend",),
        harps=("C", "G:richter-raised-3-blow:half"),
        values={"leap_hole": 0.5, "bend_by_hole": (1.0,) * 10, "lungs.most_litres": 2.0},
    )
    new_profile("anna", "player", changes)
    made = load_profile("anna")
    assert (made.title, made.description) == ('Anna "the Reed"', "Second year.")
    assert made.techniques == {"draw bend"}
    assert made.harps == ("C", "G:richter-raised-3-blow:half")
    assert (made.weights.leap_hole, made.weights.bend_by_hole) == (0.5, (1.0,) * 10)
    assert made.lungs.most_litres == 2.0


def test_a_copy_keeps_the_comments_and_stands_alone(anna: Path, folder: Path) -> None:
    path = new_profile("ben", "anna", Changes(values={"leap_hole": 0.9}))
    assert path.read_text(encoding="utf-8") == ANNA.replace('"Anna"', '"ben"').replace("0.6", "0.9")
    change_profile("anna", Changes(values={"leap_hole": 0.1}))
    assert load_profile("ben").weights.leap_hole == 0.9


def test_a_copy_from_another_folder_still_finds_its_base(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "base.toml").write_text("[weights]\nleap = 7\n")
    (other / "one.toml").write_text('base = "./base.toml"\n')
    (other / "two.toml").write_text('class_of = ["one.toml", "player"]\n')
    for name in ("one", "two"):
        new_profile(f"my-{name}", str(other / f"{name}.toml"), Changes())
        assert load_profile(f"my-{name}").weights.leap == 7.0


def test_a_change_leaves_every_comment_and_all_else_as_it_was(anna: Path) -> None:
    change_profile("anna", Changes(values={"leap_hole": 0.75, "step": 1.0, "lungs.bend": 1.5}))
    assert anna.read_text(encoding="utf-8") == ANNA.replace("0.6", "0.75") + (
        "step = 1\n\n[lungs]\nbend = 1.5\n"
    )
    change_profile("anna", Changes(title="Anna B", unset=("step", "lungs.bend")))
    text = anna.read_text(encoding="utf-8")
    assert "# second year" in text and "# she is quick" in text and "step" not in text
    assert load_profile("anna").lungs == load_profile("first-year").lungs


@pytest.mark.parametrize(
    "text", ["weights.leap = 3\n", "weights = {leap = 3}\n", "[weights]\nleap = 3", "", "# only\n"]
)
def test_every_way_to_write_a_table_can_be_changed(text: str, anna: Path) -> None:
    anna.write_text(text, encoding="utf-8")
    change_profile("anna", Changes(values={"leap": 5.0, "step": 2.0, "lungs.blow_rate": 0.5}))
    made = load_profile("anna")
    assert (made.weights.leap, made.weights.step, made.lungs.blow_rate) == (5.0, 2.0, 0.5)
    change_profile("anna", Changes(unset=("leap", "step")))
    assert load_profile("anna").weights == load_profile("player").weights


def test_line_ends_and_links_stay_as_they_are(anna: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept-elsewhere.toml"
    kept.write_bytes(ANNA.replace("\n", "\r\n").encode())
    anna.unlink()
    anna.symlink_to(kept)
    change_profile("anna", Changes(values={"leap_hole": 0.75}, title="Ännchen"))
    assert anna.is_symlink()
    assert kept.read_bytes().decode() == ANNA.replace("\n", "\r\n").replace("0.6", "0.75").replace(
        '"Anna"', '"Ännchen"'
    )


def test_harps_set_to_nothing_lift_those_of_the_base(anna: Path) -> None:
    new_profile("ben", str(anna), Changes(harps=()))
    assert load_profile("anna").harps == ("C", "low D")
    assert load_profile("ben").harps == ()


def test_nothing_is_overwritten_without_being_told_to(anna: Path, folder: Path) -> None:
    with pytest.raises(ProfileError, match=r"there is a profile 'anna' in .*--overwrite"):
        new_profile("anna", "player", Changes())
    assert anna.read_text(encoding="utf-8") == ANNA
    with pytest.raises(ProfileError, match="there is a profile 'anna'"):
        new_profile("Anna", "player", Changes(), overwrite=True)  # one file on some disks
    new_profile("anna", "player", Changes(), overwrite=True)
    assert load_profile("anna").techniques == load_profile("player").techniques


@pytest.mark.parametrize("name", ["player", "First-Year", "ALL-TECHNIQUES"])
def test_profiles_that_come_with_the_project_are_never_touched(name: str, folder: Path) -> None:
    with pytest.raises(ProfileError, match="comes with Reedwright"):
        new_profile(name, "player", Changes(), overwrite=True)
    with pytest.raises(ProfileError, match="comes with Reedwright"):
        new_class(name, ["player"], Changes(), overwrite=True)
    with pytest.raises(ProfileError, match="copy it and change the copy"):
        change_profile(name.lower(), Changes(title="x"))
    import reedwright.player.loading as loading

    with pytest.raises(ProfileError, match="comes with Reedwright"):
        change_profile(str(loading.SHIPPED / "player.toml"), Changes(title="x"))


@pytest.mark.parametrize("name", ["", " ", "a/b", "../a", ".hidden", "a.toml", "-a", "a\n", "a:b"])
def test_names_that_no_disk_would_like_are_refused(name: str, folder: Path) -> None:
    with pytest.raises(ProfileError, match="cannot be the name of a profile"):
        new_profile(name, "player", Changes())
    assert not folder.exists()


@pytest.mark.parametrize(
    "changes",
    [
        Changes(values={"leap": -1.0}),
        Changes(values={"leap": float("inf")}),
        Changes(values={"bend_by_hole": (1.0,)}),
        Changes(values={"lungs.comfortable_litres": 9.0}),
        Changes(techniques=("whistling",)),
        Changes(harps=("",)),
        Changes(unset=("leap",)),
        Changes(values={"leep": 1.0}),
    ],
)
def test_what_would_not_be_a_profile_is_not_written(changes: Changes, anna: Path) -> None:
    with pytest.raises(ProfileError):
        change_profile("anna", changes)
    with pytest.raises(ProfileError):
        new_profile("ben", "anna", changes)
    assert anna.read_text(encoding="utf-8") == ANNA
    assert sorted(each.name for each in anna.parent.iterdir()) == ["anna.toml"]


def test_a_file_that_is_broken_already_is_told_of_and_left(anna: Path) -> None:
    anna.write_text("[weights\n", encoding="utf-8")
    with pytest.raises(ProfileError, match="not a valid TOML file"):
        change_profile("anna", Changes(title="x"))
    assert anna.read_text(encoding="utf-8") == "[weights\n"


def test_a_disk_that_fills_up_leaves_the_old_profile(
    anna: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, content: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(NotWritten, match="Make room"):
        change_profile("anna", Changes(title="x"))
    assert anna.read_text(encoding="utf-8") == ANNA
    assert os.listdir(anna.parent) == ["anna.toml"]


def test_a_folder_that_cannot_be_made_is_one_clear_error(folder: Path) -> None:
    folder.parent.mkdir(exist_ok=True)
    folder.write_text("a file where the folder should be")
    with pytest.raises(ReedwrightError, match=r"cannot be written"):
        new_profile("anna", "player", Changes())


def test_a_class_is_made_of_names_and_of_files_elsewhere(
    anna: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "ben.toml").write_text('base = "player"\nharps = ["low D"]\n')
    monkeypatch.chdir(tmp_path)
    new_class("tuesday", ["anna", "./ben.toml", "anna"], Changes())
    monkeypatch.chdir("/")
    made = load_profile("tuesday")
    assert made.harps == ("low D",) and made.techniques == frozenset()
    assert made.weights.leap_hole == 0.6


def test_a_class_of_nobody_or_of_itself_is_refused(anna: Path) -> None:
    with pytest.raises(ProfileError, match="nobody in it"):
        new_class("empty", [], Changes())
    with pytest.raises(ProfileError, match="no player profile named 'ann', did you mean 'anna'"):
        new_class("tuesday", ["ann"], Changes())
    new_class("tuesday", ["anna"], Changes())
    with pytest.raises(ProfileError, match="leads back"):
        new_class("anna", ["tuesday"], Changes(), overwrite=True)
    assert anna.read_text(encoding="utf-8") == ANNA


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("leap_hole=0.6", ("leap_hole", 0.6)),
        (" lungs.high_hole = 1 ", ("lungs.high_hole", 1.0)),
        ("bend_by_hole=1,1,1,1,1,1,1,1,1,2", ("bend_by_hole", (1.0,) * 9 + (2.0,))),
    ],
)
def test_a_setting_is_a_name_and_a_value(text: str, found: tuple[str, object]) -> None:
    assert parse_setting(text) == found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("leap", "write WEIGHT=VALUE"),
        ("=1", "write WEIGHT=VALUE"),
        ("leap=", "'' is not a number"),
        ("leap=0,6", "it takes one (a point, no comma)"),
        ("leap=-1", "'leap=-1': weight 'leap' is -1; it must be 0 to 1000"),
        ("leap=nan", "must be a number"),
        ("bend_by_hole=1", "a list of 10 numbers"),
        ("blow_rate=1", "write lungs.blow_rate"),
        ("lungs.blow_rat=1", "did you mean 'blow_rate'"),
        ("lungs.blow_rate=0", "must be more than 0"),
    ],
)
def test_what_is_wrong_with_a_setting_is_said(text: str, said: str) -> None:
    with pytest.raises(ProfileError) as caught:
        parse_setting(text)
    assert said in str(caught.value)
