"""What `reedwright tab` and `reedwright harps` give as JSON, and the ranking as text.

The shapes are documented in docs/formats.md.

Public: `arrangement_report`, `ranking_report`, `ranking_text`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from reedwright.harp.model import Harp, Sounding
from reedwright.harp.position import position, position_name
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.ornaments.model import Ornament
from reedwright.tab.ranking import RankedHarp
from reedwright.tab.written import written_notes
from reedwright.tune.model import Grace, Note, Tune
from reedwright.tune.unfold import written_beats

_DECIMALS = 4
"""Of effort per note. Effort itself is exact (a multiple of 1/1024)."""


def arrangement_report(arrangement: Arrangement) -> dict[str, object]:
    """The tab, JSON-ready: one entry for each written note, in order."""
    tune, harp = arrangement.tune, arrangement.harp
    places = written_beats(tune, arrangement.voice)
    where = position(tune.key.tonic_pitch_class, harp)
    return {
        "title": tune.title,
        "number": tune.number,
        "key": tune.key.name,
        "harp": harp_report(harp),
        "position": where,
        "position_name": position_name(where),
        "player": arrangement.player.name,
        "octaves": arrangement.octaves,
        "semitones": arrangement.semitones,
        "quarters_per_minute": arrangement.quarters_per_minute,
        "effort": arrangement.effort,
        "effort_per_note": round(arrangement.effort_per_note, _DECIMALS),
        "effort_parts": dict(arrangement.parts_of_effort),
        "notes_played": arrangement.notes_played,
        "complete": arrangement.complete,
        "warnings": list(arrangement.warnings),
        "missing": [
            {
                "id": missing.id,
                "name": missing.pitch,
                "bar": missing.bar,
                "beat": _beat(missing.beat),
                "advice": missing.advice,
            }
            for missing in arrangement.missing
        ],
        "ornaments": [_ornament(each) for each in arrangement.ornaments],
        "breaths": [
            {
                "id": mark.note_id,
                "bar": mark.bar,
                "reason": mark.reason.value,
                "origin": mark.origin.value,
            }
            for mark in arrangement.breaths
        ],
        "notes": [
            {
                "id": written.note.id,
                "bar": written.bar.number,
                "beat": _beat(places[written.note.id]),
                **_sounded(written.note, written.sounding),
                "tied_on": written.continues,
                "graces": [
                    {"id": grace.id, **_sounded(grace, arrangement.soundings.get(grace.id))}
                    for grace in written.note.graces
                ],
            }
            for written in written_notes(arrangement)
        ],
    }


def _ornament(ornament: Ornament) -> dict[str, object]:
    return {
        "id": ornament.note_id,
        "bar": ornament.bar,
        "kind": ornament.kind.value,
        "origin": ornament.origin.value,
        "outcome": ornament.outcome.value,
        "written": list(ornament.written),
        "touched": [
            {
                "hole": each.hole,
                "breath": each.breath.value,
                "technique": each.technique.value,
                "bend": each.bend,
                "midi": each.midi,
            }
            for each in ornament.touched
        ],
        "why": ornament.why or None,
    }


def _sounded(note: Note | Grace, sounding: Sounding | None) -> dict[str, object]:
    """Pitch and way; the way is null where the harp lacks the note."""
    return {
        "midi": note.pitch.midi,
        "name": note.pitch.name,
        "hole": sounding.hole if sounding else None,
        "breath": sounding.breath.value if sounding else None,
        "technique": sounding.technique.value if sounding else None,
        "bend": sounding.bend if sounding else None,
        "slide": sounding.slide if sounding else None,
    }


def harp_report(harp: Harp) -> dict[str, object]:
    """A harp as it stands in every JSON; the shape is in docs/formats.md."""
    return {
        "name": harp.name,
        "key": harp.key,
        "register": harp.register,
        "tuning": harp.tuning.name,
        "valved_reeds": [
            {"hole": reed.hole, "breath": reed.breath.value} for reed in sorted(harp.isolated)
        ],
    }


def _beat(beat: Fraction) -> float:
    return round(float(beat), _DECIMALS)


def ranking_report(tune: Tune, ranked: Sequence[RankedHarp]) -> dict[str, object]:
    """The ranked harps, JSON-ready, best first."""
    return {
        "title": tune.title,
        "number": tune.number,
        "key": tune.key.name,
        "harps": [
            {
                "rank": rank,
                "harp": harp_report(each.harp),
                "octaves": each.octaves,
                "semitones": each.semitones,
                "position": each.position,
                "position_name": position_name(each.position),
                "effort": each.effort,
                "effort_per_note": round(each.effort_per_note, _DECIMALS),
                "preference": round(each.preference, _DECIMALS),
                "bends": each.bends,
                "overblows": each.overblows,
                "missing": each.missing,
                "other_ornaments": each.other_ornaments,
                "lost_ornaments": each.lost_ornaments,
                "lowest_hole": each.lowest_hole or None,
                "highest_hole": each.highest_hole or None,
                "complete": each.complete,
                "why": each.why,
            }
            for rank, each in enumerate(ranked, start=1)
        ],
    }


def ranking_text(tune: Tune, ranked: Sequence[RankedHarp]) -> str:
    """The ranked harps for a terminal, one a line."""
    lines = [f"{tune.title} ({tune.key.name})", ""]
    if not ranked:
        return "\n".join([*lines, "There is no note to play, or no harp to choose from."])
    width = max(len("harp"), *(len(each.harp.name) for each in ranked))
    count = len(str(len(ranked)))
    lines.append(f"{'':{count}}  {'harp':{width}}  effort a note")
    for rank, each in enumerate(ranked, start=1):
        # Effort that is mostly the penalty for missing notes would only mislead.
        effort = f"{each.effort_per_note:6.2f}" if each.complete else f"{'-':>6}"
        lines.append(f"{rank:{count}}  {each.harp.name:{width}}  {effort}  {each.why}")
    return "\n".join(lines)
