"""From what was heard to the notes of the tune: talk left out, cuts joined to their notes.

Public: `strokes_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log2
from statistics import median

from reedwright.sound.hearing.model import Heard, HeardNote
from reedwright.takes.transcribing.model import Stroke

# All numbers here are our own judgement, tried on soundfont takes of other tunes.
LONGEST_PAUSE = 3.0  # seconds of silence that end the tune
LEAST_SURETY = 0.25  # below it a note is taken for noise
FARTHEST = 30  # semitones from the middle of the tune; beyond it is noise
LONGEST_CUT, SHORTEST_LIMIT = 0.07, 0.045  # seconds
CUT_OF_TYPICAL = 0.45  # a cut is shorter than this share of the usual note
JOINED = 0.03  # seconds that may lie between a cut and its note
LONGER = 1.5  # how much longer than its cut a note must be
MOST_CUTS = 3  # before one note; more quick notes than these are a run
SPLIT = 0.035  # seconds: a shorter piece of the same pitch belongs to its neighbour


def strokes_of(heard: Heard) -> list[Stroke]:
    """The notes of the tune by start, each with the cuts before it."""
    reference = 12 * log2(heard.a4 / 440) if heard.a4 > 0 else 0.0
    notes = sorted(
        (n for n in heard.notes if n.hz > 0 and n.end > n.start and n.surety >= LEAST_SURETY),
        key=lambda n: n.start,
    )
    sounds = [(note, round(note.midi - reference)) for note in _the_tune(notes)]
    if not sounds:
        return []
    middle = median(midi for _, midi in sounds)
    near = [(n, m) for n, m in sounds if abs(m - middle) <= FARTHEST and 0 < m < 127]
    return _with_cuts(_joined(near))


def _the_tune(notes: Sequence[HeardNote]) -> list[HeardNote]:
    """The stretch without long silence that has most playing in it."""
    stretches: list[list[HeardNote]] = []
    for note in notes:
        if stretches and note.start - stretches[-1][-1].end <= LONGEST_PAUSE:
            stretches[-1].append(note)
        else:
            stretches.append([note])
    return max(stretches, key=lambda s: sum(n.seconds * n.surety for n in s), default=[])


def _joined(sounds: Sequence[tuple[HeardNote, int]]) -> list[Stroke]:
    """Splinters of a note joined to it."""
    found: list[Stroke] = []
    for note, midi in sounds:
        last = found[-1] if found else None
        if last is not None and last.midi == midi and note.start - last.end < JOINED:
            splinter = min(note.seconds, last.end - last.start) < SPLIT
            if splinter and note.attack < 0.5:
                found[-1] = last._replace(end=note.end, level=max(last.level, note.level))
                continue
        found.append(Stroke(note.start, note.end, midi, (), note.level, note.surety))
    return found


def _with_cuts(strokes: Sequence[Stroke]) -> list[Stroke]:
    steps = [b.start - a.start for a, b in pairwise(strokes)]
    if not steps:
        return list(strokes)
    limit = max(SHORTEST_LIMIT, min(LONGEST_CUT, CUT_OF_TYPICAL * median(steps)))
    found: list[Stroke] = []
    cuts: list[Stroke] = []
    for k, stroke in enumerate(strokes):
        following = strokes[k + 1] if k + 1 < len(strokes) else None
        step = steps[k] if following else stroke.end - stroke.start
        is_cut = (
            following is not None
            and step < limit
            and following.start - stroke.end < JOINED
            and len(cuts) < MOST_CUTS
            and _leads_to_longer(strokes, steps, k)
        )
        if is_cut:
            cuts.append(stroke)
            continue
        if len(cuts) == 1 and cuts[0].midi == stroke.midi:
            cuts = []
        start = cuts[0].start if cuts else stroke.start
        found.append(stroke._replace(start=start, graces=tuple(c.midi for c in cuts)))
        cuts = []
    return found


def _leads_to_longer(strokes: Sequence[Stroke], steps: Sequence[float], k: int) -> bool:
    """Whether within a few notes a clearly longer one comes."""
    for j in range(k + 1, min(k + 1 + MOST_CUTS, len(strokes))):
        step = steps[j] if j < len(steps) else strokes[j].end - strokes[j].start
        if step > LONGER * steps[k]:
            return True
    return False
