"""The 1850 collection, as played out, against abc2midi (package abcmidi, 4.84).

The comparison itself is benchmarks/reading_agreement.py; docs/reading.md explains the differences.
"""

import importlib.util
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
TUNES_READ = 1819  # by abc2midi 4.84 without an error, of 2,009
LEAST_AGREEMENT = 0.98

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


def _agreement() -> ModuleType:
    name = "reading_agreement"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, ROOT / "benchmarks" / f"{name}.py")
        assert spec is not None and spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


def _files() -> list[Path]:
    spec = importlib.util.find_spec("music21")
    if spec is None or spec.origin is None:
        return []
    return sorted((Path(spec.origin).parent / "corpus" / "oneills1850").glob("*.abc"))


needs_abc2midi = pytest.mark.skipif(
    shutil.which("abc2midi") is None, reason="abc2midi is not installed (package abcmidi)"
)


@needs_abc2midi
@pytest.mark.parametrize("file", _files(), ids=lambda file: str(file.stem))
def test_every_tune_is_played_as_abc2midi_plays_it(file: Path) -> None:
    agreement = _agreement()
    outcomes = agreement.compare_file(file)
    assert outcomes
    surprising = [
        outcome
        for outcome in outcomes
        if outcome.verdict in ("different", "refused") and outcome.number not in EXPLAINED
    ]
    assert not surprising


def test_at_least_98_in_100_agree() -> None:
    """Two of the explained tunes stand in two files of the collection each."""
    assert 1 - (len(EXPLAINED) + 2) / TUNES_READ >= LEAST_AGREEMENT


@needs_abc2midi
def test_comparison_sees_a_wrong_note_and_a_wrong_onset() -> None:
    """The check can fail."""
    agreement = _agreement()
    assert agreement.difference([(0, 60), (48, 62)], [(0, 60), (48, 62)]) == ""
    assert agreement.difference([(0, 60), (48, 62)], [(0, 60), (48, 63)])
    assert agreement.difference([(0, 60), (48, 62)], [(0, 60), (54, 62)])
    assert agreement.difference([(0, 60)], [(0, 60), (48, 62)])
