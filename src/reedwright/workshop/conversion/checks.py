"""What to play and hear after each reed: its note, a partner to beat with, its bends.

A partner is a reed of the same note or an octave away, in the same breath and near enough to be
played together, that is right already: it needs no work, or has had it. `targets.beats` says how
often the two beat.

Public: `check_words`, `finish_words`, `partner_of`, `Partner`, `tuner_words`.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Reed, Technique
from reedwright.tab.words import bend_words
from reedwright.workshop.conversion.model import Work
from reedwright.workshop.conversion.reeds import Draft
from reedwright.workshop.targets.beats import PURE_HZ, beats_of
from reedwright.workshop.targets.model import ReedTarget, Targets

MOST_HOLES_APART = 4  # what a mouth spans with the tongue between (common practice)


class Partner(NamedTuple):
    """A reed to play with another one. `beats` a second if both are on their targets."""

    reed: Reed
    octaves: int
    beats: float


def partner_of(targets: Targets, reed: Reed, right: Collection[Reed]) -> Partner | None:
    """The nearest partner among the reeds that are right; a unison before an octave."""
    own = targets.of(reed)
    found = []
    for other in targets.reeds:
        apart = abs(other.reed.hole - reed.hole)
        if other.reed.breath is not reed.breath or not 0 < apart <= MOST_HOLES_APART:
            continue
        octaves, rest = divmod(abs(other.midi - own.midi), 12)
        if rest or octaves > 1 or other.reed not in right:
            continue
        beats = beats_of(targets, reed, other.reed, partials=(1 + octaves, 1)).beats
        partner = Partner(other.reed, octaves, beats)
        found.append(((octaves, apart, other.reed.hole), partner))
    return min(found)[1] if found else None


def check_words(
    draft: Draft, targets: Targets, right: Collection[Reed], bends: bool, coarse_hz: float | None
) -> str:
    """What to play and what to hear once the first work on this reed is done.

    `right`: reeds that are at their targets. `bends`: whether both reeds of the hole have their
    notes now, so that its bends can be tried. `coarse_hz`: where to stop for now, if short.
    """
    name, target = _name(draft.reed), targets.of(draft.reed)
    if draft.work is Work.SWAP:
        note = f"{note_name(target.midi, targets.harp)}, {target.bench_hz:.2f} Hz"
        first = f"Play {name} softly and loudly: it speaks without a buzz, at about {note}."
    elif coarse_hz is not None:
        first = f"Play {name}: about {coarse_hz:.2f} Hz for now."
    else:
        first = ""
    # A reed that is left short or put in has its target checked when it is finished.
    sentences = [first or finish_words(draft.reed, targets, right)]
    if bends:
        sentences.append(bends_of_hole(targets.harp, draft.reed.hole))
    return " ".join(sentences)


def finish_words(reed: Reed, targets: Targets, right: Collection[Reed]) -> str:
    """What to play and hear when a reed is to be on its target; `right`: those that are."""
    target = targets.of(reed)
    said = f"Play {_name(reed)}: {tuner_words(target, targets.harp, targets.wishes.a4)}."
    if target.hz != target.bench_hz:
        said += f" In the mouth it sounds {target.hz:.2f} Hz."
    partner = partner_of(targets, reed, right)
    return f"{said} {partner_words(partner)}" if partner else said


def _name(reed: Reed) -> str:
    return f"{reed.hole} {reed.breath.value}"


def tuner_words(target: ReedTarget, harp: Harp, a4: float) -> str:
    """`A4, 440.00 Hz, 0.0 cents on a tuner set to A 440`."""
    cents = round(target.bench_cents, 1) + 0.0
    sign = "+" if cents > 0 else ""
    return (
        f"{note_name(target.midi, harp)}, {target.bench_hz:.2f} Hz, {sign}{cents:.1f} cents on a "
        f"tuner set to A {a4:g}"
    )


def partner_words(partner: Partner) -> str:
    """`It does not beat with 6 draw, an octave apart.`"""
    apart = "an octave apart" if partner.octaves else "the same note"
    beats = (
        "does not beat" if partner.beats < PURE_HZ else f"beats {partner.beats:.1f} times a second"
    )
    return f"It {beats} with {partner.reed.hole} {partner.reed.breath.value}, {apart}."


def bends_of_hole(harp: Harp, hole: int) -> str:
    """What the hole bends to, for trying how the reeds answer."""
    deepest = {}
    for way in harp.hole_soundings(hole):
        if way.technique in (Technique.BEND, Technique.VALVED_BEND):
            deepest[way.breath] = way
    if not deepest:
        return f"Both reeds of hole {hole} answer at once to a soft breath; it has no bend."
    said = [
        f"{breath.value} bends {bend_words(way.bend)} down to {note_name(way.midi, harp)}"
        + (" once its valve is on" if way.technique is Technique.VALVED_BEND else "")
        for breath, way in deepest.items()
    ]
    return f"Hole {hole} answers at once to a soft breath, and {' and '.join(said)}."
