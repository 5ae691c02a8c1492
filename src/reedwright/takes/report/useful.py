"""What would help the player most: the three most useful things, and what went well.

Every kind of finding is gathered where it comes from one cause (the same note in each repeat,
the same bend, the same bar) and given a weight: how many notes or bars would be better if
that one thing were practised, repeated faults counting more, since they are in the fingers
(judgement, no source). Nothing is said of what a listener would hardly notice.

Public: `most_useful`, `went_well`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from reedwright.harp.model import Sounding, Technique
from reedwright.tab.words import bars_text, counted, listed, number_word
from reedwright.takes.report.model import (
    Advice,
    BarVerdict,
    BendVerdict,
    JudgedNote,
    TakeReport,
    Verdict,
)
from reedwright.takes.report.phrases import bar_words, cents_words, hole_words, instead_words, where

MOST = 3
AGAIN = 1.6  # a fault that comes back weighs so much more for each time
NOTABLE_DRIFT, NOTABLE_UNSTEADINESS = 8.0, 4.0  # percent
STEADY_ENOUGH = 2.5  # percent
GRACES_MISSED = 0.5  # share of the written grace notes


def most_useful(report: TakeReport) -> tuple[Advice, ...]:
    """At most three, the most useful first; none where all is fine."""
    found = [
        *_wrong(report),
        *_missed(report),
        *_bends(report),
        *_bars(report),
        *_tempo(report),
        *_added(report),
        *_reeds(report),
        *_graces(report),
    ]
    return tuple(sorted(found, key=lambda advice: -advice.weight)[:MOST])


def _again(count: int) -> float:
    return count if count < 2 else AGAIN * count


def _wrong(report: TakeReport) -> Iterator[Advice]:
    groups: dict[tuple[str, int | None], list[JudgedNote]] = defaultdict(list)
    for note in report.with_verdict(Verdict.WRONG):
        groups[note.id, note.heard_midi].append(note)
    for notes in groups.values():
        first = notes[0]
        heard = _name(report, first)
        every = " each time" if len(notes) > 1 and len(notes) == _times(report, first) else ""
        yield Advice(
            what=f"{heard} instead of {first.name}{every}; {instead_words(first)}.",
            where=where([note.place for note in notes]),
            advice=_practise_wrong(first),
            bars=tuple(sorted({note.place.bar for note in notes})),
            weight=3.0 * _again(len(notes)),
        )


def _times(report: TakeReport, note: JudgedNote) -> int:
    return sum(other.id == note.id for other in report.notes)


def _name(report: TakeReport, note: JudgedNote) -> str:
    from reedwright.harp.layout import note_name

    return "another note" if note.heard_midi is None else note_name(note.heard_midi, report.harp)


def _practise_wrong(note: JudgedNote) -> str:
    meant, made = note.sounding, note.instead
    if meant is None:
        return "The tab has no hole for this note; choose another harp or leave it out."
    if made is not None and meant.hole == made.hole and meant.breath is made.breath:
        return (
            "Play the note by itself until you know how it sounds, then come to it from the note "
            "before, slowly."
        )
    if made is not None and meant.hole == made.hole:
        return f"Say the breath to yourself there: {meant.breath.value}. Play up to it slowly."
    return f"Play only the note before and {hole_words(meant)}, to and fro, until the way is sure."


def _missed(report: TakeReport) -> Iterator[Advice]:
    groups: dict[str, list[JudgedNote]] = defaultdict(list)
    for note in report.with_verdict(Verdict.MISSED):
        groups[note.id].append(note)
    for notes in groups.values():
        first = notes[0]
        every = " each time" if len(notes) > 1 and len(notes) == _times(report, first) else ""
        on = f" ({hole_words(first.sounding)})" if first.sounding else ""
        yield Advice(
            what=f"{first.name}{on} was not heard{every}.",
            where=where([note.place for note in notes]),
            advice="Play the bar at half speed, every note tongued, then faster by small steps.",
            bars=tuple(sorted({note.place.bar for note in notes})),
            weight=2.5 * _again(len(notes)),
        )


def _bends(report: TakeReport) -> Iterator[Advice]:
    groups: dict[Sounding, list[tuple[float, JudgedNote, BendVerdict]]] = defaultdict(list)
    for bend in report.bends:
        note = report.notes[bend.note]
        if note.sounding is not None:
            groups[note.sounding].append((bend.settled, note, bend.verdict))
    for way, all_ in groups.items():
        off = [each for each in all_ if each[2] is not BendVerdict.REACHED]
        if not off:
            continue
        cents = float(np.median([each[0] for each in off]))
        share = ""
        if len(all_) > 1:
            every = len(off) == len(all_)
            share = ", each time" if every else f", {len(off)} of {len(all_)} times"
        over = way.technique.overbend
        what = "overbend" if over else "bend"
        yield Advice(
            what=f"The {what} on {hole_words(way)} stays {cents_words(cents)}{share}.",
            where=where([note.place for _, note, _ in off]),
            advice=_practise_bend(way, cents),
            bars=tuple(sorted({note.place.bar for _, note, _ in off})),
            weight=_again(len(off)) * min(3.0, abs(cents) / 15),
        )


def _practise_bend(way: Sounding, cents: float) -> str:
    if way.technique.overbend:
        return "Hold it long against a drone of the note until it settles there by itself."
    if cents > 0:
        return (
            "Bend further: hold the note against a drone and sink until the beats stop, then "
            "begin it there."
        )
    return "Bend a little less: hold the note against a drone and let it rise until the beats stop."


def _bars(report: TakeReport) -> Iterator[Advice]:
    groups: dict[tuple[int, BarVerdict], list[float]] = defaultdict(list)
    for bar in report.bars:
        if bar.verdict is not BarVerdict.STEADY:
            groups[bar.number, bar.verdict].append(bar.percent)
    late: dict[tuple[int, BarVerdict], list[float]] = defaultdict(list)
    for bar in report.bars:
        late[bar.number, bar.verdict].append(bar.late)
    for (number, verdict), percents in groups.items():
        share = float(np.median(percents))
        played = sum(bar.number == number for bar in report.bars)
        times = _times_words(len(percents), played)
        length = abs(float(np.median(late[number, verdict])))
        long = f"{length * 1000:.0f} ms" if length < 1 else f"{length:.1f} s"
        if verdict is BarVerdict.STOPPED:
            what = f"You stopped{times}."
        elif verdict is BarVerdict.DRAGGED:
            what = f"It drags{times}: {share:.0f} percent longer than"
            what += f" the bars around it ({long})."
        else:
            what = f"It is rushed{times}: {-share:.0f} percent shorter"
            what += f" than the bars around it ({long})."
        yield Advice(
            what=what,
            where=bar_words(number),
            advice=_practise_bar(report, number, verdict),
            bars=(number,),
            weight=_again(len(percents)) * min(5.0, abs(share) / 6),
        )


def _times_words(count: int, played: int) -> str:
    """How often, of the times that the bar was played."""
    if count < 2:
        return ""
    if count == played:
        return " both times" if count == 2 else " every time"
    return f" {'twice' if count == 2 else f'{number_word(count)} times'} of {number_word(played)}"


def _practise_bar(report: TakeReport, number: int, verdict: BarVerdict) -> str:
    if verdict is BarVerdict.RUSHED:
        return "Play it with a click on each beat and let the long notes have their full length."
    ways: dict[str, Sounding] = {}  # by note, so that each stands once however often it is played
    for note in report.notes:
        if note.place.bar == number and not note.is_grace and note.sounding:
            ways.setdefault(note.id, note.sounding)
    move = _hardest_move(list(ways.values()))
    if move is None:
        return "Play it in a loop with the bar before, slowly enough that it does not slow down."
    one, two = move
    return (
        f"The move from {hole_words(one)} to {hole_words(two)} is the hardest there: play only "
        "these two in time, then the bar, then with the bar before."
    )


def _hardest_move(ways: Sequence[Sounding]) -> tuple[Sounding, Sounding] | None:
    def effort(pair: tuple[Sounding, Sounding]) -> float:
        one, two = pair
        cost = float(abs(one.hole - two.hole))
        cost += 0.7 * (one.breath is not two.breath and one.hole != two.hole)
        return cost + 1.5 * (two.technique is not Technique.NATURAL)

    moves = [pair for pair in pairwise(ways) if effort(pair) >= 2]
    return max(moves, key=effort, default=None)


def _tempo(report: TakeReport) -> Iterator[Advice]:
    tempo = report.tempo
    if tempo is None:
        return
    if abs(tempo.drift) >= NOTABLE_DRIFT:
        faster = tempo.drift > 0
        yield Advice(
            what=f"The tune gets {'faster' if faster else 'slower'} as it goes: by "
            f"{abs(tempo.drift):.0f} percent from the beginning to the end.",
            where="all through",
            advice="Begin at the tempo in which the hardest bar is easy, with a click at first."
            if faster
            else "Begin a little slower, at a tempo that you can keep to the end.",
            bars=(),
            weight=abs(tempo.drift) / 3,
        )
    if tempo.unsteadiness >= NOTABLE_UNSTEADINESS:
        yield Advice(
            what=f"The bars are uneven in length, by {tempo.unsteadiness:.0f} percent on average.",
            where="all through",
            advice="Tap your foot, or play along with a click at a comfortable tempo.",
            bars=(),
            weight=tempo.unsteadiness,
        )


def _added(report: TakeReport) -> Iterator[Advice]:
    extra = [note for note in report.added if not note.is_ornament]
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for k, note in enumerate(extra):
        groups[note.place.bar, note.midi].append(k)
    for indices in groups.values():
        first = extra[indices[0]]
        yield Advice(
            what=f"There is {with_a(first.name)} that is not written.",
            where=where([extra[k].place for k in indices]),
            advice="If you meant it, keep it; else play the bar slowly and listen for it.",
            bars=(first.place.bar,),
            weight=1.5 * _again(len(indices)),
        )


def with_a(name: str) -> str:
    """`an A4`, `a G4`."""
    return f"{'an' if name[0] in 'AEF' else 'a'} {name}"


def _reeds(report: TakeReport) -> Iterator[Advice]:
    for reed in report.reeds:
        if not reed.is_off:
            continue
        yield Advice(
            what=f"Hole {reed.hole} {reed.breath.value} ({reed.name}) is {cents_words(reed.cents)} "
            f"every time. That is the harp, not you.",
            where=counted(reed.count, "note"),
            advice="Have the reed tuned; until then it is no matter of practice.",
            bars=(),
            weight=min(4.0, abs(reed.cents) / 10),
        )


def _graces(report: TakeReport) -> Iterator[Advice]:
    ornaments = report.ornaments
    if not ornaments.written or len(ornaments.left_out) < GRACES_MISSED * ornaments.written:
        return
    if len(ornaments.left_out) == ornaments.written and not ornaments.own:
        what = "The written grace notes were not played, or too lightly to be heard."
    else:
        what = f"Of {ornaments.written} written grace notes {ornaments.played} were heard."
    bars = sorted({report.notes[k].place.bar for k in ornaments.left_out})
    yield Advice(
        what=what,
        where=bars_text(bars),
        advice="The quickest may have been played and not heard. The tune stands without them; "
        "add one at a time, where it comes easily.",
        bars=tuple(bars),
        weight=1.0,
    )


def went_well(report: TakeReport) -> tuple[str, ...]:
    """What may be left as it is, in whole sentences."""
    said = []
    notes = [note for note in report.notes if not note.is_grace]
    right = sum(note.verdict is Verdict.PLAYED for note in notes)
    if notes and right == len(notes):
        said.append(f"All {len(notes)} notes are there and right.")
    elif notes and right >= 0.9 * len(notes):
        said.append(f"{right} of {len(notes)} notes are there and right.")
    tempo = report.tempo
    if tempo is not None and tempo.unsteadiness <= STEADY_ENOUGH:
        steady = abs(tempo.drift) < NOTABLE_DRIFT / 2
        said.append(
            "The tempo is steady from beginning to end."
            if steady
            else "From bar to bar the tempo is steady."
        )
    bends = report.bends
    reached = sum(bend.verdict is BendVerdict.REACHED for bend in bends)
    if bends and reached == len(bends) and not _on_another_harp(report):
        said.append(f"Every bend reaches its note ({counted(len(bends), 'bend')}).")
    ornaments = report.ornaments
    if ornaments.written and not ornaments.left_out:
        which = {1: "The", 2: "Both"}.get(ornaments.written, f"All {ornaments.written}")
        are = "note is" if ornaments.written == 1 else "notes are"
        said.append(f"{which} written grace {are} played.")
    if ornaments.own:
        names = listed(_bars_of_own(report))
        said.append(f"{counted(len(ornaments.own), 'ornament')} of your own ({names}).")
    return tuple(said)


def _on_another_harp(report: TakeReport) -> bool:
    """What the tab bends may have been plain notes: a harp other than the tab's is likelier."""
    found = report.harp_found
    if found is None or not found.candidates:
        return False
    first = found.candidates[0].harp
    return (first.key, first.tuning.name) != (report.harp.key, report.harp.tuning.name)


def _bars_of_own(report: TakeReport) -> list[str]:
    return [bars_text({report.added[k].place.bar for k in report.ornaments.own})]
