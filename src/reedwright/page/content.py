"""What a lesson page says, taken from the arrangement: the words, counts and chart."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.harp.model import Breath, Sounding, Technique
from reedwright.harp.position import position, position_name
from reedwright.page.breathplot import breath_alt, breath_svg
from reedwright.page.harpchart import chart_svg
from reedwright.page.settings import SIDE_MARGIN, PageSettings
from reedwright.page.tabfont import printed
from reedwright.page.tempowords import tempo_words
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.plan import practice_breaths
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.difficulty.scale import HIGHEST, grade_text
from reedwright.tab.notation import MISSING, TabStyle, tab_sign
from reedwright.tab.remarks import remarks
from reedwright.tune.form import find_form
from reedwright.tune.model import Tune
from reedwright.tune.rights import rights_line
from reedwright.tune.tempo import tempo_of
from reedwright.tune.unfold import unfold

# Common practice of teachers, no source.
HEALTH = "Start slowly, and rest when you feel light-headed: long playing moves a lot of air."
RIGHTS_NOT_STATED = "Rights not stated."
TRADITIONAL = "traditional"

# Header fields of ABC 2.1 that tell of the tune, and what they are called on the page.
BACKGROUND = (
    ("H", None),
    ("N", None),
    ("O", "From"),
    ("A", "Area"),
    ("D", "Recordings"),
    ("B", "Books"),
    ("Z", "Transcribed by"),
)
_NOT_BACKGROUND = re.compile(r"(?i)(abc-copyright|rights:|copyright\b|©|\(c\)|abc-)")


class Labelled(NamedTuple):
    """A short text with what it is; no label where the text speaks for itself."""

    label: str | None
    text: str


class Drawing(NamedTuple):
    """A picture as SVG, its width in mm, and the same in words."""

    svg: str
    width: float
    words: str


class TabKey(NamedTuple):
    """One sign of the tab and what it means."""

    sign: str
    text: str


@dataclass(frozen=True, slots=True)
class LessonContent:
    """All words of a page. `chart` is an SVG document, `chart_words` the same in words."""

    title: str
    also: tuple[str, ...]
    kind: str
    key: str | None
    composer: str
    facts: tuple[Labelled, ...]
    tab_key: tuple[TabKey, ...]
    music_words: str
    chart: str
    chart_words: str
    breath: Drawing | None
    remarks: tuple[str, ...]
    background: tuple[Labelled, ...]
    source: str
    rights: str
    harp: str
    position: str | None


def lesson_content(
    arrangement: Arrangement, settings: PageSettings, notes: tuple[str, ...] | None = None
) -> LessonContent:
    """`notes`: the notes on playing (`lesson_notes`), where the caller has them or wants none;
    they are most of the work."""
    tune, harp = arrangement.tune, arrangement.harp
    counts = played_counts(arrangement)
    return LessonContent(
        title=tune.title,
        also=tune.titles[1:],
        kind=_capital(tune.type.strip() or "tune"),
        key=key_in_print(tune),
        composer="; ".join(tune.field_texts("C")) or TRADITIONAL,
        facts=_facts(arrangement, settings),
        tab_key=tab_key(arrangement, settings.tab_style),
        music_words=_music_words(arrangement, settings),
        chart=chart_svg(harp, counts, title="", expression=True),
        chart_words=_chart_words(arrangement, counts),
        breath=_breath(arrangement, settings),
        remarks=lesson_notes(arrangement) if notes is None else notes,
        background=_background(tune),
        source="; ".join(tune.field_texts("S")),
        rights=rights_line(tune) or RIGHTS_NOT_STATED,
        harp=signs_in_print(harp.name),
        position=None
        if tune.key.mode == "none"
        else position_name(position(tune.key.tonic_pitch_class, harp)),
    )


def lesson_notes(arrangement: Arrangement) -> tuple[str, ...]:
    """What a student is told about playing it, the most useful first and health last."""
    return (*(str(remark) for remark in remarks(arrangement)), HEALTH)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def played_counts(arrangement: Arrangement) -> Counter[Sounding]:
    """How often each sounding is struck when the tune is played out (graces apart)."""
    counts: Counter[Sounding] = Counter()
    for note in unfold(arrangement.tune, arrangement.voice).notes:
        sounding = arrangement.soundings.get(note.note.id)
        if sounding is not None and not note.continues:
            counts[sounding] += 1
    return counts


def key_in_print(tune: Tune) -> str | None:
    """`G major`, `B♭ dorian`; None where the tune has no key."""
    if tune.key.mode == "none":
        return None
    name = f"{signs_in_print(tune.key.tonic)} {tune.key.mode}"
    return name + " (estimated)" if tune.key.estimated else name


def signs_in_print(name: str) -> str:
    """Sharps and flats of note names as signs: `Bb harp` -> `B♭ harp`."""
    name = re.sub(r"\b([A-G])#", "\\1♯", name)
    return re.sub(r"\b([A-G])b(?![a-z])", "\\1♭", name)


def _facts(arrangement: Arrangement, settings: PageSettings) -> tuple[Labelled, ...]:
    tune = arrangement.tune
    facts = [Labelled("Tempo", tempo_words(tempo_of(tune), settings.tempo))]
    form = find_form(tune, arrangement.voice)
    if form:
        facts.append(Labelled("Form", form))
    if arrangement.notes_played:
        grade = grade_text(difficulty(arrangement).grade)
        facts.append(Labelled("Grade", f"{grade} of {grade_text(HIGHEST)}"))
    moved = _moved_words(arrangement)
    if moved:
        facts.append(Labelled("Set", moved))
    return tuple(facts)


def _breath(arrangement: Arrangement, settings: PageSettings) -> Drawing | None:
    """The breath account at tempo and in slow practice, where it is wanted."""
    if not settings.breath_plot:
        return None
    plans = practice_breaths(arrangement, never=arrangement.unbreathed).plans
    width = settings.size[0] - 2 * SIDE_MARGIN
    svg = breath_svg(arrangement, plans, width_mm=width)
    return Drawing(svg, width, breath_alt(arrangement, plans))


def _moved_words(arrangement: Arrangement) -> str:
    """How the tune was moved from its source, if it was."""
    moves = []
    if arrangement.octaves:
        count = abs(arrangement.octaves)
        size = "an octave" if count == 1 else f"{count} octaves"
        moves.append(f"{size} {'up' if arrangement.octaves > 0 else 'down'}")
    if arrangement.semitones:
        count = abs(arrangement.semitones)
        size = f"{count} semitone{'s' if count > 1 else ''}"
        moves.append(f"{size} {'up' if arrangement.semitones > 0 else 'down'}")
    return f"{' and '.join(moves)} from the source" if moves else ""


def tab_key(arrangement: Arrangement, style: str) -> tuple[TabKey, ...]:
    """How to read the tab: only the signs that the tune uses."""
    used = set(arrangement.soundings.values())
    chosen = TabStyle(style)
    blow, draw = (
        printed(tab_sign(Sounding(6, breath, Technique.NATURAL, 0), chosen)) for breath in Breath
    )
    if chosen is TabStyle.ROWS:
        signs = [TabKey("", "upper row blow"), TabKey("", "lower row draw")]
    else:
        signs = [TabKey(blow, "hole 6 blow"), TabKey(draw, "hole 6 draw")]
    if any(one.bend for one in used):
        signs.append(TabKey("′", "bent, a semitone for each mark"))
    if any(one.technique is Technique.OVERBLOW for one in used):
        signs.append(TabKey("°", "overblow"))
    if any(one.technique is Technique.OVERDRAW for one in used):
        signs.append(TabKey("°", "overdraw"))
    if any(one.slide for one in used):
        signs.append(TabKey("<", "slide in"))
    if arrangement.missing:
        signs.append(TabKey(MISSING, "not on this harp"))
    if any(note.graces for note in arrangement.tune.voices[arrangement.voice].notes):
        signs.append(TabKey("", "small figures for grace notes"))
    if arrangement.breaths:
        signs.append(TabKey("", "a comma above the staff for a breath"))
    return tuple(signs)


def _background(tune: Tune) -> tuple[Labelled, ...]:
    """What the tune's own fields tell, paragraphs of one field joined."""
    entries = []
    for code, label in BACKGROUND:
        texts = [t.strip() for t in tune.field_texts(code) if t.strip()]
        texts = [t for t in texts if not _NOT_BACKGROUND.match(t)]
        if texts:
            entries.append(Labelled(label, " ".join(texts)))
    return tuple(entries)


def _music_words(arrangement: Arrangement, settings: PageSettings) -> str:
    """The text alternative of the music."""
    tune = arrangement.tune
    bars = len({bar.number for bar in tune.voices[arrangement.voice].bars if bar.number})
    key = f" in {tune.key.name}" if tune.key.mode != "none" else ""
    return (
        f"Sheet music of {tune.title}, {bars} bars{key}, with tab under each note. "
        "The plain-text tab that comes with the lesson holds the same notes in words."
    )


def _chart_words(arrangement: Arrangement, counts: Counter[Sounding]) -> str:
    used: Sequence[tuple[Sounding, int]] = sorted(counts.items())
    notes = ", ".join(
        f"{one.hole} {one.breath.value}"
        + ("" if one.technique is Technique.NATURAL else f" {one.technique.value}")
        + (" with the slide" if one.slide else "")
        + f" {times} times"
        for one, times in used
    )
    return f"Chart of the {arrangement.harp.name}. Notes of the tune: {notes or 'none'}."
