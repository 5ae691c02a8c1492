"""What a tune holds, told to people (`text_report`) and to programs (`tune_report`).

Public: `tune_report`, `refused_report`, `text_report`, `short_report`. The shape
of the dicts is documented in docs/formats.md.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from fractions import Fraction

from reedwright.tune.form import find_parts
from reedwright.tune.keyfinding import KeyEstimate, estimate_key
from reedwright.tune.model import Pitch, Problem, Tempo, Tune
from reedwright.tune.refused import Refused
from reedwright.tune.rights import rights_line
from reedwright.tune.unfold import Performance, unfold

_LABEL_WIDTH = 12
_PAGE_WIDTH = 88


def tune_report(tune: Tune, voice: int = 0) -> dict[str, object]:
    """One tune for `read --json`. Lengths and onsets are quarter notes."""
    performance = unfold(tune, voice)
    range_ = _range(performance)
    parts = find_parts(performance)
    return {
        "title": tune.title,
        "titles": list(tune.titles),
        "number": tune.number,
        "type": tune.type,
        "key": tune.key.name,
        "key_estimated": tune.key.estimated,
        "meter": tune.meter.name,
        "unit_length": str(tune.unit_length / 4),
        "tempo": _tempo_report(tune.tempo),
        "form": "".join(part.letter for part in parts),
        "parts": [
            {"letter": part.letter, "onset": _number(part.onset), "bar": part.bar} for part in parts
        ],
        "bars": _bar_count(tune, voice),
        "bars_played": len(performance.bars),
        "length": _number(performance.length),
        "notes": len(list(tune.voices[voice].notes)) if tune.voices else 0,
        "notes_played": sum(not note.continues for note in performance.notes),
        "range": None
        if range_ is None
        else {
            "lowest": {"name": range_[0].name, "midi": range_[0].midi},
            "highest": {"name": range_[1].name, "midi": range_[1].midi},
        },
        "composer": _joined(tune, "C"),
        "source": _joined(tune, "S"),
        "rights": rights_line(tune),
        "fields": [{"code": f.code, "text": f.text} for f in tune.fields],
        "voices": [{"name": v.name, "title": v.title, "bars": len(v.bars)} for v in tune.voices],
        "warnings": [_problem_report(problem) for problem in tune.problems],
        "performed": [
            [s.pitch.midi, _number(s.onset), _number(s.length)] for s in performance.sounding
        ],
    }


def refused_report(refused: Refused) -> dict[str, object]:
    """A tune that could not be read, in the same list as those that could."""
    place = refused.error.place
    return {
        "title": refused.title,
        "number": refused.number,
        "error": {"message": str(refused.error), "line": place.line, "column": place.column},
        "warnings": [],
        "performed": [],
    }


def text_report(tune: Tune, voice: int = 0) -> str:
    """Several lines for a person at a terminal, at most 88 characters wide."""
    performance = unfold(tune, voice)
    heading = f"{tune.number}. {tune.title}" if tune.number else tune.title
    lines = [heading, "=" * min(len(heading), _PAGE_WIDTH)]

    def say(label: str, text: str | None) -> None:
        if text:
            lines.extend(
                textwrap.wrap(
                    text,
                    _PAGE_WIDTH,
                    initial_indent=f"{label:<{_LABEL_WIDTH}}",
                    subsequent_indent=" " * _LABEL_WIDTH,
                )
            )

    say("Also called", "; ".join(tune.titles[1:]))
    say("Type", tune.type)
    say("Key", _key_text(tune, voice))
    say("Metre", "free" if tune.meter.free else tune.meter.name)
    say("Tempo", _tempo_text(tune.tempo))
    say("Form", _form_text(performance))
    say("Bars", f"{_bar_count(tune, voice)} written, {len(performance.bars)} played")
    say("Notes", _notes_text(tune, voice, performance))
    say("Range", _range_text(performance))
    say("Composer", _joined(tune, "C"))
    say("Origin", _joined(tune, "O"))
    say("Source", _joined(tune, "S"))
    say("Rights", rights_line(tune) or "not stated")
    if len(tune.voices) > 1:
        names = (f"{v.name} ({v.title})" if v.title else v.name for v in tune.voices)
        say("Voices", f"{', '.join(names)}; this is {tune.voices[voice].name}")
    for index, problem in enumerate(tune.problems):
        say("Problems" if index == 0 else "", f"{problem.severity}: {problem}")
    return "\n".join(lines) + "\n"


def short_report(tune: Tune) -> str:
    """One line: number, title, type, key, metre, form, and how many problems."""
    performance = unfold(tune)
    meter = "free metre" if tune.meter.free else tune.meter.name
    words = [tune.type, tune.key.name, meter, _form(performance)]
    problems = f"  ({len(tune.problems)} problems)" if tune.problems else ""
    return f"{tune.number:>5}  {tune.title}: {', '.join(w for w in words if w)}{problems}"


def _form(performance: Performance) -> str:
    return "".join(part.letter for part in find_parts(performance))


def _form_text(performance: Performance) -> str:
    parts = find_parts(performance)
    if not parts:
        return ""
    first = {part.letter: part.bar for part in reversed(parts)}
    places = (f"{letter} from bar {bar}" for letter, bar in sorted(first.items()))
    return f"{_form(performance)} ({', '.join(places)})"


def _key_text(tune: Tune, voice: int) -> str:
    if not tune.key.estimated:
        return "none stated" if tune.key.mode == "none" else tune.key.name
    estimate: KeyEstimate | None = estimate_key(tune, voice)
    if estimate is None or estimate.key.name != tune.key.name:
        return f"{tune.key.name} (estimated)"
    return (
        f"{tune.key.name} (estimated, correlation {estimate.correlation:.2f}; "
        f"next {estimate.runner_up.name}, {estimate.runner_up_correlation:.2f})"
    )


def _notes_text(tune: Tune, voice: int, performance: Performance) -> str:
    written = len(list(tune.voices[voice].notes)) if tune.voices else 0
    played = sum(not note.continues for note in performance.notes)
    return f"{written} written, {played} played"


def _range(performance: Performance) -> tuple[Pitch, Pitch] | None:
    pitches = Counter(sound.pitch for sound in performance.sounding)
    if not pitches:
        return None
    return min(pitches, key=lambda p: p.midi), max(pitches, key=lambda p: p.midi)


def _range_text(performance: Performance) -> str:
    range_ = _range(performance)
    return "" if range_ is None else f"{range_[0].name} to {range_[1].name}"


def _bar_count(tune: Tune, voice: int) -> int:
    """Bars as printed: the two halves of a cut bar are one, an anacrusis counts for none."""
    if not tune.voices:
        return 0
    return len({bar.number for bar in tune.voices[voice].bars if bar.number})


def _joined(tune: Tune, code: str) -> str | None:
    return "; ".join(text for text in tune.field_texts(code) if text) or None


def _tempo_report(tempo: Tempo | None) -> dict[str, object] | None:
    if tempo is None:
        return None
    return {
        "beat": _number(tempo.beat),
        "bpm": None if tempo.bpm is None else _number(tempo.bpm),
        "text": tempo.text,
    }


def _tempo_text(tempo: Tempo | None) -> str:
    if tempo is None:
        return ""
    if tempo.bpm is None:
        return tempo.text
    words = f'"{tempo.text}" ' if tempo.text else ""
    return f"{words}{tempo.beat / 4} = {_number(tempo.bpm)}"


def _problem_report(problem: Problem) -> dict[str, object]:
    return {
        "severity": str(problem.severity),
        "message": problem.message,
        "line": problem.place.line,
        "column": problem.place.column,
        "bar": problem.bar,
    }


def _number(value: Fraction | float) -> int | float:
    """A whole number as int, any other as float."""
    if isinstance(value, Fraction):
        top, bottom = value.numerator, value.denominator
        return top if bottom == 1 else top / bottom
    return int(value) if value == int(value) else value
