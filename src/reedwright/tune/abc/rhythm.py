"""What changes how long notes last: rests, dotted pairs, tuplets, ties."""

from __future__ import annotations

from fractions import Fraction

from reedwright.tune.abc.drafts import NoteDraft
from reedwright.tune.abc.scanner import TUPLET_TIMES, read_length
from reedwright.tune.abc.voice import VoiceReader
from reedwright.tune.model import BarLine

MOST_WHOLE_RESTS = 500  # bars of rest that one `Z` may stand for
LARGEST_TUPLET = 64


def read_rest(voice: VoiceReader, word: str, column: int) -> None:
    """`z2`, `x`, `Z4`."""
    letter = word[0]
    if letter in "ZX":
        whole_rests(voice, int(word[1:5] or 1), letter == "Z", column)
        return
    top, bottom = read_length(word[1:])
    draft = NoteDraft((), top * voice.unit_top, bottom * voice.unit_bottom, voice.line, column)
    draft.visible = letter == "z"
    voice.add(draft, False)


def whole_rests(voice: VoiceReader, bars: int, visible: bool, column: int) -> None:
    """Bars of rest."""
    if not 0 < bars <= MOST_WHOLE_RESTS:
        raise voice.error("a rest of so many bars", column, "Write a smaller number after it")
    length = voice.meter.bar_length or Fraction(4)
    voice.end_tuplet()
    voice.broken = None
    for count in range(bars):
        if count:
            voice.close_bar(BarLine.SINGLE)
        draft = NoteDraft((), length.numerator, length.denominator, voice.line, column)
        draft.whole_bar = True
        draft.visible = visible
        voice.add(draft, False)
    voice.last = None  # neither dotted nor tied


def read_broken(voice: VoiceReader, word: str, column: int) -> None:
    """`>` and `<` (ABC 2.1, section 4.4)."""
    last = voice.last
    if last is None or len(word) > 4:
        voice.state.warn(f"'{word}' with no note before it was passed over", voice.line, column)
        return
    bottom: int = 2 ** len(word)
    long, short = (2 * bottom - 1, bottom), (1, bottom)
    mine, following = (long, short) if word[0] == ">" else (short, long)
    last.top *= mine[0]
    last.bottom *= mine[1]
    voice.broken = following


def start_tuplet(voice: VoiceReader, word: str, column: int) -> None:
    """`(3`, `(3:2:4` (ABC 2.1, section 4.13)."""
    numbers = [int(n[:4]) if n else 0 for n in word[1:].split(":")]
    p, q, r = [*numbers, 0, 0][:3]
    if p < 2 or max(p, q, r) > LARGEST_TUPLET:
        if p < 2 and len(numbers) == 1:
            voice.state.warn(f"'{word}' is no tuplet; passed over", voice.line, column)
            return
        raise voice.error(
            f"'{word}' is no tuplet that can be played",
            column,
            "Write (3 for three notes in the time of two, or (p:q:r",
        )
    if not q:
        q = TUPLET_TIMES.get(p) or (3 if voice.meter.compound else 2)
    if voice.tuplet is not None:
        voice.state.warn("a tuplet inside a tuplet: the outer one ends here", voice.line, column)
        voice.end_tuplet()
    voice.tuplet = (p, q)
    voice.tuplet_left = r or p
    voice.tuplet_first = True


def read_tie(voice: VoiceReader, word: str, column: int) -> None:
    """A tie from the last note to the next."""
    last = voice.last
    if last is None or not last.pitches:
        voice.state.warn("a tie with no note before it was passed over", voice.line, column)
        return
    last.ties = [True] * len(last.pitches)
    voice.tied = last
    if not voice.events:  # the tie stands after the bar line
        voice.carry(last)
