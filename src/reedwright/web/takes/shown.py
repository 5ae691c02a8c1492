"""What a page shows of a take that was heard: wave and pitch over the notes, and the report.

All of it is plain values for JSON. Times are seconds from the start of the recording, pitches MIDI
notes times 100 (cents), at the reference pitch that the take is in tune with itself at.

Public: `shown`, `peaks`, `RULES`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from reedwright.pack.site.drawing import inlined
from reedwright.sound.hearing.model import Heard, PitchTrack
from reedwright.sound.recording.blocks import blocks
from reedwright.sound.recording.model import Recording
from reedwright.takes.model import Following
from reedwright.takes.report.model import TakeReport, Verdict
from reedwright.takes.report.phrases import bar_words, cents_words, clock_time, hole_words
from reedwright.takes.report.strips import legend, strips
from reedwright.takes.report.words import sections
from reedwright.takes.work import Listened

RULES = 2
"""Of what is worked out here; another number has every take heard anew."""
MOST_COLUMNS = 24_000  # of the wave
COLUMNS_A_SECOND = 100
MOST_FRAMES = 60_000  # of the pitch
SURE = 0.5  # surety from which on a frame's pitch is drawn
STRIP_WIDTH = 172.0  # mm, as on paper
_RATE = 8_000  # samples a second: enough for the outline of a wave
_FULL = 127


def shown(listened: Listened, following: Following, report: TakeReport) -> dict[str, Any]:
    """Everything for the page of one take."""
    heard = listened.heard
    return {
        "rules": RULES,
        "seconds": round(heard.duration, 3),
        "title": report.title,
        "harp": report.harp.name,
        "fits": report.fits,
        "message": report.message,
        "a4": round(report.a4, 1),
        "wave": peaks(listened.recording, heard.duration),
        "pitch": _pitch(heard.track, heard.a4),
        "notes": _notes(report) if report.fits else _heard_notes(heard),
        "bars": _bars(report),
        "strips": _strips(report) if report.fits else [],
        "useful": [
            {"where": each.where, "what": each.what, "advice": each.advice}
            for each in report.most_useful
        ],
        "well": list(report.went_well),
        "sections": [[heading, items] for heading, items in sections(report)],
        "parts": sorted({bar.part for bar in following.bars if bar.part}),
        "numbers": sorted({bar.number for bar in following.bars}),
        "troubles": [trouble.message for trouble in listened.troubles],
    }


def peaks(recording: Recording, seconds: float) -> dict[str, Any]:
    """The wave's outline: lowest and highest sample of each column, full scale at 127."""
    columns = int(min(MOST_COLUMNS, max(1.0, seconds * COLUMNS_A_SECOND)))
    a_column = seconds / columns * _RATE  # samples
    low = np.zeros(columns, dtype=np.float32)
    high = np.zeros(columns, dtype=np.float32)
    done = 0
    for block in blocks(recording, _RATE, 1):
        samples = block[:, 0]
        at = np.minimum((np.arange(done, done + len(samples)) / a_column).astype(int), columns - 1)
        np.minimum.at(low, at, samples)
        np.maximum.at(high, at, samples)
        done += len(samples)
    return {
        "a_second": columns / seconds if seconds else 0.0,
        "low": np.clip(np.round(low * _FULL), -_FULL, _FULL).astype(int).tolist(),
        "high": np.clip(np.round(high * _FULL), -_FULL, _FULL).astype(int).tolist(),
    }


def _pitch(track: PitchTrack, a4: float) -> dict[str, Any]:
    """Cents frame by frame; 0 where no pitch is heard."""
    step = max(1, -(-len(track.hz) // MOST_FRAMES))
    hz, surety = track.hz[::step], track.surety[::step]
    cents = np.zeros(len(hz), dtype=int)
    heard = (hz > 0) & (surety >= SURE)
    cents[heard] = np.round(6900 + 1200 * np.log2(hz[heard] / a4)).astype(int)
    return {"start": track.start, "hop": track.hop * step, "cents": cents.tolist()}


def _notes(report: TakeReport) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [
        {
            "id": note.id,
            "start": round(note.start, 3),
            "end": round(note.end, 3),
            "cents": 100 * note.midi,
            "name": note.name,
            "way": hole_words(note.sounding) if note.sounding else "",
            "bar": note.place.bar,
            "where": bar_words(note.place.bar),
            "part": note.place.part,
            "verdict": note.verdict.value,
            "off": None if note.cents is None else round(note.cents, 1),
            "words": _words(note.verdict, note.cents),
        }
        for note in report.notes
        if not note.is_grace
    ]
    found += [
        {
            "id": "",
            "start": round(added.start, 3),
            "end": round(added.end, 3),
            "cents": 100 * added.midi,
            "name": added.name,
            "way": "",
            "bar": added.place.bar,
            "where": bar_words(added.place.bar),
            "part": added.place.part,
            "verdict": "added",
            "off": None,
            "words": "your own ornament" if added.is_ornament else "not written",
        }
        for added in report.added
    ]
    return sorted(found, key=lambda note: float(note["start"]))


def _words(verdict: Verdict, cents: float | None) -> str:
    if verdict is Verdict.MISSED:
        return "not heard"
    if verdict is Verdict.WRONG:
        return "another note"
    return "" if cents is None else cents_words(cents)


def _heard_notes(heard: Heard) -> list[dict[str, Any]]:
    """Where the tune does not fit: what was heard, and nothing of the tune."""
    return [
        {
            "id": "",
            "start": round(note.start, 3),
            "end": round(note.end, 3),
            "cents": round(100 * note.midi),
            "name": "",
            "way": "",
            "bar": 0,
            "where": f"at {clock_time(note.start)}",
            "part": "",
            "verdict": "added",
            "off": None,
            "words": "heard",
        }
        for note in heard.notes
    ]


def _bars(report: TakeReport) -> list[dict[str, Any]]:
    return [
        {
            "number": bar.number,
            "part": bar.part,
            "time": bar.part_time,
            "start": round(bar.start, 3),
            "end": round(bar.end, 3),
            "verdict": bar.verdict.value if bar.tells else "",
            "percent": round(bar.percent, 1) if bar.tells else None,
            "late": round(bar.late, 3) if bar.tells else None,
        }
        for bar in report.bars
    ]


def _strips(report: TakeReport) -> list[str]:
    """The report's own pictures, as elements of the page: what the signs mean, then the take."""
    drawn = (legend(STRIP_WIDTH), *strips(report, STRIP_WIDTH))
    return [
        inlined(strip.svg.replace(' role="img"', "", 1), f"s{place}-", strip.words)
        for place, strip in enumerate(drawn)
    ]
