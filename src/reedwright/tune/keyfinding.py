"""The key of a tune that does not say: estimated from how long each pitch class sounds.

Public: `estimate_key`, `key_of_notes`, `key_in_signature`, `correlations`, `KeyEstimate`.

The published method: the histogram of pitch classes, weighted by duration, is
correlated (Pearson) with the profile of each of the 24 major and minor keys.
Profiles: Krumhansl, C. L. and Kessler, E. J. (1982), "Tracing the dynamic
changes in perceived tonal organization in a spatial representation of musical
keys", Psychological Review 89(4); as printed in Krumhansl (1990), "Cognitive
Foundations of Musical Pitch".

Beyond the published method (our own, for folk tunes, which end on their tonic and are
often dorian or mixolydian):

* Where the last note is another tonic, whose best correlation falls short of the
  best of all by no more than `FINAL_NOTE_LEAD`, that tonic is taken.
* A major key whose flat seventh sounds longer than its sharp seventh is called
  mixolydian; a minor key whose sharp sixth sounds longer than its flat sixth is
  called dorian.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

from reedwright.fifths import MODE_FIFTHS, STEP_SEMITONES, mode_fifths, signature, spelled_at
from reedwright.tune.model import Key, Tune
from reedwright.tune.unfold import unfold

MAJOR_PROFILE = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
MINOR_PROFILE = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
_PROFILES = {"major": MAJOR_PROFILE, "minor": MINOR_PROFILE}

FINAL_NOTE_LEAD = 0.2
"""How far (in correlation) a last note's key may lie behind. Set on half of 2,007 tunes."""


@dataclass(frozen=True, slots=True)
class KeyEstimate:
    """An estimated key (`key.estimated` is true) and how sure it is.

    `correlation` is that of the profile which the key came from, -1 to 1;
    `runner_up` is the best key by the published method that is another one, and
    `runner_up_correlation` its correlation.
    """

    key: Key
    correlation: float
    runner_up: Key
    runner_up_correlation: float


def estimate_key(tune: Tune, voice: int = 0) -> KeyEstimate | None:
    """Estimate the key of a tune as played, ties joined, without grace notes.

    None where no pitch sounds, or where all twelve sound equally long.
    """
    sounding = unfold(tune, voice).sounding
    if not sounding:
        return None
    last = max(sounding, key=lambda note: (note.onset, note.pitch.midi))
    return key_of_notes(
        ((note.pitch.midi, float(note.length)) for note in sounding), last.pitch.midi
    )


def key_of_notes(
    notes: Iterable[tuple[int, float]], last_midi: int | None = None
) -> KeyEstimate | None:
    """Estimate the key of (MIDI note, duration in any unit) pairs."""
    weights = [0.0] * 12
    for midi, length in notes:
        weights[midi % 12] += length
    ranked = correlations(weights)
    if not ranked:
        return None
    best = ranked[0]
    if last_midi is not None and last_midi % 12 != best[1]:
        final = next(entry for entry in ranked if entry[1] == last_midi % 12)
        if best[0] - final[0] <= FINAL_NOTE_LEAD:
            best = final
    correlation, tonic, profile = best
    other = next(entry for entry in ranked if entry[1:] != best[1:])
    return KeyEstimate(
        key=_key(tonic, _mode(weights, tonic, profile)),
        correlation=correlation,
        runner_up=_key(other[1], other[2]),
        runner_up_correlation=other[0],
    )


def key_in_signature(fifths: int, notes: Iterable[tuple[int, float]], last_midi: int) -> Key:
    """The likeliest key of a known signature whose mode is not told.

    The mode (major, minor, dorian, mixolydian) that has the last note for its tonic;
    where none has, the major or minor key that correlates better. `estimated` is true.
    """
    keys = [_in_signature(fifths, mode) for mode in ("major", "minor", "dorian", "mixolydian")]
    for key in keys:
        if key.tonic_pitch_class == last_midi % 12:
            return key
    weights = [0.0] * 12
    for midi, length in notes:
        weights[midi % 12] += length
    for _, tonic, profile in correlations(weights):
        for key in keys[:2]:
            if (key.tonic_pitch_class, key.mode) == (tonic, profile):
                return key
    return keys[0]


def _in_signature(fifths: int, mode: str) -> Key:
    step, alter = spelled_at(fifths - MODE_FIFTHS[mode])
    return Key(step, alter, mode, signature(fifths), estimated=True)


def correlations(weights: Sequence[float]) -> list[tuple[float, int, str]]:
    """Correlation of twelve weights (from C up) with each key's profile, best first.

    Each as (correlation, tonic pitch class, "major" or "minor"). Empty where the
    weights do not differ, which leaves correlation undefined.
    """
    mean = sum(weights) / 12
    spread = [weight - mean for weight in weights]
    size = sqrt(sum(s * s for s in spread))
    if size <= 1e-12 * max(1.0, abs(mean)):
        return []
    found: list[tuple[float, int, str]] = []
    for mode, profile in _PROFILES.items():
        profile_mean = sum(profile) / 12
        centred = [p - profile_mean for p in profile]
        profile_size = sqrt(sum(c * c for c in centred))
        for tonic in range(12):
            together = sum(spread[(tonic + k) % 12] * centred[k] for k in range(12))
            found.append((together / (size * profile_size), tonic, mode))
    found.sort(key=lambda entry: (-entry[0], entry[1], entry[2]))
    return found


def _mode(weights: Sequence[float], tonic: int, profile: str) -> str:
    """Tell the church modes apart by their one telling step."""

    def weight(semitones: int) -> float:
        return weights[(tonic + semitones) % 12]

    if profile == "major":
        return "mixolydian" if weight(10) > weight(11) else "major"
    return "dorian" if weight(9) > weight(8) else "minor"


def _key(tonic: int, mode: str) -> Key:
    """The key on a pitch class, spelled with the fewest sharps or flats."""
    spelled = [
        (step, alter)
        for step, semitones in STEP_SEMITONES.items()
        for alter in (-1, 0, 1)
        if (semitones + alter) % 12 == tonic
    ]
    step, alter = min(
        spelled, key=lambda s: (abs(mode_fifths(s[0], s[1], mode)), mode_fifths(s[0], s[1], mode))
    )
    return Key(step, alter, mode, signature(mode_fifths(step, alter, mode)), estimated=True)
