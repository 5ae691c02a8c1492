"""A take followed along its tune: every written note's time, whatever the player did.

Public: `follow`.
"""

from __future__ import annotations

from collections.abc import Sequence as Several
from fractions import Fraction
from itertools import pairwise
from math import log2

import numpy as np

from reedwright.sound.hearing.model import Heard
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.following.bridges import bridges, without_strays
from reedwright.takes.following.likeness import Votes, fullest, likely_semitones, paces, votes
from reedwright.takes.following.music import Music, make_music
from reedwright.takes.following.passages import REST, STRAY_NOTES, Stretch, make_passages
from reedwright.takes.following.path import Path, Sequence, find_path
from reedwright.takes.following.placing import Placed, PlacedBar, place_music
from reedwright.takes.following.played import PlayedBar
from reedwright.takes.following.rounds import Rounds, make_rounds
from reedwright.takes.following.score import Score, make_score
from reedwright.takes.following.sureness import sureness_of
from reedwright.takes.following.swing import swing_of, swung
from reedwright.takes.model import FollowedBar, FollowedNote, Following
from reedwright.tune.tempo import quarters_per_minute

_TRIED_NOTES = 240  # heard notes on which transpositions are compared
_CENTRED = 0.08  # semitones that a take may lie beside its own A before it is followed anew


def follow(arrangement: Arrangement, heard: Heard) -> Following:
    """Find the written notes of `arrangement.tune` in what was heard.

    A take in which nothing fits gives a following without notes and a `sureness` near 0.
    Raises `EndlessTune` (see `unfold`).
    """
    score = make_score(arrangement)
    if not heard.notes or not score.places:
        return _nothing(arrangement, heard)
    usual = 60.0 / quarters_per_minute(arrangement.tune)
    plain = _sequence(heard, usual)
    found = votes(
        score, plain.midi.astype(np.float64), plain.start, plain.seconds.astype(np.float64)
    )
    semitones = _semitones(score, plain, found, usual)
    sequence = plain._replace(pace=paces(found, semitones, plain.start, usual).astype(np.float32))
    path = find_path(score, sequence, semitones)
    above = semitones + _beside(score, sequence, path, semitones)
    late = swing_of(score, path.matches, sequence.start)
    if late is not None or abs(above - semitones) > _CENTRED:
        quarters = None if late is None else swung(score, late)
        path = find_path(score, sequence, above, quarters)
    joins = bridges(score, path.matches, sequence, above)
    ends = sequence.start + sequence.seconds
    path, joins = without_strays(path, joins, sequence.start)
    music = make_music(score, path.matches, joins, sequence.start, ends)
    if not music.bars:
        return _nothing(arrangement, heard)
    return _following(arrangement, heard, score, sequence, path, music, semitones, usual)


def _sequence(heard: Heard, pace: float) -> Sequence:
    notes = heard.notes
    above = 12 * log2(heard.a4 / 440)
    return Sequence(
        np.array([note.midi - above for note in notes], dtype=np.float32),
        np.array([note.start for note in notes], dtype=np.float64),
        np.array([note.seconds for note in notes], dtype=np.float32),
        np.array([note.surety for note in notes], dtype=np.float32),
        np.full(len(notes), pace, dtype=np.float32),
    )


def _semitones(score: Score, heard: Sequence, found: Votes, usual: float) -> int:
    """How far above what is written the take lies: the likely ones are tried on part of it."""
    likely = likely_semitones(
        found, score, heard.midi.astype(np.float64), heard.seconds.astype(np.float64)
    )
    if len(likely) == 1:
        return likely[0]
    gains = []
    for semitones in likely:
        where = fullest(found, semitones, heard.start, _TRIED_NOTES)
        pace = paces(found, semitones, heard.start, usual).astype(np.float32)
        path = find_path(score, heard._replace(pace=pace).part(where), semitones)
        gains.append(path.outside - path.cost)
    return likely[int(np.argmax(gains))]


def _beside(score: Score, heard: Sequence, path: Path, semitones: int) -> float:
    """How far the matched notes lie beside the take's own A, in semitones: the median."""
    off = [
        float(heard.midi[match.heard] - score.midi[match.place]) - semitones
        for match in path.matches
    ]
    near = [each for each in off if abs(each) < 0.7]
    return float(np.median(near)) if len(near) >= 8 else 0.0


def _nothing(arrangement: Arrangement, heard: Heard) -> Following:
    return Following(
        arrangement=arrangement,
        heard=heard,
        notes=(),
        bars=(),
        extra=(),
        passages=make_passages(heard, [], []),
        semitones=0,
        skipped=(),
        sureness=0.0,
    )


def _following(
    arrangement: Arrangement,
    heard: Heard,
    score: Score,
    sequence: Sequence,
    path: Path,
    music: Music,
    semitones: int,
    usual: float,
) -> Following:
    stretches = _stretches(heard, music.bars)
    matched = {k for bar in music.bars for k in bar.heard}
    added = [
        k
        for each in stretches
        for k in range(each.first, each.last + 1)
        if k not in matched and not any(b.first <= k <= b.last for b in music.broken)
    ]
    placed, placed_bars = place_music(score, music.bars, heard, added, usual)
    rounds = make_rounds(score, music.bars)
    notes = _notes(score, placed, rounds, semitones, music.bars)
    played = {k for note in notes for k in note.heard}
    extra = tuple(k for k in added if k not in played)
    return Following(
        arrangement=arrangement,
        heard=heard,
        notes=notes,
        bars=_bars(score, music.bars, placed_bars, rounds),
        extra=extra,
        passages=make_passages(heard, stretches, music.broken),
        semitones=semitones,
        skipped=rounds.skipped,
        sureness=sureness_of(sequence, path),
    )


def _stretches(heard: Heard, bars: Several[PlayedBar]) -> list[Stretch]:
    """Where the tune sounds: a stop, or more than a stray note between, ends a stretch."""
    indices = [k for bar in bars for k in bar.heard]
    firsts, lasts = [indices[0]], []
    for one, two in pairwise(indices):
        gap = heard.notes[two].start - heard.notes[one].end
        if gap > REST or (two - one - 1 > STRAY_NOTES and _different_runs(bars, one, two)):
            lasts.append(one)
            firsts.append(two)
    lasts.append(indices[-1])
    return [
        Stretch(first, last, float(heard.notes[first].start), float(heard.notes[last].end))
        for first, last in zip(firsts, lasts, strict=True)
    ]


def _different_runs(bars: Several[PlayedBar], one: int, two: int) -> bool:
    run_of = {k: bar.run for bar in bars for k in bar.heard if k in (one, two)}
    return run_of[one] != run_of[two]


def _notes(
    score: Score,
    placed: Several[Placed],
    rounds: Rounds,
    semitones: int,
    bars: Several[PlayedBar],
) -> tuple[FollowedNote, ...]:
    times: dict[str, int] = {}
    found: list[FollowedNote] = []
    for each in placed:
        place = score.places[each.place]
        times[place.id] = times.get(place.id, 0) + 1
        found.append(
            FollowedNote(
                id=place.id,
                time=times[place.id],
                midi=place.midi + semitones,
                onset=each.onset,
                length=place.length + _held(score, each, bars),
                bar=place.bar,
                start=each.start,
                end=each.end,
                heard=each.heard,
                is_grace=place.is_grace,
                round=rounds.rounds[each.bar],
            )
        )
    return tuple(found)


def _held(score: Score, placed: Placed, bars: Several[PlayedBar]) -> Fraction:
    """How long a note is held into the bars after its own, in quarters."""
    place = score.places[placed.place]
    length = Fraction(0)
    if place.is_grace or place.offset + place.length != score.lengths[place.bar]:
        return length
    for bar in bars[placed.bar + 1 :]:
        length += score.held_on[bar.bar]
        if score.held_on[bar.bar] != score.lengths[bar.bar]:
            break
    return length


def _bars(
    score: Score, bars: Several[PlayedBar], placed: Several[PlacedBar], rounds: Rounds
) -> tuple[FollowedBar, ...]:
    return tuple(
        FollowedBar(
            index=bar.bar,
            number=score.bars[bar.bar].number,
            part=rounds.letters[k],
            part_time=rounds.times[k],
            start=where.start,
            end=where.end,
            onset=where.onset,
            length=where.length,
            first=where.first,
            last=where.last,
            round=rounds.rounds[k],
            whole=bar.whole,
        )
        for k, (bar, where) in enumerate(zip(bars, placed, strict=True))
    )
