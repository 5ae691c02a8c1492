"""Ornaments written into a tune: nothing lost silently, nothing of the tune disturbed."""

from __future__ import annotations

import importlib.util
import random
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest
from played_effort import random_tune

from reedwright.harp.making import KEYS, make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.best import arrange_on_best
from reedwright.tab.chain import make_chain, with_ornaments
from reedwright.tab.ornaments.asked import asked_demands
from reedwright.tab.ornaments.model import Amount, Origin, OrnamentKind, Outcome
from reedwright.tab.ornaments.playable import demands_of
from reedwright.tab.ornaments.suggest import SHORTEST_CUT
from reedwright.tab.wishes import NO_WISHES, Wishes
from reedwright.tune.abc import read_abc, write_abc
from reedwright.tune.model import Note, Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import unfold
from reedwright.tune.writtenout import written_out

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")
AMOUNTS = list(Amount)
PLACED = [None, *(kind for kind in OrnamentKind if kind is not OrnamentKind.GRACES)]


def one(body: str, header: str = "M:4/4\nL:1/8\nQ:1/4=120\n") -> Tune:
    (tune,) = read_abc(f"X:1\nT:T\n{header}K:C\n{body}\n")
    assert isinstance(tune, Tune)
    return tune


def on_c(body: str, header: str = "M:4/4\nL:1/8\nQ:1/4=120\n", **wishes) -> Arrangement:
    return arrange(one(body, header), make_harp("C"), PLAYER, wishes=Wishes(**wishes))


def dressed(arrangement: Arrangement) -> str:
    """The music as ABC, without header."""
    return write_abc(arrangement.tune).split("K:C\n", 1)[1].strip()


@lru_cache
def collection(every: int) -> tuple[Tune, ...]:
    """Tunes of the 1850 collection that ships with music21: of every so manieth file all."""
    spec = importlib.util.find_spec("music21")
    assert spec is not None and spec.origin is not None
    files = sorted((Path(spec.origin).parent / "corpus" / "oneills1850").glob("*.abc"))
    assert len(files) > 15
    return tuple(t for file in files[::every] for t in read_tunes(file) if isinstance(t, Tune))


def test_a_long_roll_is_three_quavers_with_a_cut_and_a_tap_under_a_slur() -> None:
    """As written-out tunes have it (common practice, no source). 6 blow is G, beside E and C."""
    assert dressed(on_c("~g3 cde|", "M:6/8\nL:1/8\nQ:3/8=100\n")) == "(g{c'}g{e}g) cde |"


def test_a_short_roll_is_two_quavers_that_begin_with_the_cut() -> None:
    assert dressed(on_c("~g2 cd c4|")) == "({c'}g{e}g) cd c4 |"


def test_rolls_of_other_lengths_keep_to_notes_that_can_be_written() -> None:
    assert dressed(on_c("~g4 c4|")) == "(g2 {c'}g{e}g) c4 |"
    assert dressed(on_c("~g6 c2|")) == "(g2 {c'}g2 {e}g2) c2 |"


def test_a_roll_too_quick_for_its_note_is_a_cut_and_says_so() -> None:
    found = on_c("~gc c2 c4|")
    assert dressed(found).startswith("{c'}gc")
    (ornament,) = found.ornaments
    assert (ornament.kind, ornament.outcome) == (OrnamentKind.CUT, Outcome.OTHER)
    assert ornament.why == "the note is too short for a roll"


def test_a_long_note_that_is_over_soon_has_a_short_roll() -> None:
    # A dotted crotchet lasts 0.225 s at 400 crotchets a minute: too short for three stretches.
    fast = "M:6/8\nL:1/8\nQ:1/4=400\n"
    assert dressed(on_c("~g3 cde|", fast)) == "({c'}g2 {e}g) cde |"


def test_a_roll_on_a_note_under_a_slur_opens_no_second_one() -> None:
    assert dressed(on_c("(c2 ~g2 c4)|")) == "(c2 {c'}g{e}g c4) |"


def test_a_tie_goes_out_of_the_last_part_of_a_split_note() -> None:
    found = on_c("c4 ~g4-|g4 c4|")
    assert "({c'}" not in dressed(found)
    pieces = found.tune.bars[0].notes[1:]
    assert [note.tied for note in pieces] == [False, False, True]
    assert unfold(found.tune).sounding[-2].length == Fraction(5, 2)  # the tap's quaver, tied on


def test_what_the_harp_lacks_becomes_the_nearest_it_can_and_a_note_says_so() -> None:
    # A5 is a draw note on a C harp: from 6 blow the next hole is 7 blow, C6.
    found = on_c("{a}g2 c2 c4|")
    assert dressed(found).startswith("{c'}g2")
    (ornament,) = found.ornaments
    assert (ornament.outcome, ornament.written) == (Outcome.OTHER, ("A5",))
    assert "A cannot be reached from 6 blow in one breath" in ornament.why
    grace = found.tune.bars[0].notes[0].graces[0]
    assert found.soundings[grace.id].midi == grace.pitch.midi == 84
    assert found.plain.bars[0].notes[0].graces[0].pitch.name == "A5"  # the source is kept


def test_grace_notes_that_become_the_same_neighbour_are_played_once() -> None:
    # D5, F5 and A5 are draw notes; beside 6 blow (G5) lie 5 blow (E5) and 7 blow (C6).
    found = on_c("{dfa}g2 c2 c4|")
    assert dressed(found).startswith("{ec'}g2")
    (ornament,) = found.ornaments
    assert [each.hole for each in ornament.touched] == [5, 7]
    assert "D and F and A" in ornament.why or "D, F and A" in ornament.why


def test_substituted_pitches_are_spelled_in_the_key() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:Bb\n{=e}f4 d4|\n")
    assert isinstance(tune, Tune)
    found = arrange(tune, make_harp("Bb"), PLAYER)
    assert all(g.pitch.alter <= 0 for n in found.tune.bars[0].notes for g in n.graces)


@pytest.mark.parametrize("amount", AMOUNTS)
def test_every_written_ornament_is_played_or_told_of(amount: Amount) -> None:
    rng = random.Random(5)
    for _ in range(25):
        tune = random_tune(rng, 8, repeats=True)
        harp = make_harp(rng.choice(KEYS), valves=rng.choice(["none", "half"]))
        notes = list(tune.voices[0].notes)
        placed = {note.id: rng.choice(PLACED) for note in rng.sample(notes, len(notes) // 4)}
        check(arrange(tune, harp, PLAYER, wishes=Wishes(amount=amount, ornaments=placed)))
        found = arrange(tune, harp, PLAYER, wishes=Wishes(amount=amount))
        check(found)
        if amount is Amount.NONE:
            assert not found.ornaments
            continue
        told = {each.note_id: each for each in found.ornaments if each.origin is Origin.WRITTEN}
        for note in tune.voices[0].notes:
            if note.graces:
                ornament = told[note.id]
                assert ornament.written == tuple(grace.pitch.name for grace in note.graces)
                assert ornament.outcome is Outcome.AS_WRITTEN or ornament.why


@pytest.mark.parametrize("amount", AMOUNTS)
@pytest.mark.parametrize("second_time", [False, True])
def test_real_tunes_keep_their_music_under_any_amount(amount: Amount, second_time: bool) -> None:
    """A sample of the 1850 collection, and the demo tunes."""
    book = read_abc(BOOK.read_text(encoding="utf-8"))
    tunes = [*collection(7)[::25], *(tune for tune in book if isinstance(tune, Tune))]
    suggested = 0
    for tune in tunes:
        harp = make_harp("G" if amount is Amount.LIGHT else "D")
        wishes = Wishes(amount=amount, second_time=second_time)
        found = arrange(tune, harp, PLAYER, wishes=wishes)
        check(found)
        suggested += sum(each.origin is Origin.SUGGESTED for each in found.ornaments)
    more = amount in (Amount.LIGHT, Amount.MEDIUM, Amount.FULL)
    assert (suggested > 0) == (more or (second_time and amount is Amount.WRITTEN))


def check(found: Arrangement) -> None:
    """The melody is as written, bars keep their length, ids are their own, all has a sounding."""
    plain, tune, voice = found.plain, found.tune, found.voice
    mine, theirs = tune.voices[voice], plain.voices[voice]
    assert [bar.length for bar in mine.bars] == [bar.length for bar in theirs.bars]
    ids = [each.id for note in mine.notes for each in (*note.graces, note)]
    assert len(ids) == len(set(ids))
    missing = {each.id for each in found.missing}
    for note in mine.notes:
        base = note.id.split("s")[0]
        assert (note.id in found.soundings) != (base in missing)
        for each in (*note.graces, note):
            if each.id in found.soundings:
                assert found.soundings[each.id].midi == each.pitch.midi
            else:
                assert base in missing and not note.graces
    # Split notes heard as one are the melody as written.
    heard = [
        (s.pitch.midi, s.onset)
        for s in unfold(tune, voice).sounding
        if not any(mark in s.note.id for mark in ("s2", "s3"))
    ]
    assert heard == [(s.pitch.midi, s.onset) for s in unfold(plain, voice).sounding]
    total = sum(found.parts_of_effort.values())
    assert total == found.effort
    reread = read_abc(write_abc(tune))[0]
    assert isinstance(reread, Tune)
    assert [_face(note) for note in reread.voices[voice].notes] == [_face(n) for n in mine.notes]


def _face(note: Note) -> tuple[object, ...]:
    """All of a note but its id and its place in the source."""
    graces = tuple((grace.pitch, grace.length) for grace in note.graces)
    return (
        note.pitches,
        note.length,
        note.ties,
        note.tuplet,
        graces,
        note.slurs_open,
        note.slurs_close,
        note.decorations,
        note.lyrics,
    )


def test_suggestions_grow_with_the_amount_and_stay_out_of_each_others_way() -> None:
    for tune in read_abc(BOOK.read_text(encoding="utf-8")):
        assert isinstance(tune, Tune)
        counts = []
        for amount in (Amount.WRITTEN, Amount.LIGHT, Amount.MEDIUM, Amount.FULL):
            found = arrange(tune, make_harp("G"), PLAYER, wishes=Wishes(amount=amount))
            counts.append(len(found.ornaments))
            for each in found.ornaments:
                if each.origin is Origin.SUGGESTED:
                    note = next(n for n in found.plain.voices[0].notes if n.id == each.note_id)
                    seconds = float(note.length) * 60 / found.quarters_per_minute
                    assert seconds >= SHORTEST_CUT
                    assert each.outcome is Outcome.AS_WRITTEN
        assert counts == sorted(counts)
        assert counts[-1] > counts[1]


def test_a_repeated_note_is_parted_by_a_cut() -> None:
    found = on_c("c2 e2 g2 g2|c2 e2 g2 g2|", amount=Amount.FULL)
    cuts = [each for each in found.ornaments if each.kind is OrnamentKind.CUT]
    notes = [note for bar in found.plain.bars for note in bar.notes]
    repeated = {b.id for a, b in pairwise(notes) if a.pitch == b.pitch}
    assert {each.note_id for each in cuts} & repeated


def test_nothing_is_suggested_where_notes_are_too_quick() -> None:
    fast = "M:4/4\nL:1/8\nQ:1/4=400\n"
    found = on_c("cdef gagf|cdef gagf|", fast, amount=Amount.FULL)
    assert not found.ornaments


def test_the_second_time_through_is_ornamented_otherwise() -> None:
    (tune, *_) = read_abc(BOOK.read_text(encoding="utf-8"))
    assert isinstance(tune, Tune)
    wishes = Wishes(amount=Amount.MEDIUM, second_time=True)
    found = arrange(tune, make_harp("G", "richter-raised-3-blow"), PLAYER, wishes=wishes)
    first = {e.note_id: e.kind for e in found.ornaments if e.origin is Origin.SUGGESTED}
    again = {id_.removesuffix("t2"): kind for id_, kind in first.items() if id_.endswith("t2")}
    first = {id_: kind for id_, kind in first.items() if not id_.endswith("t2")}
    assert again and first
    assert all(first.get(id_) != kind for id_, kind in again.items())
    assert not any(bar.repeat_close for bar in found.tune.bars)
    # Without the ornaments it is the tune as it was.
    assert unfold(found.plain).length == unfold(tune).length


def test_the_teacher_places_and_removes_ornaments() -> None:
    tune = one("{c'}g2 c2 e4|")
    first, _, long = tune.bars[0].notes
    wishes = Wishes(ornaments={first.id: None, long.id: OrnamentKind.SHORT_ROLL})
    found = arrange(tune, make_harp("C"), PLAYER, wishes=wishes)
    assert dressed(found) == "g2 c2 ({g}e2 {c}e2) |"
    assert [each.origin for each in found.ornaments] == [Origin.TEACHER]


@pytest.mark.parametrize(
    ("kind", "music"),
    [
        (OrnamentKind.CUT, "{f}d4"),
        (OrnamentKind.TAP, "{B}d4"),
        (OrnamentKind.SLIDE, "{^c}!slide!d4"),
        (OrnamentKind.WARBLE, "{f}Td4"),
        (OrnamentKind.LONG_ROLL, "(d2 {f}d{B}d)"),
        (OrnamentKind.SHORT_ROLL, "({f}d2 {B}d2)"),
    ],
)
def test_each_kind_on_4_draw(kind: OrnamentKind, music: str) -> None:
    """On a C harp 4 draw is D5, 5 draw F5, 3 draw B4 (published layout); 4 draw bends."""
    tune = one("d4 c4|")
    found = arrange(
        tune, make_harp("C"), PLAYER, wishes=Wishes(ornaments={tune.bars[0].notes[0].id: kind})
    )
    assert dressed(found) == f"{music} c4 |"


def test_a_triplet_is_three_notes_in_the_time_of_two() -> None:
    tune = one("d2 c2 c4|")
    first = tune.bars[0].notes[0]
    wishes = Wishes(ornaments={first.id: OrnamentKind.TRIPLET})
    found = arrange(tune, make_harp("C"), PLAYER, wishes=wishes)
    assert dressed(found) == "(3ddd c2 c4 |"
    assert [note.length for note in found.tune.bars[0].notes[:3]] == [Fraction(1, 3)] * 3


def test_a_slide_on_a_reed_that_does_not_bend_is_left_out_and_told() -> None:
    tune = one("c4 d4|")
    first = tune.bars[0].notes[0]
    wishes = Wishes(ornaments={first.id: OrnamentKind.SLIDE})
    found = arrange(tune, make_harp("C"), PLAYER, wishes=wishes)
    (ornament,) = found.ornaments
    assert ornament.outcome is Outcome.LEFT_OUT
    assert ornament.why == "4 blow does not bend"
    assert dressed(found) == "c4 d4 |"


def test_a_group_of_notes_is_not_torn_by_an_ornament() -> None:
    tune = one("(3gab c2 d4|")
    first = tune.bars[0].notes[0]
    for kind, outcome in (
        (OrnamentKind.TRIPLET, Outcome.LEFT_OUT),
        (OrnamentKind.LONG_ROLL, Outcome.OTHER),
    ):
        wishes = Wishes(ornaments={first.id: kind})
        found = arrange(tune, make_harp("C"), PLAYER, wishes=wishes)
        (ornament,) = found.ornaments
        assert (
            ornament.outcome is outcome and "group" in ornament.why
        ) or "triplet" in ornament.why
        cut = "" if kind is OrnamentKind.TRIPLET else "{c'}"
        assert dressed(found) == f"(3{cut}gab c2 d4 |"


def test_a_length_that_cannot_be_split_into_written_notes_gets_a_cut() -> None:
    found = on_c("~g5/2 c/2 c2 e3|")
    (ornament,) = found.ornaments
    assert (ornament.kind, ornament.outcome) == (OrnamentKind.CUT, Outcome.OTHER)
    assert "cannot be split" in ornament.why


def test_a_note_that_a_tie_only_holds_on_is_not_ornamented_and_that_is_told() -> None:
    found = on_c("g4-|~g4 c4|")
    (ornament,) = found.ornaments
    assert ornament.outcome is Outcome.LEFT_OUT and "tie" in ornament.why
    assert dressed(found) == "g4- | g4 c4 |"
    plain = on_c("g4-|g4 c4|")
    assert found.effort == plain.effort


def test_a_trill_over_several_notes_is_a_trill_on_each() -> None:
    found = on_c("!trill(!d4 f4|!trill)!d4 c4|")
    kinds = [each.kind for each in found.ornaments]
    assert kinds == [OrnamentKind.WARBLE] * 3
    assert "trill(" not in dressed(found) and "trill)" not in dressed(found)
    assert "trill" not in dressed(on_c("!trill(!d4 f4|!trill)!d4 c4|", amount=Amount.NONE))


def test_the_second_time_of_another_voice_is_of_that_voice() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/4\nK:C\nV:1\nCCCC|\nV:2\nGGEE|\n")
    assert isinstance(tune, Tune)
    wishes = Wishes(second_time=True)
    found = arrange(tune, make_harp("C"), PLAYER, voice=1, wishes=wishes)
    assert [n.pitch.name for n in found.tune.voices[found.voice].notes] == ["G4", "G4", "E4", "E4"]


def test_each_time_through_has_its_own_verse() -> None:
    verses = "w:one two three four\nw:five six seven eight\n"
    (tune,) = read_abc(f"X:1\nT:T\nM:4/4\nL:1/4\nK:C\n|:CDEF:|\n{verses}")
    assert isinstance(tune, Tune)
    notes = written_out(tune).voices[0].notes
    words = [note.lyrics[0].text for note in notes if note.lyrics and note.lyrics[0]]
    assert words == ["one", "two", "three", "four", "five", "six", "seven", "eight"]


def test_a_note_with_every_way_ruled_out_is_missing_and_says_why() -> None:
    tune = one("d4 c4|")
    harp = make_harp("C")
    wishes = Wishes(forbidden={tune.bars[0].notes[0].id: frozenset(harp.ways[74])})
    (missing,) = arrange(tune, harp, PLAYER, wishes=wishes).missing
    assert missing.on_this_harp == "The choices made rule out every way to play it."


def test_choices_at_odds_over_a_tie_are_told() -> None:
    tune = one("G4-|G4 c4|")
    one_, two = list(tune.voices[0].notes)[:2]
    ways = make_harp("C").ways[67]
    wishes = Wishes(fixed={one_.id: ways[0], two.id: ways[1]})
    found = arrange(tune, make_harp("C"), PLAYER, wishes=wishes)
    assert any("different ways are chosen" in warning for warning in found.warnings)


@pytest.mark.no_cover
def test_no_grace_note_of_the_collection_is_lost_silently() -> None:
    """The tunes with grace notes of every seventh file of the collection, on their best harps."""
    count = 0
    for tune in collection(7):
        if not any(note.graces for note in tune.voices[0].notes):
            continue
        found = arrange_on_best(tune, PLAYER)
        told = {each.note_id: each for each in found.ornaments if each.written}
        mine: dict[str, Note] = {note.id: note for note in found.tune.voices[0].notes}
        for note in found.plain.voices[0].notes:
            if not note.graces:
                continue
            count += len(note.graces)
            ornament = told[note.id]
            kept = mine[note.id].graces[: len(note.graces)]  # a sign may have added a cut
            if ornament.outcome is Outcome.AS_WRITTEN:
                assert [grace.pitch for grace in kept] == [grace.pitch for grace in note.graces]
            else:
                assert ornament.why
    assert count > 40


def test_repeats_written_out_sound_as_before() -> None:
    for tune in [
        *collection(7)[::9],
        *(t for t in read_abc(BOOK.read_text()) if isinstance(t, Tune)),
    ]:
        out = written_out(tune)
        ids = [note.id for note in out.voices[0].notes]
        assert len(ids) == len(set(ids))
        assert [(s.pitch, s.onset, s.length) for s in unfold(out).sounding] == [
            (s.pitch, s.onset, s.length) for s in unfold(tune).sounding
        ]
        assert not any(bar.repeat_close or bar.ending for bar in out.bars)


@pytest.mark.parametrize(("amount", "apart"), [(Amount.LIGHT, 3), (Amount.MEDIUM, 2)])
def test_suggestions_keep_their_distance(amount: Amount, apart: int) -> None:
    """docs/ornaments.md: three quarters of a bar, half a bar; in quarter notes of common time."""
    # A cut is written on the second beat of each bar; every note would like one.
    found = on_c("c2{e}c2 c2c2|" * 8, amount=amount)
    places = {p.note.id: p.onset for p in unfold(found.plain).notes}
    onsets = sorted(places[each.note_id] for each in found.ornaments)
    assert len(onsets) > 1
    assert all(two - one_ >= apart for one_, two in pairwise(onsets))


def test_the_chain_with_suggestions_is_the_one_made_anew() -> None:
    rng = random.Random(9)
    known = 0
    for _ in range(30):
        tune = random_tune(rng, 6, repeats=True)
        chain = make_chain(tune)
        notes = [note for note in tune.voices[0].notes if note.id not in chain.unplayed]
        more = {note.id: OrnamentKind.CUT for note in rng.sample(notes, 3) if not note.graces}
        quick = with_ornaments(chain, {id_: demands_of(kind) for id_, kind in more.items()})
        tied = {id_ for unknown in chain.unknowns if len(unknown.ids) > 1 for id_ in unknown.ids}
        assert (quick is None) == bool(more.keys() & tied)
        if quick is not None:
            known += 1
            assert quick.ornaments == make_chain(tune, 0, asked_demands(NO_WISHES, more)).ornaments
    assert known > 5
