"""Harp and music in plain words: holes, bends, lengths, metres, lists of bars.

Public: `number_word`, `in_words`, `sounding_words`, `short_words`, `bend_words`,
`pitch_words`, `length_words`, `meter_words`, `bars_text`, `listed`, `with_article`,
`counted`, `moved_words`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction

from reedwright.harp.model import Sounding
from reedwright.tune.model import Meter

# fmt: off
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen", "twenty",
)
_ORDINALS = (
    "", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth",
)
# fmt: on

# Quarter notes; British names, as the folk-tune trade of the British Isles uses them.
_LENGTHS = (
    (Fraction(8), "breve"),
    (Fraction(4), "semibreve"),
    (Fraction(2), "minim"),
    (Fraction(1), "crotchet"),
    (Fraction(1, 2), "quaver"),
    (Fraction(1, 4), "semiquaver"),
    (Fraction(1, 8), "demisemiquaver"),
    (Fraction(1, 16), "hemidemisemiquaver"),
)
AMERICAN = {
    "breve": "double whole note",
    "semibreve": "whole note",
    "minim": "half note",
    "crotchet": "quarter note",
    "quaver": "eighth note",
    "semiquaver": "sixteenth note",
    "demisemiquaver": "thirty-second note",
    "hemidemisemiquaver": "sixty-fourth note",
}
_MOST_LISTED_BARS = 7


def number_word(number: int) -> str:
    """`six` for 6; digits beyond twenty."""
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def counted(count: int, one: str, many: str = "", number: Callable[[int], str] = str) -> str:
    """`1 note`, `3 notes`; `number=number_word` for `three notes`."""
    return f"{number(count)} {one if count == 1 else many or one + 's'}"


def moved_words(octaves: int, semitones: int, number: Callable[[int], str] = str) -> str:
    """How a tune was moved: `1 octave up and 2 semitones down`; nothing where it was not."""
    moves = ((octaves, "octave"), (semitones, "semitone"))
    return listed(
        [
            f"{counted(abs(by), unit, number=number)} {'up' if by > 0 else 'down'}"
            for by, unit in moves
            if by
        ]
    )


def ordinal_word(number: int) -> str:
    """`second` for 2; `number 9` beyond eight."""
    return _ORDINALS[number] if 0 < number < len(_ORDINALS) else f"number {number}"


def in_words(name: str) -> str:
    """A key, note or harp name without signs: `Bb harp` -> `B flat harp`."""
    words = []
    for word in name.split(" "):
        bare = word.rstrip(",;:")
        if bare and bare[0] in "ABCDEFG" and set(bare[1:]) <= set("#b"):
            signs = "".join(" sharp" if sign == "#" else " flat" for sign in bare[1:])
            word = (
                bare[0]
                + signs.replace(" sharp sharp", " double sharp").replace(
                    " flat flat", " double flat"
                )
                + word[len(bare) :]
            )
        words.append(word)
    return " ".join(words)


def pitch_words(name: str) -> str:
    """A note name without its octave, in words: `Bb4` -> `B flat`."""
    return in_words(name.rstrip("-0123456789"))


def with_article(name: str) -> str:
    """`an A harp`, `an F sharp harp`, `a low A harp`, `an overblow`, as it is said."""
    return f"{'an' if name[:1] in tuple('AEFaeio') else 'a'} {name}"


def bend_words(semitones: int) -> str:
    """How deep a bend is: `a semitone`, `a whole tone`, `three semitones`."""
    if semitones == 1:
        return "a semitone"
    return "a whole tone" if semitones == 2 else f"{number_word(semitones)} semitones"


def sounding_words(sounding: Sounding) -> str:
    """`three draw bent a whole tone`, `six overblow`, `five blow with the slide`."""
    return _sounding(sounding, number_word(sounding.hole))


def short_words(sounding: Sounding) -> str:
    """The same with the hole as a figure: `3 draw bent a whole tone`."""
    return _sounding(sounding, str(sounding.hole))


def _sounding(sounding: Sounding, hole: str) -> str:
    over = sounding.technique.overbend
    words = f"{hole} {sounding.technique.value if over else sounding.breath.value}"
    if sounding.bend:
        words += f" bent {bend_words(sounding.bend)}"
    if sounding.slide:
        words += " with the slide"
    return words


def length_words(length: Fraction) -> str:
    """A written length in quarter notes: `dotted crotchet`, `minim and quaver`."""
    for value, name in _LENGTHS:
        if length == value:
            return name
        if length == value * Fraction(3, 2):
            return f"dotted {name}"
        if length == value * Fraction(7, 4):
            return f"double dotted {name}"
    for value, name in _LENGTHS:
        if value < length:
            rest = length_words(length - value)
            return f"{name} and {rest}" if rest else ""
    return ""  # shorter than any name: nothing a player could count


def meter_words(meter: Meter) -> str:
    """`six eight`, `cut time`, `free time`."""
    if meter.free:
        return "free time"
    if meter.symbol == "C|":
        return "cut time"
    beats = " plus ".join(number_word(beat) for beat in meter.beats)
    unit = {2: "two", 4: "four", 8: "eight", 16: "sixteen"}.get(meter.unit, str(meter.unit))
    return f"{beats} {unit}"


def listed(items: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def bars_text(numbers: Iterable[int]) -> str:
    """`bar 3`, `bars 3, 7 and 12`, `bars 3 to 6 and 9`, `the upbeat and bar 2`.

    Three or more in a row are a range. Long lists end with how many bars are left out.
    """
    bars = sorted(set(numbers))
    upbeat = bars[:1] == [0]
    if upbeat:
        bars = bars[1:]
    items: list[tuple[str, int]] = []
    index = 0
    while index < len(bars):
        end = index
        while end + 1 < len(bars) and bars[end + 1] == bars[end] + 1:
            end += 1
        if end - index >= 2:
            items.append((f"{bars[index]} to {bars[end]}", end - index + 1))
        else:
            items += [(str(bar), 1) for bar in bars[index : end + 1]]
        index = end + 1
    texts = [text for text, _ in items]
    if len(items) > _MOST_LISTED_BARS:
        left_out = sum(count for _, count in items[_MOST_LISTED_BARS - 1 :])
        texts = [*texts[: _MOST_LISTED_BARS - 1], f"{number_word(left_out)} more"]
    words = f"bar{'s' if len(bars) > 1 else ''} {listed(texts)}" if bars else ""
    return listed([part for part in ("the upbeat" if upbeat else "", words) if part])
