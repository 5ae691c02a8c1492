"""The report as values ready for JSON; docs/take-report.md describes them.

Public: `report_json`.
"""

from __future__ import annotations

from fractions import Fraction

from reedwright.harp.model import Sounding
from reedwright.tab.notation import TabStyle, tab_sign
from reedwright.tab.report import harp_report
from reedwright.takes.report.model import (
    AddedNote,
    HarpFound,
    JudgedNote,
    Place,
    TakeReport,
)

FORMAT = 1  # of this JSON; raised when a field changes its meaning


def report_json(report: TakeReport) -> dict[str, object]:
    """All of the report. Seconds to the millisecond, cents to the tenth."""
    following = report.following
    head: dict[str, object] = {
        "format": FORMAT,
        "title": report.title,
        "fits": report.fits,
        "message": report.message,
        "sureness": round(following.sureness, 3),
        "reference_pitch_hz": round(report.a4, 2),
        "temperament": report.temperament.name,
        "harp": harp_report(report.harp),
        "semitones_from_tab": following.semitones,
        "passages": [
            {"kind": p.kind.value, "start": _s(p.start), "end": _s(p.end)}
            for p in following.passages
        ],
        "as_played": list(following.skipped),
    }
    if not report.fits:
        return head
    return head | {
        "most_useful": [
            {"what": a.what, "where": a.where, "advice": a.advice, "bars": list(a.bars)}
            for a in report.most_useful
        ],
        "went_well": list(report.went_well),
        "tempo": _tempo(report),
        "lilt": _lilt(report),
        "bars": [
            {
                "bar": bar.number,
                "part": bar.part,
                "part_time": bar.part_time,
                "start": _s(bar.start),
                "end": _s(bar.end),
                "quarters_per_minute": round(bar.tempo, 2),
                "late_seconds": _s(bar.late),
                "late_percent": round(bar.percent, 1),
                "offset_seconds": _s(bar.offset),
                "verdict": bar.verdict.value,
            }
            for bar in report.bars
        ],
        "notes": [_note(note) for note in report.notes],
        "added": [_added(note) for note in report.added],
        "bends": [
            {
                "note": bend.note,
                "verdict": bend.verdict.value,
                "settled_cents": _c(bend.settled),
                "wander_cents": _c(bend.wander),
                "scoop_cents": _c(bend.scoop),
            }
            for bend in report.bends
        ],
        "reeds": [
            {
                "hole": reed.hole,
                "breath": reed.breath.value,
                "pitch": reed.name,
                "cents": _c(reed.cents),
                "spread_cents": _c(reed.spread),
                "notes": reed.count,
                "out_of_tune": reed.is_off,
            }
            for reed in report.reeds
        ],
        "ornaments": {
            "written": report.ornaments.written,
            "played": report.ornaments.played,
            "left_out": list(report.ornaments.left_out),
            "own": list(report.ornaments.own),
        },
        "harp_found": _found(report.harp_found),
    }


def _s(seconds: float) -> float:
    return round(float(seconds), 3)


def _c(cents: float) -> float:
    return round(float(cents), 1)


def _fraction(value: Fraction) -> str:
    return str(value)


def _place(place: Place) -> dict[str, object]:
    return {
        "bar": place.bar,
        "beat": _fraction(place.beat),
        "part": place.part,
        "part_time": place.part_time,
    }


def _way(way: Sounding | None) -> dict[str, object] | None:
    if way is None:
        return None
    return {
        "tab": tab_sign(way, TabStyle.SIGNS),
        "hole": way.hole,
        "breath": way.breath.value,
        "technique": way.technique.value,
        "bend": way.bend,
    }


def _note(note: JudgedNote) -> dict[str, object]:
    return {
        "id": note.id,
        "time": note.time,
        **_place(note.place),
        "grace": note.is_grace,
        "start": _s(note.start),
        "end": _s(note.end),
        "pitch": note.name,
        "midi": note.midi,
        "way": _way(note.sounding),
        "verdict": note.verdict.value,
        "heard_midi": note.heard_midi,
        "cents": None if note.cents is None else _c(note.cents),
        "instead": _way(note.instead),
    }


def _added(note: AddedNote) -> dict[str, object]:
    return {
        **_place(note.place),
        "start": _s(note.start),
        "end": _s(note.end),
        "pitch": note.name,
        "midi": note.midi,
        "ornament": note.is_ornament,
    }


def _tempo(report: TakeReport) -> dict[str, object] | None:
    tempo = report.tempo
    if tempo is None:
        return None
    return {
        "quarters_per_minute": round(tempo.quarters_per_minute, 2),
        "beat": _fraction(tempo.beat),
        "beats_per_minute": round(tempo.beats_per_minute, 2),
        "unsteadiness_percent": round(tempo.unsteadiness, 2),
        "drift_percent": round(tempo.drift, 2),
    }


def _lilt(report: TakeReport) -> dict[str, object] | None:
    lilt = report.lilt
    if lilt is None:
        return None
    return {
        "ratio": round(lilt.ratio, 3),
        "spread": round(lilt.spread, 3),
        "pairs": lilt.pairs,
        "unit": _fraction(lilt.unit),
    }


def _found(found: HarpFound | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "words": found.words,
        "key_sureness": found.key_sureness.value,
        "tuning_sureness": found.tuning_sureness.value,
        "candidates": [
            {
                **harp_report(each.harp),
                "probability": round(each.probability, 3),
                "notes_missing": each.missing,
                "effort_per_note": round(each.effort_per_note, 3),
                "bends": each.bends,
                "why": each.why,
            }
            for each in found.candidates
        ],
    }
