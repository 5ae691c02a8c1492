"""Targets and beats as text for a terminal of 80 columns.

Public: `targets_text`, `beats_text`, `pair_text`, `answers_text`, `temperaments_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath
from reedwright.workshop.targets.beating import MOST_CENTS, MOST_RATE, BeatAnswer, with_target
from reedwright.workshop.targets.beats import (
    PURE_HZ,
    ChordBeats,
    PairBeats,
    chord_beats,
    pair_beats,
)
from reedwright.workshop.targets.checking import USUAL_PRESSURE
from reedwright.workshop.targets.chords import breath_chord
from reedwright.workshop.targets.finding import find_reed_temperament
from reedwright.workshop.targets.making import reed_targets, slide_in
from reedwright.workshop.targets.model import Targets
from reedwright.workshop.targets.setting import beat_wish_words
from reedwright.workshop.targets.temperaments import ReedTemperament

_WIDTH = 80  # characters
_CHANGED_HZ = 0.005  # what shows in a table of hundredths


def targets_text(targets: Targets) -> str:
    """One line a reed: its note, cents and Hz as played, and at the bench where that differs."""
    parts = [_head(targets), _table(targets)]
    if targets.harp.tuning.slide:
        parts += [
            "With the slide in:",
            _table(reed_targets(slide_in(targets.harp), targets.wishes)),
        ]
    if not targets.wishes.pressure:
        low, high = USUAL_PRESSURE
        parts.append(
            _wrapped(
                "No offset for playing pressure: these are the pitches when played. At the bench a "
                f"reed is commonly tuned {low:g} to {high:g} cents sharper (no source; try it on "
                "one reed)."
            )
        )
    return "\n\n".join(parts)


def beats_text(targets: Targets) -> str:
    """Every pair that a player sounds together, and the chords of three neighbouring holes."""
    bench = bool(targets.wishes.pressure)
    lines = [_head(targets), ""]
    title = f"{'holes':11}{'notes':9}{'interval':17}{'ratio':>6}{'cents':>9}{'beats/s':>9}"
    lines.append(title + (f"{'bench':>8}" if bench else ""))
    for pair in pair_beats(targets):
        lines.append(_pair_line(targets, pair, bench))
    lines += ["", "three neighbouring holes, quickest beats a second"]
    lines += [_chord_line(chord) for chord in chord_beats(targets)]
    lines += [
        "",
        _wrapped(
            "Beats as played. Wide and narrow: against the pure ratio. Pure: less than "
            f"{PURE_HZ:g} a second. Beyond about {MOST_RATE:g} they are heard as roughness."
        ),
    ]
    return "\n".join(lines)


def pair_text(targets: Targets, pair: PairBeats) -> str:
    """One pair as it is, in a sentence."""
    low, high = (targets.of(reed) for reed in (pair.lower, pair.upper))
    notes = f"{note_name(low.midi, targets.harp)} and {note_name(high.midi, targets.harp)}"
    return _wrapped(
        f"{_holes(pair)} ({notes}, {low.hz:.2f} and {high.hz:.2f} Hz when played), "
        f"{_article(pair.interval)} by {_ratio(pair)}, {_beats_words(pair)}."
    )


def answers_text(targets: Targets, answers: Iterable[BeatAnswer]) -> str:
    """Each answer of `beat_answers`: where the reed goes, and what else beats otherwise then."""
    parts = []
    given = tuple(answers)
    for answer in dict.fromkeys(given):
        target, pair = answer.target, answer.beats
        name = f"{target.reed.hole} {target.reed.breath.value}"
        note = note_name(target.midi, targets.harp)
        way = "stays where it is"
        if abs(answer.moved) >= 0.05:
            way = f"{abs(answer.moved):.1f} cents {'up' if answer.moved > 0 else 'down'}"
        said = (
            f"{name} ({note}) {way}: {target.hz:.2f} Hz when played ({target.cents:+.1f} cents), "
            f"{target.bench_hz:.2f} Hz at the bench ({target.bench_cents:+.1f}). Then "
            f"{_holes(pair)}, {_article(pair.interval)} by {_ratio(pair)}, {_beats_words(pair)}."
        )
        lines = [_wrapped(said)]
        others = _disturbed(targets, with_target(targets, target), pair)
        if others:
            lines.append("  what else changes (beats a second):")
            lines += [
                f"    {_holes(after):11}{after.interval:17}{before.beats:8.2f} -> {after.beats:.2f}"
                for before, after in others
            ]
        parts.append("\n".join(lines))
    if len(given) == 1:
        parts.append(
            _wrapped(
                "The answer on the other side of pure is left out: it lies more than "
                f"{MOST_CENTS:g} cents from the reed's note."
            )
        )
    return "\n\n".join(parts)


def temperaments_text(temperaments: Iterable[ReedTemperament]) -> str:
    """The names there are, each with its description."""
    lines = []
    for each in temperaments:
        lines.append(f"{each.name:19}{each.title}")
        if each.description:
            lines.append(textwrap.indent(textwrap.fill(each.description, _WIDTH - 19), " " * 19))
    return "\n".join(lines)


def _head(targets: Targets) -> str:
    wishes, harp = targets.wishes, targets.harp
    title = find_reed_temperament(wishes.temperament).title
    said = [f"{harp.name}: {title}, A4 = {wishes.a4:g} Hz"]
    if wishes.pressure:
        said.append(f"{wishes.pressure:g} cents sharper at the bench")
    if wishes.stretch:
        said.append(f"octaves stretched by {wishes.stretch:g} cents")
    chords = ", ".join(f"{breath.value} {breath_chord(harp, breath).title}" for breath in Breath)
    lines = [_wrapped(", ".join(said) + "."), _wrapped(f"Chords: {chords}.")]
    if wishes.beats:
        wished = "; ".join(beat_wish_words(wish) for wish in wishes.beats)
        lines.append(_wrapped(f"Set to beat as chosen: {wished}."))
    return "\n".join(lines)


def _table(targets: Targets) -> str:
    bench = bool(targets.wishes.pressure)
    head = f"{'hole':>4}       {'note':5}{'cents':>7}{'Hz':>10}"
    head += f"{'bench cents':>13}{'bench Hz':>10}" if bench else ""
    lines = [head + "  in its chord"]
    for each in targets.reeds:
        line = f"{each.reed.hole:>4} {each.reed.breath.value:5} "
        line += f"{note_name(each.midi, targets.harp):5}{_cents(each.cents):>7}{each.hz:10.2f}"
        if bench:
            line += f"{_cents(each.bench_cents):>13}{each.bench_hz:10.2f}"
        role = each.role.replace(f" of the {each.reed.breath.value} chord", "")
        lines.append(f"{line}  {role}".rstrip())
    return "\n".join(lines)


def _pair_line(targets: Targets, pair: PairBeats, bench: bool) -> str:
    notes = " ".join(
        note_name(targets.of(reed).midi, targets.harp) for reed in (pair.lower, pair.upper)
    )
    line = f"{_holes(pair):11}{notes:9}{pair.interval:17}{_ratio(pair):>6}"
    line += f"{pair.cents:9.1f}{pair.beats:9.2f}"
    line += f"{abs(pair.bench_rate):8.2f}" if bench else ""
    return f"{line}  {_side(pair)}"


def _chord_line(chord: ChordBeats) -> str:
    holes = " ".join(str(hole) for hole in chord.holes)
    beats = "pure" if chord.pure else f"{chord.fastest:.2f}"
    return f"{chord.breath.value} {holes:9} {chord.name:17}{beats:>9}"


def _disturbed(
    before: Targets, after: Targets, pair: PairBeats
) -> list[tuple[PairBeats, PairBeats]]:
    """The other pairs whose beats change."""
    return [
        (old, new)
        for old, new in zip(pair_beats(before), pair_beats(after), strict=True)
        if (new.lower, new.upper) != (pair.lower, pair.upper)
        and abs(new.beats - old.beats) >= _CHANGED_HZ
    ]


def _beats_words(pair: PairBeats) -> str:
    if pair.pure:
        return "is pure"
    at_bench = abs(pair.bench_rate)
    return (
        f"beats {pair.beats:.2f} times a second when played, {at_bench:.2f} at the bench, "
        f"{_side(pair)}"
    )


def _side(pair: PairBeats) -> str:
    if pair.pure:
        return "pure"
    return "wide" if pair.rate > 0 else "narrow"


def _holes(pair: PairBeats) -> str:
    first, second = sorted(reed.hole for reed in (pair.lower, pair.upper))
    return f"{pair.lower.breath.value} {first} {second}"


def _ratio(pair: PairBeats) -> str:
    return f"{pair.partials[0]}:{pair.partials[1]}"


def _article(interval: str) -> str:
    return f"an {interval}" if interval[0] in "aeiou" and interval != "unison" else f"a {interval}"


def _cents(value: float) -> str:
    """`+13.7`; no sign at nothing."""
    return "0.0" if abs(value) < 0.05 else f"{value:+.1f}"


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH)
