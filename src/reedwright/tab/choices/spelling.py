"""Ways as players say and write them: `2 draw`, `3 draw bent a semitone`, `-3'`, `6 overblow`.

Public: `parse_way`, `way_words`.
"""

from __future__ import annotations

import re

from reedwright.harp.model import Breath
from reedwright.tab.choices.model import ChoicesError, Way
from reedwright.tab.words import bend_words, number_word

HELP = "write '2 draw', '3 draw bent a semitone', '6 overblow' or '5 blow with the slide'"
_DEEPEST_BEND = 12  # semitones; more is a slip of the pen
_MOST_HOLES = 16  # of the longest chromatic harps in the trade (common practice)

_NUMBERS = {number_word(n): n for n in range(1, 17)}
_DEPTHS = {
    "a semitone": 1,
    "one semitone": 1,
    "a half tone": 1,
    "a half step": 1,
    "a whole tone": 2,
    "a tone": 2,
    "a whole step": 2,
    "a tone and a half": 3,
}
_SAID = re.compile(
    r"(?:hole )?(?P<hole>\d+|[a-z]+)[ -]?(?P<what>blow|draw|overblow|overdraw|over blow|over draw)"
    r"(?: bend| bent(?: (?:by |down )?(?P<depth>.+?))?)?(?P<slide> with (?:the )?slide(?: in)?)?"
)
_DEPTH = re.compile(r"(?P<count>\d+|[a-z]+)(?: semitones?| half steps?)?")
_ARROWS = re.compile(r"(?P<hole>\d+)(?P<breath>[↑↓])(?P<bend>['′’]*)(?P<over>°?)(?P<slide><?)")
_SIGNS = re.compile(r"(?P<breath>[+\-−])(?P<hole>\d+)(?P<bend>['′’]*)(?P<over>°?)(?P<slide><?)")
_ROWS = re.compile(r"\d+['′’]*°?<?")


def way_words(way: Way) -> str:
    """As it is written in the file: `3 draw bent a semitone`."""
    what = f"over{way.breath.value}" if way.over else way.breath.value
    words = f"{way.hole} {what}"
    if way.bend:
        words += f" bent {bend_words(way.bend)}"
    return words + (" with the slide" if way.slide else "")


def parse_way(text: str) -> Way:
    """Read a way in words, or as the arrow or sign style of tab writes it.

    A sign of the two-row style (`3'`) does not say blow or draw by itself: it is refused.
    Raises `ChoicesError`.
    """
    plain = " ".join(text.strip().split())
    sign = _ARROWS.fullmatch(plain) or _SIGNS.fullmatch(plain)
    if sign is not None:
        breath = Breath.BLOW if sign["breath"] in "↑+" else Breath.DRAW
        return _checked(
            text, int(sign["hole"]), breath, len(sign["bend"]), bool(sign["over"]), sign["slide"]
        )
    if _ROWS.fullmatch(plain):
        raise ChoicesError(f"'{text}' does not say blow or draw; {HELP}")
    said = _SAID.fullmatch(plain.casefold())
    if said is None:
        raise ChoicesError(f"'{text}' is not a way to play a note; {HELP}")
    hole = _number(said["hole"])
    if hole is None:
        raise ChoicesError(f"'{text}' names no hole; {HELP}")
    over = said["what"].startswith("over")
    breath = Breath(said["what"].removeprefix("over").strip())
    bend = 0
    if re.search(r" ben[td]\b", said[0]):
        depth = "a semitone" if said["depth"] is None else said["depth"]
        bend = _depth(depth)
        if bend == 0:
            raise ChoicesError(f"'{text}': how far is it bent? {HELP}")
        if said["depth"] is None:
            raise ChoicesError(
                f"'{text}' does not say how far; write '{hole} {breath.value} bent a semitone' "
                "or 'bent a whole tone'"
            )
    return _checked(text, hole, breath, bend, over, said["slide"] or "")


def _checked(text: str, hole: int, breath: Breath, bend: int, over: bool, slide: str) -> Way:
    if not 1 <= hole <= _MOST_HOLES:
        raise ChoicesError(f"'{text}': there is no hole {hole}")
    if over and bend:
        raise ChoicesError(f"'{text}' is both bent and an overblow or overdraw; {HELP}")
    if bend > _DEEPEST_BEND:
        raise ChoicesError(f"'{text}': no reed bends so far")
    return Way(hole, breath, bend, over, bool(slide))


def _number(word: str) -> int | None:
    return int(word) if word.isdigit() else _NUMBERS.get(word)


def _depth(words: str) -> int:
    if words in _DEPTHS:
        return _DEPTHS[words]
    match = _DEPTH.fullmatch(words)
    return (_number(match["count"]) or 0) if match else 0
