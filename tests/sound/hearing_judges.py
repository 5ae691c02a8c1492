"""How well a recording was heard, by mir_eval's measures (Raffel and others 2014).

Times in seconds, pitches in Hz; onsets may be off by 50 ms, notes by 50 cents, a track by 25.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import mir_eval
import numpy as np
import numpy.typing as npt
from hearing_sample import without_graces
from soundfont_takes import Played, sounded_pitch

from reedwright.sound.hearing.model import Heard, HeardNote

Array64 = npt.NDArray[np.float64]
ONSET_WINDOW = 0.05
CENTS = 25.0
HELD = 0.150  # seconds from which a note is a held one
_GRID = 0.01  # seconds between the moments a track is judged at


class TrackMarks(NamedTuple):
    """`raw`: raw pitch accuracy against what the soundfont sounds, each note coming to its pitch
    as its sample does; `nominal`: against the pitch asked for; voicing recall and false alarm."""

    raw: float
    nominal: float
    recall: float
    false_alarm: float


class NoteMarks(NamedTuple):
    """F, precision and recall of onsets and of notes; note F where graces are left out of what
    was played; graces found and there; onset errors and cents off of held notes that match."""

    onset: tuple[float, float, float]
    note: tuple[float, float, float]
    plain_f: float
    graces: tuple[int, int]
    onset_errors: Array64
    cents: Array64


def track_marks(
    notes: Sequence[Played], duration: float, times: Array64, hz: Array64
) -> TrackMarks:
    """Judge a track; a negative pitch is a guess where nothing was thought to sound."""
    grid = np.arange(0, duration, _GRID)
    asked = np.zeros(len(grid))
    for note in notes:
        asked[(grid >= note.start) & (grid < note.end)] = _hertz(note.midi)
    marks = []
    for truth in (sounded_pitch(notes, grid), asked):
        voicing = mir_eval.melody.to_cent_voicing(grid, truth, times, hz)
        marks.append(mir_eval.melody.raw_pitch_accuracy(*voicing, cent_tolerance=CENTS))
    recall, false_alarm = mir_eval.melody.voicing_measures(voicing[0], voicing[2])
    return TrackMarks(marks[0], marks[1], recall, false_alarm)


def heard_marks(notes: Sequence[Played], heard: Heard) -> tuple[TrackMarks, NoteMarks]:
    """Judge all that was heard."""
    track = track_marks(notes, heard.duration, heard.track.times, heard.track.hz.astype(np.float64))
    return track, note_marks(notes, heard.notes)


def note_marks(notes: Sequence[Played], heard: Sequence[HeardNote]) -> NoteMarks:
    starts = np.array([note.start for note in notes])
    found = np.array([note.start for note in heard])
    f, precision, recall = mir_eval.onset.f_measure(starts, found, window=ONSET_WINDOW)
    spans, pitches = _played(notes)
    heard_spans = np.array([(note.start, note.end) for note in heard]).reshape(-1, 2)
    heard_pitches = np.array([note.hz for note in heard])
    plain, plain_pitches = _played(without_graces(notes))
    p, r, note_f, _ = mir_eval.transcription.precision_recall_f1_overlap(
        spans, pitches, heard_spans, heard_pitches, offset_ratio=None
    )
    plain_f = mir_eval.transcription.precision_recall_f1_overlap(
        plain, plain_pitches, heard_spans, heard_pitches, offset_ratio=None
    )[2]
    pairs = mir_eval.transcription.match_notes(
        spans, pitches, heard_spans, heard_pitches, offset_ratio=None
    )
    held = [(a, b) for a, b in pairs if notes[a].end - notes[a].start >= HELD]
    return NoteMarks(
        (f, precision, recall),
        (note_f, p, r),
        plain_f,
        (sum(notes[a].is_grace for a, _ in pairs), sum(note.is_grace for note in notes)),
        np.array([found[b] - starts[a] for a, b in pairs]),
        np.array([1200 * np.log2(heard_pitches[b] / pitches[a]) for a, b in held]),
    )


def _hertz(midi: float) -> float:
    return float(440 * 2 ** ((midi - 69) / 12))


def _played(notes: Sequence[Played]) -> tuple[Array64, Array64]:
    spans = np.array([(note.start, note.end) for note in notes])
    return spans, np.array([_hertz(note.midi) for note in notes])
