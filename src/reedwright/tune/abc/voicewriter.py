"""The bars of one voice as lines of music code, each with its `w:` lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reedwright.tune.abc.eventwriter import EventWriter, tuplet_sizes
from reedwright.tune.abc.fieldtexts import key_text, meter_text
from reedwright.tune.abc.lyricswriter import row_line, verse_line
from reedwright.tune.abc.symbols import NAVIGATION_NAMES, TARGETS
from reedwright.tune.model import Bar, BarLine, Change, Note, Tune, Voice
from reedwright.tune.rows import TabRow

BARS_A_LINE = 4  # where the source has no lines of its own (common practice for dance tunes)
SHAPES = {
    BarLine.NONE: "|",
    BarLine.SINGLE: "|",
    BarLine.DOUBLE: "||",
    BarLine.FINAL: "|]",
    BarLine.OPENING: "[|",
    BarLine.DOTTED: ".|",
    BarLine.INVISIBLE: "[|]",
}


class VoiceWriter:
    """Writes one voice of a tune."""

    def __init__(
        self, tune: Tune, voice: Voice, short: Mapping[str, str], rows: Sequence[TabRow]
    ) -> None:
        self.tune = tune
        self.bars = voice.bars
        self.rows = rows
        self.key = tune.key
        self.meter = tune.meter
        self.events = EventWriter(tune.unit_length, short)
        self.has_texts = bool(rows) or any(n.lyrics for bar in voice.bars for n in bar.notes)
        self.held: frozenset[int] = frozenset()  # verses with a syllable held into the next line
        self.has_lines = any(bar.line_end for bar in voice.bars)

    def lines(self) -> list[str]:
        """The music lines with their lyrics and rows."""
        lines: list[str] = []
        text: list[str] = []
        line_bars: list[Bar] = []
        self.events.start(tuplet_sizes([e for bar in self.bars for e in bar.events]))
        if self.bars and self.bars[0].key.clef != self.key.clef:
            self.key = self.bars[0].key  # the V: line named the clef
            if self.bars[0].key.accidentals != self.tune.key.accidentals:
                text.append(f"[K:{key_text(self.key, self.key.clef)}]")
        self.events.set_key(self.key)
        for at, bar in enumerate(self.bars):
            if bar.part is not None and not line_bars and not text:
                lines.append(f"P:{bar.part}")
            elif bar.part is not None:
                text.append(f"[P:{bar.part}]")
            following = self.bars[at + 1] if at + 1 < len(self.bars) else None
            ends = following is None or self._line_ends(bar, len(line_bars) + 1)
            text.append(self._bar(bar, following, not line_bars, ends))
            line_bars.append(bar)
            if ends:
                lines.append(" ".join(t for t in text if t))
                lines += self._under(line_bars)
                text, line_bars = [], []
        return lines

    def _line_ends(self, bar: Bar, count: int) -> bool:
        return bar.line_end if self.has_lines else count >= BARS_A_LINE

    # -- one bar ----------------------------------------------------------------------------

    def _bar(self, bar: Bar, following: Bar | None, first: bool, last: bool) -> str:
        before = ""
        if first and (bar.index == 0 or bar.repeat_open):
            before = _opening(bar)
        if bar.ending:
            before = (before + " " if before else "") + f"[{_passes(bar.ending)}"
        return " ".join(
            part
            for part in (
                before,
                self._changes(bar),
                self._inside(bar),
                self._close(bar, following, last),
            )
            if part
        )

    def _changes(self, bar: Bar) -> str:
        """Key and metre that hold from this bar on, where no `Change` says so."""
        told = next((e for e in bar.events if not isinstance(e, Change)), None)
        changes = []
        for event in bar.events:
            if event is told:
                break
            changes.append(event)
        text = ""
        if bar.key != self.key and not any(c.key for c in changes if isinstance(c, Change)):
            text += f"[K:{key_text(bar.key, self.key.clef)}]"
            self.key = bar.key
            self.events.set_key(bar.key)
        if bar.meter != self.meter and not any(c.meter for c in changes if isinstance(c, Change)):
            text += f"[M:{meter_text(bar.meter)}]"
            self.meter = bar.meter
        return text

    def _inside(self, bar: Bar) -> str:
        starts = "".join(f"!{NAVIGATION_NAMES[m]}!" for m in bar.marks if m in TARGETS)
        ends = " ".join(f"!{NAVIGATION_NAMES[m]}!" for m in bar.marks if m not in TARGETS)
        self.events.set_meter(self.meter)
        text = self.events.write(bar.events, self.key, starts)
        self.key = self.events.key
        self.meter = self.events.meter
        for overlay in bar.overlays:
            text += " & " + self.events.write_overlay(overlay)
        return f"{text} {ends}" if ends else text

    def _close(self, bar: Bar, following: Bar | None, last: bool) -> str:
        self.events.end_bar(bar)
        shape = SHAPES[bar.closing]
        close = ":" * (bar.repeat_close - 1) if bar.repeat_close else ""
        opens = following is not None and following.repeat_open and not last
        if (
            bar.closing is BarLine.NONE
            and not bar.repeat_close
            and following is not None
            and following.ending
            and not following.repeat_open
            and following.part is None
        ):
            return ""
        if close and shape.startswith("."):
            shape = shape[1:]
        if not opens:
            return close + shape
        if shape != "|":
            return f"{close}{shape} |:"
        return "::" if close == ":" else f"{close}|:"

    # -- under the line ---------------------------------------------------------------------

    def _under(self, bars: Sequence[Bar]) -> list[str]:
        notes: list[Note] = [note for bar in bars for note in bar.notes]
        # Rows come after the lyrics, on lines without lyrics too, so that each stays one verse.
        sung = [note for bar in self.bars for note in bar.notes] if self.rows else notes
        verses = max((len(note.lyrics) for note in sung), default=0)
        lines = []
        for verse in range(verses):
            line, held = verse_line(notes, verse, verse in self.held)
            lines.append(line)
            self.held = self.held | {verse} if held else self.held - {verse}
        texts = [row_line(notes, row) for row in self.rows]
        while texts and not texts[-1]:
            texts.pop()
        if self.has_texts and not lines and not texts:
            return ["w:*"]  # else the next line's syllables would begin under this one
        lines += [text or "*" for text in texts]
        return [f"w:{line}" for line in lines]


def _opening(bar: Bar) -> str:
    """The bar line at the left of a line's first bar."""
    shape = "" if bar.index or bar.opening is BarLine.NONE else SHAPES[bar.opening]
    if not bar.repeat_open:
        return shape
    if shape in ("", "|"):
        return "|:"
    return f"{shape}:" if shape == "||" else f"{shape} |:"


def _passes(passes: tuple[int, ...]) -> str:
    if len(passes) > 2 and passes == tuple(range(passes[0], passes[-1] + 1)):
        return f"{passes[0]}-{passes[-1]}"
    return ",".join(str(n) for n in passes)
