"""A class is the weakest of its members, whoever they are and in whatever order."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.player.checking import lungs_of, weights_of
from reedwright.player.classes import (
    SMALLER_IS_WEAKER,
    class_profile,
    common_harps,
    same_harp,
)
from reedwright.player.loading import ProfileError, load_profile
from reedwright.player.lungs import Lungs
from reedwright.player.profile import HOLES, TECHNIQUES, Profile, Weights

NUMBERS = st.floats(0.01, 1.0)  # what every weight and every figure may be
HARPS = ("C", "G", "low D", "A", "G:richter-raised-3-blow:half")


@st.composite
def lungs(draw: st.DrawFn) -> Lungs:
    made = Lungs(**{each.name: draw(NUMBERS) for each in fields(Lungs)})
    low, high = sorted((made.comfortable_litres, made.most_litres))
    return replace(made, comfortable_litres=low, most_litres=high)


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    holes = st.tuples(*[NUMBERS] * HOLES)
    return Profile(
        name=draw(st.sampled_from(("anna", "ben", "cleo", "dan"))),
        title="",
        techniques=frozenset(draw(st.sets(st.sampled_from(TECHNIQUES)))),
        weights=Weights(
            **{
                each.name: draw(holes if each.name.endswith("_by_hole") else NUMBERS)
                for each in fields(Weights)
            }
        ),
        lungs=draw(lungs()),
        harps=tuple(draw(st.sets(st.sampled_from(HARPS)))),
    )


# A profile is many numbers to draw, and each test looks at all of them.
few = settings(max_examples=40, deadline=None)
CLASSES = st.lists(profiles(), min_size=1, max_size=4)


@few
@given(CLASSES)
def test_a_class_is_never_easier_than_any_of_its_members(members: list[Profile]) -> None:
    group = class_profile(members, "class", harps=())
    for member in members:
        assert group.techniques <= member.techniques
        for each in fields(Weights):
            ours, theirs = getattr(group.weights, each.name), getattr(member.weights, each.name)
            if isinstance(ours, tuple):
                assert all(one >= other for one, other in zip(ours, theirs, strict=True))
            else:
                assert ours >= theirs
        for each in fields(Lungs):
            ours, theirs = getattr(group.lungs, each.name), getattr(member.lungs, each.name)
            assert ours <= theirs if each.name in SMALLER_IS_WEAKER else ours >= theirs


@few
@given(CLASSES)
def test_every_value_of_a_class_is_some_members_value(members: list[Profile]) -> None:
    """So it is the weakest of them, and not weaker than need be."""
    group = class_profile(members, "class", harps=())
    for each in fields(Weights):
        ours = getattr(group.weights, each.name)
        theirs = [getattr(member.weights, each.name) for member in members]
        if isinstance(ours, tuple):
            columns = zip(*theirs, strict=True)
            assert all(one in column for one, column in zip(ours, columns, strict=True))
        else:
            assert ours in theirs
    for each in fields(Lungs):
        assert getattr(group.lungs, each.name) in [getattr(m.lungs, each.name) for m in members]
    for technique in TECHNIQUES:
        assert group.has(technique) == all(member.has(technique) for member in members)


@few
@given(profiles(), st.integers(1, 3))
def test_a_class_of_one_is_that_one(member: Profile, times: int) -> None:
    group = class_profile([member] * times, member.name, member.title or "title")
    assert replace(group, title=member.title) == member


@few
@given(CLASSES, st.randoms(use_true_random=False))
def test_the_order_of_the_members_does_not_matter(members: list[Profile], rng) -> None:
    shuffled = list(members)
    rng.shuffle(shuffled)

    def of(each: list[Profile]) -> Profile | str:
        try:
            found = class_profile(each, "class")
        except ProfileError:
            return "no harp in common"
        return replace(found, harps=tuple(sorted(found.harps)))

    assert of(members) == of(shuffled)


@few
@given(CLASSES)
def test_lungs_and_weights_of_a_class_are_ones_that_a_file_may_say(members: list[Profile]) -> None:
    group = class_profile(members, "class", harps=())
    said = {each.name: getattr(group.lungs, each.name) for each in fields(Lungs)}
    assert lungs_of(Path("x"), said, Lungs()) == group.lungs
    weights = {
        each.name: list(value) if isinstance(value, tuple) else value
        for each in fields(Weights)
        for value in [getattr(group.weights, each.name)]
    }
    assert weights_of(Path("x"), weights, Weights()) == group.weights


def test_what_a_player_has_counts_down_and_what_playing_takes_counts_up() -> None:
    """Every figure by hand, so that a new one is thought about here."""
    small, big = (
        Lungs(**dict.fromkeys((each.name for each in fields(Lungs)), value)) for value in (0.5, 2.0)
    )
    (group,) = {
        class_profile([Profile("a", "", lungs=one), Profile("b", "", lungs=other)], "class").lungs
        for one, other in ((small, big), (big, small))
    }
    assert group == Lungs(
        comfortable_litres=0.5,  # room in the lungs
        most_litres=0.5,
        blow_rate=2.0,  # what notes take
        draw_rate=2.0,
        low_hole=2.0,
        high_hole=2.0,
        bend=2.0,
        overbend=2.0,
        valved=2.0,
        loudness_step=2.0,
        breath_seconds=2.0,  # a breath takes longer
        breath_rate=0.5,  # and less air comes or goes
        rest_rate=0.5,
    )


def owner(name: str, *harps: str) -> Profile:
    return Profile(name, name, harps=harps)


def test_harps_are_those_that_all_own_who_say_what_they_own() -> None:
    anna = owner("anna", "C", "G", "low D")
    ben = owner("ben", "D low", "g:richter", "Bb")
    assert common_harps([anna, ben, owner("cleo")]) == ("G", "low D")
    assert common_harps([owner("cleo"), owner("dan")]) == ()


def test_owning_no_harp_in_common_is_told_and_not_taken_for_owning_any() -> None:
    with pytest.raises(ProfileError, match="anna, ben own no harp in common"):
        class_profile([owner("anna", "C"), owner("ben", "G")], "class")


def test_a_class_of_nobody_is_refused() -> None:
    with pytest.raises(ProfileError, match="at least one player"):
        class_profile([], "class")


SAME = (
    ("C", "c", " C ", "C:richter", "C :richter: as made", "ordinary C", "C:"),
    ("Db", "C#", "D♭", "c♯", "C#:richter"),
    ("low F#", "Gb low", "LOW F♯:richter"),
    ("high G", "G high"),
    ("A:natural-minor", "Am:natural-minor", "A minor : natural-minor"),
    ("G:richter-raised-3-blow:half", "g : richter-raised-3-blow : Half"),
    ("B", "Cb"),
    ("G::half", "G:richter:half"),
)
WRITINGS = st.builds(
    lambda register, key, tail: f"{register}{key}{tail}",
    st.sampled_from(("", "low ", "high ", "ordinary ", "Low ")),
    st.sampled_from(
        [f"{letter}{sign}" for letter in "ABCDEFGabcdefg" for sign in ("", "#", "b", "♭", " m")]
    ),
    st.sampled_from(
        ("", ":", ":richter", ":solo", "::half", "::as made", ":richter:none", " :natural-minor")
    ),
)


@pytest.mark.parametrize("texts", SAME)
def test_one_harp_in_several_writings_is_one(texts: tuple[str, ...]) -> None:
    assert len({parse_harp(text) for text in texts}) == 1
    assert len({same_harp(text) for text in texts}) == 1


@settings(max_examples=400, deadline=None)
@given(WRITINGS, WRITINGS)
def test_writings_that_are_taken_as_one_harp_are_read_as_one(one: str, other: str) -> None:
    try:
        harps = {parse_harp(one), parse_harp(other)}
    except ReedwrightError:
        return
    if same_harp(one) == same_harp(other):
        assert len(harps) == 1
    elif len(harps) == 1:
        # Only valves that are as made anyway may be written in a way that is not seen through.
        assert "none" in one + other


def test_a_class_in_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_PROFILES", str(tmp_path))
    (tmp_path / "anna.toml").write_text('base = "player"\n[weights]\nleap = 0.9\n')
    (tmp_path / "both.toml").write_text('class_of = ["first-year", "anna.toml"]\nharps = ["C"]\n')
    both, first = load_profile("both"), load_profile("first-year")
    assert both.techniques == frozenset() and both.harps == ("C",)
    assert both.weights.leap == 0.9
    assert both.weights.comfortable_seconds == first.weights.comfortable_seconds
    (tmp_path / "more.toml").write_text('class_of = ["both"]\n[weights]\nleap = 0.1\n')
    assert load_profile("more").weights.leap == 0.1, "what the file itself says goes last"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('class_of = ["c"]\n', "'base' or 'class_of' leads back to this file"),
        ('class_of = ["d"]\n', "'base' or 'class_of' leads back to this file"),
        ("class_of = []\n", "names nobody"),
        ('class_of = [""]\n', "no empty one"),
        ('class_of = "player"\n', "'class_of' must be a list"),
        ('class_of = ["plyer"]\n', "did you mean 'player'"),
        ('class_of = ["player"]\nbase = "player"\n', "exclude each other"),
        ('class_of = ["e", "f"]\n', "c.toml: e, f own no harp in common"),
    ],
)
def test_what_is_wrong_with_a_class_is_said(
    text: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REEDWRIGHT_PROFILES", str(tmp_path))
    (tmp_path / "c.toml").write_text(text)
    (tmp_path / "d.toml").write_text('base = "c"\n')
    (tmp_path / "e.toml").write_text('harps = ["C"]\n')
    (tmp_path / "f.toml").write_text('harps = ["G"]\n')
    with pytest.raises(ProfileError) as caught:
        load_profile("c")
    assert said in str(caught.value)
