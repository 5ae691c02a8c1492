"""A take judged: everything that the report tells, found from a take followed.

Public: `judge`.
"""

from __future__ import annotations

from reedwright.harp.temperament import EQUAL
from reedwright.takes.model import LEAST_SURENESS, Following
from reedwright.takes.report.bends import judged_bends
from reedwright.takes.report.harps import moved_harp, played_harp
from reedwright.takes.report.model import AddedNote, JudgedNote, OrnamentsFound, TakeReport, Verdict
from reedwright.takes.report.notes import added_notes, judged_notes
from reedwright.takes.report.pitches import own_reference, reed_pitches
from reedwright.takes.report.timing import bar_timings, lilt_found, tempo_found
from reedwright.takes.report.useful import most_useful, went_well
from reedwright.workshop.targets.finding import find_reed_temperament
from reedwright.workshop.targets.temperaments import ReedTemperament

# Nothing is judged where the take does not fit the tune (`LEAST_SURENESS`), nor where so little of
# the tune (of its notes once through) and of what was heard was followed that it may be chance:
# any two tunes have a bar or two alike.
LEAST_OF_TUNE, LEAST_OF_HEARD = 0.5, 0.34


def judge(following: Following, temperament: ReedTemperament | str = EQUAL) -> TakeReport:
    """The report on a take. `temperament` is what the harp is tuned to, or its name or file.

    Raises `UnknownTemperament`, `TemperamentError`.
    """
    tempered = find_reed_temperament(temperament) if isinstance(temperament, str) else temperament
    arrangement = following.arrangement
    harp = moved_harp(arrangement.harp, following.semitones)
    if not _fits(following):
        return TakeReport(following, False, _misfit(following), following.heard.a4, tempered, harp)
    soundings = {
        id_: way._replace(midi=way.midi + following.semitones)
        for id_, way in arrangement.soundings.items()
    }
    pitching = own_reference(following, soundings, harp, tempered)
    notes, used = judged_notes(following, soundings, pitching)
    added = added_notes(following, used, pitching)
    bars = bar_timings(following, notes)
    report = TakeReport(
        following=following,
        fits=True,
        message="",
        a4=pitching.a4,
        temperament=tempered,
        harp=harp,
        notes=notes,
        added=added,
        bends=judged_bends(notes, following.heard.track, pitching),
        reeds=reed_pitches(notes),
        bars=bars,
        tempo=tempo_found(following, bars),
        lilt=lilt_found(following, notes),
        ornaments=_ornaments(notes, added),
        harp_found=played_harp(following),
    )
    return _with_words(report)


def _with_words(report: TakeReport) -> TakeReport:
    from dataclasses import replace

    return replace(report, most_useful=most_useful(report), went_well=went_well(report))


def _fits(following: Following) -> bool:
    if following.sureness < LEAST_SURENESS or not following.notes:
        return False
    arrangement = following.arrangement
    once = sum(1 for _ in arrangement.tune.voices[arrangement.voice].notes)
    used = {k for note in following.notes for k in note.heard}
    little_tune = len({note.id for note in following.notes}) < LEAST_OF_TUNE * once
    return not (little_tune and len(used) < LEAST_OF_HEARD * len(following.heard.notes))


def _misfit(following: Following) -> str:
    title = following.arrangement.tune.title
    return (
        f"What was played does not fit {title} well enough to be judged note by note. Is it this "
        "tune, and this version of it? If so, a recording nearer to the harp and without other "
        "instruments helps most."
    )


def _ornaments(notes: tuple[JudgedNote, ...], added: tuple[AddedNote, ...]) -> OrnamentsFound:
    graces = [(k, note) for k, note in enumerate(notes) if note.is_grace]
    left_out = tuple(k for k, note in graces if note.verdict is Verdict.MISSED)
    own = tuple(k for k, note in enumerate(added) if note.is_ornament)
    return OrnamentsFound(len(graces) - len(left_out), len(graces), left_out, own)
