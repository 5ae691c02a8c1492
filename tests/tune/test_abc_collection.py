"""The 1850 collection, as played out, against abc2midi (package abcmidi, 4.84).

The comparison itself is benchmarks/reading_agreement.py; docs/reading.md explains the differences.
"""

from collections import Counter
from importlib.util import find_spec
from pathlib import Path

import pytest

import reading_agreement

LEAST_COMPARED = 1800  # abc2midi 4.84 reads 1,819 of the 2,009 without an error
LEAST_AGREEMENT = 0.98
PROCESSES = 2

# Tunes in which the two differ, by what makes the difference (see docs/reading.md).
AFTER_ENDINGS = {
    "736", "776", "782", "798", "826", "827", "980", "1061", "1112", "1122", "1256", "1338",
    "1535", "1586", "1640", "1725",
}  # fmt: skip
JUMPS = {
    "1478", "1490", "1492", "1541", "1543",
}  # fmt: skip
TUPLETS = {"71", "94", "174"}
OLD_CHORDS = {"811"}
EXPLAINED = AFTER_ENDINGS | JUMPS | TUPLETS | OLD_CHORDS


def _files() -> list[Path]:
    spec = find_spec("music21")
    assert spec is not None and spec.origin is not None
    return sorted((Path(spec.origin).parent / "corpus" / "oneills1850").glob("*.abc"))


@pytest.mark.no_cover
def test_tunes_are_played_as_abc2midi_plays_them_but_for_explained_ones() -> None:
    outcomes = list(reading_agreement.outcomes(_files(), PROCESSES))
    verdicts = Counter(outcome.verdict for outcome in outcomes)
    compared = len(outcomes) - verdicts["not read by abc2midi"]
    assert compared >= LEAST_COMPARED, "what abc2midi does not read proves nothing"
    assert verdicts["same"] / compared >= LEAST_AGREEMENT
    apart = {o.number: o for o in outcomes if o.verdict in ("different", "refused")}
    assert not [o for number, o in apart.items() if number not in EXPLAINED]
    assert set(apart) >= EXPLAINED, "an explained difference is gone: docs/reading.md is stale"


def test_comparison_sees_a_wrong_note_and_a_wrong_onset() -> None:
    """The check can fail."""
    assert reading_agreement.difference([(0, 60), (48, 62)], [(0, 60), (48, 62)]) == ""
    assert reading_agreement.difference([(0, 60), (48, 62)], [(0, 60), (48, 63)])
    assert reading_agreement.difference([(0, 60), (48, 62)], [(0, 60), (54, 62)])
    assert reading_agreement.difference([(0, 60)], [(0, 60), (48, 62)])
