"""Notes for the student, written from the arrangement: what is hard, where, and how to go at it.

Each remark states facts that follow from the tab (holes, breaths, bar numbers) and at most one
piece of common teaching advice. The most useful stand first: notes that are missing, then what
needs technique, then movement and breath, then what is good to know.

Public: `remarks`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import chain, pairwise

from reedwright.harp.layout import note_name
from reedwright.harp.model import Sounding, Technique
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.words import breath_remarks
from reedwright.tab.difficulty.practice import practice_plan, practice_remarks
from reedwright.tab.expression import expression_remarks
from reedwright.tab.ornaments.words import (
    ornament_changes,
    ornament_remarks,
    suggestion_remark,
)
from reedwright.tab.playing import Played, played_notes, runs, span
from reedwright.tab.remark import MOST_NAMED, Remark, bar_numbers, named
from reedwright.tab.words import (
    bars_text,
    listed,
    number_word,
    pitch_words,
    short_words,
)
from reedwright.tab.written import lacking

MOST_REMARKS = 10

# From here on a move within a phrase is called a leap, in holes (our judgement).
LEAP_HOLES = 3
# A note no longer than this, in quarter notes, is quick: a quaver.
QUICK = Fraction(1, 2)
# So many quick notes that each turn the breath make a remark (our judgement).
TURNING_RUN = 7


def remarks(arrangement: Arrangement) -> tuple[Remark, ...]:
    """At most `MOST_REMARKS` remarks, most useful first. Bar numbers are the printed ones."""
    played = played_notes(arrangement)
    found: list[Remark] = []
    found += _missing(arrangement)
    found += _bends(arrangement, played)
    found += _overs(arrangement, played)
    found += ornament_remarks(arrangement)
    breath = breath_remarks(arrangement, never=arrangement.unbreathed)
    found += breath[:1]
    found += practice_remarks(practice_plan(arrangement))
    found += ornament_changes(arrangement)
    found += _leaps(played)
    found += _turning_runs(played)
    found += breath[1:]
    found += expression_remarks(arrangement)
    found += suggestion_remark(arrangement)
    found += _two_places(arrangement, played)
    found += _range(arrangement, played)
    return tuple(found[:MOST_REMARKS])


def _missing(arrangement: Arrangement) -> list[Remark]:
    by_note: dict[str, list[int]] = {}
    for missing in arrangement.missing:
        by_note.setdefault(missing.pitch, []).append(missing.bar)
    if not by_note:
        return []
    names = [f"{pitch_words(pitch)} ({bars_text(bars)})" for pitch, bars in by_note.items()]
    if len(names) > MOST_NAMED:
        names = [*names[:MOST_NAMED], f"{number_word(len(names) - MOST_NAMED)} notes more"]
    text = f"{lacking(arrangement)} {listed(names, 'or')}; the tab marks the place with ×."
    text += f" {_sentence(arrangement.missing[0].advice)}"
    return [Remark("missing notes", text, bar_numbers(chain.from_iterable(by_note.values())))]


def _bends(arrangement: Arrangement, played: Sequence[Played]) -> list[Remark]:
    bent = [note for note in played if note.sounding.bend]
    if not bent:
        return []
    names = [
        f"{short_words(sounding)} to {_note(arrangement, sounding.midi)} in {bars_text(bars)}"
        for sounding, bars in _grouped(bent)
    ]
    text = f"Bends: {named(names)}."
    deepest = max(note.sounding.bend for note in bent)
    if any(note.sounding.technique is Technique.VALVED_BEND for note in bent):
        text += " Valved reeds bend alone: lean into them gently and stop at the semitone."
    elif deepest > 1:
        text += " Find each depth slowly against a tuner before you play the tune up to speed."
    else:
        text += " Hold each bend on its own against a tuner first."
    return [Remark("bends", text, bar_numbers(note.bar for note in bent))]


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
    text = f"{title}: {named(names)}. They speak only where the reeds are gapped close."
    return [Remark("overblows", text, bar_numbers(note.bar for note in over))]


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
        text = f"The widest leaps are {holes} holes: {named(names)}."
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
    return [Remark("leaps", text, bar_numbers(two.bar for _, _, two in leaps))]


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
    return [
        Remark(
            "changes of breath", text, bar_numbers(note.bar for run in long_runs for note in run)
        )
    ]


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
    text = f"One note, two places: {named(names)}. Follow the tab here, not the habit."
    return [Remark("same note in two places", text, bar_numbers(bars))]


def _range(arrangement: Arrangement, played: Sequence[Played]) -> list[Remark]:
    if not played:
        return []
    holes = [note.sounding.hole for note in played]
    low = min(played, key=lambda note: note.sounding.midi)
    high = max(played, key=lambda note: note.sounding.midi)
    sounded = arrangement.soundings.values()  # grace notes too
    plain = all(each.technique is Technique.NATURAL for each in sounded)
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
    return [Remark("range", text, bar_numbers((low.bar, high.bar)))]


def _grouped(played: Iterable[Played]) -> list[tuple[Sounding, list[int]]]:
    """Bars by sounding, in order of hole."""
    groups: dict[Sounding, list[int]] = {}
    for note in played:
        groups.setdefault(note.sounding, []).append(note.bar)
    return sorted(groups.items(), key=lambda item: (item[0].hole, item[0].breath, item[0].bend))


def _note(arrangement: Arrangement, midi: int) -> str:
    return pitch_words(note_name(midi, arrangement.harp))


def _sentence(text: str) -> str:
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!")) else ".")
