"""Which harp was played: key, register and tuning, with how sure that is.

Every harp that is made is weighed by what speaks for it:

* It must have the notes that were heard; each that it lacks speaks strongly against it.
* A tune is mostly played where it lies easily: the effort of the easiest tab, per note.
* A bend mostly begins a little high and glides down into its place, and wanders; a plain note
  does not. So notes that glide and that a harp has plain speak against it, and the other way
  about (a good player bends without a glide, so that weighs less).
* Where the tab's harp is known, the same tab on a harp of another key is by far the likeliest:
  that is how players change key.

The weights are judgement (no source), tried on takes of known harps. Two tunings whose
difference the tune never touches are equally likely, and that is said.

Public: `played_harp`, `played_harp_unknown`, `moved_harp`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp, Technique
from reedwright.harp.naming import KEYS, key_pitch_class
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.sound.hearing.model import Heard, HeardNote
from reedwright.tab.ranking import RankedHarp, rank_harps
from reedwright.tab.words import with_article
from reedwright.takes.model import Following
from reedwright.takes.report.model import HarpCandidate, HarpFound, HarpSureness
from reedwright.tune.model import Tune
from reedwright.tune.transpose import transposed

# In natural logarithms of likelihood.
MISSING_SHARE = 60.0  # for a share of 1 of the notes that the harp lacks
RARE = 0.015  # share of the notes that may be slips
EFFORT = 3.0  # for each unit of effort per note; where a tab is known together at most:
MOST_BY_EFFORT = 6.0
TOLD = 14.0  # for the key of the tab's harp, moved with the tune
SAME_TUNING = 6.0  # for the tuning of the tab
RAISED_3, RARE_TUNING = -1.0, -3.0  # against the standard one, where no tab is known
GLIDES_ON_PLAIN, MOST_BY_GLIDES = 2.0, 24.0  # for each note that glides; together at most
NO_GLIDE_ON_BEND, MOST_BY_STRAIGHT = 0.4, 4.0  # for each bend that does not
SURE, LIKELY = 0.9, 0.6  # probability
KEPT = 6  # candidates that are told

STANDARD, RAISED = "richter", "richter-raised-3-blow"
GLIDE_CENTS = (
    55.0  # that a note begins above where it settles; reeds themselves speak up to 35 sharp
)
GLIDE_SECONDS = 0.08
SHORTEST_GLIDING = 0.12  # seconds; shorter notes do not tell


def moved_harp(harp: Harp, semitones: int) -> Harp:
    """The same layout in the key and register that lies so many semitones off."""
    if not semitones:
        return harp
    transpose = harp.transpose + semitones
    key = KEYS[(key_pitch_class(harp.key) + semitones - 7) % 12]
    register = "low" if transpose < -5 else "high" if transpose > 6 else "ordinary"
    return replace(harp, key=key, transpose=transpose, register=register)


def played_harp(following: Following, profile: Profile | None = None) -> HarpFound:
    """The harp of a take whose tab is known: that of the tab, moved to where it was played,
    unless what was heard speaks against it."""
    arrangement = following.arrangement
    tune = transposed(arrangement.plain, semitones=following.semitones)
    told = moved_harp(arrangement.harp, following.semitones)
    pairs = [
        (note.midi, following.heard.notes[k])
        for note in following.notes
        if not note.is_grace
        for k in note.heard[:1]
    ]
    return _weighed(
        tune,
        arrangement.voice,
        pairs,
        following.heard,
        profile or arrangement.player,
        told,
        following.quarters_per_minute() or arrangement.quarters_per_minute or None,
    )


def played_harp_unknown(
    tune: Tune,
    semitones: int,
    heard: Heard,
    profile: Profile,
    voice: int = 0,
    pairs: Sequence[tuple[int, HeardNote]] | None = None,
) -> HarpFound:
    """The harp of a take of a tune that was sounded so far above as written, no tab known.

    `pairs` are the notes that were heard with the MIDI notes that they are; all of `heard`
    without it. The harp on which the tune lies easiest, with alternatives.
    """
    if pairs is None:
        a4 = 12 * np.log2(heard.a4 / 440)
        pairs = [(round(note.midi - float(a4)), note) for note in heard.notes]
    return _weighed(transposed(tune, semitones=semitones), voice, pairs, heard, profile, None, None)


@dataclass(frozen=True, slots=True)
class _Scored:
    ranked: RankedHarp
    missing: int
    likelihood: float  # logarithm, any base line
    prior: float  # of that, what the tab's tuning adds


def _weighed(
    tune: Tune,
    voice: int,
    pairs: Sequence[tuple[int, HeardNote]],
    heard: Heard,
    profile: Profile,
    told: Harp | None,
    tempo: float | None,
) -> HarpFound:
    harps = [h for h in made_harps(tuple(all_tunings().values())) if not h.tuning.slide]
    if told is not None and told not in harps:
        harps.insert(0, told)
    ranked = rank_harps(tune, profile, harps, voice, (0,), False, tempo)
    if not ranked:
        return HarpFound((), HarpSureness.OPEN, HarpSureness.OPEN, "Nothing tells of the harp.")
    glides = _glides(pairs, heard)
    counts: dict[int, int] = {}
    for midi, _ in pairs:
        counts[midi] = counts.get(midi, 0) + 1
    easiest = min(entry.effort_per_note + entry.preference for entry in ranked)
    scored = [_score(entry, counts, glides, told, easiest) for entry in ranked]
    best = max(each.likelihood for each in scored)
    weights = [exp(each.likelihood - best) for each in scored]
    total = sum(weights)
    order = sorted(range(len(scored)), key=lambda k: -weights[k])
    candidates = tuple(
        _candidate(scored[order[k]], weights[order[k]] / total)
        for k in range(min(KEPT, len(order)))
    )
    best_harp = scored[order[0]].ranked.harp
    of_first = best_harp.key, best_harp.register
    by_key: dict[tuple[str, str], float] = {}
    by_tuning: dict[str, float] = {}
    for each, weight in zip(scored, weights, strict=True):
        harp = each.ranked.harp
        key, tuning = (harp.key, harp.register), harp.tuning.name
        by_key[key] = by_key.get(key, 0.0) + weight / total
        if key == of_first:  # the notes alone: the tab's word is left out
            by_tuning[tuning] = by_tuning.get(tuning, 0.0) + weight * exp(-each.prior)
    first = candidates[0].harp
    key_sure = _sureness(by_key[first.key, first.register])
    tuning_sure = _sureness(by_tuning[first.tuning.name] / sum(by_tuning.values()))
    words = _words(candidates, key_sure, tuning_sure, told)
    return HarpFound(candidates, key_sure, tuning_sure, words)


def _score(
    entry: RankedHarp,
    counts: Mapping[int, int],
    glides: Mapping[int, tuple[int, int]],
    told: Harp | None,
    easiest: float,
) -> _Scored:
    harp = entry.harp
    total = max(1, sum(counts.values()))
    missing = sum(
        count
        for midi, count in counts.items()
        if midi not in harp.ways and count > RARE * total  # else it may be a slip
    )
    prior = 0.0
    score = -MISSING_SHARE * missing / total - _glide_cost(harp, glides)
    if entry.missing and not missing:
        score -= MISSING_SHARE * 0.05
    effort = EFFORT * (entry.effort_per_note + entry.preference - easiest)
    if told is None:
        score -= effort
        if harp.tuning.name != STANDARD:
            score += RAISED_3 if harp.tuning.name == RAISED else RARE_TUNING
    else:
        score -= min(MOST_BY_EFFORT, effort)
        if harp.key == told.key and harp.transpose == told.transpose:
            score += TOLD
        if harp.tuning == told.tuning:
            prior = SAME_TUNING
    return _Scored(entry, missing, score + prior, prior)


def _glide_cost(harp: Harp, glides: Mapping[int, tuple[int, int]]) -> float:
    gliding_cost = straight_cost = 0.0
    for midi, (gliding, straight) in glides.items():
        ways = harp.ways.get(midi, ())
        plain = any(way.technique is Technique.NATURAL for way in ways)
        if plain:
            gliding_cost += GLIDES_ON_PLAIN * gliding
        elif ways:
            straight_cost += NO_GLIDE_ON_BEND * straight
    return min(MOST_BY_GLIDES, gliding_cost) + min(MOST_BY_STRAIGHT, straight_cost)


def _glides(pairs: Sequence[tuple[int, HeardNote]], heard: Heard) -> dict[int, tuple[int, int]]:
    """For each note, how often it began above where it settled, and how often it did not."""
    found: dict[int, list[int]] = {}
    track = heard.track
    for midi, note in pairs:
        if note.seconds < SHORTEST_GLIDING:
            continue
        hz = track.hz[track.frames(note.start + 0.015, note.start + GLIDE_SECONDS)]
        hz = hz[hz > 0]
        if len(hz) < 4:
            continue
        above = 1200 * np.log2(hz.astype(np.float64) / note.hz)
        above = above[np.abs(above) < 160]
        if len(above) < 4:
            continue
        # Falling in steps is another note; a glide passes through what lies between.
        glided = float(np.percentile(above, 90)) > GLIDE_CENTS and bool(
            np.mean((above > 15) & (above < 90)) > 0.25
        )
        found.setdefault(midi, [0, 0])[0 if glided else 1] += 1
    return {midi: (gliding, straight) for midi, (gliding, straight) in found.items()}


def _candidate(scored: _Scored, probability: float) -> HarpCandidate:
    entry = scored.ranked
    return HarpCandidate(
        harp=entry.harp,
        probability=probability,
        missing=scored.missing,
        effort_per_note=entry.effort_per_note,
        bends=entry.bends + entry.overblows,
        why=entry.why,
    )


def _sureness(probability: float) -> HarpSureness:
    if probability >= SURE:
        return HarpSureness.SURE
    return HarpSureness.LIKELY if probability >= LIKELY else HarpSureness.OPEN


def _words(
    candidates: Sequence[HarpCandidate],
    key: HarpSureness,
    tuning: HarpSureness,
    told: Harp | None,
) -> str:
    first = candidates[0].harp
    name = with_article(first.name)
    agrees = told is not None and (first.key, first.tuning.name) == (told.key, told.tuning.name)
    if key is HarpSureness.SURE and agrees:
        # The tab decides it: the same notes are to be had on other harps.
        said = f"What was heard fits {name}"
    elif key is HarpSureness.SURE:
        said = f"You played {name}"
    elif key is HarpSureness.LIKELY:
        said = f"You probably played {name}"
    else:
        said = f"The notes cannot tell which harp it was; the tune lies easiest on {name}"
    said += f" ({candidates[0].why})"
    said += ", as the tab has it." if agrees else "."
    same_key = [
        c
        for c in candidates[1:]
        if (c.harp.key, c.harp.register) == (first.key, first.register)
        and c.missing <= candidates[0].missing
    ]
    if key is not HarpSureness.OPEN and tuning is not HarpSureness.SURE and same_key:
        other = same_key[0].harp.tuning.title
        said += f" Which tuning it has the notes do not tell: {other} would do as well."
    if told is not None and (first.key, first.tuning.name) != (told.key, told.tuning.name):
        said += f" The tab is for {with_article(told.name)}; what was heard speaks against that."
    if key is not HarpSureness.SURE:
        others = [c.harp.name for c in candidates[1:4] if c.missing <= candidates[0].missing]
        if others:
            said += f" Next likeliest: {', '.join(others)}."
    return said
