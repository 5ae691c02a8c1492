"""The report in plain words, for a terminal.

Public: `report_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from reedwright.tab.words import counted, ordinal_word
from reedwright.takes.report.model import (
    BarVerdict,
    BendVerdict,
    JudgedNote,
    LiltFound,
    TakeReport,
    TempoFound,
    Verdict,
)
from reedwright.takes.report.phrases import (
    bar_words,
    cents_words,
    clock_time,
    hole_words,
    instead_words,
    place_words,
)

NARROWEST = 40
MOST_LISTED = 12


def report_text(report: TakeReport, width: int = 80) -> str:
    """The whole report, lines no longer than `width` letters, without a last line end."""
    lines: list[str] = []

    def say(text: str, indent: str = "", first: str | None = None) -> None:
        lines.extend(
            textwrap.wrap(
                text,
                max(width, NARROWEST),
                initial_indent=indent if first is None else first,
                subsequent_indent=indent,
            )
        )

    say(f"{report.title}: your take")
    lines.append("")
    if not report.fits:
        say(report.message)
        return "\n".join(lines)
    if report.most_useful:
        say("Most useful:")
        for number, advice in enumerate(report.most_useful, start=1):
            say(f"{advice.where}: {advice.what}", "     ", f"  {number}. ")
            say(advice.advice, "     ")
    else:
        say("Nothing needs work: play on.")
    if report.went_well:
        lines.append("")
        say("Went well:")
        for sentence in report.went_well:
            say(sentence, "    ", "  - ")
    for heading, items in sections(report):
        lines.append("")
        say(f"{heading}:")
        for item in items[:MOST_LISTED]:
            say(item, "    ", "  - ")
        if len(items) > MOST_LISTED:
            say(f"and {len(items) - MOST_LISTED} more; all stand in the JSON.", "    ")
    return "\n".join(lines)


def sections(report: TakeReport) -> list[tuple[str, list[str]]]:
    """Headings with what stands under each, whole sentences; empty ones are left out."""
    found = [
        ("Tempo", list(_tempo(report))),
        ("Notes", list(_notes(report))),
        ("Pitch", list(_pitch(report))),
        ("Timing", list(_timing(report))),
        ("Ornaments", list(_ornaments(report))),
        ("Harp", [report.harp_found.words] if report.harp_found else []),
        ("As played", list(report.following.skipped)),
    ]
    return [(heading, items) for heading, items in found if items]


def tempo_words(tempo: TempoFound) -> str:
    """`96 beats a minute`."""
    return f"{tempo.beats_per_minute:.0f} beats a minute"


def _tempo(report: TakeReport) -> Iterator[str]:
    tempo = report.tempo
    if tempo is None:
        return
    yield (
        f"{tempo_words(tempo).capitalize()}; bars differ from their surroundings by "
        f"{tempo.unsteadiness:.1f} percent on average."
    )
    if abs(tempo.drift) >= 2:
        how = "faster" if tempo.drift > 0 else "slower"
        yield f"It ends {abs(tempo.drift):.0f} percent {how} than it begins."
    if report.lilt is not None:
        yield lilt_words(report.lilt)


def lilt_words(lilt: LiltFound) -> str:
    """How evenly quavers are played, as a ratio."""
    if abs(lilt.ratio - 1) < 0.1:
        return f"Quavers are played evenly ({lilt.ratio:.2f} to 1)."
    first = "longer" if lilt.ratio > 1 else "shorter"
    return (
        f"Quavers lilt: of two the first is {first}, {lilt.ratio:.2f} to 1 "
        f"(give or take {lilt.spread:.2f}; {lilt.pairs} pairs)."
    )


def wrong_words(report: TakeReport, note: JudgedNote) -> str:
    """`bar 5, second beat: B4 instead of A4; you were probably on ...`"""
    from reedwright.harp.layout import note_name

    heard = note_name(note.heard_midi, report.harp) if note.heard_midi is not None else "other"
    return f"{place_words(note.place)}: {heard} instead of {note.name}; {instead_words(note)}."


def _notes(report: TakeReport) -> Iterator[str]:
    for note in report.notes:
        if note.is_grace or note.verdict is Verdict.PLAYED:
            continue
        at = f"At {clock_time(note.start)}, "
        if note.verdict is Verdict.WRONG:
            yield at + wrong_words(report, note)
        else:
            on = f" ({hole_words(note.sounding)})" if note.sounding else ""
            yield f"{at}{place_words(note.place)}: {note.name}{on} was not heard."
    for added in report.added:
        if not added.is_ornament:
            where = place_words(added.place)
            yield f"At {clock_time(added.start)}, {where}: {added.name} is not written."


def _pitch(report: TakeReport) -> Iterator[str]:
    yield (
        f"The take is in tune with itself at A {report.a4:.1f} Hz, measured against "
        f"{report.temperament.title}."
    )
    for bend in report.bends:
        note = report.notes[bend.note]
        if bend.verdict is not BendVerdict.REACHED and note.sounding is not None:
            yield (
                f"{place_words(note.place)}: {note.name} on {hole_words(note.sounding)} settles "
                f"{cents_words(bend.settled)}"
                + (f", wandering by {bend.wander:.0f} cents." if bend.wander >= 8 else ".")
            )
    for reed in report.reeds:
        if reed.is_off:
            yield (
                f"Hole {reed.hole} {reed.breath.value} ({reed.name}) is {cents_words(reed.cents)} "
                f"in all {counted(reed.count, 'note')}: that is the harp."
            )


def _timing(report: TakeReport) -> Iterator[str]:
    for bar in report.bars:
        if bar.verdict is BarVerdict.STEADY:
            continue
        times = f" (part {bar.part}, {ordinal_word(bar.part_time)} time)" if bar.part else ""
        at = f"{bar_words(bar.number).capitalize()}{times} at {clock_time(bar.start)}"
        if bar.verdict is BarVerdict.STOPPED:
            yield f"{at}: you stopped for {bar.late:.1f} s."
        else:
            how = "longer" if bar.late > 0 else "shorter"
            yield (
                f"{at} is {abs(bar.percent):.0f} percent {how} than the bars around it "
                f"({abs(bar.late) * 1000:.0f} ms)."
            )


def _ornaments(report: TakeReport) -> Iterator[str]:
    found = report.ornaments
    if found.written:
        heard = f"{found.played} of {counted(found.written, 'written grace note')} heard"
        # A cut of 30 ms is easily played and not heard: the report must not say it was left out.
        missing = found.played < found.written
        yield heard + ("; the quickest may have been played and not heard." if missing else ".")
    if found.own:
        yield f"{counted(len(found.own), 'ornament')} of your own."
