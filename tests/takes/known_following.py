"""A take followed without fault, from what is known of it: reports apart from following."""

from __future__ import annotations

from fractions import Fraction

from played_badly import Deed, Performance

from reedwright.sound.hearing.model import Heard
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.model import FollowedBar, FollowedNote, Following, Passage, PassageKind
from reedwright.tune.form import find_parts
from reedwright.tune.unfold import unfold


def followed(
    arrangement: Arrangement, performance: Performance, heard: Heard, semitones: int = 0
) -> Following:
    """One round of the tune without false starts, each note with what was heard nearest to it."""
    played = unfold(arrangement.tune, arrangement.voice)
    lengths: dict[str, Fraction] = {}
    onsets: dict[tuple[str, int], Fraction] = {}
    times: dict[str, int] = {}
    midis: dict[str, int] = {}
    for note in played.notes:
        if note.held:
            continue
        times[note.note.id] = times.get(note.note.id, 0) + 1
        onsets[note.note.id, times[note.note.id]] = note.onset
        lengths[note.note.id] = note.note.length
        midis[note.note.id] = note.note.pitch.midi
        for grace in note.note.graces:
            times[grace.id] = times.get(grace.id, 0) + 1
            onsets[grace.id, times[grace.id]] = note.onset
            lengths[grace.id] = Fraction(0)
            midis[grace.id] = grace.pitch.midi
    free = set(range(len(heard.notes)))
    found: list[FollowedNote] = []
    for truth in performance.truth:
        if (truth.id, truth.time) not in onsets:
            continue
        index: tuple[int, ...] = ()
        fits = [
            k
            for k in free
            if abs(heard.notes[k].start - truth.start) < 0.05
            and (not truth.is_grace or abs(heard.notes[k].midi - truth.midi) < 0.5)
        ]
        if truth.deed is not Deed.MISSED and fits:
            nearest = min(fits, key=lambda k: abs(heard.notes[k].start - truth.start))
            free.remove(nearest)
            index = (nearest,)
        start, end = truth.start, truth.end
        if index:
            start, end = heard.notes[index[0]].start, heard.notes[index[0]].end
        found.append(
            FollowedNote(
                truth.id,
                truth.time,
                midis[truth.id] + semitones,
                onsets[truth.id, truth.time],
                lengths[truth.id],
                truth.bar,
                start,
                end,
                index,
                truth.is_grace,
            )
        )
    bars = _bars(performance, found, arrangement)
    whole = Passage(PassageKind.TUNE, 0.0, heard.duration)
    return Following(
        arrangement,
        heard,
        tuple(found),
        bars,
        tuple(sorted(free)),
        (whole,),
        semitones,
        (),
        1.0,
    )


def _bars(
    performance: Performance, notes: list[FollowedNote], arrangement: Arrangement
) -> tuple[FollowedBar, ...]:
    played = unfold(arrangement.tune, arrangement.voice)
    parts = find_parts(played)
    seen: dict[str, int] = {}
    numbered = []
    for part in parts:
        seen[part.letter] = seen.get(part.letter, 0) + 1
        numbered.append((part.onset, part.letter, seen[part.letter]))
    found = []
    for k, (bar, truth) in enumerate(zip(played.bars, performance.bars, strict=True)):
        end = played.bars[k + 1].onset if k + 1 < len(played.bars) else played.length
        inside = [i for i, note in enumerate(notes) if bar.onset <= note.onset < end]
        first, last = (inside[0], inside[-1] + 1) if inside else (0, 0)
        _, letter, time = max((p for p in numbered if p[0] <= bar.onset), default=(0, "", 0))
        found.append(
            FollowedBar(
                bar.bar.index,
                bar.bar.number,
                letter,
                time,
                truth.start,
                truth.end,
                bar.onset,
                end - bar.onset,
                first,
                last,
            )
        )
    return tuple(found)
