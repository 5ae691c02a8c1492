"""Notes for the student, written from the arrangement: what is hard, where, and how to go at it.

Each remark states facts that follow from the tab (holes, breaths, bar numbers) and at most one
piece of common teaching advice. The most useful stand first: notes that are missing, then what
needs technique, then movement and breath, then what is good to know.

Public: `remarks`, `Remark`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import chain, pairwise
from typing import NamedTuple

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Sounding, Technique
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.playing import Played, length_of, played_notes, runs, span
from reedwright.tab.words import (
    bars_text,
    listed,
    number_word,
    pitch_words,
    short_words,
)
from reedwright.tab.written import WrittenNote, is_cut, lacking, written_notes

MOST_REMARKS = 8

# From here on a move within a phrase is called a leap, in holes (our judgement).
LEAP_HOLES = 3
# A note no longer than this, in quarter notes, is quick: a quaver.
QUICK = Fraction(1, 2)
# So many quick notes that each turn the breath make a remark (our judgement).
TURNING_RUN = 7
# So long in one breath without a rest, in quarter notes, makes one too (our judgement).
LONG_BREATH = Fraction(6)
# One breath outweighs the other from this ratio of sounding time on (our judgement).
LOPSIDED = Fraction(2)
_MOST_NAMED = 4  # places named in one remark


class Remark(NamedTuple):
    """One note for the student. `bars` are the printed bar numbers that it speaks of."""

    topic: str
    text: str
    bars: tuple[int, ...] = ()

    def __str__(self) -> str:
        return self.text


def remarks(arrangement: Arrangement) -> tuple[Remark, ...]:
    """At most `MOST_REMARKS` remarks, most useful first. Bar numbers are the printed ones."""
    written = written_notes(arrangement)
    played = played_notes(arrangement)
    found: list[Remark] = []
    found += _missing(arrangement)
    found += _bends(arrangement, played)
    found += _overs(arrangement, played)
    found += _cuts(arrangement, written)
    found += _rolls(written)
    found += _other_graces(arrangement, written)
    found += _leaps(played)
    found += _turning_runs(played)
    found += _long_breaths(played)
    found += _two_places(arrangement, played)
    found += _balance(played)
    found += _range(played)
    return tuple(found[:MOST_REMARKS])


def _missing(arrangement: Arrangement) -> list[Remark]:
    by_note: dict[str, list[int]] = {}
    for missing in arrangement.missing:
        by_note.setdefault(missing.pitch, []).append(missing.bar)
    if not by_note:
        return []
    names = [f"{pitch_words(pitch)} ({bars_text(bars)})" for pitch, bars in by_note.items()]
    if len(names) > _MOST_NAMED:
        names = [*names[:_MOST_NAMED], f"{number_word(len(names) - _MOST_NAMED)} notes more"]
    text = f"{lacking(arrangement)} {listed(names, 'or')}; the tab marks the place with ×."
    text += f" {_sentence(arrangement.missing[0].advice)}"
    return [Remark("missing notes", text, _bars(chain.from_iterable(by_note.values())))]


def _bends(arrangement: Arrangement, played: Sequence[Played]) -> list[Remark]:
    bent = [note for note in played if note.sounding.bend]
    if not bent:
        return []
    names = [
        f"{short_words(sounding)} to {_note(arrangement, sounding.midi)} in {bars_text(bars)}"
        for sounding, bars in _grouped(bent)
    ]
    text = f"Bends: {_named(names)}."
    deepest = max(note.sounding.bend for note in bent)
    if any(note.sounding.technique is Technique.VALVED_BEND for note in bent):
        text += " Valved reeds bend alone: lean into them gently and stop at the semitone."
    elif deepest > 1:
        text += " Find each depth slowly against a tuner before you play the tune up to speed."
    else:
        text += " Hold each bend on its own against a tuner first."
    return [Remark("bends", text, _bars(note.bar for note in bent))]


def _overs(arrangement: Arrangement, played: Sequence[Played]) -> list[Remark]:
    over = [note for note in played if note.sounding.technique.overbend]
    if not over:
        return []
    names = [
        f"{short_words(sounding)} for {_note(arrangement, sounding.midi)} in {bars_text(bars)}"
        for sounding, bars in _grouped(over)
    ]
    kinds = {note.sounding.technique for note in over}
    title = " and ".join(f"{kind.value}s" for kind in Technique if kind in kinds).capitalize()
    text = f"{title}: {_named(names)}. They speak only where the reeds are gapped close."
    return [Remark("overblows", text, _bars(note.bar for note in over))]


def _cuts(arrangement: Arrangement, written: Sequence[WrittenNote]) -> list[Remark]:
    places: dict[tuple[Sounding, Sounding], list[int]] = {}
    for entry in written:
        if len(entry.note.graces) != 1 or entry.sounding is None:
            continue
        grace = arrangement.soundings.get(entry.note.graces[0].id)
        if grace is not None and is_cut(grace, entry.sounding):
            places.setdefault((grace, entry.sounding), []).append(entry.bar.number)
    if not places:
        return []
    names = [
        f"{short_words(grace)} before {short_words(main)} in {bars_text(bars)}"
        for (grace, main), bars in places.items()
    ]
    text = (
        f"Cuts: {_named(names)}. Touch the next hole for an instant in the same breath; "
        "move the harp, not the breath."
    )
    return [Remark("cuts", text, _bars(chain.from_iterable(places.values())))]


def _rolls(written: Sequence[WrittenNote]) -> list[Remark]:
    """Rolls: a cut and a tap that split one note. The advice is common practice, from memory."""
    places: dict[Sounding, list[int]] = {}
    for entry in written:
        if "roll" in entry.note.decorations and entry.sounding is not None:
            places.setdefault(entry.sounding, []).append(entry.bar.number)
    if not places:
        return []
    names = [f"{short_words(main)} in {bars_text(bars)}" for main, bars in places.items()]
    text = (
        f"Rolls: {_named(names)}. Split the note with a cut from the next hole up and a tap on the "
        "hole below, all in one breath; leave the roll plain until that is even."
    )
    return [Remark("rolls", text, _bars(chain.from_iterable(places.values())))]


def _other_graces(arrangement: Arrangement, written: Sequence[WrittenNote]) -> list[Remark]:
    """Grace notes that turn the breath: the ones that a learner may leave out."""
    places: dict[tuple[Sounding, Sounding], list[int]] = {}
    for entry in written:
        graces = [arrangement.soundings.get(grace.id) for grace in entry.note.graces]
        for one, two in pairwise([*graces, entry.sounding]):
            if one is not None and two is not None and one.breath is not two.breath:
                places.setdefault((one, two), []).append(entry.bar.number)
    if not places:
        return []
    names = [
        f"{short_words(one)} to {short_words(two)} in {bars_text(bars)}"
        for (one, two), bars in places.items()
    ]
    text = (
        f"Grace notes that turn the breath: {_named(names)}. Leave them out until the tune flows."
    )
    return [Remark("grace notes", text, _bars(chain.from_iterable(places.values())))]


def _leaps(played: Sequence[Played]) -> list[Remark]:
    leaps = [
        (abs(two.sounding.hole - one.sounding.hole), one, two)
        for one, two in pairwise(played)
        if two.joined and abs(two.sounding.hole - one.sounding.hole) >= LEAP_HOLES
    ]
    if not leaps:
        return []
    widest = max(size for size, _, _ in leaps)
    wide = [(one, two) for size, one, two in leaps if size == widest]
    moves: dict[tuple[Sounding, Sounding], list[int]] = {}
    for one, two in wide:
        moves.setdefault((one.sounding, two.sounding), []).append(two.bar)
    names = [
        f"{short_words(one)} to {short_words(two)} in {bars_text(bars)}"
        for (one, two), bars in moves.items()
    ]
    holes = number_word(widest)
    if len(moves) == 1:
        text = f"The widest leap is {holes} holes: {names[0]}."
    else:
        text = f"The widest leaps are {holes} holes: {_named(names)}."
    other = {two.bar for size, _, two in leaps if size < widest}
    if other:
        text += (
            f" Other leaps of {number_word(LEAP_HOLES)} holes or more are in {bars_text(other)}."
        )
    turning = all(one.sounding.breath is not two.sounding.breath for one, two in wide)
    if turning:
        text += " The breath turns as you move: land first, then breathe."
    else:
        text += " Practise the move without sounding the holes between."
    return [Remark("leaps", text, _bars(two.bar for _, _, two in leaps))]


def _turning_runs(played: Sequence[Played]) -> list[Remark]:
    """Quick notes one after another that each change the breath."""
    stretches = runs(
        played,
        lambda one, two: (
            one.sounding.breath is not two.sounding.breath
            and one.length <= QUICK
            and two.length <= QUICK
        ),
    )
    long_runs = [run for run in stretches if len(run) >= TURNING_RUN]
    if not long_runs:
        return []
    longest = max(long_runs, key=len)
    text = (
        f"The breath turns on every one of {number_word(len(longest))} quick notes in "
        f"{bars_text(note.bar for note in longest)}"
    )
    others = {note.bar for run in long_runs for note in run} - set(span(longest))
    if others:
        text += f", and there are like runs in {bars_text(others)}"
    text += ". Keep the breaths small and the throat open."
    return [Remark("changes of breath", text, _bars(note.bar for run in long_runs for note in run))]


def _long_breaths(played: Sequence[Played]) -> list[Remark]:
    found: list[Remark] = []
    stretches = runs(played, lambda one, two: one.sounding.breath is two.sounding.breath)
    for breath in Breath:
        of_breath = [run for run in stretches if run[0].sounding.breath is breath]
        long_runs = [run for run in of_breath if length_of(run) >= LONG_BREATH]
        if not long_runs:
            continue
        longest = max(long_runs, key=length_of)
        ready = "Come to it with full lungs" if breath is Breath.BLOW else "Breathe out before it"
        text = (
            f"The longest stretch of {breath.value} notes is in {bars_text(span(longest))} "
            f"({len(longest)} note{'s' if len(longest) > 1 else ''} without a change of breath)."
        )
        others = {bar for run in long_runs for bar in span(run)} - set(span(longest))
        if others:
            text += f" Others are in {bars_text(others)}."
        text += f" {ready}."
        bars = _bars(bar for run in long_runs for bar in span(run))
        found.append(Remark(f"long {breath.value}", text, bars))
    return found


def _two_places(arrangement: Arrangement, played: Sequence[Played]) -> list[Remark]:
    """The same pitch taken in different holes or breaths."""
    ways: dict[int, dict[Sounding, list[int]]] = {}
    for note in played:
        ways.setdefault(note.sounding.midi, {}).setdefault(note.sounding, []).append(note.bar)
    names, bars = [], []
    for midi, by_sounding in sorted(ways.items()):
        if len(by_sounding) < 2:
            continue
        # The way that is played most often comes first; of equals the lower hole.
        most, *others = sorted(by_sounding, key=lambda way: (-len(by_sounding[way]), way.hole))
        parts = [f"{short_words(way)} in {bars_text(by_sounding[way])}" for way in others]
        bars += [bar for way in others for bar in by_sounding[way]]
        names.append(
            f"{_note(arrangement, midi)} is mostly {short_words(most)}, but {listed(parts)}"
        )
    if not names:
        return []
    text = f"One note, two places: {_named(names)}. Follow the tab here, not the habit."
    return [Remark("same note in two places", text, _bars(bars))]


def _balance(played: Sequence[Played]) -> list[Remark]:
    times = dict.fromkeys(Breath, Fraction(0))
    for note in played:
        times[note.sounding.breath] += note.length
    less, more = sorted(Breath, key=lambda breath: times[breath])
    if not times[more]:
        return []
    share = round(100 * times[more] / (times[more] + times[less]))
    if times[more] < LOPSIDED * times[less]:
        return []
    relief = "let spare air out" if more is Breath.DRAW else "snatch air"
    time = "All" if not times[less] else f"{min(share, 99)} per cent"
    text = (
        f"{time} of the playing time is {more.value}: {relief} through the nose "
        "wherever there is a gap."
    )
    return [Remark("breath", text)]


def _range(played: Sequence[Played]) -> list[Remark]:
    if not played:
        return []
    holes = [note.sounding.hole for note in played]
    low = min(played, key=lambda note: note.sounding.midi)
    high = max(played, key=lambda note: note.sounding.midi)
    plain = all(note.sounding.technique is Technique.NATURAL for note in played)
    span = (
        f"All in hole {min(holes)}"
        if min(holes) == max(holes)
        else f"The tune lies in holes {min(holes)} to {max(holes)}"
    )
    text = (
        f"{span}: lowest {short_words(low.sounding)} ({bars_text([low.bar])}), "
        f"highest {short_words(high.sounding)} ({bars_text([high.bar])})."
    )
    if plain:
        text += " Every note is a plain blow or draw."
    return [Remark("range", text, _bars((low.bar, high.bar)))]


def _grouped(played: Iterable[Played]) -> list[tuple[Sounding, list[int]]]:
    """Bars by sounding, in order of hole."""
    groups: dict[Sounding, list[int]] = {}
    for note in played:
        groups.setdefault(note.sounding, []).append(note.bar)
    return sorted(groups.items(), key=lambda item: (item[0].hole, item[0].breath, item[0].bend))


def _named(names: Sequence[str]) -> str:
    """The first few, and how many more there are; each has bars of its own, so no "and"."""
    if len(names) <= _MOST_NAMED:
        return "; ".join(names)
    left_out = number_word(len(names) - _MOST_NAMED)
    return "; ".join([*names[:_MOST_NAMED], f"and {left_out} more"])


def _note(arrangement: Arrangement, midi: int) -> str:
    return pitch_words(note_name(midi, arrangement.harp))


def _bars(numbers: Iterable[int]) -> tuple[int, ...]:
    return tuple(sorted(set(numbers)))


def _sentence(text: str) -> str:
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!")) else ".")
