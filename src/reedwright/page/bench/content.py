"""What a bench sheet says of one harp, worked out from plans and measurements; JSON-ready rows.

Every reed has one row and so one place to write in: those with work to do in the order of the
work, then the others by plate. Hz and cents are those at the bench (`ReedTarget.bench_hz`); what
was measured is told against this sheet's targets, whatever it was measured against.

Public: `sheet_data`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from math import log2

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.page.bench.listening import beat_rows, octave_pairs
from reedwright.page.bench.pictures import plates_svg, work_svg
from reedwright.page.bench.words import (
    hz_words,
    in_print,
    note_words,
    reed_words,
    signed,
    tuned_words,
)
from reedwright.page.content import signs_in_print
from reedwright.page.harpchart import chart_svg, chart_width
from reedwright.tab.words import counted, listed, with_article
from reedwright.workshop.conversion.changewords import change_lines
from reedwright.workshop.conversion.model import Conversion, ReedWork, Work
from reedwright.workshop.conversion.order import SETTLE_HOURS, Stage
from reedwright.workshop.conversion.steps import bench_steps
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.targets.beats import PairBeats
from reedwright.workshop.targets.making import reed_targets, slide_in
from reedwright.workshop.targets.model import ReedTarget, Targets
from reedwright.workshop.valving.effects import ValveEffect, effect_words, valve_effects
from reedwright.workshop.valving.model import ValvePlan

Row = dict[str, object]

# The work in a sign and a word, and where on the reed it is done (common practice, no source).
_SIGNS = {Work.RAISE: "+", Work.LOWER: "−", Work.SWAP: "⇄", Work.TOUCH: "≈"}
_WORDS = {Work.RAISE: "Raise", Work.LOWER: "Lower", Work.SWAP: "Swap", Work.TOUCH: "Touch up"}
_WHERE = {
    Work.RAISE: "at the free end",
    Work.LOWER: "at the rivet, or by weight",
    Work.SWAP: "from another harp",
}
CHART_SCALE = 0.7  # paper to drawing; its smallest type is 7.5 points then
PLATES_SCALE = 0.76
SHARED_BY = 3  # rows; a sentence of so many is printed once
MOST_DONORS = 2
MOST_NAMED = 5  # reeds in a sentence; more are seen better in the table


def sheet_data(
    plan: Conversion | Targets,
    room: float,
    measured_before: Measurement | None = None,
    measured_after: Measurement | None = None,
    valve_plan: ValvePlan | None = None,
    beats: Sequence[PairBeats] | None = None,
    name: str = "",
) -> Row:
    """One harp's part of a sheet, as templates/bench-sheet.typ is given it.

    `room`: the width of the text, mm, which pictures keep to. `beats`: the pairs to listen to, the
    octaves if not said.
    """
    conversion = plan if isinstance(plan, Conversion) else None
    targets = plan.targets if isinstance(plan, Conversion) else plan
    harp = targets.harp
    measured = (measured_before, measured_after)
    works = conversion.works if conversion else ()
    rows = [_work_row(number, work, targets, measured) for number, work in enumerate(works, 1)]
    notes = _move_shared_texts(rows)
    worked = {work.reed for work in works}
    made = replace(harp, isolated=valve_plan.harp.isolated) if valve_plan else harp
    chart = chart_svg(made, title="")
    return {
        "heading": name or sheet_title(plan),
        "about": _about(plan, bool(name)),
        "facts": [{"label": label, "text": text} for label, text in tuned_words(targets.wishes)],
        "summary": _summary(conversion, targets) if conversion else "",
        "conversion": conversion is not None,
        "works": rows,
        "notes": notes,
        "reeds": _by_breath(targets, measured, worked),
        "tuner": targets_note(targets),
        "stages": _stages(conversion),
        "remarks": [in_print(note) for note in conversion.notes] if conversion else [],
        "measured": _measured_note(measured),
        "slide_in": _slide_in(targets) if harp.tuning.slide else [],
        "beats": beat_rows(octave_pairs(targets) if beats is None else beats, harp),
        "changes": change_rows(conversion.stock, made) if conversion else [],
        "valves": _valves(valve_plan, room) if valve_plan and valve_plan.valves else None,
        "chart": {
            "svg": chart,
            "width": round(min(room, chart_width(chart) * CHART_SCALE), 2),
            "alt": chart_words(harp),
        },
    }


def _about(plan: Conversion | Targets, named: bool) -> str:
    """The line under the title: which harp where that has a name of its own, and made of what."""
    said = "Bench sheet"
    if isinstance(plan, Conversion):
        said += f": {signs_in_print(plan.wanted.name)}" if named or plan.name else ""
        return f"{said}, made from a stock {signs_in_print(plan.stock.name)}"
    return said + (f": {signs_in_print(plan.harp.name)}" if named else "")


def sheet_title(plan: Conversion | Targets) -> str:
    """What a harp is called where the user gives it no name of its own."""
    if isinstance(plan, Conversion):
        return plan.name or signs_in_print(plan.wanted.name)
    return signs_in_print(plan.harp.name)


def chart_words(harp: Harp) -> str:
    """The chart in words: every reed's note."""
    said = []
    for breath in Breath:
        reeds = [
            f"{hole} {note_words(harp.reed_midi(hole, breath), harp)}"
            for hole in range(1, harp.tuning.holes + 1)
        ]
        said.append(f"{breath.value.capitalize()}: {', '.join(reeds)}.")
    return f"Chart of the {signs_in_print(harp.name)}. {' '.join(said)}"


def change_rows(stock: Harp, made: Harp) -> list[Row]:
    """What each hole gains and loses, in words; between harps of two keys what its bends do."""
    return [{"hole": hole, "words": in_print(words)} for hole, words in change_lines(stock, made)]


def targets_note(targets: Targets) -> str:
    """How the columns of Hz and cents are meant."""
    a4 = f"{targets.wishes.a4:g}"
    note = (
        "Target: what the reed is to sound at the bench. Tuner: the cents that a tuner set to "
        f"A4 = {a4} Hz shows then."
    )
    if targets.wishes.pressure:
        note += (
            f" Both are {targets.wishes.pressure:g} cents above what is to sound when the harp is "
            "played, as playing pressure flattens a reed by about so much."
        )
    return note


# What the stages are called beside the boxes that are ticked for them.
_STAGES = {
    Stage.SWAP: "Swaps",
    Stage.COARSE: "Coarse",
    Stage.SETTLE: "Settled",
    Stage.FINE: "Fine",
    Stage.CHORDS: "Last",
}


def _stages(conversion: Conversion | None) -> list[Row]:
    """What is done in each stage, in order; of a harp that is only tuned, what the boxes mean."""
    if conversion is not None:
        return [
            {"name": _STAGES[step.stage], "text": in_print(step.text)}
            for step in bench_steps(conversion)
        ]
    return [
        {"name": "Coarse", "text": "Near the target, a few cents short of it."},
        {
            "name": "Settled",
            "text": f"Left alone for {SETTLE_HOURS} hours or overnight and measured anew, as "
            "reeds go on moving after work.",
        },
        {"name": "Fine", "text": "On the target, and right with its octave."},
    ]


def _summary(conversion: Conversion, targets: Targets) -> str:
    """How many reeds change their note and which, in one sentence."""
    harp = targets.harp
    moved = conversion.retuned
    only_touched = len(conversion.works) - len(moved)
    said = []
    if len(moved) > MOST_NAMED:
        said.append(f"{counted(len(moved), 'reed')} change their notes.")
    elif moved:
        each = [
            f"{reed_words(work.reed)} from {note_words(work.from_midi, harp)} to "
            f"{note_words(work.to_midi, harp)}"
            for work in moved
        ]
        verb = "changes its note" if len(moved) == 1 else "change their notes"
        said.append(f"{counted(len(moved), 'reed')} {verb}: {listed(each)}.")
    if only_touched:
        others = "other reed" if moved else "reed"
        stays = "keeps its note and is" if only_touched == 1 else "keep their notes and are"
        said.append(f"{counted(only_touched, others)} {stays} touched up.")
    if not said:
        said.append("No reed needs work: check each against its target.")
    return " ".join(said)


_Pair = tuple[Measurement | None, Measurement | None]


def _work_row(number: int, work: ReedWork, targets: Targets, measured: _Pair) -> Row:
    harp, target = targets.harp, targets.of(work.reed)
    before, after = (_measured(each, work.reed, target) for each in measured)
    return {
        "number": number,
        "hole": work.reed.hole,
        "breath": work.reed.breath.value,
        "sign": _SIGNS[work.work],
        "work": _WORDS[work.work],
        "where": _WHERE.get(work.work) or _touched_where(work.cents),
        "picture": work_svg(work.work),
        "from_note": note_words(work.from_midi, harp),
        "from_hz": hz_words(work.from_hz),
        "to_note": note_words(work.to_midi, harp),
        "to_hz": hz_words(work.to_hz),
        "move": signed(work.cents),
        "tuner": signed(target.bench_cents),
        "role": target.role[:1].upper() + target.role[1:],
        "coarse_hz": hz_words(work.coarse_hz) if work.coarse_hz else "",
        "how": in_print(work.how),
        "check": in_print(work.check),
        "finish": in_print(work.finish),
        "warning": in_print(work.warning),
        "donors": _donor_words(work),
        "before": before,
        "after": after,
    }


def _touched_where(cents: float) -> str:
    return "up, free end" if cents > 0 else "down, rivet end"


def _donor_words(work: ReedWork) -> str:
    """The donors that are worth a look besides the one that the work names already, best first."""
    first = work.donors[:1]
    named = bool(first) and first[0].harp.name in work.how + work.warning
    others = work.donors[1:] if named else work.donors
    said = []
    for harp, reed, semitones in others[:MOST_DONORS]:
        words = f"{reed_words(reed)} of {with_article(harp.name)}"
        if semitones:
            way = "up" if semitones > 0 else "down"
            words += f", tuned {way} {counted(abs(semitones), 'semitone')}"
        said.append(signs_in_print(words))
    return "; ".join(said)


def _target_row(target: ReedTarget, harp: Harp, measured: _Pair) -> Row:
    before, after = (_measured(each, target.reed, target) for each in measured)
    return {
        "hole": target.reed.hole,
        "breath": target.reed.breath.value,
        "note": note_words(target.midi, harp),
        "hz": hz_words(target.bench_hz),
        "tuner": signed(target.bench_cents),
        "role": target.role.replace(f" of the {target.reed.breath.value} chord", ""),
        "before": before,
        "after": after,
    }


def _by_breath(targets: Targets, measured: _Pair, worked: Collection[Reed] = ()) -> list[Row]:
    """The reeds that have no work, blow and draw apart."""
    return [
        {
            "breath": breath.value,
            "rows": [
                _target_row(target, targets.harp, measured)
                for target in targets.reeds
                if target.reed.breath is breath and target.reed not in worked
            ],
        }
        for breath in Breath
    ]


def _slide_in(targets: Targets) -> list[Row]:
    """The reeds that sound with the slide in; nothing is measured of them by place."""
    return _by_breath(reed_targets(slide_in(targets.harp), targets.wishes), (None, None))


def _measured(measurement: Measurement | None, reed: Reed, target: ReedTarget) -> Row | None:
    """What was measured of a reed: Hz, and cents from the target of this sheet."""
    if measurement is None:
        return None
    for measure in measurement.reeds:
        if measure.reed == reed:
            aim = target.bench_hz if measurement.at_bench else target.hz
            cents = 1200 * log2(measure.hz / aim)
            return {
                "cents": signed(cents),
                "uncertainty": f"{measure.uncertainty:.1f}",
                "hz": hz_words(measure.hz),
                "doubt": bool(measure.others),
            }
    return None


def _measured_note(measured: _Pair) -> str:
    """How printed measurements are meant; nothing where all is to be written by hand."""
    if not any(measured):
        return ""
    note = "Printed measurements are cents from the target, with their uncertainty, and Hz."
    if any(each is not None and not each.at_bench for each in measured):
        note += " They were taken as played and count from what is to sound then."
    if any(reed.others for each in measured if each for reed in each.reeds):
        note += " A question mark: it could be another reed of the same pitch."
    return note


_LETTERS = "abcdefghijklmnopqrstuvwxyz"
_BETWEEN_SENTENCES = re.compile(r"(?<=[.!?]) (?=[A-Z])")


def _move_shared_texts(rows: list[Row]) -> list[Row]:
    """Take what many rows say alike out of them, to be printed once above the table.

    Such a sentence of how a reed is worked on, or such a warning, becomes a letter in the row's
    `how_refs` or `warning_refs`.
    """
    letters: dict[str, str] = {}
    notes: list[Row] = []
    hows = [_BETWEEN_SENTENCES.split(str(row["how"])) for row in rows]
    warnings = [[str(row["warning"])] for row in rows]
    for key, said in (("how", hows), ("warning", warnings)):
        counts = Counter(text for each in said for text in each if text)
        for text in counts:  # in the order in which the rows say them
            if counts[text] >= SHARED_BY and len(notes) < len(_LETTERS):
                letters[text] = _LETTERS[len(notes)]
                notes.append({"letter": letters[text], "text": text, "care": key == "warning"})
        for row, each in zip(rows, said, strict=True):
            row[f"{key}_refs"] = [letters[text] for text in each if text in letters]
            row[key] = " ".join(text for text in each if text not in letters)
    return notes


def _valves(plan: ValvePlan, room: float) -> Row:
    picture = plates_svg(plan)
    return {
        "rows": [
            _valve_row(number, effect, plan.harp)
            for number, effect in enumerate(valve_effects(plan), 1)
        ],
        "notes": [in_print(note) for note in plan.notes],
        "picture": {
            "svg": picture.svg,
            "width": round(min(room, picture.width * PLATES_SCALE), 2),
            "alt": picture.words,
        },
    }


def _valve_row(number: int, effect: ValveEffect, harp: Harp) -> Row:
    valve = effect.valve
    words = [effect_words(effect, harp), *valve.notes]
    return {
        "number": number,
        "plate": valve.plate.value,
        "hole": valve.slot.hole,
        "side": "inside" if valve.inside else "outside",
        "length": f"{valve.length:.1f}",
        "width": f"{valve.width:.1f}",
        "fits": valve.fits,
        "words": in_print(" ".join(words)),
    }
