"""Words that nobody wrote, taken for words that stand on the shelf.

One wrong letter is forgiven in words of four and five letters, two in longer ones; two letters that
changed places are one wrong letter (the distance of optimal string alignment). Of the words that
are that near the nearest count, of these the most frequent.

Public: `Vocabulary`, `nearest`, `allowed`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SHORTEST = 4  # letters: shorter words are too like each other
LONG = 6
MOST = 4  # words that one is taken for at once


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words of the shelf, folded, and in how many tunes each is."""

    words: Sequence[str]
    tunes: Sequence[int]


def allowed(word: str) -> int:
    """How many wrong letters are forgiven in a word."""
    return 0 if len(word) < SHORTEST else 1 if len(word) < LONG else 2


def nearest(word: str, vocabulary: Vocabulary, beginning: bool = False) -> tuple[str, ...]:
    """The words that it may be meant for, the likeliest first, at most `MOST`.

    `beginning`: it may also be meant for the beginning of a longer word.
    """
    most = allowed(word)
    if not most:
        return ()
    found = _near(word, vocabulary.words, most)
    if not found and beginning:
        begun = [each[: len(word)] for each in vocabulary.words]
        found = _near(word, begun, most)
    if not found:
        return ()
    least = min(distance for distance, _ in found)
    places = [place for distance, place in found if distance == least]
    # A first letter is hardly ever the wrong one.
    places.sort(
        key=lambda place: (vocabulary.words[place][0] != word[0], -vocabulary.tunes[place], place)
    )
    return tuple(vocabulary.words[place] for place in places[:MOST])


def _near(word: str, words: Sequence[str], most: int) -> list[tuple[int, int]]:
    """Distance and place of the words that differ, but not by more than that."""
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    found = process.extract(word, words, scorer=OSA.distance, score_cutoff=most, limit=None)
    return [(int(distance), int(place)) for _, distance, place in found if distance]
